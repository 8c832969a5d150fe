"""What the tests of the whole service share: a real app on a real file, and the four people."""

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx2
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

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
from tests.engine import ON_POSTGRESQL, PostgreSQL, postgresql_server


@pytest.fixture(scope="session")
def postgresql() -> Iterator[PostgreSQL]:
    """A PostgreSQL server of the tests' own."""
    with postgresql_server() as server:
        yield server


@pytest.fixture(scope="session")
def template(request: pytest.FixtureRequest) -> Iterator[str | None]:
    """On PostgreSQL the database that each test's own is copied from."""
    if not ON_POSTGRESQL:
        yield None
        return
    server: PostgreSQL = request.getfixturevalue("postgresql")
    name = server.new()
    yield name
    server.drop(name)


@pytest.fixture(scope="session")
def founded(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, template: str | None
) -> tuple[Path, dict[str, str]]:
    """An empty bank with the four people, made once; and each one's token."""
    folder = tmp_path_factory.mktemp("founded")
    settings = Settings(data=folder)
    if template is not None:
        server: PostgreSQL = request.getfixturevalue("postgresql")
        settings = Settings(data=folder, database_url=server.url(template))
    database = open_book(settings)
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
    return folder, tokens


@pytest.fixture
def data(
    request: pytest.FixtureRequest,
    founded: tuple[Path, dict[str, str]],
    template: str | None,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Path]:
    """A book of this test's own, with the four people in it; settings find it in this folder."""
    folder = tmp_path / "data"
    shutil.copytree(founded[0], folder)
    if template is None:
        yield folder
        return
    server: PostgreSQL = request.getfixturevalue("postgresql")
    name = server.new(template=template)
    monkeypatch.setenv("RIMEBOOK_DATABASE_URL", server.url(name))
    yield folder
    server.drop(name)


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
def person(service: TestClient, founded: tuple[Path, dict[str, str]]) -> Callable[[str], Client]:
    """`person("vet")`: the API as that role sees it."""

    def signed_in(role: str) -> Client:
        client = Client(service.app, raise_server_exceptions=False)
        client.headers = httpx2.Headers({"Authorization": f"Bearer {founded[1][role]}"})
        # The lifespan of `service` is the app's; this client only speaks to it.
        client.portal = service.portal
        return client

    return signed_in


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
def bank(manager: Client) -> Bank:
    """Lanternfield at four straws a dose: 20 straws in goblet 0, 20 in goblet 2."""
    goblets = building.goblets_of(manager.ok("POST", "/api/tanks", building.tank()))
    stallion = manager.ok("POST", "/api/stallions", building.stallion(straws=4))
    placements = [(goblets[0]["id"], 20), (goblets[2]["id"], 20)]
    made = manager.ok("POST", "/api/freezes", building.freeze(stallion["id"], placements))
    codes: dict[str, list[str]] = {}
    for straw in made["straws"]:
        codes.setdefault(straw["goblet_id"], []).append(straw["code"])
    return Bank(stallion, goblets, made["batch"]["id"], made["batch"]["code"], codes)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """On PostgreSQL run what keeps a book, but for tests of SQLite's own file; else all but it."""

    def wanted(item: pytest.Item) -> bool:
        needs = set(getattr(item, "fixturenames", ()))
        if not ON_POSTGRESQL:
            return "postgresql" not in needs
        keeps = needs & {"data", "postgresql"}
        return bool(keeps) and item.get_closest_marker("sqlite_only") is None

    config.hook.pytest_deselected(items=[item for item in items if not wanted(item)])
    items[:] = [item for item in items if wanted(item)]


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """With RIMEBOOK_NO_SKIPS set a skipped test is a failure: CI has everything they need."""
    if report.skipped and not hasattr(report, "wasxfail") and os.environ.get("RIMEBOOK_NO_SKIPS"):
        report.outcome = "failed"
