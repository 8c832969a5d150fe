"""Who does what, when: the facts that every action is told and never looks up itself."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, get_args
from uuid import UUID

Role = Literal["technician", "vet", "manager", "auditor"]
ROLES: tuple[Role, ...] = get_args(Role)


@dataclass(frozen=True, slots=True)
class Person:
    """The person who is asking, as known at this moment.

    `must_set_password`: signed in with a one-time code, so only setting a password is open.
    """

    id: UUID
    username: str
    display_name: str
    role: Role
    must_set_password: bool = False


@dataclass(frozen=True, slots=True)
class Act:
    """One act of one person.

    `id` was made by the client and is the record's id for ever. `occurred_at` is what the person
    claims, `recorded_at` what the server's clock says. `new_id` and `draw` (a number of random
    bits -> an integer) are where further ids and codes come from.
    """

    id: UUID
    by: Person
    occurred_at: datetime
    recorded_at: datetime
    new_id: Callable[[], UUID]
    draw: Callable[[int], int]
