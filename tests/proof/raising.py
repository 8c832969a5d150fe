"""A process to be killed: it raises alerts, sends their messages, and acknowledges what was sent.

    python -m tests.proof.raising DATA ALERTS

Its clock is the number of alerts that the book has, so that it goes on where the one before died.
It says `ready` before its first alert, and ends when every alert was told.
"""

import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlmodel import Session, col, func, select

from service.alerts.actions import acknowledge
from service.alerts.raising import raise_alerts
from service.alerts.rules import Finding, Subject
from service.alerts.store import Alert, Message, MessageItem
from service.alerts.worker import Surroundings, Worker
from service.kernel.acts import Act, Person
from service.kernel.database import Database
from service.kernel.ids import new_id
from service.settings import Settings

START = datetime(2026, 3, 3, 12, tzinfo=UTC)
#: Longer than messages wait for one another.
A_STEP, EACH_STEP = timedelta(minutes=6), 5

NOBODY: Any = None


class Raiser:
    """Raises, tells and acknowledges, step by step."""

    def __init__(self, data: Path, alerts: int) -> None:
        self.database = Database(Settings(data=data, database_url=None).book_url)
        self.alerts, self.later = alerts, timedelta(0)
        self.now = self._now()
        self.worker = Worker(
            Surroundings(
                database=self.database,
                clock=lambda: self.now,
                new_id=new_id,
                machine=NOBODY,
                check=NOBODY,
                address=None,
                private_allowed=True,
            )
        )

    def _raised(self) -> int:
        with self.database.reading() as db:
            return db.exec(select(func.count()).select_from(Alert)).one()

    def _now(self) -> datetime:
        return START + self._raised() // EACH_STEP * A_STEP + self.later

    def run(self) -> None:
        """Until every alert was told, and a few claims' time longer."""
        while self._raised() < self.alerts or self._waiting():
            self.step()

    def _waiting(self) -> bool:
        with self.database.reading() as db:
            found = select(Message.id).where(col(Message.state).in_(("waiting", "sending")))
            return db.exec(found.limit(1)).first() is not None

    def step(self) -> None:
        """A few more alerts; those of long ago are over."""
        number = self._raised()
        if number >= self.alerts:
            self.later += A_STEP
        upto = min(number + EACH_STEP, self.alerts)
        found = [_finding(one) for one in range(max(upto - 4 * EACH_STEP, 0), upto)]
        with self.database.writing() as db:
            raise_alerts(db, found, now=self.now, new_id=new_id)
        self.now = self._now()
        self.worker.deliver()
        with self.database.writing() as db:
            self._see_what_was_sent(db)

    def _see_what_was_sent(self, db: Session) -> None:
        person = Person(new_id(), "m", "M", "manager")
        act = Act(new_id(), person, self.now, self.now, new_id, lambda _: 0)
        told = (
            select(Alert)
            .join(MessageItem, col(MessageItem.alert_id) == col(Alert.id))
            .join(Message, col(Message.id) == col(MessageItem.message_id))
            .where(col(Alert.state).in_(("open", "cleared-unseen")), Message.state == "sent")
        )
        for alert in db.exec(told).unique():
            acknowledge(db, act, alert, None)


def _finding(number: int) -> Finding:
    return Finding(
        kind="low-stock",
        subject=Subject("stallion", f"{number}", f"Horse {number}"),
        priority="medium",
        words=f"Alert {number}.",
    )


if __name__ == "__main__":
    raiser = Raiser(Path(sys.argv[1]), int(sys.argv[2]))
    print("ready", flush=True)
    raiser.run()
