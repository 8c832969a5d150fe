"""A backup becomes a book in a new folder, and proves itself; over a book it never goes."""

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from service.app import VERSION, make_app, open_book
from service.backups import rules
from service.backups.actions import Made, back_up
from service.backups.folder import sha256_of
from service.backups.restoring import only_drill, restore
from service.backups.rules import BackupDamaged, NotRestored
from service.kernel.ids import new_id
from service.ledger.check import check
from service.people.events import Occasion
from service.settings import Settings
from tests.backups.conftest import NOON
from tests.backups.test_backups import replayed
from tests.banks import Bank
from tests.conftest import Client, Founded
from tests.migrations import golden_books


def opened(folder: Path) -> FastAPI:
    return make_app(Settings(data=folder, database_url=None))


def now() -> Occasion:
    return Occasion(at=datetime.now(UTC), new_id=new_id)


def everything(file: Path) -> list[str]:
    with closing(sqlite3.connect(file)) as book:
        return list(book.iterdump())


def test_the_restored_book_says_the_same(
    vet: Client,
    bank: Bank,
    backed_up: Callable[..., Made],
    folder: Path,
    tmp_path: Path,
    founded: Founded,
) -> None:
    vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    asked = ("/api/stock/stallions", "/api/stock", "/api/ledger", "/api/tanks", "/api/withdrawals")
    before = [vet.ok("GET", path) for path in asked]
    made = backed_up().manifest
    restored = restore(folder, tmp_path / "new", now(), opened)
    assert (restored.manifest, restored.upgraded_to) == (made, None)
    assert (restored.drilled.head, restored.drilled.straws_stored) == (made.contents.head, 36)
    assert [path.name for path in (tmp_path / "new").iterdir()] == ["rimebook.db"]
    assert everything(tmp_path / "new" / "rimebook.db") == everything(folder / made.file), (
        "the drill left something in the book"
    )
    headers = {"Authorization": f"Bearer {founded.tokens['vet']}"}
    with TestClient(opened(tmp_path / "new"), headers=headers) as service:
        assert [service.get(path).json() for path in asked] == before
        body = bank.withdrawal(picks=[bank.pick(0, 4)])
        assert service.post("/api/withdrawals", json=body).status_code == 201


def test_the_newest_in_a_folder_is_taken_or_the_one_that_is_named(
    bank: Bank, backed_up: Callable[..., Made], folder: Path
) -> None:
    first = backed_up(NOON).manifest
    second = backed_up(NOON + timedelta(hours=1)).manifest
    assert only_drill(folder, now(), opened).manifest == second
    assert only_drill(folder / first.file, now(), opened).manifest == first
    assert only_drill(folder / rules.beside(first.file), now(), opened).manifest == first


def test_a_drill_changes_nothing_anywhere(
    bank: Bank, backed_up: Callable[..., Made], folder: Path
) -> None:
    backed_up()
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    done = only_drill(folder, now(), opened)
    assert (done.drilled.username, done.drilled.straws_stored) == ("manager", 40)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_a_book_without_people_is_drilled_by_a_manager_of_the_copy(tmp_path: Path) -> None:
    database = open_book(Settings(data=tmp_path / "data", database_url=None))
    made = back_up(database, tmp_path, now=NOON, version=VERSION)
    database.close()
    done = only_drill(tmp_path / made.manifest.file, now(), opened)
    assert done.drilled.username.startswith("drill-")
    assert made.manifest.contents.people == 0


# Over a book


@pytest.fixture
def occupied(tmp_path: Path, backed_up: Callable[..., Made], folder: Path, bank: Bank) -> Path:
    """A folder with a book that is the backup, entry for entry."""
    restore(folder / backed_up().manifest.file, tmp_path / "there", now(), opened)
    return tmp_path / "there"


def withdraw(there: Path, bank: Bank, token: str) -> None:
    with TestClient(opened(there), headers={"Authorization": f"Bearer {token}"}) as service:
        body = bank.withdrawal(picks=[bank.pick(0, 4)])
        assert service.post("/api/withdrawals", json=body).status_code == 201


def test_over_the_same_book_nothing_is_restored(occupied: Path, folder: Path) -> None:
    before = everything(occupied / "rimebook.db")
    with pytest.raises(NotRestored, match="The backup holds the same"):
        restore(folder, occupied, now(), opened)
    assert everything(occupied / "rimebook.db") == before


def test_over_a_newer_book_it_is_said_how_much_would_be_lost(
    occupied: Path, folder: Path, bank: Bank, founded: Founded
) -> None:
    withdraw(occupied, bank, founded.tokens["vet"])
    before = everything(occupied / "rimebook.db")
    with pytest.raises(NotRestored, match="NEWER than the backup: 1 entries") as refused:
        restore(folder, occupied, now(), opened)
    assert "Name a new folder" in refused.value.detail
    assert everything(occupied / "rimebook.db") == before


def test_over_an_older_or_another_book_it_is_said_so(
    occupied: Path,
    folder: Path,
    bank: Bank,
    vet: Client,
    backed_up: Callable[..., Made],
    founded: Founded,
) -> None:
    vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    backed_up(NOON + timedelta(hours=1))
    with pytest.raises(NotRestored, match="older than the backup, which goes on from it"):
        restore(folder, occupied, now(), opened)
    withdraw(occupied, bank, founded.tokens["vet"])
    with pytest.raises(NotRestored, match="parted from it"):
        restore(folder, occupied, now(), opened)


def test_a_folder_with_other_things_is_left_alone(
    backed_up: Callable[..., Made], folder: Path, tmp_path: Path
) -> None:
    backed_up()
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letter.txt").write_text("dear")
    with pytest.raises(NotRestored, match="is not empty"):
        restore(folder, tmp_path / "full", now(), opened)
    with pytest.raises(NotRestored, match="is not a folder"):
        restore(folder, tmp_path / "full" / "letter.txt", now(), opened)
    assert [path.name for path in (tmp_path / "full").iterdir()] == ["letter.txt"]


# Backups that cannot be trusted


def test_of_a_damaged_backup_nothing_is_left_behind(
    bank: Bank, backed_up: Callable[..., Made], folder: Path, tmp_path: Path
) -> None:
    file = folder / backed_up().manifest.file
    file.write_bytes(file.read_bytes()[:-4096] + bytes(4096))
    for named in (file, folder / "nowhere.db", tmp_path / "nowhere"):
        with pytest.raises(BackupDamaged):
            restore(named, tmp_path / "new", now(), opened)
    assert not (tmp_path / "new").exists()


def test_of_a_forged_backup_nothing_is_left_behind(
    bank: Bank, backed_up: Callable[..., Made], folder: Path, tmp_path: Path
) -> None:
    """Its sum is right, its book is not: the check of the restored copy refuses it."""
    made = backed_up().manifest
    with closing(sqlite3.connect(folder / made.file)) as book:
        book.execute("UPDATE stock SET straws = straws - 1")
        book.commit()
    text = (folder / rules.beside(made.file)).read_text()
    forged = text.replace(made.sha256, sha256_of(folder / made.file))
    (folder / rules.beside(made.file)).write_text(forged)
    with pytest.raises(BackupDamaged, match="the stock says"):
        restore(folder, tmp_path / "new", now(), opened)
    assert not (tmp_path / "new").exists()


def test_an_empty_folder_of_backups_is_said_so(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(BackupDamaged, match="No backup is in"):
        restore(folder, tmp_path / "new", now(), opened)


# Older shapes


def test_a_backup_of_the_first_shape_is_restored_in_the_newest(tmp_path: Path) -> None:
    golden_books.first_shape(tmp_path / "old")
    open_book(Settings(data=tmp_path / "old", database_url=None)).close()
    [backup] = (tmp_path / "old").glob("before-0001-*.db")
    done: Any = restore(backup, tmp_path / "new", now(), opened)
    assert done.manifest.contents.revision == "0001"
    assert done.upgraded_to is not None
    assert done.drilled.head == golden_books.HEAD
    file = tmp_path / "new" / "rimebook.db"
    assert golden_books.hashes(file) == golden_books.hashes(backup)
    assert replayed(file)["straws"] == replayed(backup)["straws"] == golden_books.STATES
    database = open_book(Settings(data=tmp_path / "new", database_url=None))
    with database.reading() as db:
        assert check(db).problems == []
    database.close()
    shutil.rmtree(tmp_path / "new")
