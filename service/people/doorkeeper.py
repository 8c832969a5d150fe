"""Who is behind a request: one look-up by an indexed hash, in every request of everybody.

When somebody was last here is noted beside the requests, at most once a minute for each session or
token, by a thread of its own: a read never waits for the write lock, and where nothing can be
written (a full disk) reading goes on.
"""

import logging
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime

from sqlalchemy import Update, or_, update
from sqlmodel import col

from service.edge.wiring import Credentials
from service.kernel.acts import Person
from service.kernel.clock import Clock
from service.kernel.database import Database
from service.people.hashing import digest
from service.people.rules import USE_NOTED_EVERY, session_is_open, token_is_open
from service.people.store import BY_SESSION, BY_TOKEN, SignedInSession, Token

log = logging.getLogger("rimebook.people")


class Doorkeeper:
    """Knows people by what their requests carry. Close it before the database."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._notes = ThreadPoolExecutor(max_workers=1, thread_name_prefix="last-use")
        self._noting: set[str] = set()
        self._guard = threading.Lock()

    def identify(self, credentials: Credentials, clock: Clock) -> Person | None:
        """The person behind a cookie or token; None when it opens nothing (any more)."""
        if credentials.bearer is not None:
            return self._by_token(digest(credentials.bearer), clock())
        if credentials.cookie is not None:
            return self._by_session(digest(credentials.cookie), clock())
        return None

    def close(self) -> None:
        """Write down what is still to be noted."""
        self._notes.shutdown(wait=True)

    def _by_session(self, token_hash: str, now: datetime) -> Person | None:
        row = self._database.one_row(BY_SESSION, {"token_hash": token_hash})
        if row is None or not session_is_open(
            role=row.role, now=now, last_seen_at=row.last_seen_at, expires_at=row.expires_at
        ):
            return None
        if now - row.last_seen_at >= USE_NOTED_EVERY:
            self._note(token_hash, _session_seen(token_hash, now))
        return Person(row.id, row.username, row.display_name, row.role, row.must_set_password)

    def _by_token(self, token_hash: str, now: datetime) -> Person | None:
        row = self._database.one_row(BY_TOKEN, {"token_hash": token_hash})
        if row is None or not token_is_open(today=now.date(), expires_on=row.expires_on):
            return None
        if row.last_used_at is None or now - row.last_used_at >= USE_NOTED_EVERY:
            self._note(token_hash, _token_used(token_hash, now))
        return Person(row.id, row.username, row.display_name, row.role)

    def _note(self, token_hash: str, statement: Update) -> None:
        with self._guard:
            if token_hash in self._noting:
                return
            self._noting.add(token_hash)
        self._notes.submit(self._write, token_hash, statement)

    def _write(self, token_hash: str, statement: Update) -> None:
        try:
            with self._database.writing() as db:
                db.exec(statement)
        except Exception:
            log.warning("the last use of a session was not noted", exc_info=True)
        finally:
            with self._guard:
                self._noting.discard(token_hash)


def _session_seen(token_hash: str, now: datetime) -> Update:
    return (
        update(SignedInSession)
        .where(
            col(SignedInSession.token_hash) == token_hash, col(SignedInSession.last_seen_at) < now
        )
        .values(last_seen_at=now)
    )


def _token_used(token_hash: str, now: datetime) -> Update:
    never = col(Token.last_used_at).is_(None)
    return (
        update(Token)
        .where(col(Token.token_hash) == token_hash, or_(never, col(Token.last_used_at) < now))
        .values(last_used_at=now)
    )
