"""How long a backup of a large book takes while people write, and what they notice of it.

    .venv/bin/python -m tests.bench.backup_bench [ENTRIES] [FOLDER]

No assertion. With a folder the book is made there once and used again. A server process serves it,
two people move straws without pause; then backups are made by command, and by the server itself.
"""

import os
import random
import resource
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
from sqlmodel import Session, select

from service.app import VERSION, make_app, open_book
from service.backups.actions import back_up
from service.backups.folder import manifests
from service.backups.restoring import only_drill
from service.kernel.acts import Act, Person
from service.kernel.database import Database, sqlite_url
from service.kernel.ids import new_id
from service.ledger.book import book
from service.ledger.rules import Movement, Place, StrawNow
from service.ledger.store import straws_where
from service.people.events import Occasion
from service.people.store import User, as_person
from service.settings import Settings
from tests.bench import large_banks
from tests.serving import rimebook, running

STRAWS = 20_000
ENTRIES_A_COMMIT = 2_000
HANDS = 2
BACKUPS = 3
SECONDS_WITHOUT = 10
#: The shortest interval that can be set, in hours: two of these make a backup inside the server.
OFTEN = 0.01

dice = random.Random(7)


def main(entries: int, folder: Path) -> None:
    """Make the book, put load on it, back it up."""
    data, backups = folder / "data", folder / "backups"
    if not data.exists():
        began = time.monotonic()
        token = make(data, entries)
        (folder / "token").write_text(token)
        print(f"made {entries:,} entries in {time.monotonic() - began:.0f} s")
    token = (folder / "token").read_text()
    backups.mkdir(exist_ok=True)
    size = (data / "rimebook.db").stat().st_size
    print(f"{entries:,} entries, {size / 1e6:.0f} MB, {os.cpu_count()} cores")
    with running(rimebook(data)) as server, writing(server.address, token) as waits:
        time.sleep(SECONDS_WITHOUT)
        tell("nothing else", waits)
        by_command(data, backups, waits)
    os.environ["RIMEBOOK_BACKUP_FOLDER"] = str(folder / "own")
    os.environ["RIMEBOOK_BACKUP_EVERY_HOURS"] = str(OFTEN)
    (folder / "own").mkdir(exist_ok=True)
    with running(rimebook(data)) as server, writing(server.address, token) as waits:
        while not manifests(folder / "own"):
            time.sleep(0.2)
        tell("while the server makes a backup itself, and its check at the start", waits)
    began = time.monotonic()
    occasion = Occasion(at=datetime.now(UTC), new_id=new_id)
    only_drill(backups, occasion, lambda at: make_app(Settings(data=at, backup_folder=None)))
    print(f"drill: {time.monotonic() - began:.1f} s")


def by_command(data: Path, backups: Path, waits: list[float]) -> None:
    """Backups from a process beside the server, as `rimebook backup` makes them."""
    database = Database(sqlite_url(data))
    for _ in range(BACKUPS):
        cpu = _cpu()
        made = back_up(database, backups, now=datetime.now(UTC), version=VERSION)
        held, seconds = made.manifest.contents, made.verify_seconds
        print(
            f"backup: picture {made.picture_seconds:.2f} s, verified {seconds:.2f} s"
            f" ({held.entries / seconds:,.0f} entries/s), {made.manifest.bytes / 1e6:.0f} MB,"
            f" {held.entries:,} entries; processor {_cpu() - cpu:.2f} s"
        )
        tell("while it was made", waits)
    database.close()


def _cpu() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def make(data: Path, entries: int) -> str:
    """A bank with so many entries: freezes, then one straw moved at a time."""
    token = large_banks.build(data, STRAWS)
    database = open_book(Settings(data=data))
    with database.reading() as db:
        who = as_person(db.exec(select(User)).one())
        straws = straws_where(db)
    goblets = sorted({straw.goblet_id for straw in straws if straw.goblet_id}, key=str)
    moves = entries - STRAWS // large_banks.STRAWS_A_BATCH
    for start in range(0, moves, ENTRIES_A_COMMIT):
        with database.writing() as db:
            for number in range(start, min(start + ENTRIES_A_COMMIT, moves)):
                _move(db, who, number, straws, goblets)
            db.expunge_all()
    database.close()
    return token


def _move(
    db: Session, who: Person, number: int, straws: list[StrawNow], goblets: list[Any]
) -> None:
    """A straw goes to the goblet beside, or comes back from there."""
    at = datetime(2021, 1, 1, tzinfo=UTC) + timedelta(minutes=number)
    which = (number // 2) * 37 % len(straws)
    straw = straws[which]
    assert straw.goblet_id is not None
    step = 1 if number % 2 == 0 else -1
    beside = goblets[(goblets.index(straw.goblet_id) + step) % len(goblets)]
    act = Act(large_banks.new_id(), who, at, at, large_banks.new_id, dice.getrandbits)
    seq = book(db, act, "move", [Movement(straw, Place("stored", goblet_id=beside))])
    left = {"left_goblet_id": straw.goblet_id, "last_seq": seq, "since": at}
    straws[which] = straw._replace(goblet_id=beside, **left)


@contextmanager
def writing(address: str, token: str) -> Iterator[list[float]]:
    """People write without pause; the seconds that each act waited."""
    waits: list[float] = []
    stop = threading.Event()
    headers = {"Authorization": f"Bearer {token}"}
    with httpx.Client(base_url=address, headers=headers) as reader:
        stock = reader.get("/api/stock?limit=4").json()["items"]

    def hand(number: int) -> None:
        one, other = stock[number], stock[number + HANDS]
        pick = {"goblet_id": one["goblet_id"], "batch_id": one["batch_id"], "straws": 4}
        with httpx.Client(base_url=address, headers=headers, timeout=60) as client:
            while not stop.is_set():
                began = time.monotonic()
                body = {"picks": [pick], "goblet_id": other["goblet_id"]}
                moved = client.post("/api/moves", json=body)
                waits.append(time.monotonic() - began)
                assert moved.status_code == 201, moved.text
                back = {**pick, "goblet_id": other["goblet_id"]}
                body = {"picks": [back], "goblet_id": one["goblet_id"]}
                assert client.post("/api/moves", json=body).status_code == 201

    threads = [threading.Thread(target=hand, args=(number,)) for number in range(HANDS)]
    for thread in threads:
        thread.start()
    try:
        yield waits
    finally:
        stop.set()
        for thread in threads:
            thread.join()


def tell(what: str, waits: list[float]) -> None:
    """How long acts waited since it was last told."""
    seen = sorted(waits)
    waits.clear()
    print(
        f"    acts, {what}: {len(seen)}, median {1_000 * statistics.median(seen):.0f} ms,"
        f" 99 of 100 within {1_000 * seen[int(len(seen) * 0.99)]:.0f} ms,"
        f" slowest {1_000 * seen[-1]:.0f} ms"
    )


if __name__ == "__main__":
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 200_000
    if len(sys.argv) > 2:
        main(wanted, Path(sys.argv[2]))
    else:
        with tempfile.TemporaryDirectory() as made:
            main(wanted, Path(made))
