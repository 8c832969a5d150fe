"""Batches and freezes over HTTP."""

from collections.abc import Sequence
from fractions import Fraction
from typing import Annotated, Literal
from uuid import UUID

from fastapi import Query, Response
from sqlmodel import Session

from service.bank import store as bank
from service.bank.actions import stallion_of
from service.bank.doses import DoseRule
from service.bank.rules import UnknownStallion
from service.bank.shapes import answered_again, warnings_out
from service.bank.store import Batch, Stallion
from service.edge.asking import Anyone, VetOrManager, Worker
from service.edge.listing import AskedPage, Listing, page_of
from service.edge.problems import problems
from service.edge.replay import Asked, AskedOnce, IdReused, once
from service.edge.transaction import Reading, Router, Writing
from service.freezing import actions, batches, calculation, placing, rules, store
from service.freezing.actions import Marks
from service.freezing.batches import DosesOfBatch
from service.freezing.plausibility import Implausible
from service.freezing.wire import (
    MOST_STRAWS_A_BATCH,
    BatchIn,
    BatchName,
    BatchOut,
    BatchStraw,
    BatchWithStraws,
    CalculationIn,
    CalculationOut,
    DosesOut,
    FreezeIn,
    FreezeOut,
    HoldIn,
    HoldOut,
    PlacesOut,
    PostThawOut,
    PreparedOut,
    PreparedStraw,
    ProposedPlace,
    ReleaseIn,
    ReleaseOut,
    ResultIn,
    ResultOut,
    StepOut,
    StoredStraw,
    ThawOut,
)
from service.kernel.acts import Act
from service.ledger.neighbours import QuarantinedTank
from service.ledger.rules import GobletFull, NotEnoughStraws, StrawGone, UnknownCode
from service.ledger.wire import exchanged_out

router = Router(prefix="/api", tags=["freezing"])


@router.post(
    "/batches",
    operation_id="prepare_batch",
    summary="Prepare a batch: codes to mark straws with",
    status_code=201,
    response_model=PreparedOut,
    responses=answered_again(PreparedOut) | problems(UnknownStallion, IdReused),
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
        batch = actions.prepare(db, act, body.stallion_id, marks)
        straws = [PreparedStraw(code=straw.code) for straw in store.straws_of(db, batch.id)]
        return PreparedOut(id=batch.id, code=batch.code, state=batch.state, straws=straws)

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
    return page_of(rows, page, key=lambda row: (row[0].id,), show=lambda row: shown[row[0].id])


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
    return BatchWithStraws(
        **dict(out),
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
    doses = batches.doses_of_all(db, found)
    today = bank.today_at(bank.station_of(db), asked.wires.clock())
    holds = bank.holds_on(db, today, [batch.id for batch in found])
    return [
        _batch_out(batch, stallion, doses[batch.id], holds.get(batch.id))
        for batch, stallion in rows
    ]


_KEPT = (
    *("id", "code", "state", "stallion_id", "collected_on", "collected_at", "collected_where"),
    *("approval_number", "straw_volume_ml", "straw_concentration_million_per_ml", "extender"),
    *("straws_planned", "freeze_id", "note"),
)


def _batch_out(
    batch: Batch, stallion: Stallion, doses: DosesOfBatch, hold: bank.Hold | None
) -> BatchOut:
    percent = batch.post_thaw_percent
    return BatchOut(
        **{name: getattr(batch, name) for name in _KEPT},
        stallion_name=stallion.name,
        straw_colour=batch.straw_colour or stallion.straw_colour,
        straws_stored=doses.straws_stored,
        post_thaw=None
        if percent is None
        else PostThawOut(progressive_motility_percent=percent, minutes=batch.post_thaw_minutes),
        thaw=None
        if batch.thaw is None
        else ThawOut(steps=[StepOut(**step) for step in batch.thaw]),
        progressive_million_per_straw=doses.progressive_million_per_straw,
        straws_per_dose=doses.straws_per_dose,
        doses=doses.doses,
        on_hold=hold is not None,
        hold_reason=hold.reason if hold else None,
        hold_until=hold.until if hold else None,
    )


def _thaw(batch: Batch) -> ThawOut | None:
    return None if batch.thaw is None else ThawOut(steps=[StepOut(**s) for s in batch.thaw])


@router.post(
    "/freezes/calculation",
    operation_id="calculate_freeze",
    summary="What a collection makes",
    responses=problems(Implausible, UnknownStallion),
)
def calculate_freeze(who: Anyone, db: Reading, body: CalculationIn) -> CalculationOut:
    """Books nothing. Straws are floored, straws per dose are ceiled, all of it exact."""
    post_thaw, recovery = body.post_thaw, body.recovery_percent
    found = calculation.calculate(
        collection=body.collection.collection(),
        straw=body.straw.filling(),
        post_thaw_percent=Fraction(post_thaw.progressive_motility_percent) if post_thaw else None,
        recovery_percent=None if recovery is None else Fraction(recovery),
        dose_rule=_rule(db, body),
    )
    return CalculationOut(
        total_million=found.total_million,
        progressive_million=found.progressive_million,
        straws_possible=found.straws_possible,
        volume_ml=found.volume_ml,
        extender_ml=found.extender_ml,
        progressive_million_per_straw=found.progressive_million_per_straw,
        straws_per_dose=found.straws_per_dose,
        doses=found.doses,
        meets_rule=found.meets_rule,
        warnings=warnings_out(list(found.warnings)),
    )


def _rule(db: Session, body: CalculationIn) -> DoseRule | None:
    if body.dose_rule is not None:
        return body.dose_rule.amounts().rule()
    if body.stallion_id is None:
        return None
    return bank.dose_rule_of(db, stallion_of(db, body.stallion_id).id)


@router.post(
    "/freezes",
    operation_id="log_freeze",
    summary="Log a freeze into its places",
    status_code=201,
    response_model=FreezeOut,
    responses=answered_again(FreezeOut)
    | problems(
        Implausible,
        calculation.PlacementsDoNotAddUp,
        GobletFull,
        QuarantinedTank,
        UnknownStallion,
        rules.UnknownBatch,
        rules.UnknownGoblet,
        rules.WrongBatch,
        rules.NotPrepared,
        IdReused,
    ),
)
def log_freeze(who: Worker, db: Writing, body: FreezeIn, asked: AskedOnce) -> Response:
    """Straws are stored, spoiled and tested at once, or nothing is booked."""

    def do(act: Act) -> FreezeOut:
        frozen = actions.freeze(db, act, body.freeze())
        doses = batches.doses_of(db, frozen.batch)
        return FreezeOut(
            id=act.id,
            batch=BatchName(id=frozen.batch.id, code=frozen.batch.code),
            progressive_million_per_straw=doses.progressive_million_per_straw,
            straws_per_dose=doses.straws_per_dose,
            doses=doses.doses,
            straws=[StoredStraw(code=code, goblet_id=id) for code, id in frozen.stored],
            warnings=warnings_out(frozen.warnings),
        )

    return once(db, asked, who, body, do)


@router.get("/goblets/free", operation_id="propose_places", summary="Where straws could go")
def propose_places(
    who: Anyone,
    db: Reading,
    asked: AskedOnce,
    straws: Annotated[int, Query(ge=1, le=MOST_STRAWS_A_BATCH)],
    stallion_id: UUID | None = None,
    batch_id: UUID | None = None,
    on_hold: bool | None = None,
) -> PlacesOut:
    """A batch together, near the stallion's other straws, in as few goblets as can be.

    `on_hold` asks for a batch that will be held; a batch that is held is known without it.
    """
    today = bank.today_at(bank.station_of(db), asked.wires.clock())
    held = bank.holds_on(db, today)
    rooms = store.rooms(db, stallion_id=stallion_id, batch_id=batch_id, held=list(held))
    found = placing.propose(
        rooms, straws=straws, held=batch_id in held if on_hold is None else on_hold
    )
    free = {room.goblet_id: room.free_straws for room in rooms}
    return PlacesOut(
        placements=[
            ProposedPlace(
                goblet_id=place.goblet_id,
                address=place.address,
                straws=place.straws,
                free_straws=free[place.goblet_id],
                why=place.why,
            )
            for place in found.places
        ],
        missing_straws=found.missing_straws,
    )


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
        Implausible,
        UnknownCode,
        StrawGone,
        NotEnoughStraws,
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
    responses=answered_again(HoldOut) | problems(rules.UnknownBatch, IdReused),
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
    responses=answered_again(ReleaseOut) | problems(rules.UnknownBatch, rules.NotOnHold, IdReused),
)
def release_batch(
    batch_id: UUID, who: VetOrManager, db: Writing, body: ReleaseIn, asked: AskedOnce
) -> Response:
    """Every hold of it ends."""

    def do(act: Act) -> ReleaseOut:
        batch = batches.release(db, act, batch_id, reason=body.reason)
        return ReleaseOut(id=act.id, batch=BatchName(id=batch.id, code=batch.code), on_hold=False)

    return once(db, asked, who, body, do)
