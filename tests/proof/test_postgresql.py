"""PostgreSQL keeps what SQLite keeps: one writer at a time, history that stays, a chain that tells.

Run with RIMEBOOK_TEST_ENGINE=postgresql.
"""

import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import Any
from uuid import uuid4

import psycopg
import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event, text
from sqlalchemy.exc import InternalError

from service.app import make_app, open_book
from service.kernel import postgresql as kernel
from service.kernel.database import Database
from service.ledger.check import check
from service.settings import Settings
from tests import building
from tests.banks import Bank
from tests.conftest import Client
from tests.engine import PostgreSQL
from tests.proof import banks
from tests.proof.test_race import each_straw_leaves_once
from tests.serving import rimebook, running


def outside(data: Path) -> closing[psycopg.Connection]:
    """A connection past the service to the book in this folder, as the server's owner."""
    url = Settings(data=data).database_url
    assert url is not None
    return closing(psycopg.connect(url, autocommit=True))


@pytest.fixture
def fresh(postgresql: PostgreSQL, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """An empty database that the service finds, in this process and in those it starts."""
    name = postgresql.new()
    monkeypatch.setenv("RIMEBOOK_DATABASE_URL", postgresql.url(name))
    yield postgresql.url(name)
    postgresql.drop(name)


def test_straws_contested_over_two_servers_leave_once(fresh: str, tmp_path: Path) -> None:
    banks.add_vet(tmp_path / "one")
    with (
        running(rimebook(tmp_path / "one")) as one,
        running(rimebook(tmp_path / "two")) as two,
    ):
        each_straw_leaves_once([one.address, two.address])


#: The tables that are added to and never changed.
HISTORY = {
    *("entries", "lines", "answers", "record_changes", "security_events", "dose_rules"),
    *("post_thaw_results", "outcomes", "goblet_moves", "batch_tests", "dispatch_seals"),
    *("prints", "printed_labels", "levels", "top_ups", "nitrogen_strikes", "alert_events"),
    *("counts", "differences", "adjustments", "adjustment_approvals", "stock_take_reviews"),
    "content_reads",
}


def test_every_history_has_its_triggers_and_they_are_on(postgresql: PostgreSQL, data: Path) -> None:
    with outside(data) as connection:
        triggers = connection.execute(
            "SELECT tgrelid::regclass::text, tgname, tgenabled FROM pg_trigger"
            " WHERE NOT tgisinternal"
        ).fetchall()
    assert set(triggers) == {
        (table, f"{table}_{name}", "O")
        for table in HISTORY
        for name in ("no_change", "no_truncate")
    } | {("adjustment_approvals", "adjustment_approvals_somebody_else", "O")}


@pytest.mark.parametrize("table", sorted(HISTORY))
def test_history_refuses_to_be_changed(
    postgresql: PostgreSQL, data: Path, technician: Client, bank: Bank, table: str
) -> None:
    with outside(data) as connection:
        rows = connection.execute(f"SELECT count(*) FROM {table}").fetchone()
        [column] = connection.execute(
            "SELECT column_name FROM information_schema.columns WHERE table_name = %s", [table]
        ).fetchone() or [""]
        statements = [f"TRUNCATE {table} CASCADE"]
        if rows != (0,):  # a trigger for each row sees only rows; all of them stand on the same two
            statements += [f"UPDATE {table} SET {column} = {column}", f"DELETE FROM {table}"]
        for statement in statements:
            with pytest.raises(psycopg.IntegrityError, match="append-only"):
                connection.execute(statement)
        assert connection.execute(f"SELECT count(*) FROM {table}").fetchone() == rows


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("UPDATE entries SET reason = 'other' WHERE seq = 2", "Entry 2 was changed"),
        (
            "UPDATE lines SET provisional = NOT provisional WHERE entry_seq = 2",
            "Entry 2 was changed",
        ),
        ("DELETE FROM entries WHERE seq = 2", "Entry 2 is not there"),
        ("UPDATE straws SET state = 'used', goblet_id = NULL", "is not where the book"),
        ("UPDATE stock SET straws = straws + 1", "the stock says"),
        ("UPDATE batches SET post_thaw_percent = '80'", "its post-thaw result is not"),
    ],
)
def test_a_change_past_the_service_is_found(
    postgresql: PostgreSQL, data: Path, bank: Bank, statement: str, said: str
) -> None:
    """By somebody who may switch triggers and keys off, as the server's owner may."""
    with outside(data) as connection:
        connection.execute("SET session_replication_role = replica")
        connection.execute(statement)
    with closing(Database(Settings(data=data).book_url)) as database, database.reading() as db:
        problems = check(db).problems
    assert any(said in problem for problem in problems), problems


def test_a_commit_that_got_no_answer_is_told_as_unknown_and_sent_again(
    postgresql: PostgreSQL, data: Path, technician: Client, bank: Bank
) -> None:
    """The connection dies at the commit: the client cannot know, and need not."""
    engine = technician.app.state.wiring.database.engine  # type: ignore[attr-defined]
    move = {"id": str(uuid4()), "picks": [bank.pick(0, 5)], "goblet_id": bank.goblets[1]["id"]}

    cuts: list[int] = []

    def cut(connection: Any) -> None:
        if cuts or threading.current_thread().name.startswith("last-use"):
            return
        [[backend]] = connection.exec_driver_sql("SELECT pg_backend_pid()")
        with outside(data) as other:
            other.execute("SELECT pg_terminate_backend(%s)", [backend])
        cuts.append(backend)

    event.listen(engine, "commit", cut)
    answer = technician.post("/api/moves", json=move)
    assert (answer.status_code, answer.json()["code"]) == (503, "database-away"), answer.text
    assert answer.headers["Retry-After"]
    assert len(cuts) == 1
    assert technician.post("/api/moves", json=move).status_code in (200, 201)
    assert technician.ok("GET", "/api/ledger/check")["sound"]
    goblet = technician.ok("GET", f"/api/goblets/{bank.goblets[1]['id']}")
    assert [content["straws"] for content in goblet["contents"]] == [5]


def test_a_full_disk_is_told_and_reading_goes_on(
    postgresql: PostgreSQL, data: Path, manager: Client
) -> None:
    """The server's own state for it, raised where a row of this table would have been written."""
    with outside(data) as connection:
        connection.execute(
            "CREATE FUNCTION full_disk() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            "RAISE EXCEPTION 'could not extend file /secret' USING ERRCODE = 'disk_full'; END $$"
        )
        connection.execute(
            "CREATE TRIGGER full_disk BEFORE INSERT ON stallions "
            "FOR EACH ROW EXECUTE FUNCTION full_disk()"
        )
        manager.refused("POST", "/api/stallions", building.stallion(), 507, "disk-full")
        assert manager.ok("GET", "/api/stallions")["items"] == []
        connection.execute("DROP TRIGGER full_disk ON stallions")
    manager.ok("POST", "/api/stallions", building.stallion(), status=201)


def test_a_book_that_somebody_holds_is_told_as_busy(
    postgresql: PostgreSQL, data: Path, manager: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As a server that was stopped in the middle of a write would, or a hand at the console."""
    monkeypatch.setitem(kernel._SETTINGS, "lock_timeout", "200ms")
    with (
        TestClient(make_app(Settings(data=data)), headers=manager.headers) as waiting,
        outside(data) as connection,
        connection.transaction(),
    ):
        connection.execute("SELECT pg_advisory_xact_lock(%s)", [kernel.WRITE_LOCK])
        answer = waiting.post("/api/stallions", json=building.stallion())
        assert (answer.status_code, answer.json()["code"]) == (503, "busy")
        assert waiting.get("/api/stallions").json()["items"] == []
    manager.ok("POST", "/api/stallions", building.stallion(), status=201)


def test_two_servers_start_on_an_empty_database_at_once(fresh: str, tmp_path: Path) -> None:
    """One makes the tables, the other waits and finds them made."""
    folders = [tmp_path / "one", tmp_path / "two"]
    with ThreadPoolExecutor(2) as pool:
        for database in pool.map(lambda folder: open_book(Settings(data=folder)), folders):
            database.close()


def test_a_reader_cannot_write_and_sees_one_picture(postgresql: PostgreSQL, data: Path) -> None:
    database: Any = Database(Settings(data=data).book_url)
    with closing(database), database.reading() as reader:
        before = reader.execute(text("SELECT name FROM station")).scalar()
        with pytest.raises(InternalError, match="read-only"), reader.begin_nested():
            reader.execute(text("UPDATE station SET name = 'Another'"))
        with database.writing() as db:
            db.execute(text("UPDATE station SET name = 'Another'"))
        assert reader.execute(text("SELECT name FROM station")).scalar() == before
