"""Bytes of a file to rows with line numbers: RFC 4180 as people's programs write it. Pure.

RFC 4180 (Common Format and MIME Type for Comma-Separated Values Files, IETF, 2005): cells between
commas, quotes round a cell with commas, quotes or line breaks in it, a quote in it doubled. Taken
besides: semicolon or tab instead of the comma, LF or CR alone, a byte order mark, and Windows
code page 1252 where the bytes are not UTF-8 (said as an assumption).
"""

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

from service.spreadsheet.rules import (
    LARGEST_FILE_BYTES,
    MOST_COLUMNS,
    MOST_ROWS,
    MOST_SIGNS_A_CELL,
    FileTooLarge,
    UnreadableFile,
)

Delimiter = Literal[",", ";", "\t"]
DELIMITERS: tuple[Delimiter, ...] = (",", ";", "\t")

DELIMITER_NAMES: dict[Delimiter, str] = {",": "comma", ";": "semicolon", "\t": "tab"}

_BOM = b"\xef\xbb\xbf"

#: How many lines are looked at to find out what stands between cells.
_LINES_LOOKED_AT = 20


@dataclass(frozen=True, slots=True)
class Row:
    """One record; `line` is where it begins, as an editor counts, and `cells` fit the header."""

    line: int
    cells: list[str]


@dataclass(slots=True)
class Table:
    """A file as it was read: a header, rows that fit it, and what is wrong with the others."""

    header: list[str]
    header_line: int
    rows: list[Row]
    delimiter: Delimiter
    encoding: str
    ragged: dict[int, str] = field(default_factory=dict)
    assumptions: list[str] = field(default_factory=list)


def read(content: bytes, *, delimiter: Delimiter | None = None) -> Table:
    """The table in a file. Raises UnreadableFile, FileTooLarge."""
    refuse_size(len(content))
    text, encoding, assumptions = _text(content)
    found = delimiter or _delimiter(text)
    records = _records(text, found)
    first = next(records, None)
    if first is None:
        raise UnreadableFile("The file is empty. Choose the one with the rows in it.")
    header_line, header = first
    table = Table(
        header=_named_apart([cell.strip() for cell in header]),
        header_line=header_line,
        rows=[],
        delimiter=found,
        encoding=encoding,
        assumptions=assumptions,
    )
    for line, cells in records:
        if line - header_line and len(table.rows) + len(table.ragged) >= MOST_ROWS:
            raise FileTooLarge(
                f"The file has more than {MOST_ROWS:,} rows. Cut it in two and send them one "
                "after the other.",
                line=line,
                most_rows=MOST_ROWS,
            )
        _add(table, line, cells)
    return table


def refuse_size(size_bytes: int) -> None:
    """Raise FileTooLarge by the size alone, before anything is read."""
    if size_bytes > LARGEST_FILE_BYTES:
        raise FileTooLarge(
            f"The file has {size_bytes:,} bytes; {LARGEST_FILE_BYTES:,} are read at most. Export "
            "the table alone, without pictures, or cut it in two.",
            largest_bytes=LARGEST_FILE_BYTES,
        )


def _text(content: bytes) -> tuple[str, str, list[str]]:
    """The text, how it was encoded, and what was assumed."""
    if (at := content.find(0)) >= 0:
        raise UnreadableFile(
            f"Line {_line_at(content, at)} has a NUL in it: this is no text. Save the table as "
            "CSV (UTF-8) and choose that file.",
            line=_line_at(content, at),
        )
    try:
        return content.removeprefix(_BOM).decode("utf-8"), "utf-8", []
    except UnicodeDecodeError as wrong:
        line = _line_at(content, wrong.start)
    try:
        text = content.decode("cp1252")
    except UnicodeDecodeError:
        raise UnreadableFile(
            f"Line {line} has letters that are neither UTF-8 nor Windows 1252. Save the table as "
            "CSV (UTF-8) and choose that file.",
            line=line,
        ) from None
    said = (
        f"The letters in line {line} are not UTF-8; the file is read as Windows 1252. See that "
        "names with accents are right."
    )
    return text, "windows-1252", [said]


def _line_at(content: bytes, at: int) -> int:
    """The line of a byte; breaks are LF, CR LF, or CR."""
    before = content[:at]
    return 1 + before.count(b"\n") + before.count(b"\r") - before.count(b"\r\n")


def _delimiter(text: str) -> Delimiter:
    """What stands between cells: that which cuts the first lines into the most equal cells."""
    head = "".join(text.splitlines(keepends=True)[:_LINES_LOOKED_AT])

    def score(sign: Delimiter) -> tuple[int, int]:
        counts = [len(cells) for cells in csv.reader(io.StringIO(head, newline=""), delimiter=sign)]
        counts = [count for count in counts if count]
        return (counts[0] if counts else 0), counts.count(counts[0]) if counts else 0

    try:
        return max(DELIMITERS, key=score)
    except csv.Error:
        return ","


def _records(text: str, delimiter: Delimiter) -> Iterator[tuple[int, list[str]]]:
    """Records with the line each begins on; blank ones are left out."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    begins = 1
    try:
        for cells in reader:
            if len(cells) > MOST_COLUMNS:
                raise FileTooLarge(
                    f"Line {begins} has {len(cells):,} columns; {MOST_COLUMNS} are read at most. "
                    "Export the columns that matter.",
                    line=begins,
                    most_columns=MOST_COLUMNS,
                )
            if any(cell.strip() for cell in cells):
                yield begins, cells
            begins = reader.line_num + 1
    except csv.Error as wrong:
        raise _unreadable(begins, str(wrong)) from None


def _unreadable(line: int, reason: str) -> UnreadableFile | FileTooLarge:
    if "field larger" in reason:
        return _cell_too_large(line)
    if "unexpected end" in reason:
        detail = (
            f"The quotes that open in the record on line {line} never close: the file ends in the "
            "middle of a cell. Export it again, whole."
        )
    else:
        detail = (
            f"The quotes in line {line} do not fit: a quote inside a cell is written twice, and "
            "such a cell stands between quotes."
        )
    return UnreadableFile(detail, line=line)


def _cell_too_large(line: int) -> FileTooLarge:
    return FileTooLarge(
        f"A cell in line {line} is longer than {MOST_SIGNS_A_CELL:,} signs. Shorten it, or see "
        "whether a quote is missing there.",
        line=line,
        most_signs=MOST_SIGNS_A_CELL,
    )


def _add(table: Table, line: int, cells: list[str]) -> None:
    width = len(table.header)
    if max(map(len, cells)) > MOST_SIGNS_A_CELL:
        raise _cell_too_large(line)
    while len(cells) > width and not cells[-1].strip():
        cells.pop()
    if len(cells) != width:
        table.ragged[line] = (
            f"has {len(cells)} cells where the header has {width}. "
            + ("A cell is missing" if len(cells) < width else "There is one too many")
            + f", or a {DELIMITER_NAMES[table.delimiter]} inside a cell has no quotes round it."
        )
        return
    table.rows.append(Row(line, cells))


def _named_apart(header: list[str]) -> list[str]:
    """Columns without a name, or with one that came before, get a name of their own."""
    while len(header) > 1 and not header[-1]:
        header.pop()
    named: list[str] = []
    for number, said in enumerate(header, start=1):
        name = said or f"column {number}"
        named.append(name if name not in named else f"{name} ({number})")
    return named
