"""What the composition root hands to every request."""

from collections.abc import Callable
from dataclasses import dataclass
from uuid import UUID

from fastapi import Request

from service.kernel.acts import Person
from service.kernel.clock import Clock
from service.kernel.database import Database


@dataclass(frozen=True, slots=True)
class Credentials:
    """What came with a request to say who is asking: a session cookie or a bearer token."""

    cookie: str | None
    bearer: str | None


#: Finds the person behind the credentials; None when they open nothing (any more).
Identify = Callable[[Credentials, Clock], Person | None]


@dataclass(frozen=True, slots=True)
class Wiring:
    """The parts a request needs; `identify` comes from above, so that edge knows no people."""

    database: Database
    clock: Clock
    new_id: Callable[[], UUID]
    draw: Callable[[int], int]
    identify: Identify


def wiring(request: Request) -> Wiring:
    """The wiring of the app that serves this request."""
    found: Wiring = request.app.state.wiring
    return found
