"""Straws that leave for another place, and the seals on what they travel in."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any, NamedTuple
from uuid import UUID

from sqlmodel import Session

from service.bank import store as bank
from service.bank.clearance import Clearance
from service.bank.doses import straws_per_dose
from service.bank.rules import Warned
from service.bank.store import Batch, Stallion, Station
from service.kernel.acts import Act
from service.kernel.codes import grouped
from service.ledger import correct, picking
from service.ledger import store as ledger
from service.ledger.book import book
from service.ledger.health import clearances
from service.ledger.holds import refuse_held
from service.ledger.picking import Pick, Taken
from service.ledger.rules import (
    BeforeWhatItFollows,
    Place,
    StrawNow,
    Whose,
    refuse_release_of_others,
)
from service.ledger.store import Entry
from service.ledger.twins import Exchange
from service.transfers import packing, reserve, rules, store
from service.transfers.rules import Holding
from service.transfers.store import Dispatch, DispatchSeal


@dataclass(frozen=True, slots=True, kw_only=True)
class Going:
    """Where straws go and in what; only `to` has to be known."""

    to: str
    to_approval_number: str | None = None
    container: str | None = None
    carrier: str | None = None
    seal_number: str | None = None
    holding_days_rated: Decimal | None = None
    filled_at: datetime | None = None
    note: str | None = None
    owner: str | None = None
    release_reserve: str | None = None


@dataclass(frozen=True, slots=True)
class Dispatched:
    """A dispatch as it was booked, twins that changed places on the way, and what to look at."""

    dispatch: Dispatch
    exchanged: list[Exchange]
    warnings: list[Warned]


@dataclass(frozen=True, slots=True)
class TakenBack:
    """That a dispatch was taken back: it never left, or was booked wrongly."""

    at: datetime
    by: str
    reason: str | None


class Went(NamedTuple):
    """A straw of a dispatch as it is now, and the goblet that it was taken from."""

    straw: StrawNow
    goblet_id: UUID | None


@dataclass(frozen=True, slots=True)
class Recorded:
    """A dispatch as the book has it: the number of its entry, whether that was taken back, straws.

    `straws`: where a later scan showed that a twin had gone instead, the twin; of a dispatch that
    was taken back those that it had taken.
    """

    seq: int
    back: TakenBack | None
    straws: list[Went]


def send(
    db: Session, act: Act, going: Going, *, picks: Sequence[Pick], codes: Sequence[str]
) -> Dispatched:
    """Let straws leave for another place: one entry, and they are out of stock.

    With an owner only their straws go. Days in store and tests that are lacking are warned of;
    what is on hold or in quarantine is refused. Raises OnHold, ReserveReached, ReserveNotYours,
    NotYet, and what `picking.take` and `book` raise.
    """
    refuse_release_of_others(act.by, going.release_reserve)
    rules.refuse_future(going.filled_at, field="filled_at", now=act.recorded_at)
    whose = None if going.owner is None else Whose(going.owner)
    taken = picking.take(db, act, picks=picks, codes=codes, whose=whose)
    station = bank.station_of(db)
    refuse_held(db, taken.straws, bank.today_at(station, act.recorded_at))
    guarded = [] if going.release_reserve else reserve.guarded(db, act, taken)
    warnings = _weigh(db, act, station, going, taken)
    dispatch = _record(act, going, len(taken.straws))
    db.add(dispatch)
    db.flush()
    if going.seal_number is not None:
        db.add(_seal(act, dispatch, going.seal_number, id=act.new_id(), applied_at=act.occurred_at))
    book(
        db,
        act,
        "dispatch",
        taken.to(Place("dispatched")),
        reason=going.release_reserve,
        facts={name: fact for name, fact in asdict(going).items() if fact is not None},
    )
    way_out = "A manager may release them for this dispatch, with a reason."
    reserve.refuse_touched(db, act, guarded, way_out)
    return Dispatched(dispatch, taken.exchanged, warnings)


def _record(act: Act, going: Going, straws: int) -> Dispatch:
    return Dispatch(
        id=act.id,
        to=going.to,
        to_approval_number=going.to_approval_number,
        container=going.container,
        carrier=going.carrier,
        holding_days_rated=going.holding_days_rated,
        filled_at=going.filled_at,
        note=going.note,
        straws=straws,
        occurred_at=act.occurred_at,
        recorded_at=act.recorded_at,
        by_id=act.by.id,
        by_name=act.by.display_name,
    )


def _seal(
    act: Act,
    dispatch: Dispatch,
    number: str,
    *,
    id: UUID,
    applied_at: datetime,
    reason: str | None = None,
) -> DispatchSeal:
    return DispatchSeal(
        id=id,
        dispatch_id=dispatch.id,
        number=number,
        applied_at=applied_at,
        reason=reason,
        recorded_at=act.recorded_at,
        by_id=act.by.id,
        by_name=act.by.display_name,
    )


def _weigh(db: Session, act: Act, station: Station, going: Going, taken: Taken) -> list[Warned]:
    """What to look at before the container is closed."""
    day = bank.today_at(station, act.occurred_at)
    batches = _batches(db, {straw.batch_id for straw in taken.straws})
    lacking = clearances(db, batches, day)
    warnings = []
    for batch in batches:
        code = grouped(batch.code)
        warnings += rules.weigh_health(code, lacking[batch.id])
        warnings += rules.weigh_marks(
            code, _contents(db, station, batch, lacking[batch.id]).missing
        )
    if going.owner is None:
        owners = [straw.owner for straw in taken.straws if straw.owner]
        warnings += rules.weigh_owned(len(owners), sorted(set(owners)))
    held = holding_of(going.holding_days_rated, going.filled_at)
    return warnings + rules.weigh_container(
        held, sealed=going.seal_number is not None, leaves_at=act.occurred_at
    )


def _batches(db: Session, ids: set[UUID]) -> list[Batch]:
    found = [db.get_one(Batch, id) for id in ids]
    return sorted(found, key=lambda batch: batch.code)


def holding_of(days_rated: Decimal | None, filled_at: datetime | None) -> Holding | None:
    """How long the shipper holds; None when one of the two is not known."""
    if days_rated is None or filled_at is None:
        return None
    return rules.holding(days_rated=Fraction(days_rated), filled_at=filled_at)


def put_seal(
    db: Session, act: Act, dispatch_id: UUID, *, number: str, applied_at: datetime, reason: str
) -> Dispatch:
    """Put another seal on: the ones before stay readable.

    Raises UnknownDispatch, DispatchTakenBack, SameSeal, NotYet, BeforeWhatItFollows for a seal that
    would be older than the one it replaces.
    """
    dispatch = dispatch_of(db, dispatch_id)
    if taken_back(db, [dispatch]):
        raise rules.DispatchTakenBack(
            "This dispatch was taken back, so there is nothing to seal. Book a new one."
        )
    rules.refuse_future(applied_at, field="applied_at", now=act.recorded_at)
    before = store.seals_of(db, [dispatch.id])[dispatch.id]
    if before and before[-1].number == number:
        raise rules.SameSeal(f"Seal {number} is on it already. Read the new one again.")
    applied_at = _not_before(
        applied_at, follows=before[-1].applied_at if before else dispatch.occurred_at
    )
    db.add(_seal(act, dispatch, number, id=act.id, applied_at=applied_at, reason=reason))
    facts: dict[str, Any] = {"dispatch_id": dispatch.id, "number": number, "applied_at": applied_at}
    book(db, act, "seal", [], reason=reason, facts=facts)
    db.flush()
    return dispatch


def _not_before(applied_at: datetime, *, follows: datetime) -> datetime:
    """The time of a seal, never before what it follows: people say the minute, not the second."""
    if applied_at < follows - timedelta(minutes=1):
        raise BeforeWhatItFollows(
            "The seal is said to be older than what it follows. Check the time.",
            errors=[{"field": "applied_at", "message": "before what it follows"}],
            follows=follows,
        )
    return max(applied_at, follows)


def dispatch_of(db: Session, dispatch_id: UUID) -> Dispatch:
    """The dispatch, or UnknownDispatch."""
    dispatch = db.get(Dispatch, dispatch_id)
    if dispatch is None:
        raise rules.UnknownDispatch("There is no such dispatch. Choose one of the list.")
    return dispatch


def taken_back(db: Session, dispatches: Sequence[Dispatch]) -> dict[UUID, TakenBack]:
    """Of these dispatches the ones that a counter-entry took back."""
    return _taken_back(db, store.entries_of(db, [one.id for one in dispatches]))


def _taken_back(db: Session, entries: Sequence[Entry]) -> dict[UUID, TakenBack]:
    return {
        id: TakenBack(entry.recorded_at, entry.by_name, entry.reason)
        for id, entry in correct.corrections_of(db, entries).items()
    }


def recorded(db: Session, dispatch: Dispatch) -> Recorded:
    """What the book says of a dispatch."""
    [entry] = store.entries_of(db, [dispatch.id])
    back = _taken_back(db, [entry]).get(entry.id)
    lines = ledger.lines_of(db, entry.seq)
    straws = ledger.straws_by_code(db, [line.straw_code for line in lines])
    went = []
    for line in lines:
        straw = straws[line.straw_code]
        went.append(Went(straw if back else _gone(db, line, straw), line.from_goblet_id))
    return Recorded(entry.seq, back, sorted(went, key=lambda one: one.straw.code))


def _gone(db: Session, line: ledger.Line, straw: StrawNow) -> StrawNow:
    try:
        return correct.holder(db, line, straw)
    except correct.MovedOn:  # it came back by an act of its own
        return straw


def packing_rows(db: Session, dispatch: Dispatch, went: Sequence[Went]) -> list[packing.Row]:
    """The packing list of these straws, as the book knows their batches now."""
    station = bank.station_of(db)
    day = bank.today_at(station, dispatch.occurred_at)
    counted = Counter(one.straw.batch_id for one in went)
    batches = _batches(db, set(counted))
    health = clearances(db, batches, day)
    return packing.rows(
        (_contents(db, station, batch, health[batch.id]), batch.code, counted[batch.id])
        for batch in batches
    )


def _contents(db: Session, station: Station, batch: Batch, health: Clearance) -> packing.Contents:
    stallion = db.get_one(Stallion, batch.stallion_id)
    quality = bank.quality_of(batch)
    here = batch.origin == "frozen"
    return packing.Contents(
        donor_name=stallion.name,
        donor_identity=stallion.ueln,
        donor_microchip=stallion.microchip,
        breed=stallion.breed,
        straw_mark=batch.marks_as_read or batch.code,
        collected_on=batch.collected_on,
        approval_number=batch.approval_number,
        processing_approval_number=station.processing_approval_number if here else None,
        straw_colour=bank.colour_of(batch, stallion),
        straw_volume_ml=batch.straw_volume_ml,
        concentration_million_per_ml=batch.straw_concentration_million_per_ml,
        post_thaw_percent=batch.post_thaw_percent,
        straws_per_dose=straws_per_dose(bank.dose_rule_of(db, stallion.id), quality),
        thaw=None
        if batch.thaw is None
        else tuple((str(step["water_c"]), str(step["seconds"])) for step in batch.thaw),
        tests=tuple(health.tests),
    )
