"""Cards on paper over HTTP."""

from typing import Annotated, Any, Literal
from uuid import UUID

from fastapi import Query, Request, Response
from pydantic import Field

from service.bank.actions import stallion_of
from service.bank.rules import UnknownStallion
from service.edge.asking import Anyone
from service.edge.fields import Identifier, Input, Name, PositiveCount
from service.edge.problems import problems
from service.edge.transaction import Reading, Router
from service.edge.wiring import wiring
from service.kernel.errors import Unknown
from service.ledger.rules import UnknownGoblet
from service.ledger.wire import PickIn
from service.withdrawals import cards, rules
from service.withdrawals.actions import withdrawal_of

router = Router(prefix="/api", tags=["labels"])

_PDF: dict[int | str, dict[str, Any]] = {
    200: {"description": "The card, A5", "content": {"application/pdf": {}}}
}


class WalkCardIn(Input):
    """A plan that is not booked yet."""

    stallion_id: Identifier
    mare: Name
    doses: PositiveCount | None = None
    picks: Annotated[list[PickIn], Field(min_length=1, max_length=200)]


def _card(content: bytes) -> Response:
    return Response(
        content,
        media_type="application/pdf",
        headers={
            "Content-Disposition": 'inline; filename="card.pdf"',
            "Cache-Control": "no-store",
        },
    )


@router.get(
    "/labels/withdrawals/{withdrawal_id}.pdf",
    operation_id="read_withdrawal_card",
    summary="The walk card or thaw card of a withdrawal",
    response_class=Response,
    responses=_PDF | problems(Unknown, rules.CardNotDrawn),
)
def read_card(
    request: Request,
    who: Anyone,
    db: Reading,
    withdrawal_id: UUID,
    card: Annotated[Literal["walk", "thaw"], Query()] = "thaw",
) -> Response:
    """The way to its straws, or how they are thawed."""
    withdrawal = withdrawal_of(db, withdrawal_id)
    draw = cards.walk_of if card == "walk" else cards.thaw_of
    return _card(draw(db, withdrawal, cards.foot_of(db, who, wiring(request).clock())))


@router.post(
    "/labels/walk-cards",
    operation_id="draw_walk_card",
    summary="The walk card of a plan",
    response_class=Response,
    responses=_PDF | problems(UnknownStallion, UnknownGoblet, rules.CardNotDrawn),
)
def draw_walk_card(request: Request, who: Anyone, db: Reading, body: WalkCardIn) -> Response:
    """Books and records nothing: for whoever has no telephone at the tank."""
    stallion = stallion_of(db, body.stallion_id)
    picks = [pick.pick() for pick in body.picks]
    foot = cards.foot_of(db, who, wiring(request).clock())
    return _card(cards.walk(db, stallion.id, body.mare, picks, foot))
