"""PostgreSQL keeps what SQLite keeps: one writer at a time, history that stays, a chain that tells.

Run with RIMEBOOK_TEST_ENGINE=postgresql.
"""

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import psycopg
import pytest
from sqlalchemy import text
from sqlalchemy.exc import InternalError

from service.kernel.database import Database
from service.kernel.errors import DatabaseUnfit
from service.ledger.check import check
from service.settings import Settings
from tests.banks import Bank
from tests.conftest import Client
from tests.engine import PostgreSQL
from tests.proof import banks
from tests.proof.test_race import each_straw_leaves_once
from tests.serving import rimebook, running

HISTORY = (
    *("entries", "lines", "answers", "record_changes", "security_events", "dose_rules"),
    *("post_thaw_results", "outcomes", "goblet_moves", "batch_tests", "dispatch_seals"),
)


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


@pytest.mark.parametrize("table", HISTORY)
def test_history_refuses_to_be_changed(
    postgresql: PostgreSQL, data: Path, technician: Client, bank: Bank, table: str
) -> None:
    url = Settings(data=data).database_url
    assert url is not None
    with closing(psycopg.connect(url, autocommit=True)) as connection:
        [column, *_] = connection.execute(
            "SELECT column_name FROM information_schema.columns WHERE table_name = %s", [table]
        ).fetchone() or [""]
        if connection.execute(f"SELECT count(*) FROM {table}").fetchone() != (0,):
            for statement in (f"UPDATE {table} SET {column} = {column}", f"DELETE FROM {table}"):
                with pytest.raises(psycopg.IntegrityError, match="append-only"):
                    connection.execute(statement)
        with pytest.raises(psycopg.DatabaseError, match="append-only"):
            connection.execute(f"TRUNCATE {table} CASCADE")


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
    settings = Settings(data=data)
    assert settings.database_url is not None
    with closing(psycopg.connect(settings.database_url, autocommit=True)) as connection:
        connection.execute("SET session_replication_role = replica")
        connection.execute(statement)
    with closing(Database(settings.book_url)) as database, database.reading() as db:
        problems = check(db).problems
    assert any(said in problem for problem in problems), problems


def test_a_database_that_cannot_keep_every_name_is_refused(postgresql: PostgreSQL) -> None:
    """And said how to create one. (One that sorts by a language is refused likewise; the server of
    the tests knows none.)
    """
    name = postgresql.new(encoding="LATIN1")
    url = Settings(database_url=postgresql.url(name)).book_url
    with (
        closing(Database(url)) as database,
        pytest.raises(DatabaseUnfit, match="createdb --encoding=UTF8"),
        database.reading() as db,
    ):
        db.execute(text("SELECT 1"))
    postgresql.drop(name)


def test_a_reader_cannot_write_and_sees_one_picture(postgresql: PostgreSQL, data: Path) -> None:
    database: Any = Database(Settings(data=data).book_url)
    with closing(database), database.reading() as reader:
        before = reader.execute(text("SELECT name FROM station")).scalar()
        with pytest.raises(InternalError, match="read-only"), reader.begin_nested():
            reader.execute(text("UPDATE station SET name = 'Another'"))
        with database.writing() as db:
            db.execute(text("UPDATE station SET name = 'Another'"))
        assert reader.execute(text("SELECT name FROM station")).scalar() == before
