"""The life of an alert: a state that follows from four facts, and what each event makes of them.

The states are those of ISA-18.2 and OPC UA part 9 (from memory) under plain names; the one that is
easily forgotten is `cleared-unseen`: it came and went, and nobody looked. Pure.
"""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

from service.alerts.rules import Card, Finding, Priority, State, rank

#: What happened to an alert, as its history says it.
What = Literal[
    "opened",
    "cleared",
    "came-back",
    "worse",
    "told-again",
    "acknowledged",
    "shelved",
    "taken-down",
    "shelf-ended",
    "inspected",
    "told",
    "closed",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How an alert stands.

    `true`: its condition is met; `seen`: somebody acknowledged it; `inspect`: somebody still has to
    look at the thing itself. `false_since` is when the condition was last met, while it waits for
    `off_delay`; `again_at` is when an acknowledged one is told again.
    """

    priority: Priority
    true: bool = True
    seen: bool = False
    inspect: bool = False
    shelved_until: datetime | None = None
    false_since: datetime | None = None
    again_at: datetime | None = None
    over: bool = False

    @property
    def state(self) -> State:
        """The contract's word for it."""
        if self.over:
            return "closed"
        if self.shelved_until is not None:
            return "shelved"
        if self.seen:
            return "acknowledged"
        return "open" if self.true else "cleared-unseen"

    @property
    def asks(self) -> bool:
        """Whether it wants somebody's attention now."""
        return self.state == "open"


Changed = tuple[Standing, tuple[What, ...]]
"""How it stands afterwards, and what is to be said about that in its history."""


def opened(finding: Finding) -> Changed:
    """A new alert."""
    return Standing(priority=finding.priority, inspect=finding.inspect), ("opened",)


def looked_at(standing: Standing, finding: Finding | None, card: Card, now: datetime) -> Changed:
    """The condition was looked at again; `finding` is None when it is not met."""
    if standing.over:
        return standing, ()
    standing, said = _shelf(standing, now)
    standing, more = _still_true(standing, finding) if finding else _gone(standing, card, now)
    standing, last = _again(standing, now)
    ended, closing = _ended(standing)
    return ended, (*said, *more, *last, *closing)


def _shelf(standing: Standing, now: datetime) -> Changed:
    if standing.shelved_until is None or now < standing.shelved_until:
        return standing, ()
    return replace(standing, shelved_until=None), ("shelf-ended",)


def _still_true(standing: Standing, finding: Finding) -> Changed:
    said: tuple[What, ...] = ()
    inspect = standing.inspect or finding.inspect
    if rank(finding.priority) < rank(standing.priority):
        # What was seen or put aside was something smaller.
        standing = replace(standing, seen=False, shelved_until=None, again_at=None)
        said = ("worse",)
    if not standing.true:
        if not finding.opens:
            return standing, said
        said = (*said, "came-back")
    return (
        replace(standing, priority=finding.priority, true=True, false_since=None, inspect=inspect),
        said,
    )


def _gone(standing: Standing, card: Card, now: datetime) -> Changed:
    if not standing.true:
        return standing, ()
    since = standing.false_since or now
    if now - since < card.off_delay:
        return replace(standing, false_since=since), ()
    return replace(standing, true=False, false_since=None, again_at=None), ("cleared",)


def _again(standing: Standing, now: datetime) -> Changed:
    due = standing.again_at is not None and standing.again_at <= now
    if not (due and standing.true and standing.seen):
        return standing, ()
    return replace(standing, seen=False, again_at=None), ("told-again",)


def _ended(standing: Standing) -> Changed:
    """Over is what is not met any more and was seen; what is low needs nobody to look."""
    waits = standing.inspect or (not standing.seen and standing.priority != "low")
    if standing.true or waits or standing.shelved_until is not None:
        return standing, ()
    return replace(standing, over=True), ("closed",)


def acknowledged(standing: Standing, card: Card, now: datetime) -> Changed:
    """Somebody has seen it and takes care of it; it is taken down from the shelf by that."""
    again_at = now + card.again_after if card.again_after and standing.true else None
    seen = replace(standing, seen=True, shelved_until=None, again_at=again_at)
    ended, closing = _ended(seen)
    return ended, ("acknowledged", *closing)


def shelved(standing: Standing, until: datetime) -> Changed:
    """Put aside until then."""
    return replace(standing, shelved_until=until), ("shelved",)


def taken_down(standing: Standing) -> Changed:
    """Not put aside any more."""
    ended, closing = _ended(replace(standing, shelved_until=None))
    return ended, ("taken-down", *closing)


def inspected(standing: Standing) -> Changed:
    """Somebody looked at the thing itself; who does that has seen the alert, too."""
    ended, closing = _ended(replace(standing, inspect=False, seen=True, shelved_until=None))
    return ended, ("inspected", *closing)
