"""What a person hears when the service itself fails: the truth, and nothing of its inside."""

import sqlite3
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event

from service.app import make_app
from service.settings import Settings
from tests import building
from tests.conftest import Client


@pytest.fixture
def failing_commit(service: TestClient) -> Any:
    """From now on every commit fails with this error."""

    def fail_with(message: str) -> None:
        def fail(_connection: Any) -> None:
            raise sqlite3.OperationalError(message)

        event.listen(service.app.state.wiring.database.engine, "commit", fail)  # type: ignore[attr-defined]

    return fail_with


def test_a_commit_that_fails_is_told_before_anything_was_promised(
    manager: Client, failing_commit: Any
) -> None:
    failing_commit("the disk caught fire in /var/lib/secret/place")
    answer = manager.post("/api/stallions", json=building.stallion())
    assert answer.status_code == 500
    assert answer.json()["code"] == "internal"
    for inside in ("secret", "fire", "Traceback", "sqlite", "INSERT"):
        assert inside not in answer.text


@pytest.mark.sqlite_only
def test_a_full_disk_is_told_and_reading_goes_on(
    manager: Client, service: TestClient, data: Path
) -> None:
    """The file may not grow any more: SQLite's own error, from a real write."""
    engine = service.app.state.wiring.database.engine  # type: ignore[attr-defined]

    def no_more_pages(connection: Any, *_: Any) -> None:
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")

    event.listen(engine, "checkout", no_more_pages)
    full = None
    for number in range(400):
        body = building.stallion(f"S{number} " + "x" * 100)
        answer = manager.post("/api/stallions", json=body)
        if answer.status_code != 201:
            full = answer
            break
    assert full is not None
    assert (full.status_code, full.json()["code"]) == (507, "disk-full")
    assert full.headers["Retry-After"]
    kept = manager.ok("GET", "/api/stallions?limit=1000")["items"]
    assert len(kept) == number
    event.remove(engine, "checkout", no_more_pages)
    engine.dispose()  # kept connections still hold the small limit
    manager.ok("POST", "/api/stallions", body, status=201)


def test_a_route_without_our_router_is_not_silently_lost(data: Path) -> None:
    """A session that nobody carried out must not look like success."""
    from fastapi import APIRouter

    from service.bank.store import Mare
    from service.edge.asking import OPEN_TO_ALL
    from service.edge.transaction import Writing
    from service.kernel.clock import utc_now
    from service.kernel.ids import new_id

    stray = APIRouter()

    @stray.post("/stray", dependencies=[OPEN_TO_ALL])
    def write(db: Writing) -> dict[str, str]:
        db.add(Mare(id=new_id(), name="Lost", folded_name="lost", created_at=utc_now()))
        db.flush()
        return {"said": "done"}

    app = make_app(Settings(data=data))
    app.include_router(stray)
    with TestClient(app, raise_server_exceptions=False) as service:
        assert service.post("/stray").status_code == 500


def test_unknown_addresses_and_methods_are_problems(service: TestClient) -> None:
    for method, path, status in (
        ("GET", "/nowhere", 404),
        ("GET", "/api/nowhere", 404),
        ("PUT", "/health", 405),
        ("GET", "/web/nowhere.js", 404),
        ("GET", "/web/../service/app.py", 404),
    ):
        answer = service.request(method, path)
        assert answer.status_code == status, path
        assert answer.headers["content-type"] == "application/problem+json", path
