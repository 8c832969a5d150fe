"""A full disk: nothing that was answered is lost, reading goes on, writing says 507 and comes back.

On a small memory disk where one can be mounted; elsewhere SQLite itself is told how many pages
there are, which ends in the same error.
"""

import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event

from service.app import VERSION, make_app
from service.backups import folder as folders
from service.backups.actions import back_up
from service.backups.rules import BackupFailed
from service.kernel.database import Database, sqlite_url
from service.ledger.check import check
from service.settings import Settings
from tests.banks import Bank
from tests.conftest import Client, Founded

SPACE_BYTES = 3_000_000
ACTS_AT_MOST = 2_000


def _mount(folder: Path) -> bool:
    """Put a disk of three megabytes there; False where this user may not."""
    command = ["mount", "-t", "tmpfs", "-o", f"size={SPACE_BYTES}", "tmpfs", str(folder)]
    if shutil.which("mount") is None:
        return False
    return subprocess.run(command, capture_output=True, check=False).returncode == 0


def _unmount(folder: Path) -> None:
    subprocess.run(["umount", str(folder)], check=True)


def _can_mount() -> bool:
    with tempfile.TemporaryDirectory() as folder:
        can = _mount(Path(folder))
        if can:
            _unmount(Path(folder))
    return can


CAN_MOUNT = _can_mount()


@contextmanager
def small_disk(folder: Path) -> Iterator[Path]:
    """A disk of three megabytes."""
    folder.mkdir()
    assert _mount(folder)
    try:
        yield folder
    finally:
        _unmount(folder)


@pytest.fixture(params=["few pages", *(["small disk"] if CAN_MOUNT else [])])
def filling(
    request: pytest.FixtureRequest, data: Path, tmp_path: Path
) -> Iterator[tuple[TestClient, Callable[[], None]]]:
    """The service on little space, and how space is made again."""
    if request.param == "few pages":
        app = make_app(Settings(data=data, database_url=None))
        database: Database = app.state.wiring.database
        pages = {"most": (data / "rimebook.db").stat().st_size // 4096 + 40}
        event.listen(
            database.engine,
            "connect",
            lambda connection, _: connection.execute(f"PRAGMA max_page_count = {pages['most']}"),
        )
        database.engine.dispose()

        def room() -> None:
            pages["most"] = 1_000_000
            database.engine.dispose()

        with TestClient(app, raise_server_exceptions=False) as service:
            yield service, room
        return
    with small_disk(tmp_path / "disk") as disk:
        small = disk / "data"
        shutil.copytree(data, small)
        ballast = disk / "ballast"
        ballast.write_bytes(bytes(200_000))
        app = make_app(Settings(data=small, database_url=None))
        with TestClient(app, raise_server_exceptions=False) as service:
            yield service, ballast.unlink


@pytest.mark.sqlite_only
def test_nothing_is_lost_and_reading_goes_on(
    filling: tuple[TestClient, Callable[[], None]], founded: Founded
) -> None:
    service, room = filling
    service.headers["Authorization"] = f"Bearer {founded.tokens['manager']}"
    acknowledged = []
    for number in range(ACTS_AT_MOST):
        answer = service.post("/api/mares", json={"name": f"Mare {number} {'x' * 80}"})
        if answer.status_code != 201:
            break
        acknowledged.append(answer.json()["id"])
    assert (answer.status_code, answer.json()["code"]) == (507, "disk-full")
    assert answer.headers["retry-after"] == "60"
    assert len(acknowledged) > 10
    for path in ("/api/stock", "/api/ledger/check", f"/api/mares/{acknowledged[-1]}"):
        assert service.get(path).status_code == 200
    again = service.post("/api/mares", json={"name": "Still full " + "x" * 80})
    assert again.status_code in (201, 507), again.text
    room()
    after = service.post("/api/mares", json={"name": "Room again"})
    assert after.status_code == 201, after.text
    app: Any = service.app
    with app.state.wiring.database.reading() as db:
        assert check(db).problems == []
        kept = {row[0] for row in db.connection().exec_driver_sql("SELECT id FROM mares")}
        whole = db.connection().exec_driver_sql("PRAGMA integrity_check").scalar()
    assert whole == "ok"
    assert {id.replace("-", "") for id in acknowledged} <= kept


if CAN_MOUNT:  # elsewhere `tests/backups/test_commands.py` has a disk that fails

    @pytest.mark.sqlite_only
    def test_a_backup_that_does_not_fit_leaves_nothing(
        vet: Client, bank: Bank, data: Path, tmp_path: Path
    ) -> None:
        database = Database(sqlite_url(data))
        with closing(database), small_disk(tmp_path / "disk") as disk:
            (disk / "ballast").write_bytes(bytes(SPACE_BYTES - 300_000))
            with pytest.raises(BackupFailed, match="is full"):
                back_up(database, disk, now=datetime.now(UTC), version=VERSION)
            assert {path.name for path in disk.iterdir()} == {"ballast", folders.LOCK}
            (disk / "ballast").unlink()
            made = back_up(database, disk, now=datetime.now(UTC), version=VERSION).manifest
            assert [one.file for one in folders.manifests(disk)] == [made.file]
