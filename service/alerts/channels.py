"""Channels: entered, changed, tested, given a new secret. Inside the caller's transaction."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, Literal
from urllib.parse import urlsplit
from uuid import UUID

from sqlmodel import Session, select

from service.alerts import addresses, mail, push, rules, store, webhooks
from service.alerts.store import Channel
from service.bank.records import apply, kept
from service.kernel.acts import Act
from service.people.store import User

ChannelKind = Literal["email", "webhook", "push"]

RECORD = "alert-channel"

#: For so long the secret before is signed with, too, so that a receiver can be changed over.
BOTH_SECRETS_FOR = timedelta(hours=24)

_SHOWN = ("name", "kind", "person_id", "priorities", "digest", "enabled")


@dataclass(frozen=True, slots=True, kw_only=True)
class NewChannel:
    """A way to reach somebody."""

    name: str
    kind: ChannelKind
    target: str
    person_id: UUID | None
    priorities: list[str]
    digest: bool
    enabled: bool


def channel_of(db: Session, channel_id: UUID) -> Channel:
    """The channel. Raises UnknownChannel."""
    channel = db.get(Channel, channel_id)
    if channel is None:
        raise rules.UnknownChannel("No channel has this id.", id=channel_id)
    return channel


def add_channel(db: Session, act: Act, new: NewChannel) -> Channel:
    """Enter a channel whose address was `checked`; a webhook gets its secret now.

    Raises ChannelNameTaken, BadChannel.
    """
    _refuse_taken(db, new.name, but=act.id)
    _check_person(db, new.person_id)
    channel = Channel(
        id=act.id,
        name=new.name,
        kind=new.kind,
        target=new.target,
        person_id=new.person_id,
        priorities=new.priorities,
        digest=new.digest,
        enabled=new.enabled,
        created_at=act.recorded_at,
    )
    if new.kind == "webhook":
        channel.secret = webhooks.new_secret(act.draw)
    db.add(channel)
    db.flush()
    return channel


def change_channel(db: Session, act: Act, channel: Channel, changes: Mapping[str, Any]) -> None:
    """Change what is given; a channel that is changed is tried anew at once.

    Raises what `add_channel` does.
    """
    if "name" in changes:
        _refuse_taken(db, changes["name"], but=channel.id)
    if "person_id" in changes:
        _check_person(db, changes["person_id"])
    with kept(db, act, RECORD, channel.id, lambda: facts_of(channel)):
        apply(channel, changes)
        channel.next_try_at = None
        if "target" in changes or changes.get("enabled") is False:
            channel.failures, channel.failing_since, channel.last_error = 0, None, None
        db.add(channel)


def try_letters_at_once(db: Session) -> None:
    """The mail server is another one: what waits for it need not wait longer."""
    for channel in store.channels(db):
        if channel.kind == "email":
            channel.next_try_at = None
            db.add(channel)


def renew_secret(db: Session, act: Act, channel: Channel) -> str:
    """A new secret for a webhook; the one before is signed with for another day.

    Raises BadChannel.
    """
    if channel.kind != "webhook":
        raise rules.BadChannel("Only a webhook has a secret.", errors=[])
    channel.secret_before = channel.secret
    channel.secret_before_until = act.recorded_at + BOTH_SECRETS_FOR
    channel.secret = webhooks.new_secret(act.draw)
    db.add(channel)
    db.flush()
    return channel.secret


def facts_of(channel: Channel) -> dict[str, Any]:
    """What its history may say: no key, and no address that may hold one."""
    facts = channel.model_dump(mode="json", include=set(_SHOWN))
    return facts | {"target": shown_target(channel)}


def checked(kind: str, target: str, *, private_allowed: bool) -> str:
    """The address of a channel, as it is kept. Raises what the way says of a wrong one.

    It may ask the network for a name, so it is called before the book is locked.
    """
    if kind == "email":
        return mail.checked_mailbox(target)
    if kind == "webhook":
        addresses.pinned(target, private_allowed=private_allowed)
        return target
    push.checked(target, private_allowed=private_allowed)
    return target


def shown_target(channel: Channel) -> str:
    """Where it goes, without anything that may be a key."""
    if channel.kind == "email":
        return channel.target
    if channel.kind == "webhook":
        return host_of(channel.target)
    return push.masked(channel.target)


def host_of(url: str) -> str:
    """Of an address its scheme and host: path and query may hold a key."""
    parts = urlsplit(url)
    return f"{parts.scheme}://{parts.hostname}/…"


def reaches(db: Session, person_id: UUID) -> bool:
    """Whether a channel that takes critical alerts is this person's own."""
    own = db.exec(select(Channel).where(Channel.person_id == person_id))
    return any(one.enabled and "critical" in one.priorities for one in own)


def _refuse_taken(db: Session, name: str, *, but: UUID) -> None:
    if any(one.name == name and one.id != but for one in store.channels(db)):
        raise rules.ChannelNameTaken(
            f"Another channel is called {name}. Give this one a name of its own.", name=name
        )


def _check_person(db: Session, person_id: UUID | None) -> None:
    if person_id is None:
        return
    person = db.get(User, person_id)
    if person is None or person.disabled_at is not None:
        message = "choose somebody who may sign in"
        raise rules.BadChannel(
            "This person cannot sign in here (any more).",
            errors=[{"field": "person_id", "message": message}],
        )
