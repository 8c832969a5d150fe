"""The words of alerts, and what is refused. Pure: no HTTP, no database, no clock."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Literal, get_args

from service.kernel.acts import Role
from service.kernel.errors import Conflict, Invalid, Unknown

Priority = Literal["critical", "medium", "low"]
#: The most pressing first.
PRIORITIES: tuple[Priority, ...] = get_args(Priority)

State = Literal["open", "acknowledged", "cleared-unseen", "shelved", "closed"]
STATES: tuple[State, ...] = get_args(State)

Kind = Literal[
    "low-nitrogen",
    "nitrogen-loss-rising",
    "minimum-before-top-up",
    "level-overdue",
    "top-up-due",
    "low-stock",
    "run-out-forecast",
    "hold-ended",
    "straws-out-too-long",
    "stock-difference",
    "backup-overdue",
    "ledger-not-sound",
    "service-heartbeat",
    "disk-filling",
    "delivery-failing",
]
KINDS: tuple[Kind, ...] = get_args(Kind)

SubjectKind = Literal["tank", "stallion", "batch", "withdrawal", "stock-take", "channel", "service"]

#: Shelving is for a known nuisance, not for good (24 h: practice guidance on ISA-18.2).
LONGEST_SHELF = timedelta(hours=24)


def rank(priority: Priority) -> int:
    """0 for the most pressing."""
    return PRIORITIES.index(priority)


@dataclass(frozen=True, slots=True)
class Subject:
    """What an alert is about; `key` is the same for as long as the thing is."""

    kind: SubjectKind
    key: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A condition that is true of a subject now.

    `words` say so in a sentence. With `opens` False it only keeps an alert that is open: a value
    between the limit and the point where it is well again. `inspect`: somebody has to look at the
    thing itself before the alert may end, however the figures go on.
    """

    kind: Kind
    subject: Subject
    priority: Priority
    words: str
    facts: Mapping[str, Any] = field(default_factory=dict)
    opens: bool = True
    inspect: bool = False

    @property
    def about(self) -> tuple[str, str]:
        """The one condition that this is: there is one alert of it at a time."""
        return self.kind, self.subject.key


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """What a kind of alert asks of a person. A kind without one does not start.

    `owner` is whose job it is. The condition has to be gone for `off_delay` before it counts as
    gone. An alert that was acknowledged and is still
    true is told again after `again_after`. While an alert of one of `parents` stands for the same
    subject, this one is not told.
    """

    title: str
    priority: Priority
    owner: Role
    means: str
    what_to_do: Sequence[str]
    how_long: str
    again_after: timedelta | None = None
    off_delay: timedelta = timedelta(0)
    parents: Sequence[Kind] = ()
    caution: str | None = None
    critical_title: str | None = None

    def title_at(self, priority: Priority) -> str:
        """What it is called when it is that pressing."""
        return self.critical_title or self.title if priority == "critical" else self.title


class UnknownAlert(Unknown):
    """No such alert."""

    code = "unknown-alert"
    title = "There is no such alert"


class AlertClosed(Conflict):
    """It is over."""

    code = "alert-closed"
    title = "This alert is closed"


class NeverShelved(Conflict):
    """What may cost straws within hours is not put aside."""

    code = "never-shelved"
    title = "A critical alert is not shelved"


class BadShelf(Invalid):
    """Shelved until a moment that cannot be, or for too long."""

    code = "bad-shelf"
    title = "It cannot be shelved until then"


class NotShelved(Conflict):
    """There is nothing to take down."""

    code = "not-shelved"
    title = "This alert is not shelved"


class NothingToInspect(Conflict):
    """This alert asks for no inspection."""

    code = "nothing-to-inspect"
    title = "This alert asks for no inspection"


class UnknownChannel(Unknown):
    """No such channel."""

    code = "unknown-channel"
    title = "There is no such channel"


class ChannelNameTaken(Conflict):
    """Two channels of one name cannot be told apart."""

    code = "channel-name-taken"
    title = "Another channel has this name"


class BadChannel(Invalid):
    """A channel that could never deliver."""

    code = "bad-channel"
    title = "This channel cannot be so"


class CannotBeTold(Conflict):
    """Somebody on duty whom no channel reaches."""

    code = "cannot-be-told"
    title = "No channel reaches this person"


class NoOutsideWatch(Conflict):
    """No outside address is set."""

    code = "no-outside-watch"
    title = "No outside watch is set"


def check_shelf(priority: Priority, *, until: datetime, now: datetime) -> None:
    """Raise NeverShelved for a critical alert, BadShelf for a moment that is past or too far."""
    if priority == "critical":
        raise NeverShelved(
            "Critical alerts may cost straws within hours: acknowledge it, and do what it says."
        )
    hours = LONGEST_SHELF // timedelta(hours=1)
    if not now < until <= now + LONGEST_SHELF:
        message = f"choose a moment within the next {hours} hours"
        raise BadShelf(
            f"An alert is shelved for {hours} hours at most. Shelve it again tomorrow if need be.",
            errors=[{"field": "until", "message": message}],
            latest=now + LONGEST_SHELF,
        )
