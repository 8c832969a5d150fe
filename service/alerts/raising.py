"""What was found becomes alerts, and alerts that ask for somebody become messages that wait.

All in one transaction of the caller: an alert that is in the book has its messages in it, too.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.alerts import life, outbox, store
from service.alerts.cards import CARDS
from service.alerts.life import Standing, What
from service.alerts.rules import Finding
from service.alerts.store import Alert, AlertEvent

About = tuple[str, str]

_STANDING = ("priority", "seen", "inspect", "shelved_until", "false_since", "again_at")


@dataclass(frozen=True, slots=True)
class Raised:
    """What a look changed."""

    opened: int = 0
    changed: int = 0
    closed: int = 0
    messages: int = 0


def raise_alerts(
    db: Session,
    findings: Sequence[Finding],
    *,
    now: datetime,
    new_id: Callable[[], UUID],
) -> Raised:
    """Bring the alerts in line with what is the case, and queue what is to be told of them."""
    found = without_children(findings)
    standing = {(alert.kind, alert.subject_key): alert for alert in store.standing_alerts(db)}
    opened = changed = closed = 0
    for about, alert in standing.items():
        said = look_again(db, alert, found.get(about), now=now, new_id=new_id)
        changed += bool(said)
        closed += "closed" in said
    for about, finding in found.items():
        if about not in standing and finding.opens:
            standing[about] = _open(db, finding, now=now, new_id=new_id)
            opened += 1
    silent = {finding.about for finding in findings} - {
        finding.about for finding in found.values() if finding.opens
    }
    asking = [alert for about, alert in standing.items() if about not in silent]
    messages = outbox.queue_notices(db, asking, now=now, new_id=new_id)
    return Raised(opened, changed, closed, messages)


def without_children(findings: Sequence[Finding]) -> dict[About, Finding]:
    """What was found, by what it is about; what a parent stands for opens no alert of its own."""
    by_about = {finding.about: finding for finding in findings}
    return {
        about: _quiet(finding) if _has_parent(finding, by_about) else finding
        for about, finding in by_about.items()
    }


def _has_parent(finding: Finding, found: Mapping[About, Finding]) -> bool:
    parents = CARDS[finding.kind].parents
    return any((parent, finding.subject.key) in found for parent in parents)


def _quiet(finding: Finding) -> Finding:
    return Finding(
        kind=finding.kind,
        subject=finding.subject,
        priority=finding.priority,
        words=finding.words,
        facts=finding.facts,
        opens=False,
    )


def _open(db: Session, finding: Finding, *, now: datetime, new_id: Callable[[], UUID]) -> Alert:
    standing, said = life.opened(finding)
    alert = Alert(
        id=new_id(),
        kind=finding.kind,
        subject_kind=finding.subject.kind,
        subject_key=finding.subject.key,
        subject=finding.subject.name,
        priority=standing.priority,
        state=standing.state,
        words=finding.words,
        facts=dict(finding.facts),
        opened_at=now,
        inspect=standing.inspect,
        tell_at=now,
    )
    db.add(alert)
    db.flush()
    note_all(db, alert, said, at=now, new_id=new_id)
    return alert


def look_again(
    db: Session,
    alert: Alert,
    finding: Finding | None,
    *,
    now: datetime,
    new_id: Callable[[], UUID],
) -> tuple[What, ...]:
    """Bring one alert in line with what was found of its condition."""
    standing, said = life.looked_at(standing_of(alert), finding, CARDS[alert.kind], now)
    keep(alert, standing, said, now=now)
    if finding is not None:
        # Written only where it says something else: an unchanged row is not written at all.
        if alert.words != finding.words:
            alert.words = finding.words
        if alert.facts != dict(finding.facts):
            alert.facts = dict(finding.facts)
        if alert.subject != finding.subject.name:
            alert.subject = finding.subject.name
    db.add(alert)
    note_all(db, alert, said, at=now, new_id=new_id)
    return said


def standing_of(alert: Alert) -> Standing:
    """What its row says, as the rules take it."""
    facts = {name: getattr(alert, name) for name in _STANDING}
    return Standing(**facts, true=alert.is_true, over=alert.state == "closed")


def keep(alert: Alert, standing: Standing, said: Sequence[What], *, now: datetime) -> None:
    """Write down how it stands."""
    facts = {name: getattr(standing, name) for name in _STANDING}
    facts |= {"is_true": standing.true, "state": standing.state}
    for name, value in facts.items():
        if getattr(alert, name) != value:
            setattr(alert, name, value)
    if "cleared" in said:
        alert.cleared_at = now
    if "came-back" in said:
        alert.cleared_at = None
        alert.times += 1
    if "worse" in said or "told-again" in said:
        alert.acknowledged_at = alert.acknowledged_by = alert.acknowledged_by_id = None
        alert.told, alert.tell_at = 0, now
    if standing.shelved_until is None:
        alert.shelved_by = alert.shelf_reason = None
    if standing.over:
        alert.closed_at, alert.tell_at = now, None


def note_all(
    db: Session,
    alert: Alert,
    said: Sequence[What],
    *,
    at: datetime,
    new_id: Callable[[], UUID],
    by: tuple[UUID, str] | None = None,
    note: str | None = None,
) -> None:
    """Add to an alert's history; what a person said stands beside their own act only."""
    for number, what in enumerate(said):
        theirs = by is not None and number == 0
        db.add(
            AlertEvent(
                id=new_id(),
                alert_id=alert.id,
                at=at,
                what=what,
                by_id=by[0] if theirs and by else None,
                by_name=by[1] if theirs and by else None,
                note=note if theirs else (alert.words if what in _SAYS_WHAT else None),
            )
        )


#: What was the case then is kept beside these; the alert itself says what is the case now.
_SAYS_WHAT = frozenset({"opened", "worse", "came-back", "told-again"})
