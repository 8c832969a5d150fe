"""Before a book changes its shape it is backed up; killed in between, it is what it was."""

import logging
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from service.app import open_book
from service.backups.rules import BackupFailed
from service.backups.verifying import verify
from service.settings import Settings
from tests.migrations import golden_books


def opened(data: Path) -> None:
    open_book(Settings(data=data, database_url=None)).close()


def test_a_verified_backup_is_made_first_and_the_log_says_so(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    file = golden_books.first_shape(tmp_path)
    before = golden_books.hashes(file)
    with caplog.at_level(logging.INFO, "rimebook"):
        opened(tmp_path)
    [backup] = tmp_path.glob("before-0001-*.db")
    assert golden_books.hashes(backup) == before
    manifest = verify(backup)
    assert (manifest.contents.revision, manifest.contents.head) == ("0001", golden_books.HEAD)
    assert backup.name in caplog.text


def test_a_book_in_the_newest_shape_and_an_empty_one_need_none(tmp_path: Path) -> None:
    opened(tmp_path / "new")
    opened(tmp_path / "new")
    assert not list((tmp_path / "new").glob("before-*"))


def test_without_a_sound_backup_the_shape_is_not_changed(tmp_path: Path) -> None:
    file = golden_books.first_shape(tmp_path)
    with closing(sqlite3.connect(file)) as book:
        book.execute("UPDATE stock SET straws = straws - 1")
        book.commit()
        before = list(book.iterdump())
    with pytest.raises(BackupFailed, match="not sound"):
        opened(tmp_path)
    with closing(sqlite3.connect(file)) as book:
        assert list(book.iterdump()) == before
    assert not list(tmp_path.glob("before-*")), "what was copied of a sick book was left"


#: Upgrades copies of a book, killed before the first, second, ... statement as by a power button,
#: until there is nothing left to kill before; prints how many were killed.
_KILLED = """
import os, shutil, signal, sys
from pathlib import Path
from sqlalchemy import event
from service.kernel.database import Database, sqlite_url
from service.migrations import upgrade

def upgrade_killed_at(data, number=0):
    database, seen = Database(sqlite_url(data)), []
    @event.listens_for(database.engine, "before_cursor_execute")
    def count(*_):
        seen.append(1)
        if len(seen) == number:
            os.kill(os.getpid(), signal.SIGKILL)
    upgrade(database)
    database.close()

old, books = Path(sys.argv[1]), Path(sys.argv[2])
# Once to its end, so that what is imported on the way is there for all: a fifth of the time.
upgrade_killed_at(shutil.copytree(old, books / "whole"))
number, killed = 0, True
while killed:
    number += 1
    shutil.copytree(old, books / str(number))
    child = os.fork()
    if not child:
        upgrade_killed_at(books / str(number), number)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    killed = os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
    assert killed or status == 0, status
print(number - 1)
"""


def test_killed_at_any_statement_the_old_book_is_whole(tmp_path: Path) -> None:
    old, books = golden_books.first_shape(tmp_path / "old"), tmp_path / "books"
    before, shape = golden_books.hashes(old), _shape(old)
    command = [sys.executable, "-c", _KILLED, str(old.parent), str(books)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    killed = int(done.stdout)
    assert killed > 10
    for number in range(1, killed + 1):
        file = books / str(number) / "rimebook.db"
        assert _shape(file) == shape, f"killed before statement {number} it was half changed"
        assert golden_books.hashes(file) == before
    assert _shape(books / str(killed + 1) / "rimebook.db") != shape
    opened(books / str(killed))
    assert golden_books.hashes(books / str(killed) / "rimebook.db") == before


def _shape(file: Path) -> list[str]:
    """Tables, indexes and triggers of a sound file, and its version."""
    with closing(sqlite3.connect(file)) as book:
        assert book.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        parts = book.execute("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY name")
        [version] = book.execute("SELECT version_num FROM alembic_version").fetchone()
        return [version, *(sql for (sql,) in parts)]
