"""Dispatches as they are read."""

from collections.abc import Sequence
from typing import Literal
from uuid import UUID

from sqlmodel import Session

from service.bank import store as bank
from service.bank.marks import written_day
from service.bank.rules import Warned
from service.bank.shapes import warnings_out
from service.bank.store import Batch, Stallion
from service.ledger.history import plates_of
from service.ledger.twins import Exchange
from service.ledger.wire import exchanged_out
from service.transfers import dispatches, packing, rules, store
from service.transfers.dispatches import Recorded, TakenBack, Went
from service.transfers.dispatches_wire import (
    DispatchedStrawOut,
    DispatchOut,
    DispatchSummaryOut,
    HoldingOut,
    PackingListOut,
    PackingRowOut,
    SealOut,
    TakenBackOut,
    TestOut,
    ThawStepOut,
)
from service.transfers.rules import Holding
from service.transfers.store import Dispatch


def dispatch_out(
    db: Session,
    dispatch: Dispatch,
    exchanged: Sequence[Exchange] = (),
    warnings: Sequence[Warned] = (),
) -> DispatchOut:
    """A dispatch with its straws, seals and packing list."""
    recorded = dispatches.recorded(db, dispatch)
    back = recorded.back
    held = dispatches.holding_of(dispatch.holding_days_rated, dispatch.filled_at)
    return DispatchOut(
        id=dispatch.id,
        state=_state(back),
        taken_back=back and TakenBackOut(at=back.at, by=back.by, reason=back.reason),
        to=dispatch.to,
        to_approval_number=dispatch.to_approval_number,
        container=dispatch.container,
        carrier=dispatch.carrier,
        note=dispatch.note,
        straws=_straws(db, recorded),
        seals=[
            SealOut(
                id=seal.id,
                number=seal.number,
                applied_at=seal.applied_at,
                reason=seal.reason,
                by=seal.by_name,
            )
            for seal in store.seals_of(db, [dispatch.id])[dispatch.id]
        ],
        holding_days_rated=dispatch.holding_days_rated,
        filled_at=dispatch.filled_at,
        holding=held and holding_out(held),
        packing_list=_packing_list(db, dispatch, recorded.straws),
        occurred_at=dispatch.occurred_at,
        recorded_at=dispatch.recorded_at,
        by=dispatch.by_name,
        exchanged=exchanged_out(exchanged),
        warnings=warnings_out(list(warnings)),
    )


def _state(back: TakenBack | None) -> Literal["dispatched", "taken-back"]:
    return "taken-back" if back else "dispatched"


def _straws(db: Session, recorded: Recorded) -> list[DispatchedStrawOut]:
    """Each with the address that its goblet bore then."""
    plates = plates_of(db, {goblet_id for _, goblet_id in recorded.straws if goblet_id})
    return [
        DispatchedStrawOut(
            code=straw.code if straw.coded else None,
            state=straw.state,
            batch_id=straw.batch_id,
            batch_code=db.get_one(Batch, straw.batch_id).code,
            address=plates.after(recorded.seq, goblet_id) if goblet_id else None,
            provisional=straw.provisional,
        )
        for straw, goblet_id in recorded.straws
    ]


def holding_out(held: Holding) -> HoldingOut:
    """A holding time with what it rests on."""
    return HoldingOut(
        holding_days=held.days_rated,
        filled_at=held.filled_at,
        holds_until=held.holds_until,
        cautious_until=held.cautious_until,
        assumption=rules.ASSUMPTION,
        cautions=list(rules.CAUTIONS),
    )


def _packing_list(db: Session, dispatch: Dispatch, went: Sequence[Went]) -> PackingListOut:
    station = bank.station_of(db)
    rows = dispatches.packing_rows(db, dispatch, went)
    donors = {(row.contents.donor_name, row.contents.donor_identity) for row in rows}
    return PackingListOut(
        from_name=station.name,
        from_country=station.country,
        from_approval_number=station.approval_number,
        rows=[_row(row, station.mark_date_format) for row in rows],
        straws=sum(row.straws for row in rows),
        donors=len(donors),
        columns_after=packing.COLUMNS_AFTER,
    )


def _row(row: packing.Row, mark_date_format: str) -> PackingRowOut:
    known = row.contents
    day = known.collected_on
    return PackingRowOut(
        species=packing.SPECIES,
        donor_name=known.donor_name,
        donor_identity=known.donor_identity,
        donor_microchip=known.donor_microchip,
        breed=known.breed,
        straw_mark=known.straw_mark,
        batch_codes=list(row.batch_codes),
        type=packing.TYPE,
        collected_on=day,
        collected_on_as_marked=day and written_day(day, mark_date_format),
        approval_number=known.approval_number,
        processing_approval_number=known.processing_approval_number,
        straws=row.straws,
        tests=[
            TestOut(test=one.test, result=one.result, sampled_on=one.sampled_on)
            for one in known.tests
        ],
        straw_colour=known.straw_colour,
        straw_volume_ml=known.straw_volume_ml,
        concentration_million_per_ml=known.concentration_million_per_ml,
        post_thaw_percent=known.post_thaw_percent,
        straws_per_dose=known.straws_per_dose,
        thaw=None
        if known.thaw is None
        else [ThawStepOut(water_c=water_c, seconds=seconds) for water_c, seconds in known.thaw],
    )


def summaries(db: Session, found: Sequence[Dispatch]) -> dict[UUID, DispatchSummaryOut]:
    """Dispatches for a list, by id."""
    back = dispatches.taken_back(db, found)
    seals = store.seals_of(db, [one.id for one in found])
    return {
        one.id: DispatchSummaryOut(
            id=one.id,
            state=_state(back.get(one.id)),
            to=one.to,
            straws=one.straws,
            stallion_names=_stallions(db, one),
            container=one.container,
            seal_number=seals[one.id][-1].number if seals[one.id] else None,
            occurred_at=one.occurred_at,
            by=one.by_name,
        )
        for one in found
    }


def _stallions(db: Session, dispatch: Dispatch) -> list[str]:
    return sorted(db.get_one(Stallion, id).name for id in store.stallion_ids_of(db, dispatch.id))
