"""Tests of batches are covered by the book: one that was changed past the service is found."""

import sqlite3
from pathlib import Path

import pytest

from tests.banks import Bank
from tests.conftest import Client
from tests.ledger.test_check import behind_the_back, checked

pytestmark = pytest.mark.sqlite_only

EIA, EVA = "0190f000-0000-7000-8000-000000000001", "0190f000-0000-7000-8000-000000000002"


@pytest.fixture
def tested(technician: Client, bank: Bank) -> Bank:
    """A batch with two tests: the numbers of their entries are 3 and 4."""
    noted = {"laboratory": "Fellgate", "note": "a\tb\n“c”"}
    for id, test, more in ((EIA, "EIA", noted), (EVA, "EVA", {})):
        body = {"id": id, "test": test, "sampled_on": "2026-03-02", "result": "negative", **more}
        technician.ok("POST", f"/api/batches/{bank.batch_id}/tests", body)
    return bank


def test_recorded_tests_are_sound(data: Path, tested: Bank) -> None:
    found = checked(data)
    assert (found.problems, found.entries) == ([], 4)


@pytest.mark.parametrize(
    ("sql", "said"),
    [
        ("UPDATE batch_tests SET result = 'pending' WHERE test = 'EVA'", "is not what entry 4"),
        ("UPDATE batch_tests SET sampled_on = '2026-03-01' WHERE test = 'EIA'", "entry 3 says"),
        ("UPDATE batch_tests SET sampled_on = 'soon' WHERE test = 'EVA'", "entry 4 says"),
        ("UPDATE batch_tests SET test = 'CEM' WHERE test = 'EVA'", "(CEM) is not what entry 4"),
        ("UPDATE batch_tests SET laboratory = NULL WHERE test = 'EIA'", "entry 3 says"),
        ("UPDATE batch_tests SET note = 'b' WHERE test = 'EVA'", "entry 4 says"),
        ("UPDATE batch_tests SET by_name = 'Somebody' WHERE test = 'EVA'", "entry 4 says"),
        ("UPDATE batch_tests SET batch_id = id WHERE test = 'EVA'", "A test of no batch (EVA)"),
        ("DELETE FROM batch_tests WHERE test = 'EVA'", "Entry 4 records a test that is not kept"),
        ("INSERT INTO batch_tests SELECT batch_id, batch_id, 'CEM', sampled_on, result, laboratory,"
         " note, recorded_at, by_id, by_name FROM batch_tests WHERE test = 'EVA'",
         "(CEM) stands in no entry"),
    ],
)  # fmt: skip
def test_a_test_that_was_changed_behind_the_books_back_is_named(
    data: Path, tested: Bank, sql: str, said: str
) -> None:
    behind_the_back(data, lambda file: file.execute(sql))
    [problem] = checked(data).problems
    assert said in problem


def test_the_database_itself_refuses_to_change_a_test(data: Path, tested: Bank) -> None:
    with sqlite3.connect(data / "rimebook.db") as file:
        for sql in ("UPDATE batch_tests SET result = 'pending'", "DELETE FROM batch_tests"):
            with pytest.raises(sqlite3.IntegrityError, match="append-only"):
                file.execute(sql)
    file.close()
