"""The worker inside `serve`: it looks, tells, sums up the day, and shows that it does.

Two threads, because a mail server that does not answer must not keep the tanks from being watched.
Only the process that holds the lease works; the others wait for theirs.
"""

import logging
import os
import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from time import monotonic
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.alerts import channels, digest, duty, lease, messages, outbox, sending, store, webhooks
from service.alerts.letters import NotSent
from service.alerts.service_conditions import Machine
from service.alerts.store import Message
from service.alerts.watching import Looker
from service.bank.store import station_of
from service.kernel.clock import Clock
from service.kernel.database import Database

log = logging.getLogger("rimebook")

SECONDS_BETWEEN_LOOKS = 2.0
SECONDS_BETWEEN_ROUNDS = 1.0
SECONDS_BETWEEN_COMPLAINTS = 300.0

#: An outside watch is told so often that all is well; it should wait three times as long.
PING_EVERY = timedelta(minutes=5)

#: When nobody books, the whole book is read anew.
CHECK_AT = time(3, 0)


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What the worker needs to know of the service around it.

    `address` is where people open the pages, for links; `private_allowed`: webhooks may go to
    addresses of the local network; `check` reads the whole book.
    """

    database: Database
    clock: Clock
    new_id: Callable[[], UUID]
    machine: Callable[[], Machine]
    check: Callable[[], object]
    address: str | None
    private_allowed: bool


class Worker:
    """Watches and tells, between `start` and `stop`."""

    def __init__(self, around: Surroundings) -> None:
        self._around = around
        self._holder = around.new_id()
        self._name = f"{socket.gethostname()}, process {os.getpid()}"
        self._looker = Looker(around.database, around.machine, around.new_id)
        self._stop = threading.Event()
        self._renewed_at: datetime | None = None
        self._holds = False
        self._checking: threading.Thread | None = None
        self._start_noted = False
        self._complained: dict[str, float] = {}
        self._threads = [
            threading.Thread(target=self._watch, name="watch", daemon=True),
            threading.Thread(target=self._deliver, name="delivery", daemon=True),
        ]

    @property
    def address(self) -> str | None:
        """Where people open the pages."""
        return self._around.address

    @property
    def private_allowed(self) -> bool:
        """Whether webhooks may go to addresses of the local network."""
        return self._around.private_allowed

    @property
    def machine(self) -> Machine:
        """The service around, as it is now."""
        return self._around.machine()

    def start(self) -> None:
        """Begin."""
        for thread in self._threads:
            thread.start()

    def stop(self) -> None:
        """End; a message that is leaving is finished first."""
        self._stop.set()
        for thread in self._threads:
            if thread.is_alive():
                thread.join()
        if self._checking is not None:
            self._checking.join()
        if self._holds:
            with self._around.database.writing() as db:
                lease.give_back(db, holder=self._holder, now=self._around.clock())

    # --- watching ------------------------------------------------------------------------------

    def _watch(self) -> None:
        while not self._stop.wait(SECONDS_BETWEEN_LOOKS):
            try:
                self.look()
            except Exception:
                self._complain("the look at tanks and stock failed")

    def _complain(self, what: str) -> None:
        """Log what failed, and not every two seconds while a disk is full or a database away."""
        now = monotonic()
        if now - self._complained.get(what, -SECONDS_BETWEEN_COMPLAINTS) >= (
            SECONDS_BETWEEN_COMPLAINTS
        ):
            self._complained[what] = now
            log.exception(what)

    def look(self) -> bool:
        """One look, if this process holds the lease; whether it does."""
        now = self._around.clock()
        if not self._has_lease(now):
            return False
        did = self._looker.look(now)
        with self._around.database.reading() as db:
            summary_due = bool(digest.due(db, now))
        if summary_due:
            with self._around.database.writing() as db:
                did["digests"] = digest.queue_due(
                    db, self._around.machine(), now=now, new_id=self._around.new_id
                )
                _keep(db, last_digest_at=now)
        self._check_by_night(now)
        if set(did) != {"findings"}:
            log.info("alerts: %s", ", ".join(f"{name} {number}" for name, number in did.items()))
            self._renew(now, did)
        return True

    def _has_lease(self, now: datetime) -> bool:
        fresh = self._renewed_at and timedelta(0) <= now - self._renewed_at < lease.RENEW_EVERY
        if self._holds and fresh:
            return True
        with self._around.database.reading() as db:
            self._holds = lease.is_free(db, holder=self._holder, now=now)
        if self._holds:
            self._renew(now, None)
        return self._holds

    def _renew(self, now: datetime, did: dict[str, Any] | None) -> None:
        self._holds = False
        with self._around.database.writing() as db:
            self._holds = lease.take(db, holder=self._holder, name=self._name, now=now, run=did)
        self._renewed_at = now

    def _check_by_night(self, now: datetime) -> None:
        """Let the whole book be read once a night; each start has read it, too."""
        if self._checking is not None and self._checking.is_alive():
            return
        if not self._start_noted:
            self._start_noted = self._around.machine().soundness is not None
            if self._start_noted:
                with self._around.database.writing() as db:
                    _keep(db, last_check_at=now)
            return
        with self._around.database.reading() as db:
            zone = ZoneInfo(station_of(db).time_zone)
            last = store.watch_of(db).last_check_at
        if last is None or last < duty.last_at(now, CHECK_AT, zone):
            self._checking = threading.Thread(target=self._check, args=(now,), name="night check")
            self._checking.start()

    def _check(self, now: datetime) -> None:
        try:
            self._around.check()
            with self._around.database.writing() as db:
                _keep(db, last_check_at=now)
        except Exception:
            log.exception("the nightly check of the book failed")

    # --- delivering ----------------------------------------------------------------------------

    def _deliver(self) -> None:
        while not self._stop.wait(SECONDS_BETWEEN_ROUNDS):
            try:
                if self._holds:
                    self.round()
            except Exception:
                self._complain("a round of messages failed")

    def round(self) -> None:
        """Send what is due, and tell the outside watch."""
        self.deliver()
        self._ping()

    def deliver(self) -> int:
        """Send what is due, the most pressing first; how many were accepted."""
        sent = 0
        while not self._stop.is_set():
            with self._around.database.reading() as db:
                if not outbox.anything_due(db, self._around.clock()):
                    break
            claimed = self._claim(None)
            if claimed is None:
                break
            sent += self._send(claimed)
        return sent

    def test(self, channel_id: UUID, *, by: str) -> dict[str, Any]:
        """Send a test at once, whoever holds the lease; what became of it.

        Raises UnknownChannel.
        """
        with self._around.database.writing() as db:
            channel = channels.channel_of(db, channel_id)
            words = messages.of_test(station_of(db).name, by)
            now = self._around.clock()
            message = outbox.queue_settled(
                db, channel, kind="test", letter=words, now=now, new_id=self._around.new_id
            )
        if claimed := self._claim(message.id):
            self._send(claimed)
        with self._around.database.reading() as db:
            message = db.get_one(Message, message.id)
            return {"state": message.state, "error": message.error, "at": message.sent_at}

    def _claim(self, only: UUID | None) -> outbox.Claimed | None:
        with self._around.database.writing() as db:
            return outbox.claim_next(
                db, now=self._around.clock(), address=self._around.address, only=only
            )

    def _send(self, claimed: outbox.Claimed) -> bool:
        now = self._around.clock()
        try:
            sending.send(claimed, now=now, private_allowed=self._around.private_allowed)
        except NotSent as failure:
            if claimed.channel.failures == 0:  # once, and not at every further try
                log.warning("%s did not take a message: %s", claimed.channel.name, failure.detail)
            with self._around.database.writing() as db:
                outbox.mark_failed(db, claimed.letter.id, failure, now=self._around.clock())
            return False
        with self._around.database.writing() as db:
            now = self._around.clock()
            outbox.mark_sent(db, claimed.letter.id, now=now)
            _keep(db, last_delivery_at=now)
        return True

    def _ping(self) -> None:
        now = self._around.clock()
        with self._around.database.reading() as db:
            url, last = store.plan_of(db).outside_watch_url, store.watch_of(db).last_ping_at
        if url is None or (last is not None and timedelta(0) <= now - last < PING_EVERY):
            return
        error = self.ping(url)
        with self._around.database.writing() as db:
            since = store.watch_of(db).ping_failing_since
            _keep(
                db,
                last_ping_at=now,
                ping_error=error,
                ping_failing_since=(since or now) if error else None,
            )

    def ping(self, url: str) -> str | None:
        """Tell an outside watch that all is well; what went wrong, or None."""
        try:
            webhooks.ping(url, private_allowed=self._around.private_allowed)
        except NotSent as failure:
            return failure.detail
        return None


def _keep(db: Session, **facts: object) -> None:
    watch = store.watch_of(db)
    for name, value in facts.items():
        setattr(watch, name, value)
    db.add(watch)
