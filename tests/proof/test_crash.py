"""Nothing acknowledged is lost and nothing is half done when the process is killed.

RIMEBOOK_CRASH_CYCLES sets how often it is killed (25 unless set, 10 on PostgreSQL; 1,000 is the
long form). SIGKILL cannot tell `synchronous=FULL` from NORMAL: a power cut is another proof.
"""

import os
import random
import sqlite3
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import httpx
import pytest
from sqlalchemy import func, text
from sqlalchemy import select as sa_select
from sqlmodel import col, select

from service.edge.replay import Answer
from service.kernel.database import Database
from service.ledger.check import check
from service.ledger.store import Entry, Line
from service.settings import Settings
from service.withdrawals.store import Withdrawal
from tests import building
from tests.engine import ON_POSTGRESQL, Books
from tests.proof import banks
from tests.serving import Server, free_port, http_client, rimebook, running

CYCLES = int(os.environ.get("RIMEBOOK_CRASH_CYCLES", "6" if ON_POSTGRESQL else "25"))
HANDS = 4
#: A server on PostgreSQL takes its first writes later than one beside its own file.
LONGEST_LIFE_SECONDS = 1.5 if ON_POSTGRESQL else 0.3
STRAWS_A_WITHDRAWAL = 2


def _write_until_killed(
    server: Server, write: Callable[[int], str | None], dice: random.Random
) -> set[str]:
    """Hands write without pause until the server is killed; the ids that were acknowledged."""
    acknowledged: set[str] = set()

    def hand(number: int) -> None:
        while True:
            try:
                done = write(number)
            except httpx.TransportError:
                return
            if done is None:
                return
            acknowledged.add(done)

    threads = [threading.Thread(target=hand, args=(number,)) for number in range(HANDS)]
    for thread in threads:
        thread.start()
    time.sleep(dice.uniform(0.02, LONGEST_LIFE_SECONDS))
    server.kill()
    for thread in threads:
        thread.join()
    return acknowledged


@pytest.fixture
def book(books: Books, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Settings]:
    """A place for a book that the servers find."""
    book = books.new(tmp_path / "data")
    if book.database_url is not None:
        monkeypatch.setenv("RIMEBOOK_DATABASE_URL", book.database_url)
    yield book
    books.drop(book)


@pytest.fixture
def bank(book: Settings) -> dict[str, Any]:
    """A bank with more straws than the proof can take."""
    banks.add_vet(book.data)
    server = rimebook(book.data)
    with running(server):
        goblets = max(4, CYCLES // 2)
        made = banks.fill(server.address, straws=400 * goblets, in_goblets=goblets)
        with banks.signed_in(server.address, "vet") as vet:
            made["authorization"] = vet.headers["Authorization"]
        server.stop()
    return {**made, "server": server}


def test_killed_again_and_again_it_loses_nothing(book: Settings, bank: dict[str, Any]) -> None:
    server: Server = bank["server"]
    dice = random.Random(7)
    acknowledged: set[str] = set()

    def write(hand: int) -> str | None:
        place = dice.choice(bank["batches"])
        pick = {"goblet_id": place[0], "batch_id": place[1], "straws": STRAWS_A_WITHDRAWAL}
        body = building.withdrawal(bank["stallion_id"], doses=2, picks=[pick])
        body["mare_id"] = bank["mare_id"]
        del body["mare"]
        answer = clients[hand].post("/api/withdrawals", json=body)
        if answer.status_code == 409 and answer.json()["code"] == "not-enough-straws":
            return write(hand)
        assert answer.status_code == 201, answer.text
        return str(body["id"])

    for _ in range(CYCLES):
        server.start()
        headers = {"Authorization": bank["authorization"]}
        clients = [http_client(server.address, headers=headers, timeout=30) for _ in range(HANDS)]
        acknowledged |= _write_until_killed(server, write, dice)
        for client in clients:
            client.close()
    _assert_all_there(book, acknowledged)
    assert len(acknowledged) > CYCLES, "the proof hardly wrote anything"


def _assert_all_there(book: Settings, acknowledged: set[str]) -> None:
    with closing(Database(book.book_url)) as database, database.reading() as db:
        counted = db.execute(
            sa_select(col(Entry.id), func.count())
            .join(Line, col(Line.entry_seq) == col(Entry.seq))
            .where(col(Entry.kind) == "withdraw")
            .group_by(col(Entry.id))
        )
        straws = dict(map(tuple, counted))
        answers = set(db.exec(select(Answer.id)))
        withdrawals = set(db.exec(select(Withdrawal.id)))
        assert check(db).problems == []
        if book.embedded:
            assert db.execute(text("PRAGMA integrity_check")).one() == ("ok",)
    kept = {UUID(id) for id in acknowledged}
    assert kept <= set(straws), f"{len(kept - set(straws))} acknowledged withdrawals are lost"
    assert set(straws.values()) == {STRAWS_A_WITHDRAWAL}, "a withdrawal is half done"
    assert set(straws) == withdrawals, "an entry without its withdrawal, or the other way"
    assert set(straws) <= answers, "a withdrawal whose answer a retry would not find"


def test_the_same_kills_find_a_late_committer_out(tmp_path: Path) -> None:
    """The negative control: several acknowledgements before one commit must lose some."""
    port, file = free_port(), tmp_path / "late.db"
    command = [sys.executable, "-m", "tests.proof.naive", "late", str(port), str(file)]
    server = Server(command, port, log=tmp_path / "late.log")
    dice = random.Random(7)
    acknowledged: set[str] = set()
    for _ in range(5):
        server.start()
        with http_client(server.address) as client:

            def write(_hand: int, client: httpx.Client = client) -> str | None:
                id = str(uuid4())
                assert client.post(f"/act/{id}").status_code == 201
                return id

            acknowledged |= _write_until_killed(server, write, dice)
    with closing(sqlite3.connect(file)) as book:
        kept = {id for (id,) in book.execute("SELECT id FROM acts")}
    assert acknowledged - kept
