"""Everything that somebody needs to check a stock-take on another machine, in one archive.

The report, the whole ledger it stands on, and the checker, which needs nothing but Python.
"""

import json
import tempfile
import zipfile
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path
from typing import IO, Any

from sqlmodel import Session, col, select

from service.audits import verify_report
from service.audits.store import StockTake
from service.kernel import clock
from service.ledger.store import Entry, Line, head_of

#: Entries read at a time: bounds the memory, not the work.
_AT_A_TIME = 2_000

#: An archive that is larger waits on the disk, not in memory.
_IN_MEMORY = 8_000_000

_README = """The evidence of a stock-take.

report.json     what was counted, what was found, what was done about it, who signed
report.pdf      the same, for reading
ledger.jsonl    every entry of the book with its lines and hashes, up to now
verify_report.py    checks both; it needs Python 3.8 or newer and nothing else:

    python verify_report.py report.json ledger.jsonl

Keep the report and the head that stands on it apart from the machine that keeps the book: a book
that was rewritten as a whole shows only against a head that was written down before.
"""


def archive(db: Session, report: bytes, pdf: bytes) -> IO[bytes]:
    """The archive, open at its beginning."""
    held = tempfile.SpooledTemporaryFile(max_size=_IN_MEMORY)  # noqa: SIM115 (closed when sent)
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("README.txt", _README)
        made.writestr("report.json", report)
        made.writestr("report.pdf", pdf)
        made.writestr("verify_report.py", Path(verify_report.__file__).read_bytes())
        with made.open("ledger.jsonl", "w") as ledger:
            for line in extract(db):
                ledger.write(line)
    held.seek(0)
    return held


def extract(db: Session) -> Iterator[bytes]:
    """Every entry with its lines, as JSON Lines, in order."""
    head = head_of(db)
    last = head.seq if head else 0
    for start in range(1, last + 1, _AT_A_TIME):
        between = (start, start + _AT_A_TIME - 1)
        entries = db.exec(
            select(Entry).where(col(Entry.seq).between(*between)).order_by(col(Entry.seq))
        )
        lines = _lines(db, between)
        for entry in entries:
            said = _entry(entry) | {"lines": lines.get(entry.seq, [])}
            yield json.dumps(said, ensure_ascii=False).encode() + b"\n"


def _lines(db: Session, between: tuple[int, int]) -> dict[int, list[dict[str, Any]]]:
    rows = db.exec(
        select(Line)
        .where(col(Line.entry_seq).between(*between))
        .order_by(col(Line.entry_seq), col(Line.number))
    )
    return {
        seq: [_line(line) for line in lines]
        for seq, lines in groupby(rows, key=lambda line: line.entry_seq)
    }


def _entry(entry: Entry) -> dict[str, Any]:
    return {
        "seq": entry.seq,
        "id": str(entry.id),
        "kind": entry.kind,
        "by_id": str(entry.by_id),
        "by_name": entry.by_name,
        "occurred_at": clock.as_text(entry.occurred_at),
        "recorded_at": clock.as_text(entry.recorded_at),
        "reason": entry.reason,
        "withdrawal_id": entry.withdrawal_id and str(entry.withdrawal_id),
        "batch_id": entry.batch_id and str(entry.batch_id),
        "facts": entry.facts,
        "hash": entry.hash,
    }


def _line(line: Line) -> dict[str, Any]:
    return {
        "straw_code": line.straw_code,
        "from_state": line.from_state,
        "from_goblet_id": line.from_goblet_id and str(line.from_goblet_id),
        "to_state": line.to_state,
        "to_goblet_id": line.to_goblet_id and str(line.to_goblet_id),
        "withdrawal_id": line.withdrawal_id and str(line.withdrawal_id),
        "provisional": line.provisional,
    }


def name_of(take: StockTake) -> str:
    """What the archive is called."""
    return f"stock-take-{take.opened_at:%Y-%m-%d}-{str(take.id)[:8]}"
