"""Rows out as CSV that a spreadsheet program opens as it is and runs nothing of. Pure.

UTF-8 with a byte order mark (without it such programs guess another alphabet), CR LF after each
record (RFC 4180, IETF, 2005), texts guarded (`cells.guarded`), numbers as numbers.
"""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from service.kernel import clock
from service.spreadsheet.cells import guarded
from service.spreadsheet.figures import DecimalSign, written
from service.spreadsheet.reading import Delimiter

Cell = str | int | Decimal | date | datetime | bool | None

#: Records that are written into one piece of the answer.
_RECORDS_A_PIECE = 500


@dataclass(frozen=True, slots=True)
class Style:
    """How a file is to look."""

    delimiter: Delimiter = ","
    decimal: DecimalSign = "point"


def pieces(header: Sequence[str], rows: Iterable[Sequence[Cell]], style: Style) -> Iterator[bytes]:
    """A file in pieces."""
    held = io.StringIO(newline="")
    writer = csv.writer(held, delimiter=style.delimiter, lineterminator="\r\n")
    writer.writerow(header)
    mark = "\ufeff"
    for number, row in enumerate(rows, start=1):
        writer.writerow([_cell(value, style) for value in row])
        if number % _RECORDS_A_PIECE == 0:
            yield (mark + held.getvalue()).encode()
            mark = ""
            held.seek(0)
            held.truncate()
    yield (mark + held.getvalue()).encode()


def _cell(value: Cell, style: Style) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return guarded(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return clock.as_text(value)
    if isinstance(value, date):
        return value.isoformat()
    return written(value, style.decimal)
