"""What people do with alerts: acknowledge, shelve, inspect. Inside the caller's transaction."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.alerts import life, raising, rules
from service.alerts.cards import CARDS
from service.alerts.life import Changed
from service.alerts.store import Alert
from service.kernel.acts import Act


def alert_of(db: Session, alert_id: UUID) -> Alert:
    """The alert. Raises UnknownAlert."""
    alert = db.get(Alert, alert_id)
    if alert is None:
        raise rules.UnknownAlert("No alert has this id. Choose one of the list.", id=alert_id)
    return alert


def acknowledge(db: Session, act: Act, alert: Alert, note: str | None) -> None:
    """Somebody takes care of it: nobody is told any more while it stays as it is.

    A second person's acknowledgement is kept in the history; the first one's name stays. Raises
    AlertClosed.
    """
    _refuse_closed(alert)
    standing = raising.standing_of(alert)
    if not standing.seen:
        _take(act, alert)
    changed = life.acknowledged(standing, CARDS[alert.kind], act.recorded_at)
    _keep(db, act, alert, changed, note)


def acknowledge_all(
    db: Session, act: Act, alert_ids: Sequence[UUID], note: str | None
) -> list[Alert]:
    """Acknowledge these; what is closed or seen already is passed over. Raises UnknownAlert."""
    alerts = [alert_of(db, alert_id) for alert_id in dict.fromkeys(alert_ids)]
    for alert in alerts:
        if alert.state in ("open", "cleared-unseen", "shelved"):
            acknowledge(db, act, alert, note)
    return alerts


def shelve(db: Session, act: Act, alert: Alert, until: datetime, reason: str) -> None:
    """Put it aside. Raises AlertClosed, NeverShelved, BadShelf."""
    _refuse_closed(alert)
    rules.check_shelf(alert.priority, until=until, now=act.recorded_at)
    changed = life.shelved(raising.standing_of(alert), until)
    alert.shelved_by, alert.shelf_reason = act.by.display_name, reason
    _keep(db, act, alert, changed, reason)


def take_down(db: Session, act: Act, alert: Alert, note: str | None) -> None:
    """Put it aside no longer. Raises AlertClosed, NotShelved."""
    _refuse_closed(alert)
    if alert.state != "shelved":
        raise rules.NotShelved("It is not put aside.", state=alert.state)
    _keep(db, act, alert, life.taken_down(raising.standing_of(alert)), note)


def inspect(db: Session, act: Act, alert: Alert, found: str) -> None:
    """Somebody looked at the thing itself and says what they found. Raises AlertClosed,
    NothingToInspect.
    """
    _refuse_closed(alert)
    if not alert.inspect:
        raise rules.NothingToInspect("Nothing has to be looked at before this alert ends.")
    if not alert.seen:
        _take(act, alert)
    _keep(db, act, alert, life.inspected(raising.standing_of(alert)), found)


def _take(act: Act, alert: Alert) -> None:
    alert.acknowledged_at, alert.tell_at = act.recorded_at, None
    alert.acknowledged_by_id, alert.acknowledged_by = act.by.id, act.by.display_name


def _keep(db: Session, act: Act, alert: Alert, changed: Changed, note: str | None) -> None:
    standing, said = changed
    raising.keep(alert, standing, said, now=act.recorded_at)
    db.add(alert)
    raising.note_all(
        db,
        alert,
        said,
        at=act.recorded_at,
        new_id=act.new_id,
        by=(act.by.id, act.by.display_name),
        note=note,
    )
    db.flush()


def _refuse_closed(alert: Alert) -> None:
    if alert.state == "closed":
        raise rules.AlertClosed(
            "It is over: what it told of is well again, and somebody has seen it.",
            closed_at=alert.closed_at,
        )
