"""Proof that a book can be worked with: a throw-away copy is served, and somebody signs in to it.

The one-time code is made in the copy only; nothing here touches a book or a backup.
"""

import json
import secrets
import tempfile
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from http import HTTPStatus
from http.client import HTTPConnection
from http.cookies import SimpleCookie
from pathlib import Path
from shutil import copyfile
from time import monotonic, sleep
from typing import Any

import uvicorn
from fastapi import FastAPI
from sqlmodel import Session

from service.backups.rules import BackupDamaged
from service.kernel.database import Database, sqlite_url
from service.migrations import upgrade
from service.people import store as people
from service.people.actions import OneTimeCode, add_user, reset
from service.people.events import Occasion

#: Opens the book in a folder as the real application.
OpenApp = Callable[[Path], FastAPI]

#: The check of a large book is part of an answer.
SECONDS_TO_WAIT = 600


@dataclass(frozen=True, slots=True)
class Drilled:
    """What the drill read over the application: who signed in, and what the stock said."""

    username: str
    straws_stored: int
    entries: int
    head: str
    seconds: float


def drill(file: Path, occasion: Occasion, open_app: OpenApp) -> Drilled:
    """Open a copy of this book as the application, sign in, and read stock and book.

    Raises BackupDamaged when any of it does not work.
    """
    began = monotonic()
    with tempfile.TemporaryDirectory(prefix="rimebook-drill-") as folder:
        data = Path(folder)
        copyfile(file, data / "rimebook.db")
        code = _one_time_code(data, occasion)
        with _served(open_app(data)) as port:
            browser = _Browser(port)
            browser.ask("POST", "/api/session", {"username": code.username, "password": code.code})
            password = {"password": secrets.token_urlsafe(24)}
            browser.ask("POST", "/api/session/password", password)
            stock = browser.ask("GET", "/api/stock?limit=1")
            book = _checked(browser)
    if not book["sound"]:
        raise BackupDamaged(f"The application does not find it sound: {book['problems'][:3]}")
    return Drilled(
        username=code.username,
        straws_stored=stock["straws"],
        entries=book["entries"],
        head=book["head"],
        seconds=monotonic() - began,
    )


def _checked(browser: "_Browser") -> Any:
    """What the application's own check found; it makes one when it starts, which takes a while."""
    deadline = monotonic() + SECONDS_TO_WAIT
    while (book := browser.ask("GET", "/api/ledger/check"))["sound"] is None:
        if monotonic() > deadline:
            raise BackupDamaged("The application's own check did not come to an end.")
        sleep(0.1)
    return book


def _one_time_code(data: Path, occasion: Occasion) -> OneTimeCode:
    """A code for a manager of the copy; for one of its own where nobody else manages."""
    database = Database(sqlite_url(data))
    try:
        upgrade(database)
        with database.writing() as db:
            return _code_of_a_manager(db, occasion)
    finally:
        database.close()


def _code_of_a_manager(db: Session, occasion: Occasion) -> OneTimeCode:
    for manager in people.managers(db):
        return reset(db, manager.id, occasion=occasion)
    _, code = add_user(
        db,
        username=f"drill-{secrets.token_hex(4)}",
        display_name="Drill",
        role="manager",
        occasion=occasion,
    )
    assert code is not None  # without a password there is one
    return code


@contextmanager
def _served(app: FastAPI) -> Iterator[int]:
    """The application on a free port of this machine; gives the port."""
    config = uvicorn.Config(app, host="127.0.0.1", port=0, log_level="critical")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, name="drill", daemon=True)
    thread.start()
    try:
        deadline = monotonic() + SECONDS_TO_WAIT
        while not server.started:
            if not thread.is_alive() or monotonic() > deadline:
                raise BackupDamaged("The application does not start on it.")
            sleep(0.02)
        port: int = server.servers[0].sockets[0].getsockname()[1]
        yield port
    finally:
        server.should_exit = True
        thread.join()


class _Browser:
    """What a browser does: keeps the cookie, says where it comes from, sends JSON."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._cookies: SimpleCookie = SimpleCookie()

    def ask(self, method: str, path: str, body: Mapping[str, Any] | None = None) -> Any:
        """The JSON of an answer, which must succeed."""
        headers = {"Origin": f"http://127.0.0.1:{self._port}", "Content-Type": "application/json"}
        if self._cookies:
            pairs = (f"{name}={cookie.value}" for name, cookie in self._cookies.items())
            headers["Cookie"] = "; ".join(pairs)
        sent = None if body is None else json.dumps(body)
        try:
            with closing(HTTPConnection("127.0.0.1", self._port, timeout=SECONDS_TO_WAIT)) as wire:
                wire.request(method, path, body=sent, headers=headers)
                answer = wire.getresponse()
                text = answer.read()
        except OSError as error:
            raise BackupDamaged(f"The application did not answer: {error}.") from error
        if answer.status >= HTTPStatus.BAD_REQUEST:
            raise BackupDamaged(f"{method} {path} answered {answer.status} on a copy of it.")
        for cookie in answer.headers.get_all("Set-Cookie") or []:
            self._cookies.load(cookie)
        return json.loads(text) if text else None
