"""Alerts, their history, the channels and what waits in them: tables and queries."""

from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any, Literal
from uuid import UUID

from sqlalchemy import JSON, CheckConstraint, Index, Text, func, text
from sqlalchemy import select as sa_select
from sqlmodel import Field, Session, SQLModel, col, select

from service.alerts.rules import PRIORITIES, STATES, Priority, State
from service.edge.listing import Page
from service.kernel.columns import UtcMoment
from service.kernel.database import in_parts
from service.people.store import User

MailSecurity = Literal["starttls", "tls", "none"]

MESSAGE_STATES = ("waiting", "sending", "sent", "refused", "given-up", "not-needed")

_NOT_CLOSED = "state <> 'closed'"


def _one_of(column: str, words: Collection[str]) -> str:
    return f"{column} IN ({', '.join(repr(word) for word in words)})"


class Alert(SQLModel, table=True):
    """A condition that somebody has to deal with; one at a time for each condition of a subject.

    `is_true`, `seen`, `inspect` and the moments are what `life.Standing` holds; `state` follows
    from them and is kept for searching.
    `told` counts the notices; the next is due at `tell_at`.
    """

    __tablename__ = "alerts"
    __table_args__ = (
        CheckConstraint(_one_of("state", STATES), name="alert_state"),
        CheckConstraint(_one_of("priority", PRIORITIES), name="alert_priority"),
        CheckConstraint("told >= 0", name="alert_told"),
        Index("alerts_by_time", "opened_at", "id"),
    )

    id: UUID = Field(primary_key=True)
    kind: str = Field(max_length=30)
    subject_kind: str = Field(max_length=12)
    subject_key: str = Field(max_length=60)
    subject: str = Field(sa_type=Text)
    priority: Priority = Field(sa_type=Text)
    state: State = Field(sa_type=Text)
    words: str = Field(sa_type=Text)
    facts: dict[str, Any] = Field(sa_type=JSON)
    opened_at: datetime = Field(sa_type=UtcMoment)
    is_true: bool = True
    seen: bool = False
    inspect: bool = False
    times: int = 1
    cleared_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    false_since: datetime | None = Field(default=None, sa_type=UtcMoment)
    again_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    acknowledged_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    acknowledged_by_id: UUID | None = None
    acknowledged_by: str | None = Field(default=None, sa_type=Text)
    shelved_until: datetime | None = Field(default=None, sa_type=UtcMoment)
    shelved_by: str | None = Field(default=None, sa_type=Text)
    shelf_reason: str | None = Field(default=None, sa_type=Text)
    told: int = 0
    tell_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    closed_at: datetime | None = Field(default=None, sa_type=UtcMoment)


Index(
    "alerts_one_a_condition",
    Alert.__table__.c.kind,  # type: ignore[attr-defined]
    Alert.__table__.c.subject_key,  # type: ignore[attr-defined]
    unique=True,
    sqlite_where=text(_NOT_CLOSED),
    postgresql_where=text(_NOT_CLOSED),
)


class AlertEvent(SQLModel, table=True):
    """Something that happened to an alert; `by_name` is null for the service itself."""

    __tablename__ = "alert_events"
    __table_args__ = (Index("alert_events_of_alert", "alert_id", "at"),)

    id: UUID = Field(primary_key=True)
    alert_id: UUID = Field(foreign_key="alerts.id")
    at: datetime = Field(sa_type=UtcMoment)
    what: str = Field(max_length=20)
    by_id: UUID | None = None
    by_name: str | None = Field(default=None, sa_type=Text)
    note: str | None = Field(default=None, sa_type=Text)


class Channel(SQLModel, table=True):
    """A way to reach somebody: a person's own, or the station's (`person_id` null).

    `target` is the mailbox, the webhook's address or the push address, the last with its key in
    it: never shown again. `failures` counts tries in a row that did not work; until `next_try_at`
    nothing is tried.
    """

    __tablename__ = "alert_channels"
    __table_args__ = (
        CheckConstraint("kind IN ('email', 'webhook', 'push')", name="channel_kind"),
        CheckConstraint("failures >= 0", name="channel_failures"),
    )

    id: UUID = Field(primary_key=True)
    name: str = Field(sa_type=Text, unique=True)
    kind: str = Field(max_length=10)
    target: str = Field(sa_type=Text)
    person_id: UUID | None = Field(default=None, foreign_key="users.id", index=True)
    priorities: list[str] = Field(sa_type=JSON)
    digest: bool = False
    enabled: bool = True
    secret: str | None = Field(default=None, sa_type=Text)
    secret_before: str | None = Field(default=None, sa_type=Text)
    secret_before_until: datetime | None = Field(default=None, sa_type=UtcMoment)
    created_at: datetime = Field(sa_type=UtcMoment)
    failures: int = 0
    failing_since: datetime | None = Field(default=None, sa_type=UtcMoment)
    next_try_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    last_error: str | None = Field(default=None, sa_type=Text)
    last_tried_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    last_sent_at: datetime | None = Field(default=None, sa_type=UtcMoment)


class Message(SQLModel, table=True):
    """A message to a channel, written down in the transaction that found it necessary.

    What it says is settled at its first try and stays the same for a repeat under the same id.
    `mark` keeps what may be sent once only (a day's digest) from being queued twice.
    """

    __tablename__ = "alert_messages"
    __table_args__ = (
        CheckConstraint(_one_of("state", MESSAGE_STATES), name="message_state"),
        Index("messages_waiting", "state", "send_at"),
        Index("messages_of_channel", "channel_id", "created_at"),
    )

    id: UUID = Field(primary_key=True)
    channel_id: UUID = Field(foreign_key="alert_channels.id")
    kind: str = Field(max_length=10)
    mark: str | None = Field(default=None, max_length=120, unique=True)
    priority: Priority = Field(sa_type=Text)
    state: str = Field(max_length=10)
    created_at: datetime = Field(sa_type=UtcMoment)
    send_at: datetime = Field(sa_type=UtcMoment)
    attempts: int = 0
    claimed_until: datetime | None = Field(default=None, sa_type=UtcMoment)
    sent_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    error: str | None = Field(default=None, sa_type=Text)
    subject: str | None = Field(default=None, sa_type=Text)
    text: str | None = Field(default=None, sa_type=Text)
    data: dict[str, Any] | None = Field(default=None, sa_type=JSON)


class MessageItem(SQLModel, table=True):
    """An alert that a message tells of; `notice` is which telling of it this is, from 1."""

    __tablename__ = "alert_message_items"
    __table_args__ = (Index("message_items_of_alert", "alert_id"),)

    message_id: UUID = Field(primary_key=True, foreign_key="alert_messages.id")
    alert_id: UUID = Field(primary_key=True, foreign_key="alerts.id")
    notice: int


class AlertPlan(SQLModel, table=True):
    """How this station wants to be told (a single row with id 1).

    `handovers` and `stand_ins` are the duty rota as JSON. `mail_password` is never shown again.
    """

    __tablename__ = "alert_plan"
    __table_args__ = (
        CheckConstraint("id = 1", name="alert_plan_is_one"),
        CheckConstraint("(quiet_from IS NULL) = (quiet_until IS NULL)", name="alert_plan_quiet"),
        CheckConstraint(
            "mail_security IN ('starttls', 'tls', 'none')", name="alert_plan_mail_security"
        ),
    )

    id: int = Field(default=1, primary_key=True)
    digest_at: str = Field(default="07:00", max_length=5)
    quiet_from: str | None = Field(default=None, max_length=5)
    quiet_until: str | None = Field(default=None, max_length=5)
    straws_out_hours: int = 6
    run_out_days: int = 60
    outside_watch_url: str | None = Field(default=None, sa_type=Text)
    mail_host: str | None = Field(default=None, sa_type=Text)
    mail_port: int = 587
    mail_security: MailSecurity = Field(default="starttls", sa_type=Text)
    mail_username: str | None = Field(default=None, sa_type=Text)
    mail_password: str | None = Field(default=None, sa_type=Text)
    mail_sender: str | None = Field(default=None, sa_type=Text)
    handovers: list[dict[str, Any]] = Field(default_factory=list, sa_type=JSON)
    stand_ins: list[dict[str, Any]] = Field(default_factory=list, sa_type=JSON)


class WatchRun(SQLModel, table=True):
    """Who watches, and how that goes (a single row with id 1).

    Exactly one process holds the lease; one that does not renew it by `leased_until` is gone.
    `stopped_at` is set by an orderly stop. `gap` is the last time that nobody watched.
    """

    __tablename__ = "alert_watch"
    __table_args__ = (CheckConstraint("id = 1", name="alert_watch_is_one"),)

    id: int = Field(default=1, primary_key=True)
    holder: UUID | None = None
    holder_name: str | None = Field(default=None, sa_type=Text)
    leased_until: datetime | None = Field(default=None, sa_type=UtcMoment)
    last_run_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    last_run: dict[str, Any] | None = Field(default=None, sa_type=JSON)
    gap_from: datetime | None = Field(default=None, sa_type=UtcMoment)
    gap_until: datetime | None = Field(default=None, sa_type=UtcMoment)
    last_delivery_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    last_digest_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    last_check_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    last_ping_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    ping_failing_since: datetime | None = Field(default=None, sa_type=UtcMoment)
    ping_error: str | None = Field(default=None, sa_type=Text)


def plan_of(db: Session) -> AlertPlan:
    """How this station wants to be told; the usual way until a manager changes it."""
    return db.get(AlertPlan, 1) or AlertPlan(id=1)


def watch_of(db: Session) -> WatchRun:
    """How the watch goes."""
    return db.get(WatchRun, 1) or WatchRun(id=1)


def standing_alerts(db: Session) -> list[Alert]:
    """Every alert that is not closed, oldest first."""
    query = select(Alert).where(col(Alert.state) != "closed")
    return list(db.exec(query.order_by(col(Alert.opened_at), col(Alert.id))))


def page_of_alerts(
    db: Session, page: Page, *, state: State | None, kind: str | None
) -> list[Alert]:
    """Alerts, newest first, one more than the limit; without a state all that are not closed."""
    query = (
        select(Alert)
        .where(*page.older(col(Alert.opened_at), col(Alert.id)))
        .order_by(col(Alert.opened_at).desc(), col(Alert.id).desc())
        .limit(page.limit + 1)
    )
    query = query.where(col(Alert.state) == state if state else col(Alert.state) != "closed")
    if kind:
        query = query.where(col(Alert.kind) == kind)
    return list(db.exec(query))


def events_of(db: Session, alert_id: UUID) -> list[AlertEvent]:
    """The history of an alert, oldest first."""
    query = select(AlertEvent).where(AlertEvent.alert_id == alert_id)
    return list(db.exec(query.order_by(col(AlertEvent.at), col(AlertEvent.id))))


def channels(db: Session) -> list[Channel]:
    """Every channel, by name."""
    return list(db.exec(select(Channel).order_by(col(Channel.name))))


def channels_in_use(db: Session) -> list[Channel]:
    """Those that are not switched off, and not of somebody who left."""
    people = people_by_id(db)
    return [
        one
        for one in channels(db)
        if one.enabled and (one.person_id is None or one.person_id in people)
    ]


def people_by_id(db: Session) -> dict[UUID, User]:
    """Everybody who may sign in."""
    return {user.id: user for user in db.exec(select(User).where(col(User.disabled_at).is_(None)))}


def messages_of(db: Session, alert_ids: Collection[UUID]) -> dict[UUID, list[tuple[Any, ...]]]:
    """By alert: the messages that tell of it with their channel, oldest first."""
    found: dict[UUID, list[tuple[Any, ...]]] = {alert_id: [] for alert_id in alert_ids}
    for some in in_parts(alert_ids):
        rows = db.execute(
            sa_select(col(MessageItem.alert_id), Message, Channel.name)  # type: ignore[call-overload]
            .join(Message, col(Message.id) == col(MessageItem.message_id))
            .join(Channel, col(Channel.id) == col(Message.channel_id))
            .where(col(MessageItem.alert_id).in_(some))
            .order_by(col(Message.created_at), col(Message.id))
        )
        for alert_id, message, channel in rows:
            found[alert_id].append((message, channel))
    return found


def waiting(db: Session) -> list[Message]:
    """Messages that are not done, the most pressing first, then the oldest."""
    query = select(Message).where(col(Message.state).in_(("waiting", "sending")))
    found = list(db.exec(query.order_by(col(Message.created_at), col(Message.id))))
    return sorted(found, key=lambda one: PRIORITIES.index(one.priority))


def alerts_in(db: Session, message_id: UUID) -> list[Alert]:
    """The alerts that a message tells of, oldest first."""
    return list(
        db.exec(
            select(Alert)
            .join(MessageItem, col(MessageItem.alert_id) == col(Alert.id))
            .where(col(MessageItem.message_id) == message_id)
            .order_by(col(Alert.opened_at), col(Alert.id))
        )
    )


def newest_messages(db: Session, limit: int) -> Sequence[tuple[Message, str]]:
    """The newest messages with their channel's name."""
    rows = db.execute(
        sa_select(Message, Channel.name)  # type: ignore[call-overload]
        .join(Channel, col(Channel.id) == col(Message.channel_id))
        .order_by(col(Message.created_at).desc(), col(Message.id).desc())
        .limit(limit)
    )
    return [(message, name) for message, name in rows]


def message_counts(db: Session) -> dict[str, int]:
    """How many messages are in each state."""
    rows = db.execute(sa_select(col(Message.state), func.count()).group_by(col(Message.state)))
    return {state: int(count) for state, count in rows}


def is_marked(db: Session, mark: str) -> bool:
    """Whether a message with this mark was queued before."""
    return db.exec(select(Message.id).where(Message.mark == mark)).first() is not None
