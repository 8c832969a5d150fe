"""Is anybody watching: the last look, what waits to be sent, who is on duty."""

from collections.abc import Sequence
from datetime import datetime, time, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from pydantic import BaseModel
from sqlmodel import Session

from service.alerts import duty, outbox, store
from service.alerts.rota import rota_of
from service.alerts.store import Channel
from service.alerts.telling import House
from service.alerts.worker import PING_EVERY, SECONDS_BETWEEN_LOOKS
from service.bank.store import station_of
from service.people.store import User

#: A look that is older is no watch any more: looks come every few seconds.
SILENT_AFTER = timedelta(minutes=1)


class WhoOut(BaseModel):
    """A person, by name."""

    id: UUID
    name: str


class MessageOut(BaseModel):
    """A message that left, or waits."""

    id: UUID
    channel: str
    kind: str
    priority: str
    state: str
    subject: str | None
    created_at: datetime
    send_at: datetime
    sent_at: datetime | None
    attempts: int
    error: str | None


class StandingOut(BaseModel):
    """How the watch stands. `running` is false when nobody has looked for a minute.

    `nobody_to_tell`: no channel would take a critical alert of now, so it is seen here only.
    """

    running: bool
    holder: str | None
    last_run_at: datetime | None
    next_run_at: datetime | None
    last_run: dict[str, Any] | None
    on_duty: WhoOut | None
    second: WhoOut | None
    nobody_to_tell: bool
    duty_unreachable: bool
    messages: dict[str, int]
    newest: list[MessageOut]
    last_delivery_at: datetime | None
    last_digest_at: datetime | None
    next_digest_at: datetime
    last_check_at: datetime | None
    outside_watch_set: bool
    last_ping_at: datetime | None
    next_ping_at: datetime | None
    ping_failing_since: datetime | None
    ping_error: str | None


def standing(db: Session, *, now: datetime, messages: int) -> StandingOut:
    """How the watch stands now, with so many of the newest messages."""
    watch, plan = store.watch_of(db), store.plan_of(db)
    zone = ZoneInfo(station_of(db).time_zone)
    people = store.people_by_id(db)
    usable = [one for one in store.channels_in_use(db) if "critical" in one.priorities]
    on_duty = duty.on_duty(rota_of(plan), now, zone)
    house = outbox.house_of(db, plan, now)
    running = watch.last_run_at is not None and now - watch.last_run_at < SILENT_AFTER
    ping_at = watch.last_ping_at if plan.outside_watch_url else None
    return StandingOut(
        running=running,
        holder=watch.holder_name,
        last_run_at=watch.last_run_at,
        next_run_at=now + timedelta(seconds=SECONDS_BETWEEN_LOOKS) if running else None,
        last_run=watch.last_run,
        on_duty=_who(people, on_duty.person_id if on_duty else None),
        second=_who(people, on_duty.second_id if on_duty else None),
        nobody_to_tell=not usable,
        duty_unreachable=bool(usable) and not _reaches_duty(usable, house),
        messages=store.message_counts(db),
        newest=[_message(*one) for one in store.newest_messages(db, messages)],
        last_delivery_at=watch.last_delivery_at,
        last_digest_at=watch.last_digest_at,
        next_digest_at=duty.next_at(now, time.fromisoformat(plan.digest_at), zone),
        last_check_at=watch.last_check_at,
        outside_watch_set=plan.outside_watch_url is not None,
        last_ping_at=ping_at,
        next_ping_at=ping_at + PING_EVERY if ping_at else None,
        ping_failing_since=watch.ping_failing_since,
        ping_error=watch.ping_error,
    )


def _who(people: dict[UUID, User], person_id: UUID | None) -> WhoOut | None:
    user = people.get(person_id) if person_id else None
    return None if user is None else WhoOut(id=user.id, name=user.display_name)


def _reaches_duty(usable: Sequence[Channel], house: House) -> bool:
    """Whether a channel is there for whoever is told first; the station's own reaches all."""
    if house.duty is None:
        return True
    return any(one.person_id in (None, house.duty.person_id) for one in usable)


def _message(message: store.Message, channel: str) -> MessageOut:
    return MessageOut(
        channel=channel,
        **message.model_dump(include=set(MessageOut.model_fields)),
    )
