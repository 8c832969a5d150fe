"""Owns the search for the fewest canisters to lift.

Branch and bound over sets of canisters: every set of one canister, then of two, and so on, until a
set holds what is wanted; so the first size at which one is found is the least. Among the sets of
that size the one with the oldest straws is kept, with its equals. Sets that cannot reach the goal
are left out by bounds that never leave out one that can.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from service.bank import mixing
from service.withdrawals.oldest import Age, Batches, Counts, Wanted, choose_oldest

LIFT_STEPS = 300_000
"""Steps until the fewest lifts must be found, about 0.1 s; only scattered stocks come near."""

MIXED_STEPS = 100_000
"""The same where doses are mixed and a step is dearer."""

AGE_STEPS = 30_000
"""Steps for the oldest straws once a set is found, about 5 ms."""

MOST_EQUALS = 32
"""So many sets of equal lifts and age are kept for the choice by goblets and addresses."""

SCALE = 10**9
"""Doses are counted in units of 10^-9, rounded up, where a bound needs fractions of a dose."""


@dataclass
class Found:
    """Sets of canisters, all equally few and equally old.

    No set of fewer than `at_least` canisters holds what is wanted. `oldest` says whether the
    search came to its end, so that no set of this size has an older choice.
    """

    sets: list[tuple[int, ...]]
    age: Age | None
    at_least: int = 1
    oldest: bool = True


def fewest_lifts(batches: Batches, canisters: Sequence[Counts], wanted: Wanted) -> Found:
    """The smallest sets of canisters that hold what is wanted, the oldest straws first.

    `canisters` are what each holds by batch, in the order in which equals are preferred. Without
    any set when the steps ran out before one was found, or when all canisters hold too little.
    """
    search = _Search(batches, canisters, wanted)
    for size in range(1, len(canisters) + 1):
        search.found.at_least = size
        try:
            search.sets_of(size)
        except mixing.WorkSpentError:
            search.found.oldest = False
            break
        if search.found.sets:
            break
    return search.found


class _Search:
    """One search; `straws` are those of the canisters chosen so far, by batch."""

    def __init__(self, batches: Batches, canisters: Sequence[Counts], wanted: Wanted) -> None:
        self.batches, self.canisters, self.wanted = batches, canisters, wanted
        self.worth = [min(strength, wanted.target) for strength in batches.strengths]
        self.straws = [0] * len(batches.needed)
        self.chosen: list[int] = []
        self.found = Found([], None)
        self.work = mixing.Work(MIXED_STEPS if wanted.mixed else LIFT_STEPS)
        per_batch: list[list[int]] = [[] for _ in batches.needed]
        for contents in canisters:
            for batch, number in contents:
                per_batch[batch].append(number)
        self.fullest = [_running_sums(sorted(numbers, reverse=True)) for numbers in per_batch]
        self.goal = wanted.doses * SCALE
        if wanted.mixed:
            straws = [(s, sums[-1]) for s, sums in zip(self.worth, self.fullest, strict=True)]
            stock = mixing.merge(straws, wanted.target)
            self.goal = wanted.doses * mixing.smallest_sum(stock, wanted.target)

    def sets_of(self, size: int) -> None:
        """Look at every set of this size that may hold what is wanted."""
        needed = self.batches.needed
        self.tops = [
            [sums[min(n, len(sums) - 1)] for sums in self.fullest] for n in range(size + 1)
        ]
        self.live = [b for b, top in enumerate(self.tops[size]) if top >= needed[b]]
        if sum(self.tops[size][b] // needed[b] for b in self.live) < self.wanted.one_batch:
            return
        self.contents = self.canisters
        if not self.wanted.mixed:  # a batch that fills no dose from so few canisters is no help
            live = set(self.live)
            self.contents = [
                tuple((batch, n) for batch, n in contents if batch in live)
                for contents in self.canisters
            ]
        self.work.spend(sum(len(contents) for contents in self.contents))
        self._extend([c for c, contents in enumerate(self.contents) if contents], size, 0)

    def _extend(self, candidates: list[int], size: int, reached: int) -> None:
        """Add `size` of the candidates to the chosen canisters, in every way that may reach."""
        if self.chosen and not self._may_reach(size):
            return
        missing = self.goal - reached
        help_of = self._help(candidates, size)
        if size == 1:
            for canister in candidates:
                if help_of[canister] >= missing:
                    self._try(canister)
            return
        ranked = sorted(candidates, key=lambda canister: (-help_of[canister], canister))
        for place in range(len(ranked) - size + 1):
            if sum(help_of[canister] for canister in ranked[place : place + size]) < missing:
                break
            canister = ranked[place]
            gain = self._gain(canister)
            self._add(canister)
            self._extend(ranked[place + 1 :], size - 1, reached + gain)
            self._remove()

    def _try(self, canister: int) -> None:
        """Keep the set closed by this canister if its straws make the doses and are no younger."""
        self._add(canister)
        self.work.spend(10 + len(self.straws) // 8)
        choice = choose_oldest(self.batches, self.wanted, self.straws, self.work)
        closed = tuple(sorted(self.chosen))
        self._remove()
        found = self.found
        if choice is None or (found.age is not None and choice.age > found.age):
            return
        if found.age is None:
            self.work.left = min(self.work.left, AGE_STEPS)
        if choice.age != found.age:
            found.age, found.sets = choice.age, []
        if len(found.sets) < MOST_EQUALS:
            found.sets.append(closed)

    def _add(self, canister: int) -> None:
        self.chosen.append(canister)
        for batch, number in self.contents[canister]:
            self.straws[batch] += number

    def _remove(self) -> None:
        for batch, number in self.contents[self.chosen.pop()]:
            self.straws[batch] -= number

    def _help(self, candidates: list[int], size: int) -> dict[int, int]:
        """At most so much nearer to the goal brings each candidate, when `size` are added."""
        self.work.spend(sum(len(self.contents[canister]) for canister in candidates))
        if size == 1 or self.wanted.mixed:
            return {canister: self._gain(canister) for canister in candidates}
        return {canister: self._hope(canister, size) for canister in candidates}

    def _gain(self, canister: int) -> int:
        """How much nearer to the goal this canister brings, as the last one.

        The goal is counted in doses, or where doses are mixed in what the straws hold.
        """
        if self.wanted.mixed:
            return sum(self.worth[batch] * number for batch, number in self.contents[canister])
        straws, needed = self.straws, self.batches.needed
        doses = 0
        for batch, number in self.contents[canister]:
            k = needed[batch]
            doses += (straws[batch] % k + number) // k
        return doses * SCALE

    def _hope(self, canister: int, size: int) -> int:
        """At most so many doses brings this canister, as one of `size` (in units of 1/SCALE).

        Where m straws are missing to the next dose of k, y straws from some canisters bring at most
        y / m doses, at most 1 + (y - m) / k, and no more than the fullest `size` canisters can.
        Each bound rises ever more slowly with y, so what canisters bring together is never more
        than the sum of what each may bring.
        """
        straws, needed, tops = self.straws, self.batches.needed, self.tops[size]
        hope = 0
        for batch, number in self.contents[canister]:
            k = needed[batch]
            rest = straws[batch] % k
            most = (rest + tops[batch]) // k
            if most:
                missing = k - rest
                steep = -(-SCALE * number // missing)
                flat = SCALE - (SCALE * (missing - number)) // k
                hope += min(steep, flat, most * SCALE)
        return hope

    def _may_reach(self, size: int) -> bool:
        """Can `size` more canisters bring the one-batch doses, from straws as old as the best?"""
        best = self.found.age
        if best is None and not self.wanted.mixed:
            return True  # then the doses are all that is counted, see `_help`
        left = self.wanted.one_batch
        tops = self.tops[size]
        ages: list[int] = []
        for batch in self.live:
            doses = (self.straws[batch] + tops[batch]) // self.batches.needed[batch]
            if doses:
                doses = min(left, doses)
                ages += [self.batches.ages[batch]] * doses
                left -= doses
                if not left:
                    break
        self.work.spend(10 + len(self.live) // 4)
        if left:
            return False
        if best is None:
            return True
        full = len(self.found.sets) == MOST_EQUALS and not self.wanted.mixed
        return tuple(ages) < best[0] or (tuple(ages) == best[0] and not full)


def _running_sums(numbers: list[int]) -> list[int]:
    sums = [0]
    for number in numbers:
        sums.append(sums[-1] + number)
    return sums
