"""How good are our alerts: how many of which kind, how soon somebody took care, what it led to.

An alert that nobody acts on teaches people to look away. Goals: 5 % of high priority (ISA-18.2 and
IEC 62682, as practice guidance quotes them), two messages within twelve hours (Beyer et al., Site
Reliability Engineering, 2016, chapter 11, for incidents), the others our own choice. The rate that
EEMUA 191 allows a control room, one in ten minutes, is far too much for people who do other work.
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
_HALF_A_DAY = timedelta(hours=12)


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
        goals=_goals(db, told, now, days),
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


def _goals(db: Session, told: Sequence[_Told], now: datetime, days: int) -> list[GoalOut]:
    """The figures that say whether people can still take each alert seriously."""
    critical = [one for one in told if one.alert.priority == "critical"]
    people = max(len(store.people_by_id(db)), 1)
    unseen = sum(
        one.alert.state == "open" and now - one.alert.opened_at > UNSEEN_TOO_LONG for one in told
    )
    led = _percent(sum(one.led_to_act for one in critical), len(critical))
    return [
        _goal(
            "Critical alerts for each person and week",
            len(critical) / max(days / 7, 1) / people,
            most=1,
        ),
        _goal("Critical alerts of all, per cent", _percent(len(critical), len(told)), most=5),
        _goal(
            "Messages by one channel within 12 hours, at most",
            _most_messages(db, now - timedelta(days=days)),
            most=2,
        ),
        _goal("Open for more than a day, and nobody has seen it", unseen, most=0),
        _goal("Critical alerts that led to an act, per cent", led, least=90),
    ]


def _goal(
    name: str, value: float | None, *, most: float | None = None, least: float | None = None
) -> GoalOut:
    goal = f"{most} or fewer" if most else "none" if most == 0 else f"{least} or more"
    met = None
    if value is not None:
        met = value <= most if most is not None else value >= (least or 0)
    return GoalOut(name=name, value=value, goal=goal, met=met)


def _percent(part: int, whole: int) -> float | None:
    return 100 * part / whole if whole else None


def _most_messages(db: Session, since: datetime) -> int:
    """The most messages that one channel brought within twelve hours."""
    rows = db.execute(
        sa_select(col(Message.channel_id), col(Message.sent_at))
        .where(col(Message.kind) == "alerts", col(Message.sent_at) >= since)
        .order_by(col(Message.channel_id), col(Message.sent_at))
    )
    by_channel: dict[UUID, list[datetime]] = defaultdict(list)
    for channel_id, at in rows:
        by_channel[channel_id].append(at)
    return max(
        (
            sum(start <= at < start + _HALF_A_DAY for at in times)
            for times in by_channel.values()
            for start in times
        ),
        default=0,
    )


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
