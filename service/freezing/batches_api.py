"""Batches over HTTP: prepared, read, examined after thawing, held and released."""

from collections.abc import Sequence
from typing import Literal
from uuid import UUID

from fastapi import Response
from sqlmodel import Session

from service.bank import store as bank
from service.bank.actions import stallion_of
from service.bank.plausibility import Implausible
from service.bank.rules import UnknownStallion
from service.bank.shapes import BatchName, answered_again, warnings_out
from service.bank.store import Batch, Hold, Stallion
from service.edge.asking import Anyone, VetOrManager, Worker
from service.edge.listing import AskedPage, Listing, page_of
from service.edge.problems import problems
from service.edge.replay import Asked, AskedOnce, IdReused, once
from service.edge.transaction import Reading, Router, Writing
from service.freezing import actions, batches, health_api, rules, store
from service.freezing.actions import Marks
from service.freezing.health_wire import (
    HoldIn,
    HoldOut,
    ReleaseIn,
    ReleaseOut,
    clearance_out,
)
from service.freezing.wire import (
    BatchIn,
    BatchOut,
    BatchStraw,
    BatchWithStraws,
    CollectionOut,
    DosesOut,
    PostThawOut,
    PreparedOut,
    PreparedStraw,
    ResultIn,
    ResultOut,
    StepOut,
    ThawOut,
)
from service.kernel.acts import Act
from service.ledger.batch_doses import DosesOfBatch, doses_of_all
from service.ledger.health import clearance_of
from service.ledger.rules import (
    BeforeWhatItFollows,
    NotEnoughStraws,
    StrawGone,
    UnknownCode,
)
from service.ledger.wire import exchanged_out

router = Router()
router.include_router(health_api.router)


@router.post(
    "/batches",
    operation_id="prepare_batch",
    summary="Prepare a batch: codes to mark straws with",
    status_code=201,
    response_model=PreparedOut,
    responses=answered_again(PreparedOut) | problems(UnknownStallion, Implausible, IdReused),
)
def prepare_batch(who: Worker, db: Writing, body: BatchIn, asked: AskedOnce) -> Response:
    """Straws are marked before they are filled, so the codes exist first."""

    def do(act: Act) -> PreparedOut:
        marks = Marks(
            straws=body.straws_planned,
            collected_on=body.collected_on,
            straw_volume_ml=body.straw_volume_ml,
            straw_colour=body.straw_colour,
        )
        warnings = actions.weigh_marks(db, act, body.stallion_id, marks)
        batch = actions.prepare(db, act, body.stallion_id, marks)
        warnings += actions.weigh_missing(db, batch)
        return PreparedOut(
            id=batch.id,
            code=batch.code,
            state=batch.state,
            straws=[PreparedStraw(code=straw.code) for straw in store.straws_of(db, batch.id)],
            warnings=warnings_out(warnings),
        )

    return once(db, asked, who, body, do)


@router.get("/batches", operation_id="list_batches", summary="Batches, newest first")
def list_batches(
    who: Anyone,
    db: Reading,
    page: AskedPage,
    asked: AskedOnce,
    stallion_id: UUID | None = None,
    state: Literal["prepared", "frozen"] | None = None,
) -> Listing[BatchOut]:
    """All batches, or a stallion's, or those that only wait to be frozen."""
    rows = store.batches_page(db, page, stallion_id=stallion_id, state=state)
    shown = {out.id: out for out in _batches_out(db, rows, asked)}
    return page_of(
        rows,
        page,
        key=lambda row: store.batch_key(row[0]),
        show=lambda row: shown[row[0].id],
    )


@router.get(
    "/batches/{batch_id}",
    operation_id="read_batch",
    summary="One batch and its straws",
    responses=problems(rules.UnknownBatch),
)
def read_batch(who: Anyone, db: Reading, batch_id: UUID, asked: AskedOnce) -> BatchWithStraws:
    """Everything the book knows of a batch."""
    batch = batches.batch_of(db, batch_id)
    [out] = _batches_out(db, [(batch, stallion_of(db, batch.stallion_id))], asked)
    addresses = store.addresses(db, batch.id)
    today = bank.day_of(db, asked.wires.clock())
    return BatchWithStraws(
        **dict(out),
        clearance=clearance_out(clearance_of(db, batch, today)),
        straws=[
            BatchStraw(
                code=straw.code if straw.coded else None,
                state=straw.state,
                goblet_id=straw.goblet_id,
                address=addresses[straw.goblet_id] if straw.goblet_id else None,
                provisional=straw.provisional,
            )
            for straw in store.straws_of(db, batch.id)
        ],
    )


def _batches_out(
    db: Session, rows: Sequence[tuple[Batch, Stallion]], asked: Asked
) -> list[BatchOut]:
    found = [batch for batch, _ in rows]
    doses = doses_of_all(db, found)
    prepared = store.prepared_by_batch(db, [batch.id for batch in found])
    today = bank.day_of(db, asked.wires.clock())
    holds = bank.holds_on(db, today, [batch.id for batch in found])
    return [
        _batch_out(
            batch,
            stallion,
            doses[batch.id],
            hold=holds.get(batch.id),
            prepared=prepared.get(batch.id, 0),
        )
        for batch, stallion in rows
    ]


_KEPT = (
    *("id", "code", "stallion_id", "origin", "received_from", "marks_as_read", "receipt_id"),
    *("collected_on", "collected_at", "collected_where"),
    *("approval_number", "straw_volume_ml", "straw_concentration_million_per_ml", "extender"),
    *("recovery_percent", "straws_planned", "freeze_id", "note"),
)


def _batch_out(
    batch: Batch, stallion: Stallion, doses: DosesOfBatch, *, hold: Hold | None, prepared: int
) -> BatchOut:
    void = batch.state == "prepared" and prepared == 0
    return BatchOut(
        **{name: getattr(batch, name) for name in _KEPT},
        state="void" if void else batch.state,
        stallion_name=stallion.name,
        straw_colour=bank.colour_of(batch, stallion),
        collection=_collection(batch),
        straws_prepared=prepared,
        straws_stored=doses.straws_stored,
        post_thaw=_post_thaw(batch),
        thaw=_thaw(batch),
        progressive_million_per_straw=doses.progressive_million_per_straw,
        straws_per_dose=doses.straws_per_dose,
        doses=doses.doses if batch.state == "frozen" else None,
        on_hold=hold is not None,
        hold_reason=hold.reason if hold else None,
        hold_until=hold.until if hold else None,
    )


def _collection(batch: Batch) -> CollectionOut | None:
    if batch.collection_volume_ml is None:
        return None
    return CollectionOut(
        volume_ml=batch.collection_volume_ml,
        concentration_million_per_ml=batch.collection_concentration_million_per_ml,
        progressive_motility_percent=batch.collection_progressive_motility_percent,
    )


def _post_thaw(batch: Batch) -> PostThawOut | None:
    percent = batch.post_thaw_percent
    if percent is None:
        return None
    return PostThawOut(progressive_motility_percent=percent, minutes=batch.post_thaw_minutes)


def _thaw(batch: Batch) -> ThawOut | None:
    return None if batch.thaw is None else ThawOut(steps=[StepOut(**s) for s in batch.thaw])


@router.post(
    "/batches/{batch_id}/post-thaw",
    operation_id="record_post_thaw",
    summary="A post-thaw result",
    status_code=201,
    response_model=ResultOut,
    responses=answered_again(ResultOut)
    | problems(
        rules.UnknownBatch,
        rules.NotFrozen,
        rules.WrongStraws,
        UnknownCode,
        StrawGone,
        NotEnoughStraws,
        BeforeWhatItFollows,
        IdReused,
    ),
)
def record_post_thaw(
    batch_id: UUID, who: Worker, db: Writing, body: ResultIn, asked: AskedOnce
) -> Response:
    """The straws thawed for it are tested and gone; the doses change, and the answer says how."""

    def do(act: Act) -> ResultOut:
        done = batches.examine(
            db,
            act,
            batch_id,
            percent=body.progressive_motility_percent,
            minutes=body.minutes,
            picks=[pick.pick() for pick in body.picks or []],
            codes=body.straw_codes or [],
        )
        return ResultOut(
            id=act.id,
            batch=BatchName(id=done.batch.id, code=done.batch.code),
            straws_tested=done.straws_tested,
            before=_doses_out(done.before),
            after=_doses_out(done.after),
            said=batches.said_of(done),
            exchanged=exchanged_out(done.exchanged),
            warnings=warnings_out(done.warnings),
        )

    return once(db, asked, who, body, do)


def _doses_out(doses: DosesOfBatch) -> DosesOut:
    return DosesOut(
        straws_stored=doses.straws_stored,
        progressive_million_per_straw=doses.progressive_million_per_straw,
        straws_per_dose=doses.straws_per_dose,
        doses=doses.doses,
    )


@router.post(
    "/batches/{batch_id}/hold",
    operation_id="hold_batch",
    summary="Hold a batch back",
    status_code=201,
    response_model=HoldOut,
    responses=answered_again(HoldOut) | problems(rules.UnknownBatch, rules.HoldOver, IdReused),
)
def hold_batch(
    batch_id: UUID, who: Worker, db: Writing, body: HoldIn, asked: AskedOnce
) -> Response:
    """From now on nothing of it is planned, lifted or dispatched."""

    def do(act: Act) -> HoldOut:
        placed = batches.hold(db, act, batch_id, reason=body.reason, until=body.until)
        batch = batches.batch_of(db, batch_id)
        return HoldOut(
            id=placed.id,
            batch=BatchName(id=batch.id, code=batch.code),
            reason=placed.reason,
            until=placed.until,
            placed_at=placed.placed_at,
            by=placed.placed_by_name,
        )

    return once(db, asked, who, body, do)


@router.post(
    "/batches/{batch_id}/release",
    operation_id="release_batch",
    summary="Release a batch",
    status_code=201,
    response_model=ReleaseOut,
    responses=answered_again(ReleaseOut)
    | problems(
        rules.UnknownBatch, rules.NotOnHold, rules.PositiveTest, BeforeWhatItFollows, IdReused
    ),
)
def release_batch(
    batch_id: UUID, who: VetOrManager, db: Writing, body: ReleaseIn, asked: AskedOnce
) -> Response:
    """Every hold of it ends; straws in a quarantined tank stay held until they are moved out.

    Days or tests that are lacking are warned of; a positive test needs an `override_reason`.
    """

    def do(act: Act) -> ReleaseOut:
        done = batches.release(
            db, act, batch_id, reason=body.reason, override_reason=body.override_reason
        )
        return ReleaseOut(
            id=act.id,
            batch=BatchName(id=done.batch.id, code=done.batch.code),
            on_hold=False,
            straws_in_quarantine=done.straws_in_quarantine,
            clearance=clearance_out(done.clearance),
            warnings=warnings_out(done.warnings),
        )

    return once(db, asked, who, body, do)
