"""What happened at the bench: straws marked, frozen, examined, tested, held and released."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from functools import partial

from seed_data.chronicle import Chronicle, Moment, Step
from service.bank.clearance import Result
from service.freezing import actions, batches, health
from service.freezing.calculation import Collection, Filling, StrawCounts
from service.kernel.acts import Act
from service.ledger.picking import Pick

Thaw = tuple[tuple[str, str], ...]
"""Baths in their order, each (water in °C, seconds)."""

#: The usual bath for half-millilitre straws (from memory), and two others that are in use.
WARM: Thaw = (("37", "30"),)
WARMER: Thaw = (("46", "20"),)
HOT_THEN_WARM: Thaw = (("75", "7"), ("37", "10"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """Straws were marked for a freeze to come."""

    batch: str
    stallion: str
    days_ago: int
    straws: int
    volume_ml: str = "0.5"
    wall: str = "07:40"

    def steps(self) -> Iterator[Step]:
        """The technician made the marks."""
        yield Step(Moment(self.days_ago, self.wall), "tilda", self._do)

    def _do(self, chronicle: Chronicle, act: Act) -> None:
        stallion_id = chronicle.stallions[self.stallion]
        marks = actions.Marks(straws=self.straws, straw_volume_ml=Decimal(self.volume_ml))
        batch = actions.prepare(chronicle.db, act, stallion_id, marks)
        chronicle.batches[self.batch] = batch.id


@dataclass(frozen=True, slots=True, kw_only=True)
class Frozen:
    """A collection was frozen. `places` are straws by address; `marked`, straws marked before.

    `fresh` is the collection: mL, million/mL, % progressive. `filled` is a straw: mL, million/mL.
    `hold_days` counts from the day of collection.
    """

    batch: str
    stallion: str
    days_ago: int
    places: Mapping[str, int]
    fresh: tuple[int, int, int]
    filled: tuple[str, int] = ("0.5", 200)
    recovery_percent: int = 85
    post_thaw_percent: int | None
    marked: int | None = None
    tested: int = 0
    spoiled: int = 0
    thaw: Thaw = WARM
    hold_days: int | None = None
    extender: str = "skim milk and egg yolk, 5 % glycerol"
    note: str | None = None

    def steps(self) -> Iterator[Step]:
        """Marks first, where they were made first; then the freeze, in the forenoon."""
        if self.marked is not None:
            yield from Prepared(
                batch=self.batch,
                stallion=self.stallion,
                days_ago=self.days_ago,
                straws=self.marked,
                volume_ml=self.filled[0],
            ).steps()
        yield Step(Moment(self.days_ago, "11:20"), "tilda", self._do)

    def _do(self, chronicle: Chronicle, act: Act) -> None:
        frozen = actions.freeze(chronicle.db, act, self._asked(chronicle))
        chronicle.batches[self.batch] = frozen.batch.id
        chronicle.acts[f"freeze of {self.batch}"] = act.id

    def _asked(self, chronicle: Chronicle) -> actions.Freeze:
        known = self.post_thaw_percent
        return actions.Freeze(
            stallion_id=chronicle.stallions[self.stallion],
            batch_id=chronicle.batches.get(self.batch),
            collected_at=chronicle.moment(Moment(self.days_ago, "08:30")),
            collected_where=None,
            approval_number=None,
            collection=self.collection,
            straw=self.filling,
            recovery_percent=Decimal(self.recovery_percent),
            extender=self.extender,
            post_thaw_percent=None if known is None else Decimal(known),
            post_thaw_minutes=None if known is None else Decimal(10),
            thaw=[{"water_c": water_c, "seconds": seconds} for water_c, seconds in self.thaw],
            straw_colour=None,
            hold_until=None
            if self.hold_days is None
            else chronicle.today - timedelta(days=self.days_ago - self.hold_days),
            counts=self.counts,
            placements=[
                actions.Placement(goblet_id=chronicle.goblets[address], straws=straws)
                for address, straws in self.places.items()
            ],
            note=self.note,
        )

    @property
    def collection(self) -> Collection:
        """The ejaculate."""
        volume_ml, concentration, motility = map(Fraction, self.fresh)
        return Collection(
            volume_ml=volume_ml,
            concentration_million_per_ml=concentration,
            progressive_motility_percent=motility,
        )

    @property
    def filling(self) -> Filling:
        """What went into each straw."""
        volume_ml, concentration = self.filled
        return Filling(
            volume_ml=Fraction(volume_ml), concentration_million_per_ml=Fraction(concentration)
        )

    @property
    def counts(self) -> StrawCounts:
        """What became of the straws that were filled."""
        return StrawCounts(
            stored=sum(self.places.values()), spoiled=self.spoiled, tested=self.tested
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """Straws out of the tank were thawed and looked at, days after the freeze."""

    batch: str
    days_ago: int
    percent: int
    straws: Mapping[str, int] = field(default_factory=dict)

    def steps(self) -> Iterator[Step]:
        """The technician's result."""
        yield Step(Moment(self.days_ago, "10:15"), "tilda", self._do)

    def _do(self, chronicle: Chronicle, act: Act) -> None:
        batch_id = chronicle.batches[self.batch]
        batches.examine(
            chronicle.db,
            act,
            batch_id,
            percent=Decimal(self.percent),
            minutes=Decimal(10),
            picks=[
                Pick(chronicle.goblets[address], batch_id, straws)
                for address, straws in self.straws.items()
            ],
            codes=(),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A batch was put on hold until somebody releases it."""

    batch: str
    days_ago: int
    reason: str

    def steps(self) -> Iterator[Step]:
        """The technician asked for it."""
        yield Step(Moment(self.days_ago, "16:05"), "tilda", self._do)

    def _do(self, chronicle: Chronicle, act: Act) -> None:
        batch_id = chronicle.batches[self.batch]
        batches.hold(chronicle.db, act, batch_id, reason=self.reason, until=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tested:
    """A laboratory's answer about a batch came in, or the sample went out and none came yet."""

    batch: str
    days_ago: int
    sampled_days_ago: int
    results: Mapping[str, Result]
    laboratory: str = "Fenwick Hollow Laboratory"

    def steps(self) -> Iterator[Step]:
        """The technician entered them one after the other."""
        for number, (test, result) in enumerate(self.results.items()):
            when = Moment(self.days_ago, "09:40", 3 * number)
            yield Step(when, "tilda", partial(self._do, test=test, result=result))

    def _do(self, chronicle: Chronicle, act: Act, *, test: str, result: Result) -> None:
        health.record_test(
            chronicle.db,
            act,
            batches.batch_of(chronicle.db, chronicle.batches[self.batch]),
            test=test,
            sampled_on=chronicle.today - timedelta(days=self.sampled_days_ago),
            result=result,
            laboratory=self.laboratory,
            note=None,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Released:
    """A vet or manager ended a hold."""

    batch: str
    days_ago: int
    reason: str
    by: str = "vera"

    def steps(self) -> Iterator[Step]:
        """One word of theirs."""
        yield Step(Moment(self.days_ago, "12:30"), self.by, self._do)

    def _do(self, chronicle: Chronicle, act: Act) -> None:
        batches.release(chronicle.db, act, chronicle.batches[self.batch], reason=self.reason)
