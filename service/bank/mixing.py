"""Owns one question: how many doses do straws of unequal strength make?

Strengths and the target are whole numbers of one small unit (`doses.py` scales its fractions), so
everything here is exact. The question is the bin covering problem, which has no quick exact answer
in general; with the few strengths and the few doses of a real last stock it is answered exactly by
a search. The search counts its steps, never the time, so the same stock gives the same answer on
every machine. When the steps run out the answer is what was found by then: it may be too low, it
is never too high.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from math import gcd

Stock = tuple[tuple[int, int], ...]
"""(strength, straws), strongest first, every strength once."""

Dose = tuple[tuple[int, int], ...]
"""(strength, straws) of one dose."""

SEARCH_STEPS = 4_000
"""Steps that one question about doses may cost, about 3 ms."""

SEARCHED_DOSES = 24
"""Above so many doses, whole-batch doses are set aside first and only the rest is searched."""


class WorkSpentError(Exception):
    """The search has used up its steps without an answer."""


class Work:
    """Counts the steps of a search down; the only thing that bounds one."""

    def __init__(self, steps: int) -> None:
        self.left = steps

    def spend(self, steps: int = 1) -> None:
        """Count `steps` down. Raises WorkSpentError when none are left."""
        self.left -= steps
        if self.left < 0:
            raise WorkSpentError


def straws_needed(strength: int, target: int) -> int:
    """How many straws of one strength reach the target, rounded up."""
    return -(-target // strength)


def merge(straws: Iterable[tuple[int, int]], target: int) -> Stock:
    """Straws by strength, strongest first; what one holds beyond a dose counts for nothing."""
    counts: dict[int, int] = {}
    for strength, number in straws:
        if number > 0:
            capped = min(strength, target)
            counts[capped] = counts.get(capped, 0) + number
    return tuple(sorted(counts.items(), reverse=True))


def whole_doses(stock: Iterable[tuple[int, int]], target: int) -> int:
    """Doses when each dose is of one strength."""
    return sum(number // straws_needed(strength, target) for strength, number in stock)


def smallest_sum(stock: Stock, target: int) -> int:
    """No dose of this stock can be smaller: sums come in steps of the greatest common divisor."""
    step = gcd(*(strength for strength, _ in stock))
    return -(-target // step) * step if step else target


def upper_bound(stock: Stock, target: int) -> int:
    """No arrangement makes more doses than this."""
    if not stock:
        return 0
    if len(stock) == 1:
        return whole_doses(stock, target)
    return sum(strength * number for strength, number in stock) // smallest_sum(stock, target)


def deal(stock: Stock, target: int, doses: int, work: Work) -> list[Dose] | None:
    """Deal `doses` doses out of the stock, or None when it cannot be done.

    Exact. Each dose is lean: without any one of its straws it would miss the target.
    Raises WorkSpentError when `work` ends before the answer is known.
    """
    if doses <= 0:
        return []
    if upper_bound(stock, target) < doses:
        return None
    return _Dealer(stock, target, work).deal(doses)


class _Dealer:
    """Depth-first search, dose by dose, over the lean doses that hold the strongest straw left.

    Some best arrangement always uses the strongest straw (put it in the place of any other), so
    only doses with it need be tried; and together the doses may waste no more than there is above
    `doses` targets. Counts from which no arrangement was found are remembered.
    """

    def __init__(self, stock: Stock, target: int, work: Work) -> None:
        self.strengths = [strength for strength, _ in stock]
        self.needed = [straws_needed(strength, target) for strength in self.strengths]
        self.start = [number for _, number in stock]
        self.target = target
        self.least = smallest_sum(stock, target)
        self.work = work
        self.hopeless: set[tuple[int, ...]] = set()

    def deal(self, doses: int) -> list[Dose] | None:
        """The doses, or None."""
        dealt: list[tuple[int, ...]] = []
        if not self._fill(self.start, doses, dealt):
            return None
        return [
            tuple((s, n) for s, n in zip(self.strengths, dose, strict=True) if n) for dose in dealt
        ]

    def _fill(self, counts: list[int], doses: int, dealt: list[tuple[int, ...]]) -> bool:
        self.work.spend()
        if sum(c // k for c, k in zip(counts, self.needed, strict=True)) >= doses:
            dealt.extend(self._whole(counts, doses))
            return True
        total = sum(c * s for c, s in zip(counts, self.strengths, strict=True))
        spare = total - doses * self.least
        state = (doses, *counts)
        if spare < 0 or state in self.hopeless:
            return False
        waste = total - doses * self.target
        for dose in self._doses_to_try(counts, waste, doses):
            left = [c - d for c, d in zip(counts, dose, strict=True)]
            dealt.append(dose)
            if self._fill(left, doses - 1, dealt):
                return True
            dealt.pop()
        self.hopeless.add(state)
        return False

    def _whole(self, counts: Sequence[int], doses: int) -> Iterator[tuple[int, ...]]:
        for place, (count, needed) in enumerate(zip(counts, self.needed, strict=True)):
            for _ in range(min(doses, count // needed)):
                doses -= 1
                yield tuple(needed if p == place else 0 for p in range(len(counts)))

    def _doses_to_try(self, counts: list[int], waste: int, doses: int) -> Iterator[tuple[int, ...]]:
        """Doses that waste no more than their fair share first, then the others."""
        fair = waste // doses
        lean = _LeanDoses(self.strengths, counts, self.work)
        yield from lean.wasting(self.target, above=-1, to=fair)
        if waste > fair:
            yield from lean.wasting(self.target, above=fair, to=waste)


class _LeanDoses:
    """The doses that hold the strongest straw left and miss the target without any one straw."""

    def __init__(self, strengths: Sequence[int], counts: Sequence[int], work: Work) -> None:
        self.strengths = strengths
        self.counts = counts
        self.work = work
        self.room = [0] * (len(counts) + 1)  # what all straws from a place on hold together
        for place in range(len(counts) - 1, -1, -1):
            self.room[place] = self.room[place + 1] + counts[place] * strengths[place]

    def wasting(self, target: int, *, above: int, to: int) -> Iterator[tuple[int, ...]]:
        """Those that hold more than `above` and at most `to` beyond the target."""
        self.above, self.to = above, to
        self.dose = [0] * len(self.counts)
        strongest = next(place for place, count in enumerate(self.counts) if count)
        yield from self._with(strongest, target)

    def _from(self, place: int, missing: int) -> Iterator[tuple[int, ...]]:
        for here in range(place, len(self.counts)):
            if self.room[here] < missing:
                return
            yield from self._with(here, missing)

    def _with(self, place: int, missing: int) -> Iterator[tuple[int, ...]]:
        """Ways to fill what is missing, beginning with at least one straw of this place."""
        strength = self.strengths[place]
        most = min(self.counts[place], -(-missing // strength))
        self.work.spend(1 + most)
        for number in range(most, 0, -1):
            left = missing - number * strength
            self.dose[place] = number
            if left > 0:
                yield from self._from(place + 1, left)
            elif self.above < -left <= self.to:
                yield tuple(self.dose)
        self.dose[place] = 0


@lru_cache(maxsize=4096)
def most_doses(stock: Stock, target: int) -> int:
    """The most doses this stock makes.

    Exact up to SEARCHED_DOSES doses as long as SEARCH_STEPS suffice; with the few doses of a last
    stock they nearly always do. In a bigger stock, doses of one strength (those that waste least)
    are set aside until the rest is that small, and when the steps run out, what was found so far
    is the answer. So of a big stock only part is mixed, and taking every dose apart and mixing all
    of it anew could make some more. The answer is never more than can be dealt.
    """
    whole, rest = _set_aside(stock, target)
    if len(rest) <= 1 or whole_doses(rest, target) == upper_bound(rest, target):
        return len(whole) + whole_doses(rest, target)
    return len(whole) + len(_deal_most(rest, target))


def arrange(stock: Stock, target: int, doses: int) -> list[Dose] | None:
    """How `most_doses` deals: `doses` doses, those of one strength first; None if it has fewer."""
    whole, rest = _set_aside(stock, target)
    dealt = whole + _deal_most(rest, target)
    return sorted(dealt, key=len)[:doses] if len(dealt) >= doses else None


def _deal_most(stock: Stock, target: int) -> list[Dose]:
    whole, leftovers = _take_whole(stock, target)
    found = whole + _greedy(leftovers, target)
    work = Work(SEARCH_STEPS)
    try:
        while (better := deal(stock, target, len(found) + 1, work)) is not None:
            found = better
    except WorkSpentError:
        pass
    return found


def _take_whole(stock: Stock, target: int, at_most: int | None = None) -> tuple[list[Dose], Stock]:
    """Doses of one strength, the least wasteful first, and the straws they leave."""
    left = dict(stock)
    doses: list[Dose] = []
    for strength in sorted(left, key=lambda s: straws_needed(s, target) * s):
        needed = straws_needed(strength, target)
        number = left[strength] // needed
        if at_most is not None:
            number = min(number, at_most - len(doses))
        left[strength] -= number * needed
        doses.extend([((strength, needed),)] * number)
    return doses, merge(left.items(), target)


def _set_aside(stock: Stock, target: int) -> tuple[list[Dose], Stock]:
    """Take out whole doses until no more than SEARCHED_DOSES can be left, if there are so many."""
    excess = upper_bound(stock, target) - SEARCHED_DOSES
    return _take_whole(stock, target, excess) if excess > 0 else ([], stock)


def _greedy(stock: Stock, target: int) -> list[Dose]:
    """Doses filled with the strongest straws and closed with the weakest that suffices."""
    counts = dict(stock)
    total = sum(strength * number for strength, number in stock)
    doses: list[Dose] = []
    while total >= target:
        dose: dict[int, int] = {}
        missing = target
        while missing > 0:
            strengths = [strength for strength, number in counts.items() if number]
            closing = [strength for strength in strengths if strength >= missing]
            pick = min(closing) if closing else max(strengths)
            counts[pick] -= 1
            dose[pick] = dose.get(pick, 0) + 1
            missing -= pick
        total -= target - missing
        doses.append(tuple(dose.items()))
    return doses


def most_of_one_batch(
    batches: Sequence[tuple[int, int]], target: int, doses: int, work: Work
) -> int | None:
    """Of `doses` doses, how many can be of one batch each; None when `doses` cannot be made at all.

    `batches` are (strength, straws), each batch once. Making as many one-batch doses as there are
    may leave too little for the mixed ones, so fewer are tried until all doses are made. Exact;
    raises WorkSpentError when `work` ends first.
    """
    whole = min(doses, whole_doses(batches, target))
    if whole == doses:
        return doses
    stock = merge(batches, target)
    if upper_bound(stock, target) < doses:
        return None
    if _with_one_batch(batches, target, doses, whole, work):
        return whole
    if deal(stock, target, doses, work) is None:
        return None
    fewer = (p for p in range(whole - 1, 0, -1) if _with_one_batch(batches, target, doses, p, work))
    return next(fewer, 0)


def without_one(
    batches: Sequence[tuple[int, int]],
    place: int,
    *,
    target: int,
    doses: int,
    one_batch: int,
    work: Work,
) -> list[tuple[int, int]] | None:
    """The batches without one straw of the one at `place`, if that straw is not missed.

    It is missed when `doses` doses, `one_batch` of them of one batch, cannot be made without it.
    """
    strength, number = batches[place]
    stock = merge(batches, target)
    spare = sum(s * n for s, n in stock) - doses * smallest_sum(stock, target)
    if number == 0 or min(strength, target) > spare:
        return None
    left = [*batches[:place], (strength, number - 1), *batches[place + 1 :]]
    still = most_of_one_batch(left, target, doses, work)
    return left if still is not None and still >= one_batch else None


def _with_one_batch(
    batches: Sequence[tuple[int, int]], target: int, doses: int, whole: int, work: Work
) -> bool:
    """Can `doses` doses be made with `whole` of them of one batch each?"""
    stock = dict(merge(batches, target))
    room: dict[int, int] = dict.fromkeys(stock, 0)  # one-batch doses at most, by strength
    for strength, number in batches:
        capped = min(strength, target)
        if number > 0:
            room[capped] += number // straws_needed(capped, target)
    strengths = [s for s in room if room[s]]
    for taken in _shares(whole, [room[s] for s in strengths]):
        work.spend()
        left = dict(stock)
        for strength, number in zip(strengths, taken, strict=True):
            left[strength] -= number * straws_needed(strength, target)
        if deal(merge(left.items(), target), target, doses - whole, work) is not None:
            return True
    return False


def _shares(total: int, room: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Every way to share `total` among places that hold at most `room` each."""
    if not room:
        if total == 0:
            yield ()
        return
    rest = sum(room[1:])
    for here in range(min(total, room[0]), max(0, total - rest) - 1, -1):
        for others in _shares(total - here, room[1:]):
            yield (here, *others)
