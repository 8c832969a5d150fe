"""The kinds of refusal every capability speaks in.

A capability names its own refusals in its `rules.py` by subclassing one of these kinds; the kinds
are few, so that `edge` can map each to a status code in one place. Nothing here knows HTTP.

    Refusal
    ├── Unknown      there is no such thing                        (404)
    ├── Invalid      it was asked in a way that can never work     (422)
    ├── OtherKind    what was sent is of a kind that is not taken  (415)
    ├── Conflict     it cannot be done as things stand now         (409)
    ├── Forbidden    this person may not do it                     (403)
    ├── SignedOut    nobody is signed in                           (401)
    ├── TooMany      asked too often; try again later              (429)
    ├── Stale        it was changed by someone else meanwhile      (412)
    └── VersionMissing  a change must say what it starts from      (428)
"""

from collections.abc import Mapping
from typing import Any, ClassVar


class Refusal(Exception):
    """A refusal that names the fact and the way out.

    `code` is stable and machine-readable (`goblet-full`); `detail` is one or two plain sentences
    for the person, saying what is the case and what to do; `facts` are the values behind it, under
    the names of the contract, and appear beside `detail` in the answer.
    """

    code: ClassVar[str] = "refused"
    title: ClassVar[str] = "Refused"

    def __init__(self, detail: str, **facts: Any) -> None:
        super().__init__(detail)
        self.detail = detail
        self.facts: Mapping[str, Any] = facts


class Unknown(Refusal):
    """There is no such thing."""

    code = "unknown"
    title = "There is no such thing"


class Invalid(Refusal):
    """Asked in a way that can never work."""

    code = "invalid"
    title = "This cannot be right"


class OtherKind(Refusal):
    """What was sent is of a kind that is not taken here."""

    code = "other-kind"
    title = "This kind of thing is not taken here"


class Conflict(Refusal):
    """Cannot be done as things stand now."""

    code = "conflict"
    title = "Not possible as things stand"


class Forbidden(Refusal):
    """This person may not do it."""

    code = "forbidden"
    title = "Your role does not allow this"


class SignedOut(Refusal):
    """Nobody is signed in."""

    code = "not-signed-in"
    title = "Please sign in"


class TooMany(Refusal):
    """Asked too often; `facts["retry_after_seconds"]` says when to try again."""

    code = "too-many-tries"
    title = "Too many tries"


class Stale(Refusal):
    """Changed by someone else since it was read."""

    code = "stale"
    title = "Changed by someone else meanwhile"


class VersionMissing(Refusal):
    """A change must say which version it starts from."""

    code = "if-match-required"
    title = "Say which version you are changing"


class DatabaseUnfit(Exception):
    """The database cannot be trusted to keep what it is given; the service does not start."""
