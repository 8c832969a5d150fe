"""Moving house over HTTP."""

from typing import Annotated, Any
from uuid import UUID

from fastapi import Query, Request, Response
from pydantic import BaseModel
from sqlmodel import Session

from service.bank.rules import TankRetired, Tier
from service.bank.shapes import WarningOut, answered_again, warnings_out
from service.edge.asking import Anyone, Worker
from service.edge.fields import MOST_STRAWS, EventInput, Identifier, PositiveCount, Reason
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, once
from service.edge.transaction import Reading, Router, Writing
from service.edge.wiring import wiring
from service.kernel.acts import Act
from service.ledger import relocate
from service.ledger.neighbours import QuarantinedTank
from service.ledger.places import UnknownPlace
from service.ledger.relocate import Planned, Relocated
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
    """A goblet, the address it had, and where it hangs then."""

    id: UUID
    code: str
    from_address: str
    address: str
    canister_id: UUID
    tier: str


class ForeseenOut(BaseModel):
    """What moving it comes to: the goblets with their new addresses, and what to look at."""

    goblets: list[RelocatedGoblet]
    straws: int
    warnings: list[WarningOut]


class RelocatedOut(ForeseenOut):
    """What hangs elsewhere now; `id` is the entry's, by which it can be taken back."""

    id: UUID


_REFUSALS = (UnknownPlace, CanisterRetired, TankRetired, HangsThereAlready, QuarantinedTank)
_OF_CANISTERS = (NumberTaken, WhereTo, NothingToMove)
_OF_ACTS = (BeforeWhatItFollows, IdReused)


@router.get(
    "/goblets/{goblet_id}/relocation",
    operation_id="foresee_goblet_relocation",
    summary="What hanging a goblet into another canister would come to",
    responses=problems(*_REFUSALS, GobletRetired),
)
def foresee_goblet_relocation(
    request: Request,
    goblet_id: UUID,
    who: Anyone,
    db: Reading,
    canister_id: UUID,
    tier: Tier | None = None,
) -> ForeseenOut:
    """The address it would get, and the warnings; nothing is changed, and refused is the same."""
    planned = relocate.goblet_into(db, goblet_id, canister_id=canister_id, tier=tier)
    return ForeseenOut(**_shown(relocate.foreseen(db, planned, wiring(request).clock())))


@router.get(
    "/canisters/{canister_id}/relocation",
    operation_id="foresee_canister_relocation",
    summary="What moving a canister, or its goblets, would come to",
    responses=problems(*_REFUSALS, *_OF_CANISTERS),
)
def foresee_canister_relocation(
    request: Request,
    canister_id: UUID,
    who: Anyone,
    db: Reading,
    tank_id: UUID | None = None,
    into: Annotated[UUID | None, Query(description="The canister for its goblets.")] = None,
    number: Annotated[int | None, Query(ge=1, le=MOST_STRAWS)] = None,
) -> ForeseenOut:
    """The addresses its goblets would get, and the warnings; nothing is changed."""
    planned = _planned(db, canister_id, tank_id=tank_id, into=into, number=number)
    return ForeseenOut(**_shown(relocate.foreseen(db, planned, wiring(request).clock())))


@router.post(
    "/goblets/{goblet_id}/relocate",
    operation_id="relocate_goblet",
    summary="Hang a goblet into another canister",
    status_code=201,
    response_model=RelocatedOut,
    responses=answered_again(RelocatedOut) | problems(*_REFUSALS, GobletRetired, *_OF_ACTS),
)
def relocate_goblet(
    goblet_id: UUID, who: Worker, db: Writing, body: GobletRelocation, asked: AskedOnce
) -> Response:
    """With all its straws, in one entry of the book; it gets the address of its new place."""

    def do(act: Act) -> RelocatedOut:
        into = relocate.goblet_into(db, goblet_id, canister_id=body.canister_id, tier=body.tier)
        return RelocatedOut(id=act.id, **_shown(relocate.carry_out(db, act, into, body.reason)))

    return once(db, asked, who, body, do)


@router.post(
    "/canisters/{canister_id}/relocate",
    operation_id="relocate_canister",
    summary="Hang a canister into another tank, or its goblets into another canister",
    status_code=201,
    response_model=RelocatedOut,
    responses=answered_again(RelocatedOut) | problems(*_REFUSALS, *_OF_CANISTERS, *_OF_ACTS),
)
def relocate_canister(
    canister_id: UUID, who: Worker, db: Writing, body: CanisterRelocation, asked: AskedOnce
) -> Response:
    """With all its goblets and straws, in one entry; emptied of them, it stays where it is."""

    def do(act: Act) -> RelocatedOut:
        into = _planned(
            db, canister_id, tank_id=body.tank_id, into=body.canister_id, number=body.number
        )
        return RelocatedOut(id=act.id, **_shown(relocate.carry_out(db, act, into, body.reason)))

    return once(db, asked, who, body, do)


def _planned(
    db: Session, canister_id: UUID, *, tank_id: UUID | None, into: UUID | None, number: int | None
) -> Planned:
    if tank_id is not None and into is None:
        return relocate.canister_into(db, canister_id, tank_id=tank_id, number=number)
    if into is not None and tank_id is None and number is None:
        return relocate.goblets_into(db, canister_id, into_canister_id=into)
    raise WhereTo(
        "Give tank_id for the canister to hang there (number is its number in that tank), or "
        "canister_id for its goblets to go into that canister.",
        errors=[{"field": "tank_id", "message": "either this or canister_id"}],
    )


def _shown(done: Relocated) -> dict[str, Any]:
    return {
        "goblets": [
            RelocatedGoblet(
                id=goblet.id,
                code=goblet.code,
                from_address=rehung.before.address,
                address=rehung.after.address,
                canister_id=rehung.after.canister_id,
                tier=rehung.after.tier,
            )
            for goblet, rehung in done.goblets
        ],
        "straws": done.straws,
        "warnings": warnings_out(done.warnings),
    }
