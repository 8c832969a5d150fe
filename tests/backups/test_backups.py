"""A backup is whole, verified and said what is in it, or it is not there at all."""

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from service.backups import folder as folders
from service.backups import rules
from service.backups.actions import Made, back_up
from service.backups.rules import BackupDamaged, BackupFailed
from service.backups.verifying import verify
from service.kernel.database import Database
from tests.backups.conftest import NOON
from tests.banks import Bank
from tests.conftest import Client

REPLAY = Path(__file__).parent / "independent_replay.py"


def replayed(file: Path) -> Any:
    """What the independent script reads, in a process that cannot import the service."""
    command = [sys.executable, "-I", str(REPLAY), str(file)]
    return json.loads(subprocess.run(command, check=True, capture_output=True).stdout)


def test_the_manifest_a_replay_and_the_service_say_the_same(
    vet: Client, bank: Bank, backed_up: Callable[..., Made], folder: Path
) -> None:
    vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    made = backed_up().manifest
    said = vet.ok("GET", "/api/ledger/check")
    seen = replayed(folder / made.file)
    assert (made.contents.entries, made.contents.head) == (said["entries"], said["head"])
    assert (seen["entries"], seen["head"]) == (said["entries"], said["head"])
    assert seen["straws"] == dict(made.contents.straws) == {"stored": 36, "lifted": 4}
    stock = vet.ok("GET", "/api/stock/stallions")["items"]
    assert seen["stored_by_stallion"] == {one["stallion_name"]: one["straws"] for one in stock}
    assert made.contents.people == 4


def test_a_replay_finds_a_changed_entry(
    bank: Bank, backed_up: Callable[..., Made], folder: Path
) -> None:
    """The negative control of the independent script."""
    file = folder / backed_up().manifest.file
    with closing(sqlite3.connect(file)) as book:
        book.execute("DROP TRIGGER entries_no_update")
        book.execute("UPDATE entries SET by_name = 'Nobody' WHERE seq = 1")
        book.commit()
    found = subprocess.run(
        [sys.executable, "-I", str(REPLAY), str(file)], capture_output=True, check=False
    )
    assert found.returncode != 0
    assert b"entry 1 has not the hash" in found.stderr


def test_only_the_finished_files_are_there_and_only_their_owner_reads_them(
    backed_up: Callable[..., Made], folder: Path
) -> None:
    made = backed_up().manifest
    names = {made.file, rules.beside(made.file)}
    assert {path.name for path in folder.iterdir()} == {*names, folders.LOCK}
    assert {(folder / name).stat().st_mode & 0o777 for name in names} == {0o600}
    assert (folder / made.file).read_bytes()[18:20] == b"\x01\x01", "it would want a log beside it"


def test_a_backup_can_be_read_where_nothing_can_be_written(
    bank: Bank, backed_up: Callable[..., Made], folder: Path
) -> None:
    file = folder / backed_up().manifest.file
    before = file.read_bytes()
    verify(file)
    assert file.read_bytes() == before
    assert len(list(folder.iterdir())) == 3


def test_what_is_booked_afterwards_is_not_in_it(
    vet: Client, bank: Bank, backed_up: Callable[..., Made], folder: Path
) -> None:
    made = backed_up().manifest
    vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    assert verify(folder / made.file).contents == made.contents
    later = backed_up(NOON + timedelta(hours=1)).manifest
    assert later.contents.entries == made.contents.entries + 1


@pytest.mark.parametrize("flipped", [100, -5_000, -1])
def test_a_changed_byte_is_found(
    bank: Bank, backed_up: Callable[..., Made], folder: Path, flipped: int
) -> None:
    file = folder / backed_up().manifest.file
    content = bytearray(file.read_bytes())
    content[flipped] ^= 1
    file.write_bytes(content)
    with pytest.raises(BackupDamaged, match="SHA-256 differs"):
        verify(file)


def test_a_forged_book_with_a_fitting_sum_is_found(
    bank: Bank, backed_up: Callable[..., Made], folder: Path
) -> None:
    """Whoever can write the file can write the sum beside it; the chain still tells."""
    made = backed_up().manifest
    file, note = folder / made.file, folder / rules.beside(made.file)
    with closing(sqlite3.connect(file)) as book:
        book.execute("UPDATE stock SET straws = straws - 1")
        book.commit()
    forged = json.loads(note.read_text()) | {
        "sha256": folders.sha256_of(file),
        "bytes": file.stat().st_size,
    }
    note.write_text(json.dumps(forged))
    with pytest.raises(BackupDamaged, match="the stock says 19 straws"):
        verify(file)


def test_one_that_was_cut_off_or_lacks_its_manifest_does_not_count(
    backed_up: Callable[..., Made], folder: Path
) -> None:
    cut, lone, whole = (
        backed_up(NOON + timedelta(hours=hours)).manifest.file for hours in (0, 1, 2)
    )
    os.truncate(folder / cut, 5_000)
    (folder / rules.beside(lone)).unlink()
    assert [one.file for one in folders.manifests(folder)] == [whole]
    with pytest.raises(BackupDamaged, match="cut off"):
        verify(folder / cut)
    with pytest.raises(BackupDamaged, match="Copy both files"):
        verify(folder / lone)


# The folder


def _untouched(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir() if path.name != folders.LOCK)


def test_a_folder_that_is_gone_is_said_in_words(
    backed_up: Callable[..., Made], folder: Path
) -> None:
    folder.rmdir()
    with pytest.raises(BackupFailed, match="is not there") as refused:
        backed_up()
    assert str(folder) not in refused.value.detail
    assert not folder.exists()
    folder.write_text("a file")
    with pytest.raises(BackupFailed, match="is not a folder"):
        backed_up()


@pytest.mark.sqlite_only
def test_a_sick_book_makes_no_backup_and_keeps_the_older_ones(
    bank: Bank, backed_up: Callable[..., Made], folder: Path, data: Path
) -> None:
    backed_up()
    before = _untouched(folder)
    with closing(sqlite3.connect(data / "rimebook.db")) as book:
        book.execute(
            "UPDATE straws SET state = 'used', goblet_id = NULL"
            " WHERE code IN (SELECT code FROM straws LIMIT 1)"
        )
        book.commit()
    with pytest.raises(BackupFailed, match="not sound"):
        backed_up(NOON + timedelta(hours=1))
    assert _untouched(folder) == before


def test_what_a_broken_off_backup_left_goes_with_the_next(
    backed_up: Callable[..., Made], folder: Path
) -> None:
    left = rules.unfinished(rules.name_of(NOON))
    for name in (left, f"{left}-journal", ".other.part"):
        (folder / name).write_text("half")
    made = backed_up(NOON + timedelta(hours=1)).manifest.file
    assert _untouched(folder) == sorted([".other.part", made, rules.beside(made)])


# The rotation


def test_the_rotation_deletes_what_is_not_kept_and_only_ours(
    backed_up: Callable[..., Made], folder: Path
) -> None:
    strangers = ("photo.db", "rimebook-20200101T000000.000Z.db", "rimebook.db")
    for name in strangers:
        (folder / name).write_text("not a backup")
    backed_up(NOON)
    early = backed_up(NOON + timedelta(minutes=10))
    late = backed_up(NOON + timedelta(minutes=20))
    assert early.rotated == (rules.name_of(NOON),)
    assert late.rotated == (early.manifest.file,)
    there = late.manifest.file
    assert _untouched(folder) == sorted([*strangers, there, rules.beside(there)])


def test_backups_of_another_book_are_never_deleted(
    vet: Client,
    bank: Bank,
    database: Database,
    backed_up: Callable[..., Made],
    folder: Path,
    tmp_path: Path,
) -> None:
    """Two stations share a folder; or the book was restored and went on another way."""
    first = backed_up(NOON).manifest
    parted = tmp_path / "parted"
    parted.mkdir()
    shutil.copy(folder / first.file, parted / "rimebook.db")
    vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    further = backed_up(NOON + timedelta(minutes=1)).manifest
    other = Database(f"sqlite:///{parted / 'rimebook.db'}")
    made = back_up(other, folder, now=NOON + timedelta(minutes=2), version="0.1.0")
    other.close()
    assert first.file not in {one.file for one in folders.manifests(folder)}
    assert {one.file for one in folders.manifests(folder)} == {further.file, made.manifest.file}
