"""A backup made while people write is a whole book; a plain copy of the file is not.

RIMEBOOK_BACKUPS_UNDER_LOAD sets how many are made (5 unless set).
"""

import os
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from shutil import copyfile
from typing import Any

import httpx
import pytest

from service.app import VERSION, make_app
from service.backups.actions import back_up
from service.backups.restoring import restore
from service.kernel.database import Database, sqlite_url
from service.kernel.ids import new_id
from service.people.events import Occasion
from service.settings import Settings
from tests.backups.test_backups import replayed
from tests.proof import banks
from tests.serving import rimebook, running

BACKUPS = int(os.environ.get("RIMEBOOK_BACKUPS_UNDER_LOAD", "5"))
COPIES = 200


@contextmanager
def writers(address: str, bank: dict[str, Any], hands: int = 2) -> Iterator[Callable[[], int]]:
    """Hands move straws and take it back without pause; gives how many acts were booked."""
    done, stop, failed = [0] * hands, threading.Event(), []

    def hand(number: int) -> None:
        try:
            work(number)
        except Exception as error:
            failed.append(error)

    def work(number: int) -> None:
        goblet, batch = bank["batches"][number]
        with banks.signed_in(address, "vet") as vet:
            while not stop.is_set():
                pick = {"goblet_id": goblet, "batch_id": batch, "straws": 20}
                body = {"picks": [pick], "goblet_id": bank["batches"][number + hands][0]}
                moved = vet.post("/api/moves", json=body)
                assert moved.status_code == 201, moved.text
                back = vet.post(
                    f"/api/ledger/{moved.json()['id']}/correct", json={"reason": "Proof"}
                )
                assert back.status_code == 201, back.text
                done[number] += 2

    def booked() -> int:
        assert not failed, failed
        return sum(done)

    threads = [threading.Thread(target=hand, args=(number,)) for number in range(hands)]
    for thread in threads:
        thread.start()
    try:
        while not failed and not all(done):
            time.sleep(0.01)
        yield booked
    finally:
        stop.set()
        for thread in threads:
            thread.join()
    assert not failed, failed


@pytest.fixture
def loaded(tmp_path: Path) -> Iterator[tuple[Path, str, dict[str, Any]]]:
    """A server with a bank: its data, its address, what was made."""
    data = tmp_path / "data"
    banks.add_vet(data)
    with running(rimebook(data)) as server:
        made = banks.fill(server.address, straws=400, in_goblets=4)
        with banks.signed_in(server.address, "manager") as manager:
            for goblet, _ in made["batches"]:
                path = f"/api/goblets/{goblet}"
                version = {"If-Match": manager.get(path).headers["ETag"]}
                changed = manager.patch(path, json={"capacity_straws": 200}, headers=version)
                assert changed.status_code == 200, changed.text
        yield data, server.address, made


def test_each_backup_under_load_is_whole_and_restores(
    loaded: tuple[Path, str, dict[str, Any]], tmp_path: Path
) -> None:
    data, address, bank = loaded
    folder = tmp_path / "backups"
    folder.mkdir()
    database = Database(sqlite_url(data))
    with writers(address, bank) as booked:
        for _ in range(BACKUPS):
            before = booked()
            made = back_up(database, folder, now=datetime.now(UTC), version=VERSION).manifest
            assert replayed(folder / made.file)["head"] == made.contents.head
            assert booked() > before, "nobody wrote meanwhile: it proves nothing"
        written = booked()
    database.close()
    assert made.contents.entries <= written + 2 * len(bank["batches"])
    occasion = Occasion(at=datetime.now(UTC), new_id=new_id)
    new = tmp_path / "new"
    done = restore(folder, new, occasion, lambda at: make_app(Settings(data=at, database_url=None)))
    assert done.drilled.straws_stored == sum(made.contents.straws.values())
    assert replayed(new / "rimebook.db") == replayed(folder / made.file)
    with httpx.Client(base_url=address) as still:
        assert still.get("/health").status_code == 200


def test_a_plain_copy_under_load_is_found_out(
    loaded: tuple[Path, str, dict[str, Any]], tmp_path: Path
) -> None:
    """The negative control: copying the file as it lies must fail at least once."""
    data, address, bank = loaded
    bad = 0
    with writers(address, bank) as booked:
        for _ in range(COPIES):
            before = booked()
            while booked() < before + 2:
                pass
            copyfile(data / "rimebook.db", tmp_path / "copy.db")
            bad += _is_bad(tmp_path / "copy.db", before)
            if bad:
                break
    assert bad, f"{COPIES} plain copies were all whole: the proof above proves nothing"


def _is_bad(file: Path, acknowledged: int) -> bool:
    """Torn, or without what was acknowledged before the copy began."""
    try:
        entries = replayed(file)["entries"]
        with closing(sqlite3.connect(file)) as book:
            whole = book.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    except Exception:
        return True
    return not whole or entries < acknowledged
