"""What the tests of the whole service share: a real app on a real file, and the four people."""

import copy
import gc
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import httpx2
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlalchemy import Connection, Engine, event
from sqlalchemy.dialects.postgresql.psycopg import PGDialect_psycopg
from sqlalchemy.dialects.sqlite.pysqlite import SQLiteDialect_pysqlite

from service.app import lay_book_under, make_app, open_book
from service.kernel.acts import ROLES
from service.kernel.clock import utc_now
from service.kernel.ids import new_id
from service.people.actions import add_user, make_token
from service.people.events import Occasion
from service.people.store import as_person
from service.settings import Settings
from tests import building
from tests.banks import Bank
from tests.engine import ON_POSTGRESQL, Books, PostgreSQL, postgresql_server

#: Statements that were compiled, for all books of this run: see `_compile_once`.
COMPILED: dict[Any, Any] = {}


def _compile_once() -> None:
    """Let statements be compiled once, not once for each book: that took half of the time of tests.

    Every engine of a kind speaks the same dialect here, so its statements are the same text.
    """
    for dialect in (SQLiteDialect_pysqlite, PGDialect_psycopg):
        dialect.__eq__ = lambda one, other: type(one) is type(other)  # type: ignore[method-assign]
        dialect.__hash__ = lambda one: hash(type(one))  # type: ignore[method-assign]

    @event.listens_for(Engine, "engine_connect")
    def share(connection: Connection) -> None:
        connection.execution_options(compiled_cache=COMPILED)


_compile_once()

# The apps of tests look at tanks and stock when a test says so; only servers do by themselves.
os.environ["RIMEBOOK_WATCH"] = "false"


@pytest.fixture(scope="session")
def postgresql() -> Iterator[PostgreSQL]:
    """A PostgreSQL server of the tests' own."""
    with postgresql_server() as server:
        yield server


@pytest.fixture(scope="session")
def books(request: pytest.FixtureRequest) -> Books:
    """Where a test gets its books from; who needs it runs on both engines."""
    return Books(request.getfixturevalue("postgresql") if ON_POSTGRESQL else None)


class Founded(NamedTuple):
    """An empty bank with the four people; and each one's token."""

    book: Settings
    tokens: dict[str, str]


@pytest.fixture(scope="session")
def founded(books: Books, tmp_path_factory: pytest.TempPathFactory) -> Founded:
    """Made once, for copying."""
    book = books.new(tmp_path_factory.mktemp("founded"))
    database = open_book(book)
    tokens = {}
    for role in ROLES:
        occasion = Occasion(at=utc_now(), new_id=new_id)
        with database.writing() as db:
            user, _ = add_user(
                db, username=role, display_name=f"The {role}", role=role, occasion=occasion
            )
            user.password_hash = "not a hash: these sign in by token only"
            user.one_time_code_hash = user.one_time_code_expires_at = None
            _, tokens[role] = make_token(
                db, who=as_person(user), name="tests", expires_on=None, occasion=occasion
            )
    database.close()
    return Founded(book, tokens)


class Stocked(NamedTuple):
    """A founded bank with straws in it, and what was made there by name."""

    book: Settings
    bank: Bank


@pytest.fixture(scope="session")
def stocked(
    books: Books, founded: Founded, app: FastAPI, tmp_path_factory: pytest.TempPathFactory
) -> Stocked:
    """Lanternfield at four straws a dose: 20 straws in goblet 0, 20 in goblet 2. For copying."""
    book = books.copy(founded.book, tmp_path_factory.mktemp("stocked") / "data")
    lay_book_under(app, book)
    with TestClient(app) as running:
        made = _fill(_signed_in(running, founded.tokens["manager"]))
    return Stocked(book, made)


@pytest.fixture
def data(
    request: pytest.FixtureRequest,
    books: Books,
    founded: Founded,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Path]:
    """A book of this test's own, with the four people in it; settings find it in this folder."""
    with_straws = "bank" in request.fixturenames
    template = request.getfixturevalue("stocked").book if with_straws else founded.book
    book = books.copy(template, tmp_path / "data")
    if book.database_url is not None:
        monkeypatch.setenv("RIMEBOOK_DATABASE_URL", book.database_url)
    yield book.data
    books.drop(book)


class Client(TestClient):
    """A person at the API, signed in by token; refuses to go on after an unexpected answer."""

    def ok(self, method: str, path: str, body: Any = None, *, status: int | None = None) -> Any:
        """The JSON of an answer that must succeed (with this status, if one is named)."""
        answer = self.request(method, path, **({} if body is None else {"json": body}))
        expected = (200, 201, 204) if status is None else (status,)
        assert answer.status_code in expected, (answer.status_code, answer.text)
        return answer.json() if answer.content else None

    def refused(self, method: str, path: str, body: Any, status: int, code: str) -> dict[str, Any]:
        """The problem of an answer that must be refused so."""
        answer = self.request(method, path, json=body)
        assert answer.status_code == status, (answer.status_code, answer.text)
        assert answer.headers["content-type"] == "application/problem+json"
        problem: dict[str, Any] = answer.json()
        assert problem["code"] == code, problem
        return problem


@pytest.fixture(scope="session")
def app(tmp_path_factory: pytest.TempPathFactory) -> FastAPI:
    """The app that every test lays its own book under."""
    app = make_app(Settings(data=tmp_path_factory.mktemp("app"), database_url=None))
    app.state.wiring.database.close()
    return app


@pytest.fixture
def service(app: FastAPI, data: Path) -> Iterator[TestClient]:
    """The running service."""
    lay_book_under(app, Settings(data=data))
    with TestClient(app, raise_server_exceptions=False) as running:
        yield running


@pytest.fixture
def person(service: TestClient, founded: Founded) -> Callable[[str], Client]:
    """`person("vet")`: the API as that role sees it."""

    return lambda role: _signed_in(service, founded.tokens[role])


def _signed_in(service: TestClient, token: str) -> Client:
    client = Client(service.app, raise_server_exceptions=False)
    client.headers = httpx2.Headers({"Authorization": f"Bearer {token}"})
    # The lifespan of `service` is the app's; this client only speaks to it.
    client.portal = service.portal
    return client


@pytest.fixture
def technician(person: Callable[[str], Client]) -> Client:
    """The technician."""
    return person("technician")


@pytest.fixture
def vet(person: Callable[[str], Client]) -> Client:
    """The vet."""
    return person("vet")


@pytest.fixture
def manager(person: Callable[[str], Client]) -> Client:
    """The manager."""
    return person("manager")


@pytest.fixture
def auditor(person: Callable[[str], Client]) -> Client:
    """The auditor."""
    return person("auditor")


@pytest.fixture
def bank(service: TestClient, stocked: Stocked) -> Bank:
    """What stands in the book of a test that asks for this: see `stocked`."""
    return copy.deepcopy(stocked.bank)


def _fill(manager: Client) -> Bank:
    goblets = building.goblets_of(manager.ok("POST", "/api/tanks", building.tank()))
    stallion = manager.ok("POST", "/api/stallions", building.stallion(straws=4))
    placements = [(goblets[0]["id"], 20), (goblets[2]["id"], 20)]
    made = manager.ok("POST", "/api/freezes", building.freeze(stallion["id"], placements))
    codes: dict[str, list[str]] = {}
    for straw in made["straws"]:
        codes.setdefault(straw["goblet_id"], []).append(straw["code"])
    return Bank(stallion, goblets, made["batch"]["id"], made["batch"]["code"], codes)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """On PostgreSQL run what keeps a book, but for tests of SQLite's own file; else all but it.

    What a browser shows is the same on both.
    """

    def wanted(item: pytest.Item) -> bool:
        needs = set(getattr(item, "fixturenames", ()))
        if not ON_POSTGRESQL:
            return "postgresql" not in needs
        if item.get_closest_marker("sqlite_only") or "journeys" in item.path.parts:
            return False
        return bool(needs & {"books", "postgresql"})

    config.hook.pytest_deselected(items=[item for item in items if not wanted(item)])
    items[:] = [item for item in items if wanted(item)]


def pytest_collection_finish() -> None:
    """What is here now stays: looking through it for garbage again and again takes a sixth."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 50)


def pytest_report_header() -> str:
    """Which engine keeps the books of this run."""
    return f"books are kept on {'PostgreSQL' if ON_POSTGRESQL else 'SQLite'}"


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """With RIMEBOOK_NO_SKIPS set a skipped test is a failure: CI has everything they need."""
    if report.skipped and not hasattr(report, "wasxfail") and os.environ.get("RIMEBOOK_NO_SKIPS"):
        report.outcome = "failed"
