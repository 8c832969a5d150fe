"""Before a book changes its shape it is backed up; killed in between, it is what it was."""

import logging
import shutil
import signal
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


#: More than an upgrade from the first shape has; the last ones are not killed.
STATEMENTS = 70

#: A process that upgrades the book, killed before its n-th statement, as by a power button.
_KILLED = """
import os, signal, sys
from pathlib import Path
from sqlalchemy import event
from service.kernel.database import Database, sqlite_url
from service.migrations import upgrade

def upgrade_killed_at(data, number):
    database, seen = Database(sqlite_url(data)), []
    @event.listens_for(database.engine, "before_cursor_execute")
    def count(*_):
        seen.append(1)
        if len(seen) == number:
            os.kill(os.getpid(), signal.SIGKILL)
    upgrade(database)

folders = sorted(Path(sys.argv[1]).iterdir(), key=lambda path: int(path.name))
for folder in folders:
    child = os.fork()
    if not child:
        upgrade_killed_at(folder, int(folder.name))
        os._exit(0)
    _, status = os.waitpid(child, 0)
    print(os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0)
"""


def test_killed_at_any_statement_the_old_book_is_whole(tmp_path: Path) -> None:
    old = golden_books.first_shape(tmp_path / "old")
    before, things = golden_books.hashes(old), _things_in(old)
    books = tmp_path / "books"
    for number in range(1, STATEMENTS + 1):
        shutil.copytree(old.parent, books / str(number))
    command = [sys.executable, "-c", _KILLED, str(books)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    signals = [int(line) for line in done.stdout.split()]
    killed = signals.count(signal.SIGKILL)
    assert 10 < killed < STATEMENTS, "it must be killed at every statement, and once not at all"
    for number, ended_by in enumerate(signals, start=1):
        with closing(sqlite3.connect(books / str(number) / "rimebook.db")) as book:
            [shape] = book.execute("SELECT version_num FROM alembic_version").fetchone()
            assert book.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            tables = book.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        if ended_by:
            assert shape == "0001"
            assert tables == (
                _things_in(golden_books.first_shape(tmp_path / "again" / str(number))),
            )
        else:
            assert shape > "0001"
        assert golden_books.hashes(books / str(number) / "rimebook.db") == before
    last = books / str(killed)
    opened(last)
    assert golden_books.hashes(last / "rimebook.db") == before


def _things_in(file: Path) -> int:
    with closing(sqlite3.connect(file)) as book:
        [number] = book.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    return int(number)
