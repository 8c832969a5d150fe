"""The record of security events: one for each act, in a hash chain of its own.

A wrong password, and a name that nobody has, are never written down: people type one into the box
of the other.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.kernel import chain, clock
from service.kernel.acts import Person
from service.people.store import SecurityEvent, User, all_events, last_event


class Kind(StrEnum):
    """What happened."""

    SIGNED_IN = "signed-in"
    SIGN_IN_FAILED = "sign-in-failed"
    SIGNED_OUT = "signed-out"
    PASSWORD_SET = "password-set"  # noqa: S105 (a word, not a password)
    PASSWORD_REFUSED = "password-refused"  # noqa: S105
    SET_UP_CODE_MADE = "set-up-code-made"
    USER_ADDED = "user-added"
    USER_CHANGED = "user-changed"
    USER_DISABLED = "user-disabled"
    USER_ENABLED = "user-enabled"
    USER_RESET = "user-reset"
    TOKEN_MADE = "token-made"  # noqa: S105
    TOKEN_REVOKED = "token-revoked"  # noqa: S105
    CALENDAR_KEY_MADE = "calendar-key-made"
    CALENDAR_KEY_REVOKED = "calendar-key-revoked"


@dataclass(frozen=True, slots=True)
class Occasion:
    """When something is done, by whom and from where; `by` is None for the command line."""

    at: datetime
    new_id: Callable[[], UUID]
    by: Person | None = None
    address: str | None = None


def record(
    db: Session, kind: Kind, occasion: Occasion, *, about: User | None = None, **facts: Any
) -> None:
    """Add an event to the chain, inside the transaction of what it tells of."""
    last = last_event(db)
    seq = 1 if last is None else last.seq + 1
    content = {
        **facts,
        "seq": seq,
        "kind": kind,
        "at": clock.as_text(occasion.at),
        "by": occasion.by and str(occasion.by.id),
        "by_name": occasion.by and occasion.by.username,
        "about": about and str(about.id),
        "about_name": about and about.username,
        "address": occasion.address,
    }
    text = json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    db.add(
        SecurityEvent(
            seq=seq,
            kind=kind,
            at=occasion.at,
            by_id=occasion.by.id if occasion.by else None,
            about_id=about.id if about else None,
            text=text,
            hash=chain.link(chain.GENESIS if last is None else last.hash, text),
        )
    )
    db.flush()


@dataclass(frozen=True, slots=True)
class Soundness:
    """What a check of the chain found; `problems` is empty when the record is sound."""

    events: int
    head: str
    problems: list[str]


def check(db: Session) -> Soundness:
    """Walk the whole chain: numbers without a gap, hashes that follow, columns as the text says."""
    head, count, problems = chain.GENESIS, 0, []
    for count, event in enumerate(all_events(db), start=1):
        if event.seq != count:
            problems.append(f"security event {count} is missing")
            break
        if event.hash != chain.link(head, event.text):
            problems.append(f"security event {event.seq} is not what was written")
        elif _columns_of(event) != _columns_in(event.text):
            problems.append(f"security event {event.seq} is indexed as something else")
        head = event.hash
    return Soundness(events=count, head=head, problems=problems)


def _columns_of(event: SecurityEvent) -> tuple[Any, ...]:
    by, about = event.by_id and str(event.by_id), event.about_id and str(event.about_id)
    return event.seq, event.kind, clock.as_text(event.at), by, about


def _columns_in(text: str) -> tuple[Any, ...]:
    said = json.loads(text)
    return said["seq"], said["kind"], said["at"], said["by"], said["about"]
