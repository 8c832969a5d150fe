"""A batch from its marks to the tank: prepared, then frozen."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.bank import store as bank
from service.bank.actions import stallion_of
from service.bank.rules import Warned
from service.bank.store import Batch, Stallion
from service.freezing import calculation, plausibility, rules, store
from service.freezing.batches import batch_of, place_hold, record_result
from service.freezing.calculation import Calculation, Collection, Filling, StrawCounts
from service.kernel.acts import Act
from service.kernel.codes import grouped
from service.ledger import picking
from service.ledger.book import book
from service.ledger.neighbours import weigh_places
from service.ledger.rules import MADE, Movement, Place, SameCodeTwice, StrawNow, UnknownCode


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
    calculation: Calculation
    stored: list[tuple[str, UUID]]
    warnings: list[Warned] = field(default_factory=list)


def prepare(db: Session, act: Act, stallion_id: UUID, marks: Marks) -> Batch:
    """Make a batch and the codes of its straws, before anything is filled."""
    return _prepare(db, act, stallion_of(db, stallion_id), marks, batch_id=act.id, entry_id=act.id)


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
        StrawNow(
            code=code,
            batch_id=batch.id,
            coded=True,
            state=MADE,
            goblet_id=None,
            left_goblet_id=None,
            withdrawal_id=None,
            provisional=False,
            since=act.occurred_at,
            last_seq=0,
        )
        for code in store.new_straw_codes(db, marks.straws, act.draw)
    ]
    movements = [Movement(straw, Place("prepared")) for straw in new]
    facts = {"batch_id": str(batch.id), "straws": marks.straws}
    book(db, act, "prepare", movements, entry_id=entry_id, facts=facts)
    return batch


def freeze(db: Session, act: Act, asked: Freeze) -> Frozen:
    """Book a freeze: straws stored, spoiled and tested at once, with one entry.

    Without a prepared batch, batch and codes are made now. Raises Implausible, WrongBatch,
    NotPrepared, PlacementsDoNotAddUp, UnknownGoblet, GobletFull, QuarantinedTank.
    """
    stallion = stallion_of(db, asked.stallion_id)
    warnings = _weigh_dates(db, act, asked, stallion)
    figures = _calculated(db, asked)
    warnings += figures.warnings
    warnings += calculation.remarks_on_count(
        straws_made=asked.counts.made, straws_possible=figures.straws_possible
    )
    batch = _batch_for(db, act, asked, stallion)
    prepared = [straw for straw in store.straws_of(db, batch.id) if straw.state == "prepared"]
    calculation.check_counts(
        asked.counts,
        placed=[placement.straws for placement in asked.placements],
        prepared=len(prepared) if asked.batch_id else None,
    )
    _refuse_unknown_goblets(db, asked.placements)
    _describe(db, batch, act, asked)
    warnings += _placed_beside(db, act, batch, asked)
    movements = _movements(asked, prepared)
    book(db, act, "freeze", movements, facts=_facts(batch, asked))
    stored = [(m.straw.code, m.to.goblet_id) for m in movements if m.to.goblet_id]
    return Frozen(batch, figures, stored, warnings)


def _weigh_dates(db: Session, act: Act, asked: Freeze, stallion: Stallion) -> list[Warned]:
    zone = ZoneInfo(bank.station_of(db).time_zone)
    remarks = plausibility.weigh_dates(
        collected_at=asked.collected_at.astimezone(zone),
        now=act.recorded_at,
        foaled_on=stallion.foaled_on,
        died_on=stallion.died_on,
    )
    return plausibility.refuse_impossible(remarks)


def _calculated(db: Session, asked: Freeze) -> Calculation:
    return calculation.calculate(
        collection=asked.collection,
        straw=asked.straw,
        post_thaw_percent=_fraction(asked.post_thaw_percent),
        recovery_percent=_fraction(asked.recovery_percent),
        dose_rule=bank.dose_rule_of(db, asked.stallion_id),
    )


def _fraction(amount: Decimal | None) -> Fraction | None:
    return None if amount is None else Fraction(amount)


def _batch_for(db: Session, act: Act, asked: Freeze, stallion: Stallion) -> Batch:
    if asked.batch_id is None:
        marks = Marks(straws=asked.counts.made)
        return _prepare(db, act, stallion, marks, batch_id=act.new_id(), entry_id=act.new_id())
    batch = batch_of(db, asked.batch_id)
    if batch.stallion_id != stallion.id:
        raise rules.WrongBatch(
            f"Batch {grouped(batch.code)} was prepared for another stallion. Read the mark on a "
            "straw, and choose his batch.",
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
            raise rules.UnknownGoblet(
                "There is no such goblet. Choose one of the proposed places.",
                goblet_id=placement.goblet_id,
            )


def _describe(db: Session, batch: Batch, act: Act, asked: Freeze) -> None:
    station = bank.station_of(db)
    batch.state = "frozen"
    batch.freeze_id = act.id
    batch.collected_at = asked.collected_at
    batch.collected_on = bank.today_at(station, asked.collected_at)
    batch.collected_where = asked.collected_where or station.name
    batch.approval_number = asked.approval_number or station.approval_number
    batch.collection_volume_ml = _decimal(asked.collection.volume_ml)
    batch.collection_concentration_million_per_ml = _decimal(
        asked.collection.concentration_million_per_ml
    )
    batch.collection_progressive_motility_percent = _decimal(
        asked.collection.progressive_motility_percent
    )
    batch.recovery_percent = asked.recovery_percent
    batch.extender = asked.extender
    batch.straw_volume_ml = _decimal(asked.straw.volume_ml)
    batch.straw_concentration_million_per_ml = _decimal(asked.straw.concentration_million_per_ml)
    batch.straw_colour = asked.straw_colour or batch.straw_colour
    batch.thaw = asked.thaw
    batch.note = asked.note
    batch.post_thaw_percent = batch.post_thaw_minutes = None
    db.add(batch)
    if asked.post_thaw_percent is not None:
        record_result(
            db,
            act,
            batch,
            percent=asked.post_thaw_percent,
            minutes=asked.post_thaw_minutes,
            result_id=act.new_id(),
        )
    if asked.hold_until is not None:
        reason = f"until {asked.hold_until:%d %b %Y}, as set at the freeze"
        place_hold(db, act, batch, reason, asked.hold_until, hold_id=act.new_id())
    db.flush()


def _decimal(amount: Fraction) -> Decimal:
    """Back to the decimal it was given as; exact, because it came from one."""
    return Decimal(amount.numerator) / Decimal(amount.denominator)


def _placed_beside(db: Session, act: Act, batch: Batch, asked: Freeze) -> list[Warned]:
    today = bank.today_at(bank.station_of(db), act.recorded_at)
    goblets = [placement.goblet_id for placement in asked.placements]
    return weigh_places(db, batch, goblets, today, field="placements")


def _movements(asked: Freeze, prepared: Sequence[StrawNow]) -> list[Movement]:
    """Named straws go where they were seen; the rest fill the places in order of their codes."""
    named = _named(asked.placements, prepared)
    rest = [straw for straw in prepared if straw.code not in named]
    movements = []
    for placement in asked.placements:
        own = [straw for straw in prepared if named.get(straw.code) == placement.goblet_id]
        more, rest = rest[: placement.straws - len(own)], rest[placement.straws - len(own) :]
        place = Place("stored", goblet_id=placement.goblet_id)
        movements += [Movement(straw, place) for straw in own]
        movements += [Movement(straw, place, provisional=True) for straw in more]
    ends = ["discarded"] * asked.counts.spoiled + ["tested"] * asked.counts.tested
    ends += ["void"] * (len(rest) - len(ends))
    movements += [
        Movement(straw, Place(end), provisional=True) for straw, end in zip(rest, ends, strict=True)
    ]
    if len({movement.to for movement in movements}) == 1:
        return [Movement(movement.straw, movement.to) for movement in movements]
    return movements


def _named(placements: Sequence[Placement], prepared: Sequence[StrawNow]) -> dict[str, UUID]:
    known = {straw.code for straw in prepared}
    named: dict[str, UUID] = {}
    for placement in placements:
        codes = [picking.straw_code(text) for text in placement.codes]
        if len(codes) > placement.straws:
            raise calculation.PlacementsDoNotAddUp(
                "More codes are named for a place than straws go there. Correct the count."
            )
        for code in codes:
            if code in named:
                raise SameCodeTwice(
                    f"Straw {grouped(code)} is named twice. Name each straw once.",
                    straw_code=code,
                )
            if code not in known:
                raise UnknownCode(
                    f"Straw {grouped(code)} is not one of this batch's prepared straws.",
                    straw_code=code,
                )
            named[code] = placement.goblet_id
    return named


def _facts(batch: Batch, asked: Freeze) -> dict[str, Any]:
    return {
        "batch_id": str(batch.id),
        "batch_code": batch.code,
        "stored": asked.counts.stored,
        "spoiled": asked.counts.spoiled,
        "tested": asked.counts.tested,
        "hold_until": asked.hold_until,
    }
