"""What the routes of people take and answer."""

import json
from datetime import date, datetime
from typing import Annotated, Any
from uuid import UUID

from pydantic import BaseModel, ConfigDict, Field, StrictStr

from service.edge.fields import Day, Flag, Input, Name
from service.kernel.acts import Role
from service.people.passwords import LONGEST_PASSWORD
from service.people.store import SecurityEvent, Token, User

_PERSON = {
    "id": "01937c5e-8a00-7000-8000-000000000001",
    "username": "ilva",
    "display_name": "Ilva Thornby",
    "role": "technician",
    "disabled": False,
}


def _example(values: dict[str, Any]) -> ConfigDict:
    return ConfigDict(json_schema_extra={"examples": [values]})


class SignIn(Input):
    """A name, and a password or one-time code."""

    model_config = _example({"username": "ilva", "password": "seven grey geese over the fjord"})

    username: Annotated[StrictStr, Field(max_length=200)]
    password: Annotated[StrictStr, Field(max_length=LONGEST_PASSWORD)]


class NewPassword(Input):
    """One's next password; the present one is asked for when the sign-in was a while ago."""

    model_config = _example({"password": "seven grey geese over the fjord"})

    password: Annotated[StrictStr, Field(max_length=LONGEST_PASSWORD)]
    current_password: Annotated[StrictStr | None, Field(max_length=LONGEST_PASSWORD)] = None


class SessionOut(BaseModel):
    """Who is signed in."""

    model_config = _example({name: _PERSON[name] for name in _PERSON if name != "disabled"})

    id: UUID
    username: str
    display_name: str
    role: Role


class PersonOut(BaseModel):
    """A person who may sign in; nothing secret."""

    model_config = _example({**_PERSON})

    id: UUID
    username: str
    display_name: str
    role: Role
    disabled: bool


class NewPerson(Input):
    """A person to add; they choose their password themselves, with the code that comes back."""

    model_config = _example(
        {"username": "ilva", "display_name": "Ilva Thornby", "role": "technician"}
    )

    username: Annotated[StrictStr, Field(max_length=200)]
    display_name: Name
    role: Role


class CodeOut(BaseModel):
    """A one-time code: hand it over in person. It is used as the password, once."""

    model_config = _example(
        {"one_time_code": "7K2Q-M9XD-0RTV-5HJ4", "one_time_code_expires_at": "2026-03-04T14:05:00Z"}
    )

    one_time_code: str
    one_time_code_expires_at: datetime


class PersonAdded(PersonOut, CodeOut):
    """The new person and the code that opens the account, shown this once."""

    model_config = _example(
        {
            **_PERSON,
            "one_time_code": "7K2Q-M9XD-0RTV-5HJ4",
            "one_time_code_expires_at": "2026-03-04T14:05:00Z",
        }
    )


def _left_out() -> Any:
    """The value of a field that was not sent: never read, only sent fields are."""


class PersonPatch(Input):
    """What is to be changed; what is left out stays."""

    model_config = _example({"role": "vet"})

    display_name: Name = Field(default_factory=_left_out)
    role: Role = Field(default_factory=_left_out)
    disabled: Flag = Field(default_factory=_left_out)


class NewToken(Input):
    """A token for a program; without a last day it ends after a year."""

    model_config = _example({"name": "label printer", "expires_on": "2026-12-31"})

    name: Name
    expires_on: Day | None = None


class TokenOut(BaseModel):
    """A token without its text."""

    id: UUID
    name: str
    created_at: datetime
    expires_on: date
    last_used_at: datetime | None


class TokenMade(TokenOut):
    """A new token: the text is shown this once."""

    token: str


class EventOut(BaseModel):
    """A security event; `by` and `about` are user names, null where nobody is known."""

    seq: int
    kind: str
    at: datetime
    by: str | None
    about: str | None
    address: str | None
    facts: dict[str, Any]
    hash: str


def person_out(user: User) -> PersonOut:
    """A person as everybody may read them."""
    return PersonOut(
        id=user.id,
        username=user.username,
        display_name=user.display_name,
        role=user.role,
        disabled=user.disabled_at is not None,
    )


def token_out(token: Token) -> TokenOut:
    """A token as its owner may read it again."""
    return TokenOut(
        id=token.id,
        name=token.name,
        created_at=token.created_at,
        expires_on=token.expires_on,
        last_used_at=token.last_used_at,
    )


def event_out(event: SecurityEvent) -> EventOut:
    """A security event, read out of the text that was hashed."""
    said = json.loads(event.text)
    known = ("seq", "kind", "at", "by", "by_name", "about", "about_name", "address")
    return EventOut(
        seq=event.seq,
        kind=event.kind,
        at=event.at,
        by=said["by_name"],
        about=said["about_name"],
        address=said["address"],
        facts={name: value for name, value in said.items() if name not in known},
        hash=event.hash,
    )
