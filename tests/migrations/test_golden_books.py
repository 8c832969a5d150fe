"""A book in the first shape comes to the newest with every hash it had, and works."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from service.app import make_app, open_book
from service.ledger.check import check
from service.people.events import check as check_people
from service.settings import Settings
from tests.migrations.golden_books import (
    ENTRIES,
    HEAD,
    PASSWORD,
    SECURITY_EVENTS,
    STATES,
    USERNAME,
    first_shape,
    hashes,
)


def test_the_first_shape_becomes_the_newest_with_every_hash(tmp_path: Path) -> None:
    file = first_shape(tmp_path)
    before = hashes(file)
    assert len(before) == ENTRIES + SECURITY_EVENTS
    database = open_book(Settings(data=tmp_path, database_url=None))
    with database.reading() as db:
        found, people = check(db), check_people(db)
    database.close()
    assert (found.problems, people.problems) == ([], [])
    assert (found.entries, found.head, people.events) == (ENTRIES, HEAD, SECURITY_EVENTS)
    assert hashes(file) == before
    with closing(sqlite3.connect(file)) as book:
        assert book.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert book.execute("PRAGMA foreign_key_check").fetchall() == []
        assert dict(book.execute("SELECT state, count(*) FROM straws GROUP BY state")) == STATES


def test_one_signs_in_to_it_and_goes_on(tmp_path: Path) -> None:
    first_shape(tmp_path)
    headers = {"Origin": "http://testserver"}
    app = make_app(Settings(data=tmp_path, database_url=None))
    with TestClient(app, headers=headers) as service:
        sign_in = {"username": USERNAME, "password": PASSWORD}
        assert service.post("/api/session", json=sign_in).status_code == 204
        assert service.get("/api/stock").json()["straws"] == STATES["stored"]
        found = service.get("/api/ledger?newest_first=true&limit=1").json()["items"][0]
        assert (found["seq"], found["hash"]) == (ENTRIES, HEAD)
        correction = {"id": "018f3c1e-0000-7000-8000-000000000001", "reason": "Back again"}
        moved = next(
            entry for entry in service.get("/api/ledger").json()["items"] if entry["kind"] == "move"
        )
        answer = service.post(f"/api/ledger/{moved['id']}/correct", json=correction)
        assert answer.status_code == 201, answer.text
        assert service.get("/api/ledger/check").json()["problems"] == []


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entries SET by_name = 'Nobody' WHERE seq = 1",
        "DELETE FROM lines WHERE entry_seq = 1",
        "UPDATE security_events SET text = '{}' WHERE seq = 1",
        "DELETE FROM dose_rules",
        "INSERT OR REPLACE INTO entries SELECT * FROM entries WHERE seq = 1",
    ],
)
def test_its_history_still_refuses_to_be_changed(tmp_path: Path, statement: str) -> None:
    file = first_shape(tmp_path)
    open_book(Settings(data=tmp_path, database_url=None)).close()
    with (
        closing(sqlite3.connect(file)) as book,
        pytest.raises(sqlite3.IntegrityError, match="append-only"),
    ):
        book.execute(statement)
