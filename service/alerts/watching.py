"""The look itself: what is the case now, and the alerts that follow from it.

Every few seconds it is asked whether anything was booked since; only then, or once a minute because
time itself makes things late, is everything reckoned anew. The reckoning holds up no writer.
"""

import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import func
from sqlmodel import Session, col, or_, select

from service.alerts import (
    audit_conditions,
    nitrogen_conditions,
    run_out_conditions,
    service_conditions,
    stock_conditions,
    store,
)
from service.alerts.raising import raise_alerts
from service.alerts.rules import Finding
from service.alerts.service_conditions import Machine
from service.alerts.store import Alert
from service.edge.replay import Answer
from service.edge.versions import RecordChange
from service.kernel.database import Database
from service.ledger.store import Entry

#: Nothing was booked, but hours pass: everything is reckoned anew so often.
BETWEEN_RECKONINGS = timedelta(minutes=1)
#: In a large bank less often: it takes one part of the time in so many at most.
_ONE_PART_IN = 20

Stamp = tuple[Any, ...]


@dataclass(slots=True)
class Looker:
    """Looks, and remembers what it found while nothing changed."""

    database: Database
    machine: Callable[[], Machine]
    new_id: Callable[[], UUID]
    _stamp: Stamp | None = None
    _reckoned_at: datetime | None = None
    _took: timedelta = timedelta(0)
    _found: Sequence[Finding] = ()
    _raised: Sequence[Finding] | None = field(default=None)

    def look(self, now: datetime) -> dict[str, Any]:
        """Reckon if need be, and bring the alerts in line; what was done, for the record."""
        with self.database.reading() as db:
            stamp = booked(db)
            if stamp != self._stamp or self._is_old(now):
                self._reckon(db, now, stamp)
            findings = [*self._found, *service_conditions.find_within(db, now)]
            if findings == self._raised and not _anything_due(db, now):
                return {"findings": len(findings)}
        with self.database.writing() as db:
            raised = raise_alerts(db, findings, now=now, new_id=self.new_id)
        self._raised = findings
        return {"findings": len(findings), **asdict(raised)}

    def _is_old(self, now: datetime) -> bool:
        wait = max(BETWEEN_RECKONINGS, _ONE_PART_IN * self._took)
        # A clock that was put back must not put the next one off for ever.
        return self._reckoned_at is None or not self._reckoned_at <= now < self._reckoned_at + wait

    def _reckon(self, db: Session, now: datetime, stamp: Stamp) -> None:
        began = time.monotonic()
        plan = store.plan_of(db)
        self._found = [
            *nitrogen_conditions.find(db, now),
            *stock_conditions.find(db, now, plan),
            *run_out_conditions.find(db, now, plan),
            *audit_conditions.find(db, now),
            *service_conditions.find_around(self.machine()),
        ]
        self._stamp, self._reckoned_at = stamp, now
        self._took = timedelta(seconds=time.monotonic() - began)


def booked(db: Session) -> Stamp:
    """What changes when anything is booked or any record is changed; a few look-ups by index."""
    return tuple(
        db.exec(select(func.max(column))).one()
        for column in (col(Entry.seq), col(Answer.answered_at), col(RecordChange.changed_at))
    )


def _anything_due(db: Session, now: datetime) -> bool:
    """Whether time alone changes an alert: a notice, a shelf that ends, a delay that is over."""
    query = select(Alert.id).where(
        col(Alert.state) != "closed",
        or_(
            col(Alert.tell_at) <= now,
            col(Alert.again_at) <= now,
            col(Alert.shelved_until) <= now,
            col(Alert.false_since).is_not(None),
        ),
    )
    return db.exec(query.limit(1)).first() is not None
