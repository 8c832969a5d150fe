"""Messages that wait: queued with what they tell of, claimed, tried, tried again, done.

A message is claimed in a transaction of its own before it leaves, and marked as sent in another one
afterwards. Whatever dies between the two leaves a claim that runs out; the message then goes once
more under the same id, marked as a repeat. So it arrives at least once.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.alerts import duty, messages, rota, store, telling
from service.alerts.letters import Letter, NotSent
from service.alerts.rules import PRIORITIES, Priority, rank
from service.alerts.store import Alert, AlertEvent, AlertPlan, Channel, Message, MessageItem
from service.alerts.telling import House, Way
from service.bank.store import station_of

#: Longer than any try may take.
CLAIM = timedelta(minutes=2)

#: Between tries, by how many failed in a row: mail servers ask for patience of minutes, webhooks
#: as Standard Webhooks 1.0.0 recommends, but never so long that what is mended stays unseen.
_MINUTES = timedelta(minutes=1)
_RETRIES: Mapping[str, Sequence[timedelta]] = {
    "email": [1 * _MINUTES, 5 * _MINUTES, 15 * _MINUTES, 60 * _MINUTES],
    "webhook": [_MINUTES / 12, 5 * _MINUTES, 30 * _MINUTES, 120 * _MINUTES],
    "push": [1 * _MINUTES, 5 * _MINUTES, 15 * _MINUTES, 60 * _MINUTES],
}
#: Something critical does not wait longer than that for the next try.
_CRITICAL_RETRY = timedelta(minutes=5)

#: After so long it tells nobody anything new.
GIVE_UP_AFTER = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Claimed:
    """A message about to leave, and everything that its way needs."""

    letter: Letter
    channel: Channel
    plan: AlertPlan


# --- queueing ----------------------------------------------------------------------------------


def queue_notices(
    db: Session, alerts: Iterable[Alert], *, now: datetime, new_id: Callable[[], UUID]
) -> int:
    """Queue what is due to be told of these alerts; the number of new messages."""
    due = [
        alert
        for alert in alerts
        if alert.state == "open" and alert.tell_at is not None and alert.tell_at <= now
    ]
    if not due:
        return 0
    plan, usable = store.plan_of(db), store.channels_in_use(db)
    ways = [Way(one.id, one.person_id, one.priorities) for one in usable]
    house = house_of(db, plan, now)
    queue = _Queue(db, {one.id: one for one in usable}, now, new_id)
    for alert in sorted(due, key=lambda one: rank(one.priority)):
        # That a channel fails is told by the others.
        others = [way for way in ways if str(way.id) != alert.subject_key]
        told = telling.notice(alert.priority, alert.told, others, house, now)
        for way in told.ways:
            queue.tell(way, alert, told.not_before)
        if told.ways:
            db.add(
                AlertEvent(
                    id=new_id(),
                    alert_id=alert.id,
                    at=now,
                    what="told",
                    note=", ".join(queue.names(told.ways)),
                )
            )
        alert.told += 1
        alert.tell_at = told.then
        db.add(alert)
    return queue.made


class _Queue:
    """Messages that alerts are put into: one for each channel that did not leave yet."""

    def __init__(
        self,
        db: Session,
        channels: Mapping[UUID, Channel],
        now: datetime,
        new_id: Callable[[], UUID],
    ) -> None:
        self._db, self._channels, self._now, self._new_id = db, channels, now, new_id
        self.made = 0
        self._open: dict[tuple[UUID, bool], Message] = {
            (one.channel_id, one.send_at > now + telling.FLOOD_INTERVAL): one
            for one in store.waiting(db)
            if one.kind == "alerts" and one.state == "waiting" and one.attempts == 0
        }

    def names(self, ways: Iterable[Way]) -> list[str]:
        return [self._channels[way.id].name for way in ways]

    def tell(self, way: Way, alert: Alert, not_before: datetime) -> None:
        held = not_before > self._now + telling.FLOOD_INTERVAL
        message = self._open.get((way.id, held))
        if message is None:
            message = self._open[way.id, held] = self._new(way.id, alert.priority, not_before)
        elif rank(alert.priority) < rank(message.priority):
            message.priority = alert.priority
            message.send_at = min(message.send_at, self._send_at(way.id, "critical", not_before))
            self._db.add(message)
        if self._db.get(MessageItem, (message.id, alert.id)) is None:
            self._db.add(
                MessageItem(message_id=message.id, alert_id=alert.id, notice=alert.told + 1)
            )
        if alert.priority == "critical":
            self._sooner(self._channels[way.id])

    def _new(self, channel_id: UUID, priority: Priority, not_before: datetime) -> Message:
        message = Message(
            id=self._new_id(),
            channel_id=channel_id,
            kind="alerts",
            priority=priority,
            state="waiting",
            created_at=self._now,
            send_at=self._send_at(channel_id, priority, not_before),
        )
        self._db.add(message)
        self._db.flush()
        self.made += 1
        return message

    def _send_at(self, channel_id: UUID, priority: Priority, not_before: datetime) -> datetime:
        before = self._db.exec(
            select(Message.sent_at).where(
                Message.channel_id == channel_id,
                Message.kind == "alerts",
                col(Message.sent_at) > self._now - telling.FLOOD_WITHIN,
            )
        )
        lately = [at for at in before if at is not None]
        return telling.send_at(priority, lately, not_before, self._now)

    def _sooner(self, channel: Channel) -> None:
        if channel.next_try_at is not None:
            channel.next_try_at = min(channel.next_try_at, self._now + _CRITICAL_RETRY)
            self._db.add(channel)


def house_of(db: Session, plan: AlertPlan, now: datetime) -> House:
    """Who may be told now."""
    zone = ZoneInfo(station_of(db).time_zone)
    people = store.people_by_id(db)
    on_duty = duty.on_duty(rota.rota_of(plan), now, zone)
    if on_duty is not None and on_duty.person_id not in people:
        on_duty = None
    return House(
        duty=on_duty,
        roles={person: user.role for person, user in people.items()},
        zone=zone,
        quiet=rota.quiet_of(plan),
        morning=time.fromisoformat(plan.digest_at),
    )


def queue_settled(
    db: Session,
    channel: Channel,
    *,
    kind: str,
    letter: messages.Words,
    now: datetime,
    new_id: Callable[[], UUID],
    mark: str | None = None,
) -> Message:
    """Queue a message that is settled already; `mark` keeps it from being queued twice."""
    message = Message(
        id=new_id(),
        channel_id=channel.id,
        kind=kind,
        mark=mark,
        priority="medium" if kind == "test" else "low",
        state="waiting",
        created_at=now,
        send_at=now,
        subject=letter.subject,
        text=letter.text,
        data=dict(letter.data),
    )
    db.add(message)
    db.flush()
    return message


# --- delivering --------------------------------------------------------------------------------


def claim_next(
    db: Session, *, now: datetime, address: str | None, only: UUID | None = None
) -> Claimed | None:
    """Claim the most pressing message that is due on a channel that may be tried.

    Settles what it says at the first try. Alerts that somebody acknowledged meanwhile are left out,
    and a message with nothing left to tell is done.
    """
    ways = {one.id: one for one in store.channels(db)}
    for message in store.waiting(db):
        channel = ways[message.channel_id]
        if only is not None and message.id != only:
            continue
        if not _may_go(message, channel, now):
            continue
        off = not channel.enabled and message.kind != "test"
        if off or now - message.created_at > GIVE_UP_AFTER:
            _done(db, message, "given-up")
            continue
        if message.text is None and not _settle(db, message, address, now):
            _done(db, message, "not-needed")
            continue
        message.state, message.attempts = "sending", message.attempts + 1
        message.claimed_until = now + CLAIM
        channel.last_tried_at = now
        db.add_all([message, channel])
        db.flush()
        return Claimed(_letter(message), channel, store.plan_of(db))
    return None


def _may_go(message: Message, channel: Channel, now: datetime) -> bool:
    if message.send_at > now:
        return False
    if message.state == "sending":
        return message.claimed_until is None or message.claimed_until <= now
    if message.kind == "test":
        return True
    return channel.next_try_at is None or channel.next_try_at <= now or not channel.enabled


def _settle(db: Session, message: Message, address: str | None, now: datetime) -> bool:
    told = [one for one in store.alerts_in(db, message.id) if one.state in _STILL_NEWS]
    if not told:
        return False
    words = messages.of_alerts(told, station=station_of(db), address=address, now=now)
    message.priority = min((one.priority for one in told), key=PRIORITIES.index)
    message.subject, message.text, message.data = words.subject, words.text, dict(words.data)
    return True


#: What was acknowledged, shelved or closed before it was told needs no telling any more.
_STILL_NEWS = frozenset({"open", "cleared-unseen"})


def _letter(message: Message) -> Letter:
    return Letter(
        id=message.id,
        kind=message.kind,
        subject=message.subject or "",
        text=message.text or "",
        data=message.data or {},
        created_at=message.created_at,
        attempt=message.attempts,
        urgent=message.priority == "critical",
    )


def _done(db: Session, message: Message, state: str) -> None:
    message.state, message.claimed_until = state, None
    db.add(message)


def mark_sent(db: Session, message_id: UUID, *, now: datetime) -> None:
    """It was accepted: the channel works."""
    message = db.get_one(Message, message_id)
    _done(db, message, "sent")
    message.sent_at, message.error = now, None
    channel = db.get_one(Channel, message.channel_id)
    channel.failures, channel.last_error = 0, None
    channel.failing_since = channel.next_try_at = None
    channel.last_sent_at = now
    db.add(channel)


def mark_failed(db: Session, message_id: UUID, failure: NotSent, *, now: datetime) -> None:
    """It was not accepted: it waits for the next try.

    Also where the receiver will not have it as things stand: a wrong password is put right, and
    what waited goes out. A receiver that is gone is sent nothing any more, and a test is over.
    """
    message = db.get_one(Message, message_id)
    channel = db.get_one(Channel, message.channel_id)
    over = failure.gone or message.kind == "test"
    _done(db, message, "refused" if over else "waiting")
    message.error = failure.detail
    channel.failures += 1
    channel.failing_since = channel.failing_since or now
    channel.last_error = failure.detail
    waits = _RETRIES[channel.kind]
    channel.next_try_at = now + waits[min(channel.failures, len(waits)) - 1]
    if failure.gone:
        channel.enabled = False
    db.add(channel)


def anything_due(db: Session, now: datetime) -> bool:
    """Whether there is a message that may leave now; asked without holding up any writer."""
    ways = {one.id: one for one in store.channels(db)}
    return any(_may_go(message, ways[message.channel_id], now) for message in store.waiting(db))
