"""Who read what the book has in a goblet while it was to be counted.

A count is blind when whoever counts does not know the expected number. Nobody is kept from reading:
straws are needed at night. But who reads the contents of a goblet after the freeze point, and then
counts it, has a count that says so.

While no stock-take is open this costs a look at the clock; a reading is noted beside the answer,
by a thread of its own.
"""

import logging
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from uuid import UUID

from sqlmodel import Session, col, select
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.audits import store
from service.audits.store import ContentRead, StockTake
from service.bank.store import Goblet
from service.kernel import codes
from service.kernel.acts import Person
from service.kernel.clock import Clock
from service.kernel.codes import Kind
from service.kernel.database import Database

log = logging.getLogger("rimebook")

#: Another process may have opened a stock-take: it is asked for so often.
_ASK_EVERY = timedelta(seconds=5)

_ID = r"[0-9a-fA-F-]{32,36}"
_ONE_GOBLET = re.compile(rf"/api/goblets/({_ID})(?:/relocation)?/?")
_SCANNED = re.compile(r"/api/scan/([^/]+)/?")
#: Answers that say of many goblets what is in them, or of a batch where it stands.
_MANY = re.compile(
    rf"/api/(?:stock|goblets/free|ledger|canisters/{_ID}/relocation|batches/{_ID}"
    rf"|exports/[a-z]+\.csv|reading-room/[a-z-]+(?:/table\.csv)?"
    rf"|stock-takes/{_ID}/(?:report\.json|report\.pdf|evidence\.zip))/?"
)
#: A stock-take itself tells of differences once it was compared, and of nothing before.
_TAKE = re.compile(rf"/api/stock-takes/({_ID})/?")


class Readings:
    """Notes who read what, between the first request and `close`."""

    def __init__(self, database: Database, *, clock: Clock, new_id: Callable[[], UUID]) -> None:
        self._database, self._clock, self._new_id = database, clock, new_id
        self._notes = ThreadPoolExecutor(max_workers=1, thread_name_prefix="readings")
        self._asked_at: datetime | None = None
        self._open = False
        self._known: set[tuple[UUID, UUID, str]] = set()

    def look_again(self) -> None:
        """A stock-take was opened or closed here: the next reading asks anew."""
        self._asked_at = None

    def note(self, person: Person, path: str) -> None:
        """Somebody read this page, and it was answered."""
        if not reveals(path):
            return
        now = self._clock()
        fresh = self._asked_at and timedelta(0) <= now - self._asked_at < _ASK_EVERY
        if fresh and not self._open:
            return
        self._notes.submit(self._write, person, path, now)

    def settle(self) -> None:
        """Wait until everything that was read is written down."""
        self._notes.submit(lambda: None).result()

    def close(self) -> None:
        """Write down what is still to be noted."""
        self._notes.shutdown(wait=True)

    def _write(self, person: Person, path: str, now: datetime) -> None:
        try:
            with self._database.reading() as db:
                open_takes = store.counting(db)
                goblet_id = _goblet_of(db, path)
            self._asked_at, self._open = now, bool(open_takes)
            new = [one for one in open_takes if (one, person.id, path) not in self._known]
            if new and goblet_id is not _NONE:
                with self._database.writing() as db:
                    db.add_all(self._rows(new, person, path, goblet_id, now))
                self._known |= {(one, person.id, path) for one in new}
        except Exception:
            log.warning("a reading during a stock-take was not noted", exc_info=True)

    def _rows(
        self,
        takes: list[UUID],
        person: Person,
        path: str,
        goblet_id: UUID | None,
        now: datetime,
    ) -> list[ContentRead]:
        return [
            ContentRead(
                id=self._new_id(),
                take_id=take,
                person_id=person.id,
                goblet_id=goblet_id,
                route=path,
                at=now,
            )
            for take in takes
        ]


#: A path that looked as if it told of a goblet, and did not.
_NONE = UUID(int=0)


def reveals(path: str) -> bool:
    """Whether what is read there may say how many straws stand in some goblet."""
    return any(one.fullmatch(path) for one in (_ONE_GOBLET, _SCANNED, _TAKE, _MANY))


def _goblet_of(db: Session, path: str) -> UUID | None:
    """The goblet that a path tells of; None for many."""
    if found := _ONE_GOBLET.fullmatch(path):
        try:
            return UUID(found[1])
        except ValueError:
            return _NONE
    if found := _SCANNED.fullmatch(path):
        return _scanned_goblet(db, found[1])
    if found := _TAKE.fullmatch(path):
        return _told_by_take(db, found[1])
    return None


def _told_by_take(db: Session, text: str) -> UUID | None:
    try:
        take = db.get(StockTake, UUID(text))
    except ValueError:
        return _NONE
    return _NONE if take is None or take.state == "counting" else None


def _scanned_goblet(db: Session, text: str) -> UUID | None:
    try:
        read = codes.read(text)
    except codes.MisreadCode:
        return _NONE
    if read.kind is Kind.GOBLET:
        return db.exec(select(Goblet.id).where(col(Goblet.code) == read.code)).first() or _NONE
    # A canister or a tank tells of all that hangs in it, a straw or a batch of no number.
    return None if read.kind in (Kind.CANISTER, Kind.TANK) else _NONE


class NoteReadings:
    """Stands round the routes: what was answered well, and to whom, is told to `Readings`."""

    def __init__(self, app: ASGIApp, readings: Callable[[], Readings]) -> None:
        self.app, self.readings = app, readings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http" or scope["method"] != "GET":
            await self.app(scope, receive, send)
            return
        answered: list[int] = []

        async def send_noting(message: Message) -> None:
            if message["type"] == "http.response.start":
                answered.append(message["status"])
            await send(message)

        await self.app(scope, receive, send_noting)
        person = scope.get("state", {}).get("person")
        if answered == [200] and isinstance(person, Person):
            self.readings().note(person, scope["path"])
