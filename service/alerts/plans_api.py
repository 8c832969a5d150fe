"""How this station wants to be told, over HTTP: settings, the duty rota, the daily summary."""

import re
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Annotated, Any, Literal
from uuid import UUID
from zoneinfo import ZoneInfo

from fastapi import Depends, Request, Response
from pydantic import AfterValidator, BaseModel, Field, StrictInt, StrictStr
from sqlmodel import Session

from service.alerts import digest, duty, outbox, plans, rules, store
from service.alerts.addresses import AddressRefused
from service.alerts.channels_api import Target, worker_of
from service.alerts.mail import BadMailbox
from service.alerts.rota import rota_of
from service.alerts.store import AlertPlan
from service.alerts.wire import example
from service.alerts.worker import Worker as AlertWorker
from service.bank.shapes import history_of, said, unsaid
from service.bank.store import station_of
from service.edge.asking import Anyone, Manager
from service.edge.fields import EventInput, Identifier, Input, Moment
from service.edge.listing import AskedPage, Listing
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, act_now, once
from service.edge.transaction import Reading, Router, Writing
from service.edge.versions import ChangeOut, IfMatch, expect, versioned
from service.edge.wiring import wiring
from service.kernel import clock
from service.kernel.acts import Act
from service.kernel.errors import Stale, VersionMissing

router = Router(prefix="/api", tags=["alerts"])


def _clock_time(text: str) -> str:
    if not re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", text, re.ASCII):
        raise ValueError("must be a time like 07:00")
    return text


ClockTime = Annotated[
    StrictStr,
    Field(max_length=5, description="On the station's clock, `07:00`."),
    AfterValidator(_clock_time),
]
Security = Literal["starttls", "tls", "none"]

#: So many days of shifts are shown.
_SHIFT_DAYS = 14


class SettingsChange(Input):
    """What is to change; what is left out stays. `mail_password` is never shown again."""

    model_config = example({"digest_at": "07:00", "quiet_from": "22:00", "quiet_until": "06:30"})

    digest_at: ClockTime = Field(default_factory=unsaid)
    quiet_from: ClockTime | None = Field(default_factory=unsaid)
    quiet_until: ClockTime | None = Field(default_factory=unsaid)
    straws_out_hours: Annotated[StrictInt, Field(ge=1, le=168)] = Field(default_factory=unsaid)
    run_out_days: Annotated[StrictInt, Field(ge=1, le=730)] = Field(default_factory=unsaid)
    outside_watch_url: Target | None = Field(default_factory=unsaid)
    mail_host: Annotated[StrictStr, Field(min_length=1, max_length=253)] | None = Field(
        default_factory=unsaid
    )
    mail_port: Annotated[StrictInt, Field(ge=1, le=65535)] = Field(default_factory=unsaid)
    mail_security: Security = Field(default_factory=unsaid)
    mail_username: Annotated[StrictStr, Field(min_length=1, max_length=320)] | None = Field(
        default_factory=unsaid
    )
    mail_password: Annotated[StrictStr, Field(max_length=500)] | None = Field(
        default_factory=unsaid
    )
    mail_sender: Annotated[StrictStr, Field(max_length=320)] | None = Field(default_factory=unsaid)


class SettingsOut(BaseModel):
    """How this station wants to be told."""

    digest_at: str
    quiet_from: str | None
    quiet_until: str | None
    straws_out_hours: int
    run_out_days: int
    outside_watch_url: str | None
    mail_host: str | None
    mail_port: int
    mail_security: Security
    mail_username: str | None
    mail_password_set: bool
    mail_sender: str | None


class HandoverIn(Input):
    """From then on, every week, this person is on duty."""

    weekday: Annotated[StrictInt, Field(ge=0, le=6, description="Monday is 0.")]
    at: ClockTime
    person_id: Identifier
    second_id: Identifier | None = None


class StandInIn(Input):
    """Between these moments somebody else is on duty."""

    starts_at: Moment
    ends_at: Moment
    person_id: Identifier
    second_id: Identifier | None = None


class DutyChange(Input):
    """The rota as it is to be; each list replaces the one before."""

    handovers: Annotated[list[HandoverIn], Field(max_length=200)] = Field(default_factory=unsaid)
    stand_ins: Annotated[list[StandInIn], Field(max_length=200)] = Field(default_factory=unsaid)


class HandoverOut(BaseModel):
    """A weekly handover."""

    weekday: int
    at: str
    person_id: UUID
    second_id: UUID | None


class StandInOut(BaseModel):
    """Somebody stands in."""

    starts_at: datetime
    ends_at: datetime
    person_id: UUID
    second_id: UUID | None


class DutyOut(BaseModel):
    """The rota: the last handover holds until the next one, round the week, so it has no gap."""

    handovers: list[HandoverOut]
    stand_ins: list[StandInOut]


class ShiftOut(BaseModel):
    """Who is on duty from then until then."""

    starts_at: datetime
    ends_at: datetime
    person_id: UUID
    person_name: str | None
    second_id: UUID | None
    second_name: str | None


class DigestIn(EventInput):
    """Send the summary of now."""


class DigestOut(BaseModel):
    """The daily summary as it would be sent now."""

    subject: str
    text: str
    data: dict[str, Any]


class QueuedOut(BaseModel):
    """To how many channels it goes."""

    channels: int


class PingOut(BaseModel):
    """Whether the outside watch could be reached."""

    reached: bool
    error: str | None


def _checked(request: Request, who: Manager, body: SettingsChange) -> dict[str, Any]:
    """The changes; an address is looked up before anything waits for the book."""
    private = worker_of(request).private_allowed
    return plans.checked_addresses(said(body), private_allowed=private)


CheckedChanges = Annotated[dict[str, Any], Depends(_checked)]


def _settings(plan: AlertPlan) -> SettingsOut:
    return SettingsOut(**plans.plan_facts(plan))


def _rota(plan: AlertPlan) -> DutyOut:
    return DutyOut.model_validate({"handovers": plan.handovers, "stand_ins": plan.stand_ins})


@router.get("/alert-settings", operation_id="read_alert_settings", summary="How alerts are told")
def read_settings(who: Anyone, db: Reading, response: Response) -> SettingsOut:
    """Times, limits and the mail server; its ETag is what a change starts from."""
    return versioned(_settings(store.plan_of(db)), response)


@router.patch(
    "/alert-settings",
    operation_id="change_alert_settings",
    summary="Change how alerts are told",
    responses=problems(Stale, VersionMissing, duty.BadQuietHours, AddressRefused, BadMailbox),
)
def change_settings(
    who: Manager,
    changes: CheckedChanges,
    db: Writing,
    asked: AskedOnce,
    response: Response,
    if_match: IfMatch = None,
) -> SettingsOut:
    """Change what is given; old values stay in the history, passwords never."""
    expect(_settings(store.plan_of(db)), if_match)
    plan = plans.change_plan(db, act_now(asked, who), changes)
    return versioned(_settings(plan), response)


@router.get(
    "/alert-settings/changes",
    operation_id="read_alert_settings_changes",
    summary="What the settings said before",
)
def read_settings_changes(who: Anyone, db: Reading, page: AskedPage) -> Listing[ChangeOut]:
    """Every change, newest first."""
    return history_of(db, plans.PLAN, plans.PLAN_ID, page)


@router.post(
    "/alert-settings/outside-watch/test",
    operation_id="test_outside_watch",
    summary="Ping the outside watch",
    responses=problems(rules.NoOutsideWatch),
)
def test_outside_watch(request: Request, who: Manager) -> PingOut:
    """Calls its address at once, as happens every five minutes while all is well."""
    with wiring(request).database.reading() as db:
        url = store.plan_of(db).outside_watch_url
    if url is None:
        raise rules.NoOutsideWatch("Enter its address in the settings first.")
    error = worker_of(request).ping(url)
    return PingOut(reached=error is None, error=error)


@router.get("/duty", operation_id="read_duty", summary="The duty rota")
def read_duty(who: Anyone, db: Reading, response: Response) -> DutyOut:
    """Weekly handovers and who stands in; its ETag is what a change starts from."""
    return versioned(_rota(store.plan_of(db)), response)


@router.patch(
    "/duty",
    operation_id="change_duty",
    summary="Change the duty rota",
    responses=problems(Stale, VersionMissing, rules.CannotBeTold, duty.BadRota),
)
def change_duty(
    who: Manager,
    db: Writing,
    body: DutyChange,
    asked: AskedOnce,
    response: Response,
    if_match: IfMatch = None,
) -> DutyOut:
    """Everybody in it has to be reached by a channel that takes critical alerts."""
    expect(_rota(store.plan_of(db)), if_match)
    changes = {name: [_kept(one) for one in rows] for name, rows in said(body).items()}
    return versioned(_rota(plans.change_rota(db, act_now(asked, who), changes)), response)


def _kept(row: BaseModel | Mapping[str, Any]) -> dict[str, Any]:
    facts = dict(row)
    return {
        name: clock.as_text(value) if isinstance(value, datetime) else _plain(value)
        for name, value in facts.items()
    }


def _plain(value: object) -> object:
    return str(value) if isinstance(value, UUID) else value


@router.get("/duty/changes", operation_id="read_duty_changes", summary="What the rota said before")
def read_duty_changes(who: Anyone, db: Reading, page: AskedPage) -> Listing[ChangeOut]:
    """Every change, newest first."""
    return history_of(db, plans.DUTY, plans.PLAN_ID, page)


@router.get("/duty/shifts", operation_id="read_shifts", summary="Who is on duty when")
def read_shifts(request: Request, who: Anyone, db: Reading) -> Listing[ShiftOut]:
    """The shifts of the next two weeks, the one of now first; none without a rota."""
    now = wiring(request).clock()
    zone = ZoneInfo(station_of(db).time_zone)
    names = {id: user.display_name for id, user in store.people_by_id(db).items()}
    found = duty.shifts(rota_of(store.plan_of(db)), now, now + timedelta(days=_SHIFT_DAYS), zone)
    return Listing[ShiftOut](items=[_shift(one, names) for one in found])


def _shift(shift: duty.Shift, names: Mapping[UUID, str]) -> ShiftOut:
    second = shift.second_id
    return ShiftOut(
        starts_at=shift.starts_at,
        ends_at=shift.ends_at,
        person_id=shift.person_id,
        person_name=names.get(shift.person_id),
        second_id=second,
        second_name=names.get(second) if second else None,
    )


@router.get("/alert-digest", operation_id="read_alert_digest", summary="The daily summary, of now")
def read_digest(request: Request, who: Anyone, db: Reading) -> DigestOut:
    """What the summary says at this moment; it is sent once a day, also when all is well."""
    words = digest.compose(db, worker_of(request).machine, now=wiring(request).clock())
    return DigestOut(subject=words.subject, text=words.text, data=dict(words.data))


@router.post(
    "/alert-digest",
    operation_id="send_alert_digest",
    summary="Send the summary now",
    status_code=201,
    response_model=QueuedOut,
    responses=problems(IdReused),
)
def send_digest(
    request: Request, who: Manager, db: Writing, asked: AskedOnce, body: DigestIn = DigestIn()
) -> Response:
    """Besides the daily one, to every channel that takes it."""

    def do(act: Act) -> QueuedOut:
        return QueuedOut(channels=_queue_digest(db, act, worker_of(request)))

    return once(db, asked, who, body, do)


def _queue_digest(db: Session, act: Act, worker: AlertWorker) -> int:
    words = digest.compose(db, worker.machine, now=act.recorded_at)
    wanting = [one for one in store.channels_in_use(db) if one.digest]
    for channel in wanting:
        outbox.queue_settled(
            db, channel, kind="digest", letter=words, now=act.recorded_at, new_id=act.new_id
        )
    return len(wanting)
