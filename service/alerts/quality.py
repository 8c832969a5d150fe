"""How good are our alerts: how many of which kind, how soon somebody took care, what it led to.

An alert that nobody acts on teaches people to look away. The goals are practice guidance on
ISA-18.2 and our own choice (the figures stand beside them).
"""

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import median
from uuid import UUID

from pydantic import BaseModel
from sqlalchemy import func
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.alerts import store
from service.alerts.cards import CARDS
from service.alerts.rules import KINDS, Priority
from service.alerts.store import Alert, AlertEvent, Message
from service.bank.store import Batch
from service.kernel.database import in_parts
from service.ledger.store import Entry
from service.nitrogen.store import Level, TopUp

#: An act that comes later than this after the alert is over was not its doing.
ACT_WITHIN = timedelta(days=1)
UNSEEN_TOO_LONG = timedelta(hours=24)


class KindOut(BaseModel):
    """The alerts of one kind in these days. Minutes are those until somebody acknowledged."""

    kind: str
    title: str
    priority: Priority
    alerts: int
    critical: int
    acknowledged: int
    median_minutes_to_acknowledge: float | None
    longest_minutes_to_acknowledge: float | None
    came_and_went_unseen: int
    came_back: int
    shelved: int
    led_to_an_act: int


class GoalOut(BaseModel):
    """A figure beside what is aimed at."""

    name: str
    value: float | None
    goal: str
    met: bool | None


class QualityOut(BaseModel):
    """How good the alerts of these days were."""

    since: datetime
    until: datetime
    alerts: int
    messages: int
    kinds: list[KindOut]
    goals: list[GoalOut]


@dataclass(frozen=True, slots=True)
class _Told:
    """An alert with what is asked of it here."""

    alert: Alert
    minutes: float | None
    unseen: bool
    shelved: bool
    led_to_act: bool


def quality(db: Session, *, now: datetime, days: int) -> QualityOut:
    """Of the alerts that were opened in the last so many days."""
    since = now - timedelta(days=days)
    alerts = list(db.exec(select(Alert).where(col(Alert.opened_at) >= since)))
    told = _told(db, alerts, now)
    by_kind: dict[str, list[_Told]] = defaultdict(list)
    for one in told:
        by_kind[one.alert.kind].append(one)
    sent = (
        select(func.count())
        .select_from(Message)
        .where(Message.kind == "alerts", col(Message.sent_at) >= since)
    )
    return QualityOut(
        since=since,
        until=now,
        alerts=len(alerts),
        messages=db.exec(sent).one(),
        kinds=[_kind(kind, by_kind[kind]) for kind in KINDS if by_kind[kind]],
        goals=_goals(told, now, days, people=len(store.people_by_id(db))),
    )


def _told(db: Session, alerts: Sequence[Alert], now: datetime) -> list[_Told]:
    events: dict[UUID, list[AlertEvent]] = defaultdict(list)
    for some in in_parts([alert.id for alert in alerts]):
        for event in db.exec(
            select(AlertEvent)
            .where(col(AlertEvent.alert_id).in_(some))
            .order_by(col(AlertEvent.at))
        ):
            events[event.alert_id].append(event)
    found = []
    for alert in alerts:
        happened = events[alert.id]
        seen = [event.at for event in happened if event.what in ("acknowledged", "inspected")]
        cleared = [event.at for event in happened if event.what == "cleared"]
        found.append(
            _Told(
                alert,
                minutes=(seen[0] - alert.opened_at) / timedelta(minutes=1) if seen else None,
                unseen=bool(cleared) and (not seen or seen[0] > cleared[0]),
                shelved=any(event.what == "shelved" for event in happened),
                led_to_act=_led_to_act(db, alert, now) or any(e.note for e in happened if e.by_id),
            )
        )
    return found


def _kind(kind: str, told: Sequence[_Told]) -> KindOut:
    minutes = [one.minutes for one in told if one.minutes is not None]
    return KindOut(
        kind=kind,
        title=CARDS[kind].title,
        priority=CARDS[kind].priority,
        alerts=len(told),
        critical=sum(one.alert.priority == "critical" for one in told),
        acknowledged=len(minutes),
        median_minutes_to_acknowledge=median(minutes) if minutes else None,
        longest_minutes_to_acknowledge=max(minutes, default=None),
        came_and_went_unseen=sum(one.unseen for one in told),
        came_back=sum(one.alert.times - 1 for one in told),
        shelved=sum(one.shelved for one in told),
        led_to_an_act=sum(one.led_to_act for one in told),
    )


def _goals(told: Sequence[_Told], now: datetime, days: int, *, people: int) -> list[GoalOut]:
    critical = [one for one in told if one.alert.priority == "critical"]
    a_week = len(critical) / max(days / 7, 1) / max(people, 1)
    unseen = sum(
        one.alert.state == "open" and now - one.alert.opened_at > UNSEEN_TOO_LONG for one in told
    )
    acted = 100 * sum(one.led_to_act for one in critical) / len(critical) if critical else None
    return [
        GoalOut(
            name="Critical alerts for each person and week",
            value=a_week,
            goal="1 or fewer",
            met=a_week <= 1,
        ),
        GoalOut(
            name="Open for more than a day, and nobody has seen it",
            value=unseen,
            goal="none",
            met=unseen == 0,
        ),
        GoalOut(
            name="Critical alerts that led to an act, per cent",
            value=acted,
            goal="90 or more",
            met=None if acted is None else acted >= 90,
        ),
    ]


def _led_to_act(db: Session, alert: Alert, now: datetime) -> bool:
    """Whether somebody did something to the thing while the alert stood, or within a day after."""
    acts = _ACTS.get(alert.subject_kind)
    if acts is None:
        return False
    return acts(db, UUID(alert.subject_key), alert.opened_at, (alert.closed_at or now) + ACT_WITHIN)


def _at_tank(db: Session, id: UUID, start: datetime, end: datetime) -> bool:
    tables: tuple[type[Level | TopUp], ...] = (Level, TopUp)
    return any(
        db.exec(
            select(table)
            .where(table.tank_id == id, table.recorded_at > start, table.recorded_at <= end)
            .limit(1)
        ).first()
        for table in tables
    )


def _for_stallion(db: Session, id: UUID, start: datetime, end: datetime) -> bool:
    batches = sa_select(col(Batch.id)).where(col(Batch.stallion_id) == id)
    query = select(Entry.seq).where(
        col(Entry.batch_id).in_(batches), Entry.recorded_at > start, Entry.recorded_at <= end
    )
    return db.exec(query.limit(1)).first() is not None


def _to_batch(db: Session, id: UUID, start: datetime, end: datetime) -> bool:
    query = select(Entry.seq).where(
        Entry.batch_id == id, Entry.recorded_at > start, Entry.recorded_at <= end
    )
    return db.exec(query.limit(1)).first() is not None


def _after_withdrawal(db: Session, id: UUID, start: datetime, end: datetime) -> bool:
    query = select(Entry.seq).where(
        Entry.withdrawal_id == id, Entry.recorded_at > start, Entry.recorded_at <= end
    )
    return db.exec(query.limit(1)).first() is not None


_ACTS: dict[str, Callable[[Session, UUID, datetime, datetime], bool]] = {
    "tank": _at_tank,
    "stallion": _for_stallion,
    "batch": _to_batch,
    "withdrawal": _after_withdrawal,
}
