"""How fast a spreadsheet goes in, and out again: old stock of 50,000 rows into a bank without any.

    .venv/bin/python -m tests.bench.import_bench [ROWS] [STRAWS A ROW]

No assertion. It prints seconds, rows a second and processor seconds of each step (the last tell
whether the machine was busy with something else), and the size of the files.
"""

import resource
import secrets
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any, TypeVar

from sqlmodel import select

from service.app import open_book
from service.bank.store import Goblet
from service.kernel.acts import Act, Person
from service.kernel.clock import utc_now
from service.kernel.database import Database
from service.kernel.ids import new_id
from service.ledger.check import check
from service.settings import Settings
from service.spreadsheet import actions, exports, reading
from service.spreadsheet.actions import Spreadsheet
from service.spreadsheet.rules import MOST_ROWS
from service.spreadsheet.understanding import Answers, understand
from service.spreadsheet.writing import Style, pieces
from tests.bench import large_banks

T = TypeVar("T")

STRAWS_A_GOBLET = 200
ROWS_A_BATCH = 2
BATCHES_A_STALLION = 50


def main(rows: int, straws: int) -> None:
    """Make the file, look at it, book it, check the book, write it out."""
    with tempfile.TemporaryDirectory() as folder:
        database = open_book(Settings(data=Path(folder)))
        with database.writing() as db:
            _, who = large_banks._vet(db)
            large_banks._places(db, rows * straws // STRAWS_A_GOBLET + 1)
            addresses = list(db.exec(select(Goblet.address)))
        content = file_of(rows, straws, addresses)
        print(f"{rows:,} rows of {straws} straws, {len(content) / 1e6:.1f} MB")
        sheet = Spreadsheet(content=content, make_stallions=8)
        table = timed("read", rows, lambda: reading.read(content))
        timed("understand", rows, lambda: understand(table, Answers(), date(2026, 3, 3)))
        with database.reading() as db:
            timed("dry run", rows, lambda: actions.look(db, sheet, role="vet", now=utc_now()))
        timed("import", rows, lambda: book(database, who, sheet))
        with database.reading() as db:
            found = timed("check the book", rows, lambda: check(db))
            print(f"{found.entries:,} entries, {'sound' if found.sound else found.problems[:3]}")
            out = timed("export", rows, lambda: sum(map(len, stock(db))))
        print(f"exported {out / 1e6:.1f} MB; {resident_mb():.0f} MB of memory at most")
        database.close()


def file_of(rows: int, straws: int, addresses: list[str]) -> bytes:
    """Old stock as a station's own list has it."""
    lines = ["Stallion;Place;Straws;Mark;Collected on;Volume;Conc;PM;Thaw"]
    rows_a_goblet = STRAWS_A_GOBLET // straws
    for number in range(rows):
        batch = number // ROWS_A_BATCH
        day = date(2005, 1, 1) + timedelta(days=batch % 7_000)
        lines.append(
            f"Stallion {batch // BATCHES_A_STALLION};{addresses[number // rows_a_goblet]};{straws};"
            f"M{batch};{day:%d.%m.%Y};0,5;{200 + batch % 50};{35 + batch % 20},5;37 C 30 s"
        )
    return "\n".join(lines).encode()


def book(database: Database, who: Person, sheet: Spreadsheet) -> None:
    """The import with its commit."""
    now = utc_now()
    act = Act(new_id(), who, now, now, new_id, secrets.randbits)
    with database.writing() as db:
        actions.carry_out(db, act, sheet, tell=lambda *_: None)


def stock(db: Any) -> Iterator[bytes]:
    """The stock as a file."""
    return pieces(exports.STOCK, exports.stock(db, date(2026, 3, 3)), Style())


def timed(step: str, rows: int, do: Callable[[], T]) -> T:
    """Do it and say how long it took."""
    started, worked = time.perf_counter(), time.process_time()
    result = do()
    seconds = time.perf_counter() - started
    busy = time.process_time() - worked
    print(f"{step:<16}{seconds:8.2f} s{rows / seconds:12,.0f} rows/s{busy:9.2f} s of processor")
    return result


def resident_mb() -> float:
    """The most memory that this process has had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1_000


if __name__ == "__main__":
    main(*(int(word) for word in (*sys.argv[1:], *(MOST_ROWS, 10)[len(sys.argv) - 1 :])))
