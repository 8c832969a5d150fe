"""A bank goes from one engine to another with every hash, or not at all."""

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from service.app import make_app, open_book
from service.backups.copying import move
from service.backups.rules import BackupDamaged, NotCopied
from service.kernel.database import Database, sqlite_url
from service.kernel.errors import DatabaseUnfit
from service.ledger.check import check
from service.settings import Settings, url_of
from tests.backups.test_backups import replayed
from tests.banks import Bank
from tests.conftest import Client
from tests.engine import PostgreSQL
from tests.migrations import golden_books


def rows(file: Path) -> dict[str, list[Any]]:
    """Every row of every table, as it is kept."""
    with closing(sqlite3.connect(file)) as book:
        tables = book.execute("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
        return {
            name: sorted(map(repr, book.execute(f"SELECT {_columns(book, name)} FROM {name}")))
            for (name,) in tables.fetchall()
        }


def _columns(book: sqlite3.Connection, table: str) -> str:
    """Column names in order of their names: a migration may have appended some."""
    found = book.execute(f"SELECT name FROM pragma_table_info('{table}') ORDER BY name")
    return ", ".join(f'"{name}", typeof("{name}")' for (name,) in found)


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """A folder with the golden book in the newest shape."""
    golden_books.first_shape(tmp_path / "book")
    open_book(Settings(data=tmp_path / "book", database_url=None)).close()
    return tmp_path / "book"


def test_from_file_to_file_every_row_is_the_same(book: Path, tmp_path: Path) -> None:
    contents = move(sqlite_url(book), sqlite_url(tmp_path / "new"))
    assert (contents.entries, contents.head) == (golden_books.ENTRIES, golden_books.HEAD)
    assert rows(tmp_path / "new" / "rimebook.db") == rows(book / "rimebook.db")


def test_a_book_in_an_older_shape_keeps_it(tmp_path: Path) -> None:
    file = golden_books.first_shape(tmp_path / "old")
    contents = move(sqlite_url(tmp_path / "old"), sqlite_url(tmp_path / "new"))
    assert contents.revision == "0001"
    assert rows(tmp_path / "new" / "rimebook.db") == rows(file)


def test_over_a_book_nothing_is_copied(book: Path, tmp_path: Path) -> None:
    shutil.copytree(book, tmp_path / "there")
    before = rows(tmp_path / "there" / "rimebook.db")
    with pytest.raises(NotCopied, match="a book already"):
        move(sqlite_url(book), sqlite_url(tmp_path / "there"))
    assert rows(tmp_path / "there" / "rimebook.db") == before


def test_of_a_sick_book_nothing_is_left(book: Path, tmp_path: Path) -> None:
    with closing(sqlite3.connect(book / "rimebook.db")) as sick:
        sick.execute("UPDATE stock SET straws = straws - 1")
        sick.commit()
    with pytest.raises(NotCopied, match="the stock says"):
        move(sqlite_url(book), sqlite_url(tmp_path / "new"))
    assert list((tmp_path / "new").iterdir()) == []


def test_from_nowhere_or_to_an_unknown_engine_it_is_said_so(book: Path, tmp_path: Path) -> None:
    with pytest.raises(NotCopied, match="no book in the folder"):
        move(sqlite_url(tmp_path / "nowhere"), sqlite_url(tmp_path / "new"))
    (tmp_path / "empty").mkdir()
    Database(sqlite_url(tmp_path / "empty")).engine.connect().close()
    with pytest.raises(BackupDamaged, match="no book"):
        move(sqlite_url(tmp_path / "empty"), sqlite_url(tmp_path / "new"))
    with pytest.raises(DatabaseUnfit, match="not supported"):
        move(sqlite_url(book), "mysql://localhost/x")
    assert list((tmp_path / "new").iterdir()) == []


# To PostgreSQL and back


@pytest.fixture
def server_book(postgresql: PostgreSQL) -> Iterator[str]:
    """The address of an empty database."""
    name = postgresql.new()
    yield url_of(postgresql.url(name))
    postgresql.drop(name)


def test_to_postgresql_and_back_every_row_is_the_same(
    book: Path, tmp_path: Path, server_book: str
) -> None:
    there = move(sqlite_url(book), server_book)
    back = move(server_book, sqlite_url(tmp_path / "back"))
    assert there == back
    assert rows(tmp_path / "back" / "rimebook.db") == rows(book / "rimebook.db")
    assert replayed(tmp_path / "back" / "rimebook.db") == replayed(book / "rimebook.db")


def test_the_moved_bank_is_worked_with(book: Path, tmp_path: Path, server_book: str) -> None:
    move(sqlite_url(book), server_book)
    app = make_app(Settings(data=tmp_path / "data", database_url=server_book))
    with Client(app, headers={"Origin": "http://testserver"}) as service:
        sign_in = {"username": golden_books.USERNAME, "password": golden_books.PASSWORD}
        service.ok("POST", "/api/session", sign_in)
        moved = next(
            entry for entry in service.ok("GET", "/api/ledger")["items"] if entry["kind"] == "move"
        )
        service.ok("POST", f"/api/ledger/{moved['id']}/correct", {"reason": "Back again"})
        assert service.ok("GET", "/api/ledger/check")["entries"] == golden_books.ENTRIES + 1


def test_an_older_shape_goes_to_postgresql_and_is_brought_up_to_date_there(
    tmp_path: Path, server_book: str
) -> None:
    golden_books.first_shape(tmp_path / "old")
    assert move(sqlite_url(tmp_path / "old"), server_book).revision == "0001"
    database = open_book(Settings(data=tmp_path / "data", database_url=server_book))
    with database.reading() as db:
        found = check(db)
    database.close()
    assert (found.head, found.problems) == (golden_books.HEAD, [])
    [backup] = (tmp_path / "data").glob("before-0001-*.db")
    assert golden_books.hashes(backup) == golden_books.hashes(tmp_path / "old" / "rimebook.db")


def test_into_a_database_that_is_not_empty_nothing_is_copied(book: Path, server_book: str) -> None:
    database = Database(server_book)
    with database.writing() as db:
        db.connection().execute(text("CREATE TABLE things (name TEXT)"))
    with pytest.raises(NotCopied, match="not empty"):
        move(sqlite_url(book), server_book)
    with database.reading() as db:
        tables = "SELECT count(*) FROM information_schema.tables WHERE table_schema = 'public'"
        assert db.connection().execute(text(tables)).scalar() == 1
    database.close()


def test_of_a_sick_book_nothing_is_left_on_the_server(book: Path, server_book: str) -> None:
    with closing(sqlite3.connect(book / "rimebook.db")) as sick:
        sick.execute("UPDATE stock SET straws = straws - 1")
        sick.commit()
    with pytest.raises(NotCopied, match="the stock says"):
        move(sqlite_url(book), server_book)
    database = Database(server_book)
    with database.reading() as db:
        tables = "SELECT count(*) FROM information_schema.tables WHERE table_schema = 'public'"
        assert db.connection().execute(text(tables)).scalar() == 0
    database.close()


def test_a_backup_tells_of_the_engine_it_came_from(
    database: Database, bank: Bank, backed_up: Callable[..., Any]
) -> None:
    assert backed_up().manifest.engine == database.engine.dialect.name
