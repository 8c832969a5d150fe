"""A batch from its marks to the tank: prepared, then frozen."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal, localcontext
from fractions import Fraction
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.bank import plausibility
from service.bank import store as bank
from service.bank.actions import stallion_of
from service.bank.marks import marks_of, missing
from service.bank.plausibility import Impossible
from service.bank.rules import Warned
from service.bank.store import Batch, Stallion
from service.freezing import calculation, rules, store
from service.freezing.batches import batch_of, keep_results, place_hold
from service.freezing.calculation import Calculation, Collection, Filling, StrawCounts
from service.freezing.rules import Share
from service.kernel.acts import Act
from service.kernel.codes import grouped
from service.ledger import picking
from service.ledger.book import book
from service.ledger.neighbours import weigh_places
from service.ledger.rules import (
    Movement,
    Place,
    PlacementsDoNotAddUp,
    SameCodeTwice,
    StrawNow,
    UnknownGoblet,
    new_straw,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """What straws are marked with before they are filled."""

    straws: int
    collected_on: date | None = None
    straw_volume_ml: Decimal | None = None
    straw_colour: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """So many straws into a goblet; `codes` where it is known which."""

    goblet_id: UUID
    straws: int
    codes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Freeze:
    """Everything that is said of a freeze; what is None is not known."""

    stallion_id: UUID
    batch_id: UUID | None
    collected_at: datetime
    collected_where: str | None
    approval_number: str | None
    collection: Collection
    straw: Filling
    recovery_percent: Decimal | None
    extender: str | None
    post_thaw_percent: Decimal | None
    post_thaw_minutes: Decimal | None
    thaw: list[dict[str, str]] | None
    straw_colour: str | None
    hold_until: date | None
    counts: StrawCounts
    placements: Sequence[Placement]
    note: str | None


@dataclass(slots=True)
class Frozen:
    """A freeze as it was booked."""

    batch: Batch
    stored: list[tuple[str, UUID]]
    warnings: list[Warned] = field(default_factory=list)


def prepare(db: Session, act: Act, stallion_id: UUID, marks: Marks) -> Batch:
    """Make a batch and the codes of its straws, before anything is filled. Raises Implausible."""
    stallion = stallion_of(db, stallion_id)
    weigh_marks(db, act, stallion_id, marks)
    return _prepare(db, act, stallion, marks, batch_id=act.id, entry_id=act.id)


def weigh_marks(db: Session, act: Act, stallion_id: UUID, marks: Marks) -> list[Warned]:
    """What to look at again before straws are marked so. Raises Implausible."""
    stallion = stallion_of(db, stallion_id)
    remarks: list[Warned | Impossible] = []
    if marks.straw_volume_ml is not None:
        remarks += plausibility.weigh_straw_volume(
            Fraction(marks.straw_volume_ml), field="straw_volume_ml"
        )
    if marks.collected_on is not None:
        remarks += plausibility.weigh_planned_day(
            collected_on=marks.collected_on,
            today=bank.day_of(db, act.recorded_at),
            foaled_on=stallion.foaled_on,
            died_on=stallion.died_on,
        )
    return plausibility.refuse_impossible(remarks)


def _prepare(
    db: Session, act: Act, stallion: Stallion, marks: Marks, *, batch_id: UUID, entry_id: UUID
) -> Batch:
    batch = Batch(
        id=batch_id,
        code=store.new_batch_code(db, act.draw),
        stallion_id=stallion.id,
        state="prepared",
        straws_planned=marks.straws,
        created_at=act.recorded_at,
        collected_on=marks.collected_on,
        straw_volume_ml=marks.straw_volume_ml,
        straw_colour=marks.straw_colour or stallion.straw_colour,
    )
    db.add(batch)
    db.flush()
    new = [
        new_straw(code, batch.id, since=act.occurred_at)
        for code in store.new_straw_codes(db, marks.straws, act.draw)
    ]
    movements = [Movement(straw, Place("prepared")) for straw in new]
    facts = {"straws": marks.straws, "stallion_id": stallion.id}
    book(db, act, "prepare", movements, entry_id=entry_id, batch_id=batch.id, facts=facts)
    return batch


def freeze(db: Session, act: Act, asked: Freeze) -> Frozen:
    """Book a freeze: straws stored, spoiled and tested at once, with one entry.

    Without a prepared batch, batch and codes are made now. Raises Implausible, WrongStallion,
    NotPrepared, PlacementsDoNotAddUp, UnknownGoblet, GobletFull, QuarantinedTank.
    """
    stallion = stallion_of(db, asked.stallion_id)
    figures = _calculated(asked)
    warnings = _weigh_dates(db, act, asked, stallion)
    warnings += figures.warnings
    warnings += calculation.remarks_on_count(
        straws_made=asked.counts.made, straws_possible=figures.straws_possible
    )
    _refuse_unknown_goblets(db, asked.placements)
    batch, prepared = _to_be_filled(db, act, asked, stallion)
    warnings += _describe(db, act, batch, asked)
    today = bank.day_of(db, act.recorded_at)
    goblets = [placement.goblet_id for placement in asked.placements]
    warnings += weigh_places(db, batch, goblets, today, field="placements")
    movements = rules.allot(prepared, _shares(asked, prepared))
    book(db, act, "freeze", movements, batch_id=batch.id, facts=_facts(batch, asked))
    keep_results(db, act, batch, percent=asked.post_thaw_percent, minutes=asked.post_thaw_minutes)
    warnings += plausibility.remarks_on_doses(
        bank.dose_rule_of(db, stallion.id), bank.quality_of(batch), straws=asked.counts.stored
    )
    stored = [(m.straw.code, m.to.goblet_id) for m in movements if m.to.goblet_id]
    return Frozen(batch, stored, warnings)


def _weigh_dates(db: Session, act: Act, asked: Freeze, stallion: Stallion) -> list[Warned]:
    zone = ZoneInfo(bank.station_of(db).time_zone)
    remarks = plausibility.weigh_dates(
        collected_at=asked.collected_at.astimezone(zone),
        frozen_at=act.occurred_at,
        now=act.recorded_at,
        foaled_on=stallion.foaled_on,
        died_on=stallion.died_on,
    )
    return plausibility.refuse_impossible(remarks)


def _calculated(asked: Freeze) -> Calculation:
    return calculation.calculate(
        collection=asked.collection,
        straw=asked.straw,
        post_thaw_percent=_fraction(asked.post_thaw_percent),
        recovery_percent=_fraction(asked.recovery_percent),
    )


def _fraction(amount: Decimal | None) -> Fraction | None:
    return None if amount is None else Fraction(amount)


def _to_be_filled(
    db: Session, act: Act, asked: Freeze, stallion: Stallion
) -> tuple[Batch, list[StrawNow]]:
    """The batch and its marked straws: those prepared before, or as many as are filled."""
    placed = [placement.straws for placement in asked.placements]
    if asked.batch_id is None:
        calculation.check_counts(asked.counts, placed=placed, prepared=None)
        marks = Marks(straws=asked.counts.made)
        batch = _prepare(db, act, stallion, marks, batch_id=act.new_id(), entry_id=act.new_id())
        return batch, store.straws_of(db, batch.id)
    batch = _prepared_batch(db, asked.batch_id, stallion)
    straws = [straw for straw in store.straws_of(db, batch.id) if straw.state == "prepared"]
    calculation.check_counts(asked.counts, placed=placed, prepared=len(straws))
    return batch, straws


def _prepared_batch(db: Session, batch_id: UUID, stallion: Stallion) -> Batch:
    batch = batch_of(db, batch_id)
    if batch.stallion_id != stallion.id:
        raise rules.WrongStallion(
            f"Batch {grouped(batch.code)} was prepared for another stallion than {stallion.name}. "
            "Read the mark on a straw, and choose his batch.",
            batch_code=batch.code,
            stallion_id=batch.stallion_id,
        )
    if batch.state != "prepared":
        raise rules.NotPrepared(
            f"Batch {grouped(batch.code)} is frozen already. If that was a mistake, take its entry "
            "back in the book first.",
            batch_code=batch.code,
            freeze_id=batch.freeze_id,
        )
    return batch


def _refuse_unknown_goblets(db: Session, placements: Sequence[Placement]) -> None:
    known = store.goblets(db, {placement.goblet_id for placement in placements})
    for placement in placements:
        if placement.goblet_id not in known:
            raise UnknownGoblet(
                "There is no such goblet. Choose one of the proposed places.",
                goblet_id=placement.goblet_id,
            )


def _describe(db: Session, act: Act, batch: Batch, asked: Freeze) -> list[Warned]:
    """Write down what is said of the batch; what to look at again."""
    station = bank.station_of(db)
    day = bank.today_at(station, asked.collected_at)
    warnings = _weigh_against_marks(batch, asked, day)
    elsewhere = asked.collected_where not in (None, station.name)
    batch.state = "frozen"
    batch.freeze_id = act.id
    batch.collected_at = asked.collected_at
    batch.collected_on = day
    batch.collected_where = asked.collected_where or station.name
    batch.approval_number = asked.approval_number
    if asked.approval_number is None and not elsewhere:
        batch.approval_number = station.approval_number
    _keep_figures(batch, asked)
    batch.extender = asked.extender
    batch.straw_colour = asked.straw_colour or batch.straw_colour
    batch.thaw = asked.thaw
    batch.note = asked.note
    db.add(batch)
    if elsewhere and asked.approval_number is None:
        message = "Collected elsewhere: that place's approval number belongs on the straws."
        warnings.append(Warned("approval-number-missing", "approval_number", message))
    if asked.thaw is None:
        message = "Without a thaw protocol whoever takes these straws gets no thaw card."
        warnings.append(Warned("thaw-missing", "thaw", message))
    warnings += weigh_missing(db, batch, told=("approval_number",) if elsewhere else ())
    return warnings + _hold(db, act, batch, asked.hold_until)


def weigh_missing(db: Session, batch: Batch, *, told: Sequence[str] = ()) -> list[Warned]:
    """What straws must say and nobody knows of this batch, but for what is `told` already."""
    station = bank.station_of(db)
    known = marks_of(batch, stallion_of(db, batch.stallion_id), station)
    lacking = missing(known, station.required_marks)
    return rules.weigh_missing([mark for mark in lacking if mark not in told])


def _weigh_against_marks(batch: Batch, asked: Freeze, day: date) -> list[Warned]:
    """Straws were marked when the batch was prepared; what is said now may differ."""
    warnings = []
    if batch.collected_on not in (None, day):
        message = (
            f"The batch was prepared for {batch.collected_on}, the freeze says {day}. "
            "See which day the straws' marks bear."
        )
        warnings.append(Warned("marked-otherwise", "collected_at", message))
    volume = _decimal(asked.straw.volume_ml)
    if batch.straw_volume_ml not in (None, volume):
        message = f"The batch was prepared for straws of {batch.straw_volume_ml} mL, not {volume}."
        warnings.append(Warned("marked-otherwise", "straw.volume_ml", message))
    return warnings


def _keep_figures(batch: Batch, asked: Freeze) -> None:
    collection, straw = asked.collection, asked.straw
    batch.collection_volume_ml = _decimal(collection.volume_ml)
    batch.collection_concentration_million_per_ml = _decimal(
        collection.concentration_million_per_ml
    )
    batch.collection_progressive_motility_percent = _decimal(
        collection.progressive_motility_percent
    )
    batch.recovery_percent = asked.recovery_percent
    batch.straw_volume_ml = _decimal(straw.volume_ml)
    batch.straw_concentration_million_per_ml = _decimal(straw.concentration_million_per_ml)


def _decimal(amount: Fraction) -> Decimal:
    """Back to the decimal it was given as (at most 30 digits); exact, because it came from one."""
    with localcontext(prec=80):
        return Decimal(amount.numerator) / Decimal(amount.denominator)


def _hold(db: Session, act: Act, batch: Batch, until: date | None) -> list[Warned]:
    if until is None:
        return []
    if until <= bank.day_of(db, act.recorded_at):
        message = f"A hold until {until} is over by now: the batch is free to use."
        return [Warned("hold-over", "hold_until", message)]
    reason = f"until {until.day} {until:%b %Y}, as set at the freeze"
    place_hold(db, act, batch, reason, until, hold_id=act.id)
    return []


def _shares(asked: Freeze, prepared: Sequence[StrawNow]) -> list[Share]:
    """Where the straws end: goblet by goblet, then tested and spoiled; codes left over are void."""
    counts = asked.counts
    straws: Counter[UUID] = Counter()
    for placement in asked.placements:
        straws[placement.goblet_id] += placement.straws
    named = _named(asked.placements, prepared)
    shares = []
    for goblet_id, number in straws.items():
        codes = tuple(code for code, place in named.items() if place == goblet_id)
        shares.append(Share(Place("stored", goblet_id=goblet_id), number, codes))
    return [
        *shares,
        Share(Place("tested"), counts.tested),
        Share(Place("discarded"), counts.spoiled),
        Share(Place("void"), len(prepared) - counts.made),
    ]


def _named(placements: Sequence[Placement], prepared: Sequence[StrawNow]) -> dict[str, UUID]:
    known = {straw.code for straw in prepared}
    named: dict[str, UUID] = {}
    for placement in placements:
        codes = [picking.straw_code(text) for text in placement.codes]
        if len(codes) > placement.straws:
            raise PlacementsDoNotAddUp(
                f"{len(codes)} codes are named for a place that takes {placement.straws} straws. "
                "Correct the count.",
                goblet_id=placement.goblet_id,
                straws=placement.straws,
            )
        for code in codes:
            if code in named:
                raise SameCodeTwice(
                    f"Straw {grouped(code)} is named twice. Name each straw once.",
                    straw_code=code,
                )
            if code not in known:
                raise rules.WrongStraws(
                    f"Straw {grouped(code)} is not one of this batch's prepared straws. Read its "
                    "mark again.",
                    straw_code=code,
                )
            named[code] = placement.goblet_id
    return named


def _facts(batch: Batch, asked: Freeze) -> dict[str, Any]:
    """What doses are reckoned from stands in the book too, so that changing it later shows."""
    return {
        "batch_code": batch.code,
        "stored": asked.counts.stored,
        "spoiled": asked.counts.spoiled,
        "tested": asked.counts.tested,
        "collected_on": batch.collected_on,
        "straw_volume_ml": batch.straw_volume_ml,
        "straw_concentration_million_per_ml": batch.straw_concentration_million_per_ml,
        "progressive_motility_percent": asked.post_thaw_percent,
        "hold_until": asked.hold_until,
    }
