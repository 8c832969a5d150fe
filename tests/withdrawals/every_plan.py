"""An exhaustive search for the best plan, as slow as it is simple: the planner's oracle.

It shares nothing with the planner but the words: it tries every number of straws out of every
cell, deals them in every way, and keeps the best by the order that `planning.py` states.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import cache
from itertools import product

Counts = tuple[int, ...]
Key = tuple[int, tuple[date, ...], tuple[date, ...]]


@dataclass(frozen=True)
class Shelf:
    """A cell: (batch, canister, straws)."""

    batch: int
    canister: int
    straws: int


@dataclass(frozen=True)
class Best:
    """The best plan's one-batch doses, and its (lifts, dates of one-batch doses, mixed dates)."""

    one_batch: int
    key: Key


class EveryPlan:
    """`strengths` are per straw (None: makes no dose), `dates` what each batch is as old as."""

    def __init__(
        self,
        strengths: Sequence[Fraction | None],
        dates: Sequence[date],
        target: Fraction,
        shelves: Sequence[Shelf],
    ) -> None:
        self.dates, self.target, self.shelves = dates, target, shelves
        self.strengths = [strength or Fraction(0) for strength in strengths]
        self.total = self._by_batch([shelf.straws for shelf in shelves])
        self.lean_doses = list(self._all_lean_doses())
        self.most_one_batch = cache(self._most_one_batch)

    @classmethod
    def of_batches(cls, batches: Sequence[tuple[Fraction, int]], target: Fraction) -> "EveryPlan":
        """Of (strength, straws) alone, where place and age are no matter."""
        shelves = [Shelf(batch, 0, straws) for batch, (_, straws) in enumerate(batches)]
        return cls([s for s, _ in batches], [date.min] * len(batches), target, shelves)

    def can_make(self, straws: Counts, doses: int) -> bool:
        """Can these straws be dealt into so many doses?"""
        return self.most_one_batch(straws, doses, 0) >= 0

    def best(self, doses: int) -> Best | None:
        one_batch = self.most_one_batch(self.total, doses, 0)
        if one_batch < 0:
            return None
        keys = [
            key
            for take in product(*(range(shelf.straws + 1) for shelf in self.shelves))
            if (straws := self._by_batch(take)) and self.is_lean(straws, doses, one_batch)
            for key in [self._key(take, straws, doses, one_batch)]
        ]
        return Best(one_batch, min(keys))

    def is_lean(self, straws: Counts, doses: int, one_batch: int) -> bool:
        """These straws make the doses, `one_batch` of them of one batch, and none is spare."""
        if self.most_one_batch(straws, doses, 0) < one_batch:
            return False
        return all(
            self.most_one_batch(_less_one(straws, batch), doses, 0) < one_batch
            for batch, number in enumerate(straws)
            if number
        )

    def _by_batch(self, take: Sequence[int]) -> Counts:
        straws = [0] * len(self.strengths)
        for shelf, number in zip(self.shelves, take, strict=True):
            straws[shelf.batch] += number
        return tuple(straws)

    def _held(self, straws: Counts) -> Fraction:
        pairs = zip(self.strengths, straws, strict=True)
        return sum((strength * number for strength, number in pairs), Fraction(0))

    def _all_lean_doses(self) -> Iterator[Counts]:
        for dose in product(*(range(number + 1) for number in self.total)):
            enough = self._held(dose) >= self.target
            if enough and all(
                self._held(_less_one(dose, batch)) < self.target
                for batch, number in enumerate(dose)
                if number
            ):
                yield dose

    def _most_one_batch(self, straws: Counts, doses: int, first: int) -> int:
        """Most one-batch doses among `doses` lean ones from `first` on; below 0 if impossible."""
        if doses == 0:
            return 0
        best = -1000
        for place in range(first, len(self.lean_doses)):
            dose = self.lean_doses[place]
            left = tuple(a - b for a, b in zip(straws, dose, strict=True))
            if min(left) >= 0:
                rest = self.most_one_batch(left, doses - 1, place)
                best = max(best, rest + (sum(n > 0 for n in dose) == 1))
        return best

    def _deals(self, straws: Counts, doses: int, first: int) -> Iterator[list[Counts]]:
        if doses == 0:
            yield []
            return
        for place in range(first, len(self.lean_doses)):
            dose = self.lean_doses[place]
            left = tuple(a - b for a, b in zip(straws, dose, strict=True))
            if min(left) >= 0:
                for rest in self._deals(left, doses - 1, place):
                    yield [dose, *rest]

    def _key(self, take: Sequence[int], straws: Counts, doses: int, one_batch: int) -> Key:
        lifted = {s.canister for s, number in zip(self.shelves, take, strict=True) if number}
        ages = []
        for deal in self._deals(straws, doses, 0):
            whole = [dose for dose in deal if sum(n > 0 for n in dose) == 1]
            if len(whole) == one_batch:
                mixed = [dose for dose in deal if sum(n > 0 for n in dose) > 1]
                ages.append((self.dates_of_doses(whole), self.dates_of_straws(mixed)))
        return (len(lifted), *min(ages))

    def dates_of_doses(self, whole: Sequence[Counts]) -> tuple[date, ...]:
        return tuple(sorted(self.dates[b] for dose in whole for b, n in enumerate(dose) if n))

    def dates_of_straws(self, mixed: Sequence[Counts]) -> tuple[date, ...]:
        counted = [(b, n) for dose in mixed for b, n in enumerate(dose)]
        return tuple(sorted(self.dates[b] for b, n in counted for _ in range(n)))


def _less_one(counts: Counts, place: int) -> Counts:
    return (*counts[:place], counts[place] - 1, *counts[place + 1 :])
