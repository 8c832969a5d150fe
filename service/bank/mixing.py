"""Owns one question: can straws of unequal strength be mixed into so many doses?

Strengths and the target are whole numbers of one small unit (`doses.py` scales its fractions), so
everything here is exact. The question is the bin covering problem, which has no quick exact answer
in general; with the few strengths and the few doses of a real last stock the search answers it.
It counts its steps, never the time, so that the same stock gives the same answer everywhere; what
is done when the steps run out is decided in `dealing.py`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import gcd

Stock = tuple[tuple[int, int], ...]
"""(strength, straws), strongest first, every strength once."""

Dose = tuple[tuple[int, int], ...]
"""(strength, straws) of one dose."""


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
        self.work.spend(1 + len(counts) // 2)
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
