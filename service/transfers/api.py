"""Moves and discards over HTTP."""

from typing import Annotated
from uuid import UUID

from fastapi import Response
from pydantic import BaseModel, Field

from service.bank.shapes import WarningOut, answered_again, warnings_out
from service.edge.asking import Worker
from service.edge.fields import Code, EventInput, Identifier, Reason
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, once
from service.edge.transaction import Router, Writing
from service.kernel.acts import Act
from service.kernel.errors import Unknown
from service.ledger.neighbours import QuarantinedTank
from service.ledger.rules import (
    GobletFull,
    NotEnoughStraws,
    NothingNamed,
    ReserveReached,
    StrawElsewhere,
    StrawGone,
    UnknownCode,
)
from service.ledger.wire import ExchangedOut, PickIn, exchanged_out
from service.transfers import actions, rules

router = Router(prefix="/api", tags=["transfers"])

_TAKING = (UnknownCode, StrawGone, StrawElsewhere, NotEnoughStraws, NothingNamed, IdReused)


class StrawsIn(EventInput):
    """Which straws: by count (`picks`) or by code."""

    picks: Annotated[list[PickIn], Field(max_length=200)] | None = None
    straw_codes: Annotated[list[Code], Field(max_length=1000)] | None = None


class MoveIn(StrawsIn):
    """Where they go."""

    goblet_id: Identifier
    reason: Reason | None = None


class DiscardIn(StrawsIn):
    """Why they are thrown away."""

    reason: Reason


class TransferOut(BaseModel):
    """What was booked."""

    id: UUID
    straws: int
    exchanged: list[ExchangedOut]
    warnings: list[WarningOut]


@router.post(
    "/moves",
    operation_id="move_straws",
    summary="Move straws into a goblet",
    status_code=201,
    response_model=TransferOut,
    responses=answered_again(TransferOut)
    | problems(Unknown, GobletFull, QuarantinedTank, rules.AlreadyThere, *_TAKING),
)
def move_straws(who: Worker, db: Writing, body: MoveIn, asked: AskedOnce) -> Response:
    """By count the book chooses among twins; by code it is certain."""

    def do(act: Act) -> TransferOut:
        done = actions.move(
            db,
            act,
            picks=[pick.pick() for pick in body.picks or []],
            codes=body.straw_codes or [],
            goblet_id=body.goblet_id,
            reason=body.reason,
        )
        return _shown(act, done)

    return once(db, asked, who, body, do)


@router.post(
    "/discards",
    operation_id="discard_straws",
    summary="Throw straws away",
    status_code=201,
    response_model=TransferOut,
    responses=answered_again(TransferOut) | problems(ReserveReached, *_TAKING),
)
def discard_straws(who: Worker, db: Writing, body: DiscardIn, asked: AskedOnce) -> Response:
    """A stallion's last doses are a manager's to discard."""

    def do(act: Act) -> TransferOut:
        done = actions.discard(
            db,
            act,
            picks=[pick.pick() for pick in body.picks or []],
            codes=body.straw_codes or [],
            reason=body.reason,
        )
        return _shown(act, done)

    return once(db, asked, who, body, do)


def _shown(act: Act, done: actions.Transferred) -> TransferOut:
    return TransferOut(
        id=act.id,
        straws=done.straws,
        exchanged=exchanged_out(done.exchanged),
        warnings=warnings_out(done.warnings),
    )
