"""Channels over HTTP: who is told by which way; each can be tried."""

import json
from datetime import datetime
from typing import Annotated, Literal
from uuid import UUID

from fastapi import Depends, Request, Response
from pydantic import BaseModel, Field, StrictStr
from sqlmodel import Session

from service.alerts import channels, rules, store
from service.alerts.addresses import AddressRefused
from service.alerts.channels import ChannelKind, NewChannel
from service.alerts.mail import BadMailbox
from service.alerts.push import PushRefused
from service.alerts.rules import Priority
from service.alerts.store import Channel
from service.alerts.wire import example
from service.alerts.worker import Worker as AlertWorker
from service.bank.shapes import answered_again, history_of, said, unsaid, with_version
from service.edge.asking import Anyone, Manager
from service.edge.fields import EventInput, Flag, Identifier, Input, Name
from service.edge.listing import AskedPage, Listing
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, act_now, once
from service.edge.transaction import Reading, Router, Writing
from service.edge.versions import ChangeOut, IfMatch, expect
from service.edge.wiring import wiring
from service.kernel.acts import Act
from service.kernel.errors import Stale, VersionMissing

router = Router(prefix="/api", tags=["alerts"])

Target = Annotated[
    StrictStr,
    Field(
        min_length=3,
        max_length=2_000,
        description="A mailbox, a webhook's https address, or a push address as Apprise reads it "
        "(with its key: never shown again).",
    ),
]
Priorities = Annotated[
    list[Priority],
    Field(max_length=3, description="Which alerts are sent this way, besides the summary."),
]


def _usual() -> list[Priority]:
    return ["critical", "medium"]


class ChannelIn(EventInput):
    """A way to reach somebody. Without `person_id` it is the station's own."""

    model_config = example(
        {
            "name": "Ilva by e-mail",
            "kind": "email",
            "target": "ilva@station.example",
            "person_id": "01937c5e-8a00-7000-8000-000000000001",
            "priorities": ["critical", "medium"],
            "digest": True,
        }
    )

    name: Name
    kind: ChannelKind
    target: Target
    person_id: Identifier | None = None
    priorities: Priorities = Field(default_factory=_usual)
    digest: Annotated[Flag, Field(description="Whether the daily summary is sent this way.")] = (
        False
    )
    enabled: Flag = True

    def new_channel(self) -> NewChannel:
        """As the actions take it."""
        return NewChannel(**{name: getattr(self, name) for name in NewChannel.__dataclass_fields__})


class ChannelChange(Input):
    """What is to change; what is left out stays. A new `target` replaces the old one whole."""

    name: Name = Field(default_factory=unsaid)
    target: Target = Field(default_factory=unsaid)
    person_id: Identifier | None = Field(default_factory=unsaid)
    priorities: Priorities = Field(default_factory=unsaid)
    digest: Flag = Field(default_factory=unsaid)
    enabled: Flag = Field(default_factory=unsaid)


class ChannelOut(BaseModel):
    """A channel. `target` is shown without anything that may be a key."""

    id: UUID
    name: str
    kind: ChannelKind
    target: str
    person_id: UUID | None
    person_name: str | None
    priorities: list[Priority]
    digest: bool
    enabled: bool
    state: Literal["untried", "working", "failing", "off"]
    failures: int
    failing_since: datetime | None
    last_error: str | None
    last_sent_at: datetime | None
    next_try_at: datetime | None


class NewChannelOut(ChannelOut):
    """A channel that was entered; a webhook's `secret` is shown this once."""

    secret: str | None = None


class SecretOut(BaseModel):
    """A webhook's new secret, shown this once; the one before is signed with until then, too."""

    secret: str
    secret_before_until: datetime | None


class TestOut(BaseModel):
    """What became of a test message."""

    state: Annotated[str, Field(description="sent, waiting (it will be tried again) or refused")]
    error: str | None
    at: datetime | None


def worker_of(request: Request) -> AlertWorker:
    """The worker of the app that serves this request."""
    found: AlertWorker = request.app.state.alerts
    return found


def _checked_new(request: Request, who: Manager, body: ChannelIn) -> ChannelIn:
    """Its address is looked up before anything waits for the book."""
    target = channels.checked(
        body.kind, body.target, private_allowed=worker_of(request).private_allowed
    )
    return body.model_copy(update={"target": target})


def _checked_change(
    request: Request, who: Manager, channel_id: UUID, body: ChannelChange
) -> ChannelChange:
    if "target" not in body.model_fields_set:
        return body
    with wiring(request).database.reading() as db:
        kind = channels.channel_of(db, channel_id).kind
    target = channels.checked(kind, body.target, private_allowed=worker_of(request).private_allowed)
    return body.model_copy(update={"target": target})


CheckedNew = Annotated[ChannelIn, Depends(_checked_new)]
CheckedChange = Annotated[ChannelChange, Depends(_checked_change)]

_OF_THE_WAY = (rules.BadChannel, rules.ChannelNameTaken, AddressRefused, BadMailbox, PushRefused)


def _out(db: Session, channel: Channel) -> ChannelOut:
    person = store.people_by_id(db).get(channel.person_id) if channel.person_id else None
    same = set(ChannelOut.model_fields) - {"target", "person_name", "state"}
    return ChannelOut(
        **channel.model_dump(include=same),
        target=channels.shown_target(channel),
        person_name=person and person.display_name,
        state=_state(channel),
    )


def _state(channel: Channel) -> Literal["untried", "working", "failing", "off"]:
    if not channel.enabled:
        return "off"
    if channel.failing_since is not None:
        return "failing"
    return "untried" if channel.last_sent_at is None else "working"


def _version(channel: ChannelOut) -> ChannelOut:
    """What the ETag is of: deliveries come and go while the record stays as it is."""
    return channel.model_copy(
        update={
            "state": "untried",
            "failures": 0,
            **dict.fromkeys(("failing_since", "last_error", "last_sent_at", "next_try_at")),
        }
    )


@router.get("/alert-channels", operation_id="list_alert_channels", summary="All channels")
def list_channels(who: Anyone, db: Reading) -> Listing[ChannelOut]:
    """Channels by name, with how the last messages went."""
    return Listing[ChannelOut](items=[_out(db, one) for one in store.channels(db)])


@router.post(
    "/alert-channels",
    operation_id="add_alert_channel",
    summary="Enter a channel",
    status_code=201,
    response_model=NewChannelOut,
    responses=answered_again(NewChannelOut) | problems(*_OF_THE_WAY, IdReused),
)
def add_channel(who: Manager, body: CheckedNew, db: Writing, asked: AskedOnce) -> Response:
    """A mailbox, a webhook or a phone. Send a test afterwards."""
    made: list[Channel] = []

    def do(act: Act) -> NewChannelOut:
        made.append(channels.add_channel(db, act, body.new_channel()))
        return NewChannelOut(**dict(_out(db, made[0])))

    answer = once(db, asked, who, body, do)
    if not made or made[0].secret is None:
        return answer
    # What is kept to be answered again has no secret in it.
    shown = json.loads(bytes(answer.body)) | {"secret": made[0].secret}
    return Response(json.dumps(shown), status_code=201, media_type="application/json")


@router.get(
    "/alert-channels/{channel_id}",
    operation_id="read_alert_channel",
    summary="One channel",
    responses=problems(rules.UnknownChannel),
)
def read_channel(who: Anyone, db: Reading, channel_id: UUID, response: Response) -> ChannelOut:
    """A channel; its ETag is what a change starts from."""
    found = _out(db, channels.channel_of(db, channel_id))
    return with_version(found, _version(found), response)


@router.patch(
    "/alert-channels/{channel_id}",
    operation_id="change_alert_channel",
    summary="Change a channel",
    responses=problems(rules.UnknownChannel, Stale, VersionMissing, *_OF_THE_WAY),
)
def change_channel(
    who: Manager,
    body: CheckedChange,
    db: Writing,
    channel_id: UUID,
    asked: AskedOnce,
    response: Response,
    if_match: IfMatch = None,
) -> ChannelOut:
    """Change what is given; `enabled: false` takes it out of use. Old values stay readable."""
    channel = channels.channel_of(db, channel_id)
    expect(_version(_out(db, channel)), if_match)
    channels.change_channel(db, act_now(asked, who), channel, said(body))
    now = _out(db, channel)
    return with_version(now, _version(now), response)


@router.post(
    "/alert-channels/{channel_id}/secret",
    operation_id="renew_alert_channel_secret",
    summary="A new secret for a webhook",
    status_code=201,
    responses=problems(rules.UnknownChannel, rules.BadChannel),
)
def renew_secret(who: Manager, db: Writing, channel_id: UUID, asked: AskedOnce) -> SecretOut:
    """Shown this once. For a day messages are signed with both, the new one and the one before."""
    channel = channels.channel_of(db, channel_id)
    secret = channels.renew_secret(db, act_now(asked, who), channel)
    return SecretOut(secret=secret, secret_before_until=channel.secret_before_until)


@router.get(
    "/alert-channels/{channel_id}/changes",
    operation_id="read_alert_channel_changes",
    summary="What a channel's record said before",
    responses=problems(rules.UnknownChannel),
)
def read_channel_changes(
    who: Anyone, db: Reading, channel_id: UUID, page: AskedPage
) -> Listing[ChangeOut]:
    """Every change, newest first; without addresses that may hold a key."""
    return history_of(db, channels.RECORD, channels.channel_of(db, channel_id).id, page)


@router.post(
    "/alert-channels/{channel_id}/test",
    operation_id="test_alert_channel",
    summary="Send a test",
    responses=problems(rules.UnknownChannel),
)
def test_channel(request: Request, who: Manager, channel_id: UUID) -> TestOut:
    """Sends a message at once, whatever the channel's state, and says what became of it."""
    return TestOut(**worker_of(request).test(channel_id, by=who.display_name))
