"""Books in older shapes, as they were once written; `golden/README.md` says how each was made."""

import sqlite3
from contextlib import closing
from pathlib import Path

GOLDEN = Path(__file__).parent / "golden"

#: What the README says of `0001.sql`.
ENTRIES = 20
HEAD = "6e3cc595e7881769e20e401917a8b77317fe30a9aedb2a6e1c238649bb84a5ce"
SECURITY_EVENTS = 9
STATES = {"discarded": 1, "lifted": 1, "prepared": 6, "stored": 45, "tested": 1, "used": 6}
USERNAME = "mirren"
PASSWORD = "a lantern over the mill race"


def first_shape(folder: Path) -> Path:
    """The book of the first shape, in this folder; gives the file."""
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / "rimebook.db"
    with closing(sqlite3.connect(file)) as book:
        book.executescript((GOLDEN / "0001.sql").read_text(encoding="utf-8"))
    return file


def hashes(file: Path) -> list[tuple[int, str]]:
    """Every hash of the book and of the record of security events, in order."""
    with closing(sqlite3.connect(file)) as book:
        return [
            *book.execute("SELECT seq, hash FROM entries ORDER BY seq"),
            *book.execute("SELECT seq, hash FROM security_events ORDER BY seq"),
        ]
