"""A folder for backups, and the book of a test as the backups see it."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from service.app import VERSION
from service.backups.actions import Made, back_up
from service.kernel.database import Database
from service.settings import Settings

NOON = datetime(2026, 3, 3, 12, 0, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """An empty folder for backups."""
    made = tmp_path / "elsewhere"
    made.mkdir()
    return made


@pytest.fixture
def database(data: Path) -> Iterator[Database]:
    """The test's book, on whichever engine it is."""
    opened = Database(Settings(data=data).book_url)
    yield opened
    opened.close()


@pytest.fixture
def backed_up(database: Database, folder: Path) -> Callable[..., Made]:
    """`backed_up()` makes a backup of the test's book; `at=` says when."""

    def make(at: datetime = NOON) -> Made:
        return back_up(database, folder, now=at, version=VERSION)

    return make
