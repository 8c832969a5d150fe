"""Owners over HTTP: who owns what, and giving straws to somebody."""

from typing import Annotated
from uuid import UUID

from fastapi import Response
from pydantic import BaseModel, Field

from service.bank import store as bank
from service.edge.asking import Anyone, Manager
from service.edge.fields import Code, EventInput, Name, Reason
from service.edge.listing import Listing
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, once
from service.edge.transaction import Reading, Router, Writing
from service.kernel.acts import Act
from service.ledger.rules import (
    NotEnoughStraws,
    NothingNamed,
    OwnedByAnother,
    StrawElsewhere,
    StrawGone,
    UnknownCode,
)
from service.ledger.wire import PickIn
from service.transfers import owners
from service.transfers.rules import OwnedAlready

router = Router(prefix="/api", tags=["transfers"])


class OwnerChangeIn(EventInput):
    """Which straws, whose they were (null: common stock), whose they are from now on, and why."""

    picks: Annotated[list[PickIn], Field(max_length=200)] | None = None
    straw_codes: Annotated[list[Code], Field(max_length=1000)] | None = None
    owner: Name | None
    from_owner: Name | None = None
    reason: Reason


class OwnerChangeOut(BaseModel):
    """What was booked."""

    id: UUID
    straws: int
    owner: str | None


class OwnedOut(BaseModel):
    """What somebody owns of a stallion; `doses` is what may be used of it."""

    owner: str
    stallion_id: UUID
    stallion_name: str
    straws: int
    doses: int


@router.get("/owners", operation_id="list_owners", summary="Whose straws are whose")
def list_owners(who: Anyone, db: Reading, asked: AskedOnce) -> Listing[OwnedOut]:
    """By owner and stallion, in one page; all other straws are the station's common stock."""
    today = bank.day_of(db, asked.wires.clock())
    return Listing(
        items=[
            OwnedOut(
                owner=one.owner,
                stallion_id=one.stallion.id,
                stallion_name=one.stallion.name,
                straws=one.straws,
                doses=one.doses,
            )
            for one in owners.owned(db, today)
        ]
    )


@router.post(
    "/owner-changes",
    operation_id="change_owner",
    summary="Give straws to an owner",
    status_code=201,
    response_model=OwnerChangeOut,
    responses=problems(
        *(UnknownCode, StrawGone, StrawElsewhere, NotEnoughStraws, NothingNamed),
        *(OwnedByAnother, OwnedAlready, IdReused),
    ),
)
def change_owner(who: Manager, db: Writing, body: OwnerChangeIn, asked: AskedOnce) -> Response:
    """They stay where they stand; from now on they are planned and taken for their owner only."""

    def do(act: Act) -> OwnerChangeOut:
        owner = None if body.owner is None else owners.spelled(db, body.owner)
        straws = owners.give(
            db,
            act,
            picks=[pick.pick() for pick in body.picks or []],
            codes=body.straw_codes or [],
            owner=owner,
            from_owner=None if body.from_owner is None else owners.spelled(db, body.from_owner),
            reason=body.reason,
        )
        return OwnerChangeOut(id=act.id, straws=straws, owner=owner)

    return once(db, asked, who, body, do)
