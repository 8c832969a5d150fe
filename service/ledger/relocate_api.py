"""Moving house over HTTP."""

from uuid import UUID

from fastapi import Response
from pydantic import BaseModel

from service.bank.rules import TankRetired, Tier
from service.bank.shapes import WarningOut, answered_again, warnings_out
from service.edge.asking import Worker
from service.edge.fields import EventInput, Identifier, PositiveCount, Reason
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, once
from service.edge.transaction import Router, Writing
from service.kernel.acts import Act
from service.ledger import relocate
from service.ledger.neighbours import QuarantinedTank
from service.ledger.places import UnknownPlace
from service.ledger.relocate import Relocated
from service.ledger.relocate_rules import (
    CanisterRetired,
    HangsThereAlready,
    NothingToMove,
    NumberTaken,
    WhereTo,
)
from service.ledger.rules import BeforeWhatItFollows, GobletRetired

router = Router(prefix="/api", tags=["bank"])


class GobletRelocation(EventInput):
    """The canister it goes into; without `tier` it stays in its own."""

    canister_id: Identifier
    tier: Tier | None = None
    reason: Reason | None = None


class CanisterRelocation(EventInput):
    """A tank to hang the canister in, or a canister that takes all its goblets.

    `number` is the canister's number in that tank; without it the lowest free one.
    """

    tank_id: Identifier | None = None
    canister_id: Identifier | None = None
    number: PositiveCount | None = None
    reason: Reason | None = None


class RelocatedGoblet(BaseModel):
    """A goblet that hangs elsewhere now."""

    id: UUID
    code: str
    from_address: str
    address: str
    canister_id: UUID


class RelocatedOut(BaseModel):
    """What hangs elsewhere now; `id` is the entry's, by which it can be taken back."""

    id: UUID
    goblets: list[RelocatedGoblet]
    straws: int
    warnings: list[WarningOut]


_REFUSALS = (UnknownPlace, CanisterRetired, TankRetired, HangsThereAlready, QuarantinedTank)


@router.post(
    "/goblets/{goblet_id}/relocate",
    operation_id="relocate_goblet",
    summary="Hang a goblet into another canister",
    status_code=201,
    response_model=RelocatedOut,
    responses=answered_again(RelocatedOut)
    | problems(*_REFUSALS, GobletRetired, BeforeWhatItFollows, IdReused),
)
def relocate_goblet(
    goblet_id: UUID, who: Worker, db: Writing, body: GobletRelocation, asked: AskedOnce
) -> Response:
    """With all its straws, in one entry of the book; it gets the address of its new place."""

    def do(act: Act) -> RelocatedOut:
        done = relocate.relocate_goblet(
            db,
            act,
            goblet_id,
            canister_id=body.canister_id,
            tier=body.tier,
            reason=body.reason,
        )
        return _shown(act, done)

    return once(db, asked, who, body, do)


@router.post(
    "/canisters/{canister_id}/relocate",
    operation_id="relocate_canister",
    summary="Hang a canister into another tank, or its goblets into another canister",
    status_code=201,
    response_model=RelocatedOut,
    responses=answered_again(RelocatedOut)
    | problems(
        *_REFUSALS, NumberTaken, WhereTo, NothingToMove, BeforeWhatItFollows, IdReused
    ),
)  # fmt: skip
def relocate_canister(
    canister_id: UUID, who: Worker, db: Writing, body: CanisterRelocation, asked: AskedOnce
) -> Response:
    """With all its goblets and straws, in one entry; emptied of them, it stays where it is."""

    def do(act: Act) -> RelocatedOut:
        return _shown(act, _relocated(db, act, canister_id, body))

    return once(db, asked, who, body, do)


def _relocated(db: Writing, act: Act, canister_id: UUID, body: CanisterRelocation) -> Relocated:
    if body.tank_id is not None and body.canister_id is None:
        return relocate.hang_canister(
            db, act, canister_id, tank_id=body.tank_id, number=body.number, reason=body.reason
        )
    if body.canister_id is not None and body.tank_id is None and body.number is None:
        return relocate.empty_canister(
            db, act, canister_id, into_canister_id=body.canister_id, reason=body.reason
        )
    raise WhereTo(
        "Give tank_id for the canister to hang there (number is its number in that tank), or "
        "canister_id for its goblets to go into that canister.",
        errors=[{"field": "tank_id", "message": "either this or canister_id"}],
    )


def _shown(act: Act, done: Relocated) -> RelocatedOut:
    return RelocatedOut(
        id=act.id,
        goblets=[
            RelocatedGoblet(
                id=goblet.id,
                code=goblet.code,
                from_address=before,
                address=goblet.address,
                canister_id=goblet.canister_id,
            )
            for goblet, before in done.goblets
        ],
        straws=done.straws,
        warnings=warnings_out(done.warnings),
    )
