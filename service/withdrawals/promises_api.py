"""Promised doses over HTTP."""

from datetime import date, datetime
from typing import Annotated
from uuid import UUID

from fastapi import Response
from pydantic import BaseModel, Field

from service.bank import store as bank
from service.bank.actions import stallion_of
from service.bank.rules import UnknownMare, UnknownStallion
from service.edge.asking import Anyone, VetOrManager
from service.edge.fields import Day, EventInput, Identifier, Name, Reason
from service.edge.listing import Listing
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, once
from service.edge.transaction import Reading, Router, Writing
from service.kernel.acts import Act
from service.withdrawals import promises, rules
from service.withdrawals.promises import NewPromise, OpenPromise

router = Router(prefix="/api", tags=["withdrawals"])


class PromiseIn(EventInput):
    """So many doses of a stallion for a mare of the book, or for an owner's mares, until a day."""

    stallion_id: Identifier
    mare_id: Identifier | None = None
    owner: Name | None = None
    doses: Annotated[int, Field(strict=True, ge=1, le=1000)]
    until: Day | None = None
    note: Reason | None = None


class EndPromiseIn(EventInput):
    """Why the doses are anybody's again."""

    reason: Reason


class PromiseOut(BaseModel):
    """A promise; `doses_left` are still to be taken, `ended_at` is when somebody ended it."""

    id: UUID
    stallion_id: UUID
    mare_id: UUID | None
    owner: str | None
    to: str
    doses: int
    doses_left: int
    until: date | None
    note: str | None
    by: str
    made_at: datetime
    ended_at: datetime | None = None


@router.get("/promises", operation_id="list_promises", summary="Promised doses that stand")
def list_promises(
    who: Anyone, db: Reading, asked: AskedOnce, stallion_id: UUID | None = None
) -> Listing[PromiseOut]:
    """Neither ended, nor past their day, nor kept in full; the oldest first, in one page."""
    today = bank.day_of(db, asked.wires.clock())
    return Listing(items=[_shown(one) for one in promises.open_promises(db, today, stallion_id)])


@router.post(
    "/promises",
    operation_id="promise_doses",
    summary="Promise doses to a mare or an owner",
    status_code=201,
    response_model=PromiseOut,
    responses=problems(
        UnknownStallion, UnknownMare, rules.PromiseOver, rules.PromisedToWhom, IdReused
    ),
)
def promise_doses(who: VetOrManager, db: Writing, body: PromiseIn, asked: AskedOnce) -> Response:
    """From now on nobody else is offered them, unless a manager releases them with a reason."""

    def do(act: Act) -> PromiseOut:
        if (body.mare_id is None) == (body.owner is None):
            raise rules.PromisedToWhom(
                "Send either mare_id (a mare in the book) or owner.",
                errors=[{"field": "mare_id", "message": "send either mare_id or owner"}],
            )
        asked_for = NewPromise(
            stallion_id=stallion_of(db, body.stallion_id).id,
            doses=body.doses,
            mare_id=body.mare_id,
            owner=body.owner,
            until=body.until,
            note=body.note,
        )
        today = bank.day_of(db, act.recorded_at)
        return _shown(promises.promise(db, act, asked_for, today))

    return once(db, asked, who, body, do)


@router.post(
    "/promises/{promise_id}/end",
    operation_id="end_promise",
    summary="End a promise",
    status_code=201,
    response_model=PromiseOut,
    responses=problems(rules.UnknownPromise, rules.PromiseEnded, IdReused),
)
def end_promise(
    promise_id: UUID, who: VetOrManager, db: Writing, body: EndPromiseIn, asked: AskedOnce
) -> Response:
    """The doses are anybody's again; what was taken on it stays as it is."""

    def do(act: Act) -> PromiseOut:
        ended = promises.end_promise(db, act, promise_id, body.reason)
        return _shown(OpenPromise(ended, promises.promised_to(db, ended), 0))

    return once(db, asked, who, body, do)


def _shown(one: OpenPromise) -> PromiseOut:
    kept = one.promise
    return PromiseOut(
        to=one.to,
        doses_left=one.doses_left,
        by=kept.by_name,
        **{name: getattr(kept, name) for name in _KEPT},
    )


_KEPT = PromiseOut.model_fields.keys() - {"to", "doses_left", "by"}
