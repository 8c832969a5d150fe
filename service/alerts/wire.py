"""What the routes of alerts take and answer."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Annotated, Any
from uuid import UUID

from pydantic import BaseModel, ConfigDict, Field

from service.alerts.cards import CARDS
from service.alerts.rules import Priority, State
from service.alerts.store import Alert, AlertEvent, Message
from service.edge.fields import EventInput, Identifier, Moment, Reason
from service.kernel.acts import Role


def example(values: dict[str, Any]) -> ConfigDict:
    """An example for the API's description."""
    return ConfigDict(json_schema_extra={"examples": [values]})


class AcknowledgeIn(EventInput):
    """Somebody takes care of it."""

    model_config = example({"note": "On my way to the cold store"})

    note: Reason | None = None


class AcknowledgeAllIn(EventInput):
    """Several at once."""

    ids: Annotated[list[Identifier], Field(min_length=1, max_length=500)]
    note: Reason | None = None


class ShelveIn(EventInput):
    """Put it aside until then, at most for a day, and say why."""

    model_config = example(
        {"until": "2026-03-04T07:00:00Z", "reason": "The delivery comes tomorrow morning"}
    )

    until: Moment
    reason: Reason


class TakeDownIn(EventInput):
    """Put it aside no longer."""

    note: Reason | None = None


class InspectionIn(EventInput):
    """What somebody found who looked at the thing itself."""

    model_config = example({"found": "Upper goblets above the liquid for an hour; batches on hold"})

    found: Reason


class CardOut(BaseModel):
    """What a kind of alert means, and what to do."""

    kind: str
    title: str
    priority: Priority
    owner: Role
    means: str
    what_to_do: Sequence[str]
    how_long: str
    caution: str | None


class DeliveredOut(BaseModel):
    """A message that tells of an alert."""

    channel: str
    state: Annotated[
        str, Field(description="waiting, sending, sent, refused, given-up or not-needed")
    ]
    at: datetime | None
    attempts: int


class AlertOut(BaseModel):
    """An alert. `words` say what is the case, `what_to_do` what its card asks for."""

    id: UUID
    kind: str
    priority: Priority
    title: str
    subject: str
    subject_kind: str
    subject_id: str
    words: str
    opened_at: datetime
    state: State
    what_to_do: str
    owner: Role
    facts: dict[str, Any]
    times: Annotated[int, Field(description="How often it came back since it was opened, from 1.")]
    cleared_at: datetime | None
    acknowledged_at: datetime | None
    acknowledged_by: str | None
    acknowledged_by_id: UUID | None
    shelved_until: datetime | None
    shelved_by: str | None
    shelf_reason: str | None
    inspection_needed: bool
    tell_at: datetime | None
    closed_at: datetime | None
    delivered: list[DeliveredOut]


class HappenedOut(BaseModel):
    """Something in an alert's history; `by` is null for the service itself."""

    at: datetime
    what: str
    by: str | None
    note: str | None


class OneAlertOut(AlertOut):
    """An alert with its card and history."""

    card: CardOut
    history: list[HappenedOut]


def card_out(kind: str) -> CardOut:
    """The card of a kind."""
    card = CARDS[kind]
    return CardOut(
        kind=kind,
        title=card.title,
        priority=card.priority,
        owner=card.owner,
        means=card.means,
        what_to_do=card.what_to_do,
        how_long=card.how_long,
        caution=card.caution,
    )


_SAME = (
    *("id", "kind", "priority", "subject", "subject_kind", "words", "opened_at", "state", "times"),
    *(
        "cleared_at",
        "acknowledged_at",
        "acknowledged_by",
        "acknowledged_by_id",
        "shelved_until",
        "shelved_by",
    ),
    *("shelf_reason", "tell_at", "closed_at"),
)

#: Under which name the subject's id stands among the facts.
_ID_FACTS = frozenset({"tank", "stallion", "batch", "withdrawal", "stock-take", "channel"})


def alert_facts(alert: Alert, told: Sequence[tuple[Message, str]]) -> dict[str, Any]:
    """The fields of `AlertOut`."""
    card = CARDS[alert.kind]
    subject = {f"{alert.subject_kind.replace('-', '_')}_id": alert.subject_key}
    return {
        **{name: getattr(alert, name) for name in _SAME},
        "title": card.title_at(alert.priority),
        "subject_id": alert.subject_key,
        "what_to_do": " ".join(card.what_to_do),
        "owner": card.owner,
        "facts": alert.facts | (subject if alert.subject_kind in _ID_FACTS else {}),
        "inspection_needed": alert.inspect,
        "delivered": [
            DeliveredOut(
                channel=channel,
                state=message.state,
                at=message.sent_at,
                attempts=message.attempts,
            )
            for message, channel in told
        ],
    }


def happened(event: AlertEvent) -> HappenedOut:
    """One line of the history."""
    return HappenedOut(at=event.at, what=event.what, by=event.by_name, note=event.note)


def alert_out(alert: Alert, told: Mapping[UUID, Sequence[tuple[Message, str]]]) -> AlertOut:
    """An alert as a list shows it."""
    return AlertOut(**alert_facts(alert, told[alert.id]))
