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

LIFT_STEPS = 400_000
"""Steps until the fewest lifts must be found, about 60 ms; only scattered stocks come near."""

AGE_STEPS = 30_000
"""Steps for the oldest straws once a set is found, about 5 ms."""

MOST_EQUALS = 32
"""So many sets of equal lifts and age are kept for the choice by goblets and addresses."""

SCALE = 10**9
"""Doses are counted in units of 10^-9, rounded up, where a bound needs fractions of a dose."""


@dataclass
class Found:
    """Sets of canisters, all equally few and equally old.

    `fewest` and `oldest` say whether the search came to its end: that no smaller set, and no older
    choice from a set of this size, exists.
    """

    sets: list[tuple[int, ...]]
    age: Age | None
    fewest: bool = True
    oldest: bool = True


def fewest_lifts(batches: Batches, canisters: Sequence[Counts], wanted: Wanted) -> Found:
    """The smallest sets of canisters that hold what is wanted, the oldest straws first.

    `canisters` are what each holds by batch, in the order in which equals are preferred. Without
    any set when the steps ran out before one was found, or when all canisters hold too little.
    """
    search = _Search(batches, canisters, wanted)
    for size in range(1, len(canisters) + 1):
        try:
            search.sets_of(size)
        except mixing.WorkSpentError:
            search.found.oldest = False
            search.found.fewest = bool(search.found.sets)
            break
        if search.found.sets:
            break
    return search.found


class _Search:
    """One search; `straws` are those of the canisters chosen so far, by batch."""

    def __init__(self, batches: Batches, canisters: Sequence[Counts], wanted: Wanted) -> None:
        self.batches, self.canisters, self.wanted = batches, canisters, wanted
        self.straws = [0] * len(batches.needed)
        self.chosen: list[int] = []
        self.found = Found([], None)
        self.work = mixing.Work(LIFT_STEPS)
        self.goal = wanted.doses * SCALE
        if wanted.mixed:
            held: dict[int, int] = {}
            for contents in canisters:
                for batch, number in contents:
                    held[batch] = held.get(batch, 0) + number
            stock = ((batches.strengths[batch], number) for batch, number in held.items())
            least = mixing.smallest_sum(mixing.merge(stock, wanted.target), wanted.target)
            self.goal = wanted.doses * least
        per_batch: list[list[int]] = [[] for _ in batches.needed]
        for contents in canisters:
            for batch, number in contents:
                per_batch[batch].append(number)
        self.tops = [_running_sums(sorted(numbers, reverse=True)) for numbers in per_batch]

    def sets_of(self, size: int) -> None:
        """Look at every set of this size that may hold what is wanted."""
        tops = [sums[min(size, len(sums) - 1)] for sums in self.tops]
        needed = self.batches.needed
        if sum(top // k for top, k in zip(tops, needed, strict=True)) < self.wanted.one_batch:
            return
        self.contents = self.canisters
        if not self.wanted.mixed:  # a batch that fills no dose from so few canisters is no help
            self.contents = [
                tuple((batch, n) for batch, n in contents if tops[batch] >= needed[batch])
                for contents in self.canisters
            ]
        self.work.spend(sum(len(contents) for contents in self.contents))
        self._extend([c for c, contents in enumerate(self.contents) if contents], size)

    def _extend(self, candidates: list[int], size: int) -> None:
        """Add `size` of the candidates to the chosen canisters, in every way that may reach."""
        if not self._may_reach(size):
            return
        if size == 1:
            self._close(candidates)
            return
        help_of = self._help(candidates, size)
        ranked = sorted(candidates, key=lambda canister: (-help_of[canister], canister))
        missing = self.goal - self._reached()
        for place in range(len(ranked) - size + 1):
            if sum(help_of[canister] for canister in ranked[place : place + size]) < missing:
                break
            self._add(ranked[place])
            self._extend(ranked[place + 1 :], size - 1)
            self._remove()

    def _close(self, candidates: list[int]) -> None:
        """Try each candidate as the last canister."""
        missing = self.goal - self._reached()
        help_of = self._help(candidates, 1)
        for canister in sorted(candidates):
            if help_of[canister] >= missing:
                self._add(canister)
                self._try()
                self._remove()

    def _try(self) -> None:
        """Keep the chosen set if it holds what is wanted from straws at least as old."""
        self.work.spend(10)
        choice = choose_oldest(self.batches, self.wanted, self.straws, self.work)
        if choice is None:
            return
        found = self.found
        if found.age is None:
            self.work.left = min(self.work.left, AGE_STEPS)
        if found.age is None or choice.age < found.age:
            found.age = choice.age
            found.sets = []
        if choice.age == found.age and len(found.sets) < MOST_EQUALS:
            found.sets.append(tuple(sorted(self.chosen)))

    def _add(self, canister: int) -> None:
        self.chosen.append(canister)
        for batch, number in self.contents[canister]:
            self.straws[batch] += number

    def _remove(self) -> None:
        for batch, number in self.contents[self.chosen.pop()]:
            self.straws[batch] -= number

    def _reached(self) -> int:
        """How far the chosen canisters are towards the goal."""
        if self.wanted.mixed:
            strengths = self.batches.strengths
            return sum(
                min(s, self.wanted.target) * n for s, n in zip(strengths, self.straws, strict=True)
            )
        doses = sum(n // k for n, k in zip(self.straws, self.batches.needed, strict=True))
        return doses * SCALE

    def _help(self, candidates: list[int], size: int) -> dict[int, int]:
        """At most so much nearer to the goal brings each candidate, when `size` are added."""
        self.work.spend(sum(len(self.contents[canister]) for canister in candidates))
        if self.wanted.mixed:
            value = [min(s, self.wanted.target) for s in self.batches.strengths]
        elif size == 1:
            return {canister: self._gain(canister) * SCALE for canister in candidates}
        else:
            value = self._worth_of_a_straw(size)
        return {
            canister: sum(value[batch] * number for batch, number in self.contents[canister])
            for canister in candidates
        }

    def _gain(self, canister: int) -> int:
        """Doses of one batch that this canister adds, as the last one."""
        straws, needed = self.straws, self.batches.needed
        gain = 0
        for batch, number in self.contents[canister]:
            k = needed[batch]
            gain += (straws[batch] % k + number) // k
        return gain

    def _worth_of_a_straw(self, size: int) -> list[int]:
        """Doses that one more straw of each batch can bring at most, in units of 1/SCALE.

        With r straws of a dose of k there, y more bring at most y / (k - r) doses; and none when
        even the fullest `size` canisters do not complete one.
        """
        worth = []
        for batch, k in enumerate(self.batches.needed):
            rest = self.straws[batch] % k
            sums = self.tops[batch]
            enough = rest + sums[min(size, len(sums) - 1)] >= k
            worth.append(-(-SCALE // (k - rest)) if enough else 0)
        return worth

    def _may_reach(self, size: int) -> bool:
        """Can `size` more canisters bring the one-batch doses, from straws as old as the best?"""
        if not self.chosen:
            return True
        self.work.spend(len(self.straws) // 4)
        left = self.wanted.one_batch
        ages: list[int] = []
        for batch, k in enumerate(self.batches.needed):
            sums = self.tops[batch]
            doses = min(left, (self.straws[batch] + sums[min(size, len(sums) - 1)]) // k)
            ages.extend([self.batches.ages[batch]] * doses)
            left -= doses
        if left:
            return False
        best = self.found.age
        if best is None:
            return True
        full = len(self.found.sets) == MOST_EQUALS and not self.wanted.mixed
        return tuple(ages) < best[0] or (tuple(ages) == best[0] and not full)


def _running_sums(numbers: list[int]) -> list[int]:
    sums = [0]
    for number in numbers:
        sums.append(sums[-1] + number)
    return sums
