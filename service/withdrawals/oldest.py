"""Owns the choice among straws in reach: which of them make the doses, the oldest first.

Batches are numbered, the oldest first; strengths, targets and ages are whole numbers (see
`planning.py`). Which canisters are in reach is decided in `lifts.py`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from service.bank import dealing, mixing

Counts = tuple[tuple[int, int], ...]
"""(batch, number) for each batch that is concerned."""

Age = tuple[tuple[int, ...], tuple[int, ...]]
"""Ages of the one-batch doses, then of the straws in mixed doses; each rising. Smaller is older."""


@dataclass(frozen=True)
class Batches:
    """What the search knows of each batch: strength of a straw, straws of a dose, age rank."""

    strengths: tuple[int, ...]
    needed: tuple[int, ...]
    ages: tuple[int, ...]


@dataclass(frozen=True)
class Wanted:
    """`doses` doses of at least `target`, `one_batch` of them (or more) of a single batch each."""

    doses: int
    target: int
    one_batch: int

    @property
    def mixed(self) -> int:
        """Doses that are mixed of several batches."""
        return self.doses - self.one_batch


@dataclass(frozen=True)
class Choice:
    """Doses of one batch each, by batch, and the straws that are mixed into the others."""

    age: Age
    one_batch_doses: Counts
    mixed_straws: Counts


def choose_oldest(
    batches: Batches,
    wanted: Wanted,
    straws: Sequence[int],
    work: mixing.Work,
    order: Sequence[int] | None = None,
) -> Choice | None:
    """The oldest straws out of `straws` (by batch) that make what is wanted; None when they do not.

    Oldest means: the rising list of the ages of the one-batch doses is compared first, entry by
    entry, then that of the straws in mixed doses. No straw is in the choice that could be left out
    without losing a dose, or a dose of one batch. `order` decides between batches of one age.
    Exact; raises WorkSpentError when `work` ends first.
    """
    order = order if order is not None else range(len(straws))
    if wanted.mixed == 0:
        return _one_batch_only(batches, wanted, straws, order)
    search = _MixedSearch(batches, wanted, straws, order, work)
    search.choose_one_batch_doses(0, wanted.one_batch)
    return search.best


def _one_batch_only(
    batches: Batches, wanted: Wanted, straws: Sequence[int], order: Sequence[int]
) -> Choice | None:
    left = wanted.doses
    chosen: list[tuple[int, int]] = []
    for batch in order:
        if straws[batch] >= batches.needed[batch]:
            doses = min(left, straws[batch] // batches.needed[batch])
            chosen.append((batch, doses))
            left -= doses
            if not left:
                break
    if left:
        return None
    ages = tuple(batches.ages[batch] for batch, doses in chosen for _ in range(doses))
    return Choice((ages, ()), tuple(chosen), ())


class _MixedSearch:
    """Branch and bound: first the one-batch doses, then the straws to mix, each oldest first."""

    def __init__(
        self,
        batches: Batches,
        wanted: Wanted,
        straws: Sequence[int],
        order: Sequence[int],
        work: mixing.Work,
    ) -> None:
        self.batches, self.wanted, self.work = batches, wanted, work
        self.order = [batch for batch in order if straws[batch]]
        self.left = list(straws)
        self.whole: dict[int, int] = {}
        self.mixed: dict[int, int] = {}
        self.best: Choice | None = None
        self.mixed_target = wanted.mixed * wanted.target
        self.room = [0] * (len(self.order) + 1)  # one-batch doses from a place on
        for place in range(len(self.order) - 1, -1, -1):
            batch = self.order[place]
            self.room[place] = self.room[place + 1] + straws[batch] // batches.needed[batch]
        self.alike = len({batches.strengths[batch] for batch in self.order}) == 1

    def choose_one_batch_doses(self, place: int, doses: int) -> None:
        """Share `doses` one-batch doses among the batches from `place` on, in every way."""
        self.work.spend(1 + len(self.order) // 4)
        ages = self._ages(self.whole)
        if self.best and ages > self.best.age[0][: len(ages)]:
            return
        if doses == 0:
            self._begin_mixing(ages)
            return
        if self.room[place] < doses:
            return
        batch = self.order[place]
        needed = self.batches.needed[batch]
        for number in range(min(doses, self.left[batch] // needed), -1, -1):
            self._take_whole(batch, number, number * needed)
            self.choose_one_batch_doses(place + 1, doses - number)
            self._take_whole(batch, 0, -number * needed)

    def _take_whole(self, batch: int, doses: int, straws: int) -> None:
        self.whole[batch] = doses
        self.left[batch] -= straws

    def _begin_mixing(self, ages: tuple[int, ...]) -> None:
        strengths = self.batches.strengths
        self.rest = [0] * (len(self.order) + 1)  # what all straws from a place on hold together
        self.strongest = [1] * (len(self.order) + 1)
        for place in range(len(self.order) - 1, -1, -1):
            batch = self.order[place]
            self.rest[place] = self.rest[place + 1] + self.left[batch] * strengths[batch]
            self.strongest[place] = max(self.strongest[place + 1], strengths[batch])
        self.whole_ages = ages
        self.mixed = {}
        if self.alike:
            self._mix_alike()
        else:
            self._mix(0, 0)

    def _mix_alike(self) -> None:
        """Where all straws count the same, the first of them make the doses, and none is spare."""
        missing = self.wanted.mixed * self.batches.needed[self.order[0]]
        for batch in self.order:
            self.mixed[batch] = min(missing, self.left[batch])
            missing -= self.mixed[batch]
            if not missing:
                break
        age = (self.whole_ages, self._ages(self.mixed))
        if not missing and (self.best is None or age < self.best.age):
            self.best = Choice(age, _counts(self.whole), _counts(self.mixed))

    def _mix(self, place: int, held: int) -> None:
        """Add straws of the batches from `place` on to those in `mixed`, which hold `held`."""
        self.work.spend(1 + len(self.order) // 4)
        if held + self.rest[place] < self.mixed_target or self._cannot_be_older(place, held):
            return
        if held >= self.mixed_target and self._makes_the_doses():
            self._keep()
            return
        if place == len(self.order):
            return
        batch = self.order[place]
        for number in range(self.left[batch], -1, -1):
            self.mixed[batch] = number
            self._mix(place + 1, held + number * self.batches.strengths[batch])
        self.mixed[batch] = 0

    def _cannot_be_older(self, place: int, held: int) -> bool:
        """Even with the fewest and oldest straws of the rest, this is no older than the best."""
        if self.best is None or self.whole_ages != self.best.age[0]:
            return self.best is not None and self.whole_ages > self.best.age[0]
        missing = self.mixed_target - held
        fewest = -(-missing // self.strongest[place]) if missing > 0 else 0
        next_age = self.batches.ages[self.order[place]] if place < len(self.order) else 0
        return self._ages(self.mixed) + (next_age,) * fewest >= self.best.age[1]

    def _makes_the_doses(self) -> bool:
        straws = [(self.batches.strengths[batch], n) for batch, n in self.mixed.items()]
        stock = mixing.merge(straws, self.wanted.target)
        return mixing.deal(stock, self.wanted.target, self.wanted.mixed, self.work) is not None

    def _keep(self) -> None:
        age = (self.whole_ages, self._ages(self.mixed))
        if (self.best is None or age < self.best.age) and not self._has_spare():
            self.best = Choice(age, _counts(self.whole), _counts(self.mixed))

    def _has_spare(self) -> bool:
        """Is there a straw in the choice that could be left out?"""
        chosen = [
            (
                self.batches.strengths[batch],
                self.whole.get(batch, 0) * self.batches.needed[batch] + self.mixed.get(batch, 0),
            )
            for batch in self.order
        ]
        return any(
            dealing.can_spare(
                chosen,
                place,
                target=self.wanted.target,
                doses=self.wanted.doses,
                one_batch=self.wanted.one_batch,
                work=self.work,
            )
            for place in range(len(chosen))
        )

    def _ages(self, counts: dict[int, int]) -> tuple[int, ...]:
        return tuple(self._rising_ages(counts))

    def _rising_ages(self, counts: dict[int, int]) -> Iterator[int]:
        for batch in self.order:
            for _ in range(counts.get(batch, 0)):
                yield self.batches.ages[batch]


def _counts(counts: dict[int, int]) -> Counts:
    return tuple((batch, number) for batch, number in counts.items() if number)
