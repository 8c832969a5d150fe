"""A book that was changed past the service is found out, and the first bad entry is named.

What cannot be seen inside one file is a tail that was cut off with all that it did, or a book
rewritten from its first entry: for that the head must have left the machine. A test below says so.
"""

import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.app import make_app
from service.kernel import chain
from service.kernel.database import Database, sqlite_url
from service.ledger.check import Soundness, check
from service.settings import Settings
from tests import building
from tests.banks import Bank
from tests.conftest import Client

Change = Callable[[sqlite3.Connection], None]

#: They change the file behind the back; `tests/proof/test_postgresql.py` does it to a server.
pytestmark = pytest.mark.sqlite_only


@pytest.fixture
def book(technician: Client, bank: Bank) -> Bank:
    """Some acts of every kind that moves straws."""
    technician.ok(
        "POST", "/api/moves", {"picks": [bank.pick(0, 5)], "goblet_id": bank.goblets[1]["id"]}
    )
    technician.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(2, 4)]))
    technician.ok("POST", "/api/discards", {"picks": [bank.pick(0, 1)], "reason": "leaked"})
    return bank


def checked(data: Path) -> Soundness:
    database = Database(sqlite_url(data))
    try:
        with database.reading() as db:
            return check(db)
    finally:
        database.close()


def told(client: TestClient, **headers: str) -> Any:
    """What the service says of the book, once its check after the start is done."""
    for _ in range(500):
        answer = client.get("/api/ledger/check", headers=headers)
        assert answer.status_code == 200, answer.text
        if answer.json()["sound"] is not None:
            return answer.json()
        time.sleep(0.01)
    raise AssertionError("the check after the start never ended")


def behind_the_back(data: Path, change: Change) -> None:
    """Change the file as its owner can: triggers dropped, no key checked.

    The service is running: without the write lock from the start, a drop while the list of triggers
    is still being read meets what it writes meanwhile (who was last seen) and is refused at once.
    """
    with closing(sqlite3.connect(data / "rimebook.db", isolation_level=None)) as file:
        file.execute("BEGIN IMMEDIATE")
        for (name,) in file.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'"):
            file.execute(f"DROP TRIGGER {name}")
        change(file)
        file.execute("COMMIT")


def test_an_untouched_book_is_sound(data: Path, book: Bank) -> None:
    found = checked(data)
    assert (found.sound, found.problems, found.entries) == (True, [], 5)


@pytest.mark.parametrize(
    ("sql", "said"),
    [
        ("UPDATE entries SET by_name = 'Somebody' WHERE seq = 3", "Entry 3 was changed"),
        ("UPDATE entries SET reason = 'none' WHERE seq = 5", "Entry 5 was changed"),
        ("UPDATE entries SET occurred_at = recorded_at || '' , kind = 'use' WHERE seq = 4",
         "Entry 4 was changed"),
        ("UPDATE entries SET facts = '{}' WHERE seq = 2", "Entry 2 was changed"),
        ("DELETE FROM entries WHERE seq = 3", "Entry 3 is not there"),
        ("DELETE FROM entries WHERE seq = 1", "Entry 1 is not there"),
        ("UPDATE entries SET seq = 99 WHERE seq = 5", "Entry 5 is not there"),
        ("DELETE FROM lines WHERE entry_seq = 4 AND number = 2", "Entry 4 was changed"),
        ("UPDATE lines SET to_state = 'used' WHERE entry_seq = 4", "Entry 4 was changed"),
        ("UPDATE lines SET provisional = 0 WHERE entry_seq = 4", "Entry 4 was changed"),
        ("UPDATE lines SET to_goblet_id = from_goblet_id WHERE entry_seq = 3",
         "Entry 3 was changed"),
        ("UPDATE lines SET number = number + 100 WHERE entry_seq = 2 AND number = 1",
         "Entry 2 was changed"),
        ("INSERT INTO entries SELECT 6, lower(hex(randomblob(16))), kind, by_id, by_name,"
         " occurred_at, recorded_at, reason, withdrawal_id, batch_id, facts,"
         " lower(hex(randomblob(32)))"
         " FROM entries WHERE seq = 5", "Entry 6 was changed"),
        ("UPDATE straws SET state = 'used', goblet_id = NULL WHERE code ="
         " (SELECT min(code) FROM straws WHERE state = 'stored')", "is not where the book"),
        ("UPDATE straws SET provisional = 1 - provisional WHERE code ="
         " (SELECT min(code) FROM straws)", "is not where the book"),
        ("INSERT INTO straws SELECT 'S00000000', batch_id, coded, state, goblet_id,"
         " left_goblet_id, withdrawal_id, provisional, since, last_seq, owner FROM straws LIMIT 1",
         "is not where the book"),
        ("UPDATE straws SET withdrawal_id = lower(hex(randomblob(16))) WHERE state = 'lifted'",
         "is not where the book"),
        ("UPDATE stock SET straws = straws + 1", "the stock says"),
        ("DELETE FROM stock", "the stock says 0"),
        ("UPDATE goblets SET capacity_straws = 3", "it has room for 3"),
        ("UPDATE batches SET straw_volume_ml = '0.25'", "its straw volume is not what entry 2"),
        ("UPDATE batches SET straw_concentration_million_per_ml = '400'", "its concentration"),
        ("UPDATE batches SET post_thaw_percent = '80'", "its post-thaw result is not"),
        ("UPDATE batches SET post_thaw_percent = NULL", "its post-thaw result is not"),
        ("UPDATE batches SET collected_on = '2020-01-01'", "its day of collection is not"),
        ("UPDATE batches SET freeze_id = NULL", "its freeze is not what entry 2 says"),
    ],
)  # fmt: skip
def test_every_change_past_the_service_is_found(
    data: Path, book: Bank, sql: str, said: str
) -> None:
    def change(file: sqlite3.Connection) -> None:
        assert file.execute(sql).rowcount >= 1

    behind_the_back(data, change)
    found = checked(data)
    assert not found.sound
    assert said in found.problems[0]


def test_two_entries_that_change_places_are_found(data: Path, book: Bank) -> None:
    def swap(file: sqlite3.Connection) -> None:
        for was, now in ((3, 77), (4, 3), (77, 4)):
            file.execute("UPDATE entries SET seq = ? WHERE seq = ?", (now, was))
            file.execute("UPDATE lines SET entry_seq = ? WHERE entry_seq = ?", (now, was))

    behind_the_back(data, swap)
    assert "Entry 3 was changed" in checked(data).problems[0]


def test_a_straw_taken_by_lines_that_no_entry_covers_is_found(data: Path, book: Bank) -> None:
    """Straw, stock and lines agree with each other; only the chain knows of no such entry."""
    code = book.codes_in(2)[-1]

    def steal(file: sqlite3.Connection) -> None:
        goblet, batch, provisional = file.execute(
            "SELECT goblet_id, batch_id, provisional FROM straws WHERE code = ?", (code,)
        ).fetchone()
        file.execute(
            "INSERT INTO lines VALUES (6, 1, ?, 'stored', ?, 'discarded', NULL, NULL, ?)",
            (code, goblet, provisional),
        )
        file.execute(
            "UPDATE straws SET state = 'discarded', goblet_id = NULL, last_seq = 6 WHERE code = ?",
            (code,),
        )
        file.execute(
            "UPDATE stock SET straws = straws - 1 WHERE goblet_id = ? AND batch_id = ?",
            (goblet, batch),
        )

    behind_the_back(data, steal)
    assert checked(data).problems == [
        "Entry 6 is not there, but lines of it are, which no hash covers."
    ]


@pytest.fixture
def two_stallions(manager: Client, book: Bank) -> Bank:
    """Three straws of another stallion beside his."""
    other = manager.ok("POST", "/api/stallions", building.stallion("Quietwater"))
    body = building.freeze(other["id"], [(book.goblets[1]["id"], 3)])
    manager.ok("POST", "/api/freezes", body)
    return book


def test_straws_given_to_another_batch_are_found(data: Path, two_stallions: Bank) -> None:
    """Also when the stock was changed to go with it."""

    def swap(file: sqlite3.Connection) -> None:
        file.execute(
            "UPDATE straws SET batch_id = (SELECT id FROM batches WHERE id <> straws.batch_id)"
        )
        file.execute("DELETE FROM stock")
        file.execute(
            "INSERT INTO stock SELECT goblet_id, batch_id, count(*) FROM straws"
            " WHERE state = 'stored' GROUP BY goblet_id, batch_id"
        )

    behind_the_back(data, swap)
    problems = checked(data).problems
    assert problems[-1] == "... and 23 more of this kind."
    assert all("is not of the batch that entry" in problem for problem in problems[:-1])


def test_a_batch_given_to_another_stallion_is_found(data: Path, two_stallions: Bank) -> None:
    def swap(file: sqlite3.Connection) -> None:
        file.execute(
            "UPDATE batches SET stallion_id ="
            " (SELECT id FROM stallions WHERE id <> batches.stallion_id)"
        )

    behind_the_back(data, swap)
    problems = checked(data).problems
    assert len(problems) == 2
    assert all("its stallion is not what entry" in problem for problem in problems)


def test_the_service_says_at_once_that_it_was_started_on_such_a_book(
    data: Path, service: TestClient, book: Bank, founded: tuple[Path, dict[str, str]]
) -> None:
    behind_the_back(data, lambda file: file.execute("UPDATE entries SET by_name = 'Somebody'"))
    with TestClient(make_app(Settings(data=data))) as started:
        found = told(started, Authorization=f"Bearer {founded[1]['auditor']}")
    assert found["sound"] is False
    assert found["problems"][0] == "Entry 1 was changed, or the one before it was."


def test_a_tail_that_was_cut_off_shows_only_against_a_head_that_left_the_machine(
    data: Path, technician: Client, bank: Bank
) -> None:
    """Cut with all that it did undone, nothing inside the file speaks of it any more."""
    body = {"picks": [bank.pick(0, 1)], "reason": "leaked"}
    discard = technician.ok("POST", "/api/discards", body)
    printed = told(technician)["head"]
    assert checked(data).head == printed

    def cut(file: sqlite3.Connection) -> None:
        (seq,) = file.execute("SELECT max(seq) FROM entries").fetchone()
        code, goblet = file.execute(
            "SELECT straw_code, from_goblet_id FROM lines WHERE entry_seq = ?", (seq,)
        ).fetchone()
        file.execute("DELETE FROM lines WHERE entry_seq = ?", (seq,))
        file.execute("DELETE FROM entries WHERE seq = ?", (seq,))
        behind = "UPDATE straws SET state = 'stored', goblet_id = ?, last_seq = ? WHERE code = ?"
        file.execute(behind, (goblet, seq - 1, code))
        file.execute("UPDATE stock SET straws = straws + 1 WHERE goblet_id = ?", (goblet,))

    behind_the_back(data, cut)
    found = checked(data)
    assert found.sound
    assert found.head != printed
    assert discard["straws"] == 1


def test_a_tail_cut_off_carelessly_is_found_inside_the_file(data: Path, book: Bank) -> None:
    def cut(file: sqlite3.Connection) -> None:
        file.execute("DELETE FROM lines WHERE entry_seq = 5")
        file.execute("DELETE FROM entries WHERE seq = 5")

    behind_the_back(data, cut)
    assert "is not where the book last put it" in checked(data).problems[0]


def test_an_empty_book_has_the_first_head(service: TestClient, auditor: Client) -> None:
    found = told(auditor)
    assert found == {"entries": 0, "head": chain.GENESIS, "sound": True, "problems": []}


def test_the_check_is_made_anew_when_the_book_has_grown(
    auditor: Client, technician: Client, book: Bank
) -> None:
    first = told(auditor)
    assert (first["entries"], first["sound"]) == (5, True)
    technician.ok("POST", "/api/discards", {"picks": [book.pick(0, 1)], "reason": "leaked"})
    again = told(auditor)
    assert (again["entries"], again["sound"]) == (6, True)
    assert again["head"] != first["head"]
