"""Keys to the calendar feed: one's own, shown once, kept hashed, revoked at once.

A calendar program cannot sign in: the key in the feed's address opens the feed and nothing else. It
stops with the account of whom it belongs to.
"""

from collections.abc import Sequence
from uuid import UUID

from sqlmodel import Session, col, select

from service.kernel.acts import Person
from service.kernel.errors import Unknown
from service.nitrogen.store import CalendarKey
from service.people import hashing
from service.people.actions import person
from service.people.events import Kind, Occasion, record
from service.people.store import User


class UnknownCalendarKey(Unknown):
    """A key that opens nothing (any more): invented, revoked, or of an account that was closed."""

    code = "unknown-calendar-key"
    title = "There is no such calendar"


def make_key(db: Session, *, who: Person, occasion: Occasion) -> tuple[CalendarKey, str]:
    """Make a key of this person's own; its text comes back this once."""
    text = hashing.new_token()
    key = CalendarKey(
        id=occasion.new_id(),
        user_id=who.id,
        key_hash=hashing.digest(text),
        created_at=occasion.at,
    )
    db.add(key)
    record(db, Kind.CALENDAR_KEY_MADE, occasion, about=person(db, who.id), key_id=str(key.id))
    return key, text


def revoke_key(db: Session, key_id: UUID, *, who: Person, occasion: Occasion) -> None:
    """Stop one of one's own keys, at once. Raises UnknownCalendarKey."""
    key = db.get(CalendarKey, key_id)
    if key is None or key.user_id != who.id or key.revoked_at is not None:
        raise UnknownCalendarKey(
            "You have no calendar key with this id. Look it up in your list of calendar keys."
        )
    key.revoked_at = occasion.at
    record(db, Kind.CALENDAR_KEY_REVOKED, occasion, about=person(db, who.id), key_id=str(key.id))


def keys_after(db: Session, user_id: UUID, after: UUID | None, limit: int) -> Sequence[CalendarKey]:
    """A person's keys that were not revoked, oldest first; one more than `limit` if there are."""
    query = (
        select(CalendarKey)
        .where(CalendarKey.user_id == user_id, col(CalendarKey.revoked_at).is_(None))
        .order_by(col(CalendarKey.id))
        .limit(limit + 1)
    )
    return db.exec(query if after is None else query.where(col(CalendarKey.id) > after)).all()


def owner_of(db: Session, text: str) -> UUID:
    """Whose key this is. Raises UnknownCalendarKey."""
    owner = db.exec(
        select(User.id)
        .join(CalendarKey, col(CalendarKey.user_id) == col(User.id))
        .where(
            CalendarKey.key_hash == hashing.digest(text),
            col(CalendarKey.revoked_at).is_(None),
            col(User.disabled_at).is_(None),
        )
    ).one_or_none()
    if owner is None:
        raise UnknownCalendarKey(
            "This calendar's key is wrong or was revoked. Make a new one and subscribe to its "
            "address."
        )
    return owner
