"""Retries that never double: an event's id is answered again with its first answer, for ever.

The answer is kept in the same transaction as what it answers. A refusal rolls both back, so it
does not use the id up.
"""

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Annotated
from uuid import UUID

from fastapi import Depends, Request, Response
from pydantic import BaseModel
from sqlalchemy import Text
from sqlmodel import Field, Session, SQLModel

from service.edge.fields import EventInput
from service.edge.wiring import Wiring, wiring
from service.kernel.acts import Act, Person
from service.kernel.columns import UtcMoment
from service.kernel.errors import Conflict, Invalid

#: How far ahead of the server a phone's clock may be.
AHEAD = timedelta(minutes=5)


class IdReused(Conflict):
    """The same id came with other content."""

    code = "id-reused"
    title = "This id already stands for something else"


class InTheFuture(Invalid):
    """An event cannot have happened yet."""

    code = "in-the-future"
    title = "This lies in the future"


class Answer(SQLModel, table=True):
    """The first answer to an event."""

    __tablename__ = "answers"

    id: UUID = Field(primary_key=True)
    fingerprint: str = Field(max_length=64)
    body: str = Field(sa_type=Text)
    answered_at: datetime = Field(sa_type=UtcMoment, index=True)


@dataclass(frozen=True, slots=True)
class Asked:
    """The request an event came with."""

    route: str
    wires: Wiring


def _asked(request: Request) -> Asked:
    return Asked(f"{request.method} {request.url.path}", wiring(request))


AskedOnce = Annotated[Asked, Depends(_asked)]


def once(
    db: Session, asked: Asked, who: Person, body: EventInput, do: Callable[[Act], BaseModel]
) -> Response:
    """Do it and answer 201, or answer 200 with the first answer when this id was answered before.

    Raises IdReused for the same id with other content, InTheFuture for an `occurred_at` more than
    five minutes ahead.
    """
    fingerprint = _fingerprint(asked.route, body)
    if body.id is not None:
        earlier = db.get(Answer, body.id)
        if earlier is not None:
            return _again(earlier, fingerprint)
    act = _act(asked.wires, who, body)
    answer = do(act).model_dump_json(by_alias=True)
    db.add(Answer(id=act.id, fingerprint=fingerprint, body=answer, answered_at=act.recorded_at))
    return Response(answer, status_code=201, media_type="application/json")


def act_now(asked: Asked, who: Person) -> Act:
    """A change that is no event: it happens as it is recorded, under an id of the server's own."""
    now = asked.wires.clock()
    return Act(
        id=asked.wires.new_id(),
        by=who,
        occurred_at=now,
        recorded_at=now,
        new_id=asked.wires.new_id,
        draw=asked.wires.draw,
    )


def _act(wires: Wiring, who: Person, body: EventInput) -> Act:
    now = wires.clock()
    occurred_at = body.occurred_at or now
    if occurred_at > now + AHEAD:
        raise InTheFuture(
            "occurred_at is more than five minutes ahead of the service's clock. "
            "Check the clock of this device, or leave the field out.",
            errors=[{"field": "occurred_at", "message": "lies in the future"}],
            now=now,
        )
    return Act(
        id=body.id or wires.new_id(),
        by=who,
        occurred_at=occurred_at,
        recorded_at=now,
        new_id=wires.new_id,
        draw=wires.draw,
    )


def _again(earlier: Answer, fingerprint: str) -> Response:
    if earlier.fingerprint != fingerprint:
        raise IdReused(
            "This id was used before, for something else. Make a new id for a new event.",
            id=earlier.id,
        )
    return Response(
        earlier.body, status_code=200, media_type="application/json", headers={"Replayed": "true"}
    )


def _fingerprint(route: str, body: EventInput) -> str:
    """Of what was asked, not how it was written: a default spelt out is the same content."""
    content = body.model_dump(mode="json", exclude={"id"}, exclude_defaults=True)
    text = json.dumps([route, content], sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()
