"""Freezes over HTTP: calculated, given places, logged."""

from fractions import Fraction
from typing import Annotated
from uuid import UUID

from fastapi import Query, Response
from sqlmodel import Session

from service.bank import store as bank
from service.bank.actions import stallion_of
from service.bank.doses import DoseRule
from service.bank.plausibility import Implausible
from service.bank.rules import UnknownStallion
from service.bank.shapes import MOST_STRAWS_A_BATCH, BatchName, answered_again, warnings_out
from service.edge.asking import Anyone, Worker
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, once
from service.edge.transaction import Reading, Router, Writing
from service.freezing import actions, batches, batches_api, calculation, placing, rules, store
from service.freezing.wire import (
    CalculationIn,
    CalculationOut,
    FreezeIn,
    FreezeOut,
    PlacesOut,
    ProposedPlace,
    StoredStraw,
)
from service.kernel.acts import Act
from service.ledger.batch_doses import doses_of
from service.ledger.neighbours import QuarantinedTank
from service.ledger.rules import (
    BeforeWhatItFollows,
    GobletFull,
    PlacementsDoNotAddUp,
    UnknownGoblet,
)

router = Router(prefix="/api", tags=["freezing"])
router.include_router(batches_api.router)


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
        centrifuged=body.centrifuged,
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
        PlacementsDoNotAddUp,
        GobletFull,
        QuarantinedTank,
        UnknownStallion,
        rules.UnknownBatch,
        UnknownGoblet,
        rules.WrongStallion,
        rules.WrongStraws,
        rules.NotPrepared,
        BeforeWhatItFollows,
        IdReused,
    ),
)
def log_freeze(who: Worker, db: Writing, body: FreezeIn, asked: AskedOnce) -> Response:
    """Straws are stored, spoiled and tested at once, or nothing is booked."""

    def do(act: Act) -> FreezeOut:
        frozen = actions.freeze(db, act, body.freeze())
        doses = doses_of(db, frozen.batch)
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


@router.get(
    "/goblets/free",
    operation_id="propose_places",
    summary="Where straws could go",
    responses=problems(UnknownStallion, rules.UnknownBatch, rules.WrongStallion),
)
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
    stallion_id = _whose(db, stallion_id=stallion_id, batch_id=batch_id)
    today = bank.day_of(db, asked.wires.clock())
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


def _whose(db: Session, *, stallion_id: UUID | None, batch_id: UUID | None) -> UUID | None:
    """The stallion whose straws want a place; None when neither is named."""
    if stallion_id is not None:
        stallion_of(db, stallion_id)
    if batch_id is None:
        return stallion_id
    batch = batches.batch_of(db, batch_id)
    if stallion_id not in (None, batch.stallion_id):
        raise rules.WrongStallion(
            "This batch is of another stallion than the one named. Leave one of them out.",
            stallion_id=batch.stallion_id,
        )
    return batch.stallion_id
