"""Backups by the clock, and what the API says of them."""

import logging
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.app import VERSION, make_app
from service.backups.actions import Made
from service.backups.automatic import Automatic
from service.kernel.database import Database
from service.settings import Settings
from tests.backups.conftest import NOON
from tests.conftest import Founded

HOUR = timedelta(hours=1)


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.now = NOON

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


def automatic_of(database: Database, folder: Path, clock: Clock) -> Automatic:
    return Automatic(
        database, folder=folder, folder_set=True, every=HOUR, clock=clock, version=VERSION
    )


@pytest.fixture
def automatic(database: Database, folder: Path, clock: Clock) -> Automatic:
    return automatic_of(database, folder, clock)


def moments(automatic: Automatic) -> list[datetime]:
    return [one.created_at for one in automatic.standing().items]


def test_one_is_made_at_once_and_the_next_after_the_interval(
    automatic: Automatic, clock: Clock
) -> None:
    assert automatic.standing().overdue, "none was ever made"
    automatic.look()
    assert moments(automatic) == [NOON]
    assert not automatic.standing().overdue
    clock.now = NOON + timedelta(minutes=59)
    automatic.look()
    assert moments(automatic) == [NOON]
    clock.now = NOON + HOUR
    automatic.look()
    assert moments(automatic) == [NOON + HOUR, NOON]


def test_of_two_processes_one_does_it(
    automatic: Automatic, database: Database, folder: Path, clock: Clock
) -> None:
    other = automatic_of(database, folder, clock)
    automatic.look()
    other.look()
    assert moments(other) == [NOON]


def test_overdue_is_said_after_two_intervals(automatic: Automatic, clock: Clock) -> None:
    automatic.look()
    clock.now = NOON + 2 * HOUR - timedelta(seconds=1)
    assert not automatic.standing().overdue
    clock.now = NOON + 2 * HOUR
    assert automatic.standing().overdue
    assert automatic.standing().overdue_since == NOON + 2 * HOUR


def test_a_failure_is_logged_seen_and_tried_again_and_over_when_it_works(
    automatic: Automatic, folder: Path, clock: Clock, caplog: pytest.LogCaptureFixture
) -> None:
    folder.rmdir()
    with caplog.at_level(logging.ERROR, "rimebook"):
        automatic.look()
    assert "no automatic backup was made: The folder for backups is not there" in caplog.text
    failure = automatic.standing().last_failure
    assert failure is not None
    assert failure.at == NOON
    assert str(folder) not in failure.detail
    folder.mkdir()
    clock.now = NOON + timedelta(minutes=9)
    automatic.look()
    assert moments(automatic) == []
    clock.now = NOON + timedelta(minutes=10)
    automatic.look()
    assert moments(automatic) == [clock.now]
    assert automatic.standing().last_failure is None


# In the server


@pytest.fixture
def served(data: Path, folder: Path, founded: Founded) -> Iterator[Callable[[], Any]]:
    """The server with a folder for backups; what it says of them."""
    app = make_app(Settings(data=data, backup_folder=folder))
    headers = {"Authorization": f"Bearer {founded.tokens['auditor']}"}
    with TestClient(app, headers=headers) as service:
        yield lambda: service.get("/api/backups").json()


def test_a_server_makes_its_first_backup_by_itself(
    served: Callable[[], Any], folder: Path, data: Path
) -> None:
    deadline = datetime.now(UTC) + timedelta(seconds=30)
    while not (said := served())["newest"]:
        assert datetime.now(UTC) < deadline, said
    assert (said["folder_set"], said["every_hours"], said["overdue"]) == (True, 1, False)
    assert said["last_failure"] is None
    assert said["items"] == [said["newest"]]
    assert (folder / said["newest"]["file"]).is_file()
    assert said["newest"]["people"] == 4
    for path in (folder, data):
        assert str(path) not in str(said)


def test_without_a_folder_it_is_said_that_nothing_is_automatic(
    service: TestClient, auditor: Any, data: Path
) -> None:
    said = auditor.ok("GET", "/api/backups")
    assert (said["folder_set"], said["newest"], said["items"]) == (False, None, [])
    assert (said["overdue"], said["overdue_since"], said["last_failure"]) == (False, None, None)


def test_backups_by_hand_beside_the_book_are_listed(
    auditor: Any, backed_up: Callable[..., Made], folder: Path, data: Path
) -> None:
    made = backed_up().manifest
    shutil.copytree(folder, data / "backups")
    assert auditor.ok("GET", "/api/backups")["newest"]["sha256"] == made.sha256
