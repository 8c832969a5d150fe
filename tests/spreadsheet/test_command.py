"""`rimebook import`, as a person at the station meets it."""

import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest

from tests.spreadsheet.conftest import Desk

#: What is asked here is the same on either engine.
pytestmark = pytest.mark.sqlite_only

HEADER = "Hengst;Ort;Anzahl;Charge;Datum;Volumen;Dichte\n"


def run(*arguments: str, data: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "service", "import", *arguments, "--data", str(data)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.fixture
def sheet(tmp_path: Path, desk: Desk) -> Path:
    first, second = (goblet["address"] for goblet in desk.goblets[:2])
    path = tmp_path / "old stock.csv"
    path.write_text(
        HEADER
        + f"Lanternfield;{first};24;L 1;3.4.2014;0,5;200\n"
        + f"Lanternfield;{second};10;L 2;23.4.2014;0,5;200\n",
        encoding="cp1252",
    )
    return path


def stock(desk: Desk) -> int:
    straws: int = desk.who.ok("GET", "/api/stock")["straws"]
    return straws


def test_a_dry_run_prints_every_fate_by_line_and_books_nothing(
    sheet: Path, data: Path, desk: Desk
) -> None:
    done = run(str(sheet), "--as", "technician", "--dry-run", data=data)
    assert done.returncode == 0, done.stderr
    first = desk.goblets[0]["address"]
    assert f"     2  books 24 straws of Lanternfield into {first}" in done.stdout
    assert "2 rows, 0 of them refused; 34 straws in 2 batches." in done.stdout
    assert "3.4.2014 is read day first" in done.stdout
    assert stock(desk) == 0


def test_an_import_books_it_in_the_name_of_the_person(sheet: Path, data: Path, desk: Desk) -> None:
    done = run(str(sheet), "--as", "technician", data=data)
    assert done.returncode == 0, done.stderr
    assert "Booked 34 straws." in done.stdout
    assert "2 of 2 rows" in done.stderr
    assert stock(desk) == 34
    assert {entry["by"] for entry in desk.head()} == {"The technician"}


def test_a_refused_row_ends_with_1_and_nothing_is_half_done(
    sheet: Path, data: Path, desk: Desk
) -> None:
    with sheet.open("a") as file:
        file.write("Nobody;NOWHERE;1;;;;\n")
    done = run(str(sheet), "--as", "technician", data=data)
    assert done.returncode == 1
    assert "     4  REFUSED: " in done.stdout
    assert "Nothing was booked." in done.stderr
    assert stock(desk) == 0


def test_a_question_names_the_option_that_answers_it(
    tmp_path: Path, data: Path, desk: Desk
) -> None:
    path = tmp_path / "asked.csv"
    path.write_text(HEADER + f"Lanternfield;{desk.goblets[0]['address']};1;L;3.4.2014;;1.234\n")
    asked = run(str(path), "--as", "vet", data=data)
    assert asked.returncode == 1
    assert "--dates day-first" in asked.stdout
    assert "--decimal comma" in asked.stdout
    answered = run(
        *(str(path), "--as", "vet", "--dates", "day-first", "--decimal", "comma"),
        *("--map", "Charge=note"),
        data=data,
    )
    assert answered.returncode == 0, answered.stderr


@pytest.mark.parametrize(
    ("username", "words"), [("auditor", "may not book straws"), ("ghost", "Nobody has")]
)
def test_who_may_not_import_is_told_so(
    sheet: Path, data: Path, desk: Desk, username: str, words: str
) -> None:
    done = run(str(sheet), "--as", username, data=data)
    assert done.returncode == 1
    assert words in done.stderr
    assert "Traceback" not in done.stderr


def test_a_file_of_a_gigabyte_is_refused_in_little_memory(tmp_path: Path, data: Path) -> None:
    """At most 200 MB, the interpreter and all its libraries among them."""
    huge = tmp_path / "huge.csv"
    with huge.open("wb") as file:
        file.truncate(1_000_000_000)

    def bounded() -> None:
        resource.setrlimit(resource.RLIMIT_DATA, (200_000_000, 200_000_000))

    command = [sys.executable, "-m", "service", "import", str(huge), "--as", "vet"]
    done = subprocess.run(
        [*command, "--data", str(data)],
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=bounded,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
    )
    assert done.returncode == 1, done.stderr
    assert "1,000,000,000 bytes; 5,000,000 are read at most" in done.stderr


def test_a_file_that_is_not_there_is_said_in_words(tmp_path: Path, data: Path) -> None:
    done = run(str(tmp_path / "none.csv"), "--as", "vet", data=data)
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
