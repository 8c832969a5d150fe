"""Words on sheets of A4 as a report needs them: paragraphs, tables over pages, running heads.

Everything flows down a page and over to the next; nothing is ever cut off. Heights are those of
capital letters, in mm. Letters that the typefaces do not have become question marks: a report has
to be printed, whatever somebody wrote in a note.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

from labels.drawing import pdf
from labels.errors import CannotDraw
from labels.shapes import Face, Rule, Shape, Words
from labels.sheets import A4_HEIGHT_MM, A4_WIDTH_MM
from labels.typefaces import CODE, STRONG, TEXT, measures, shaped

LEFT_MM, TOP_MM, BOTTOM_MM = 20.0, 24.0, 22.0
WIDTH_MM = A4_WIDTH_MM - 2 * LEFT_MM

#: 9 pt and 7.5 pt type; headings of 11 pt and 20 pt.
BODY_MM, SMALL_MM, HEADING_MM, TITLE_MM = 2.2, 1.82, 2.7, 4.9

#: From baseline to baseline, in heights of a capital.
_LEADING = 1.95

_HAIR_MM, _LINE_MM = 0.06, 0.25

#: The running heads' baselines, and a gap between columns.
_HEAD_MM, _FOOT_MM, _GAP_MM = 14.0, A4_HEIGHT_MM - 12.0, 3.0


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table: what stands above it, and how wide it is."""

    title: str
    width_mm: float
    side: Literal["left", "right"] = "left"
    typeface: str = TEXT


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands in a table, or in a line, in a typeface of its own."""

    text: str
    typeface: str | None = None


#: Where a line may be torn; spaces that hold together are none of these.
_SPACES = re.compile("[ \t\r\n\f\v\x85\u2028\u2029]+")


@lru_cache(maxsize=20_000)
def drawable(text: str, typeface: str) -> str:
    """The text on one line, with question marks for letters that the typeface does not have."""
    text = _SPACES.sub(" ", text).strip()
    try:
        shaped(text, typeface)
    except CannotDraw as refusal:
        return text.translate({ord(letter): "?" for part in refusal.letters for letter in part})
    return text


def words(text: str, typeface: str, height_mm: float, x: float, y: float) -> Words:
    """A line on its baseline."""
    return Words(shaped(text, typeface), x, y, height_mm / measures(typeface).capital)


def width_of(text: str, typeface: str, height_mm: float) -> float:
    """How long a line is, in mm."""
    return shaped(text, typeface).width_em * height_mm / measures(typeface).capital


@lru_cache(maxsize=20_000)
def wrapped(text: str, typeface: str, height_mm: float, width_mm: float) -> tuple[str, ...]:
    """The text on lines of that width: torn between words, a longer word within itself."""
    rows: list[str] = []
    for word in drawable(text, typeface).split(" "):
        longer = f"{rows[-1]} {word}" if rows else word
        if rows and width_of(longer, typeface, height_mm) <= width_mm:
            rows[-1] = longer
        else:
            rows += _torn(word, typeface, height_mm, width_mm)
    return tuple(rows) or ("",)


def _torn(word: str, typeface: str, height_mm: float, width_mm: float) -> Iterator[str]:
    while width_of(word, typeface, height_mm) > width_mm and len(word) > 1:
        fits = next(
            (
                length
                for length in range(len(word) - 1, 1, -1)
                if width_of(word[:length], typeface, height_mm) <= width_mm
            ),
            1,
        )
        yield word[:fits]
        word = word[fits:]
    yield word


@dataclass(slots=True)
class Paper:
    """Sheets that are filled from above; `y` is where the next thing begins on the last one."""

    pages: list[list[Shape]] = field(default_factory=lambda: [[]])
    y: float = TOP_MM

    @property
    def room_mm(self) -> float:
        """What is left of the sheet."""
        return A4_HEIGHT_MM - BOTTOM_MM - self.y

    def turn(self) -> None:
        """Go on with a new sheet."""
        self.pages.append([])
        self.y = TOP_MM

    def keep(self, height_mm: float) -> None:
        """Go on with a new sheet unless so much room is left."""
        if self.room_mm < height_mm:
            self.turn()

    def space(self, height_mm: float) -> None:
        """Leave room, but not at the head of a sheet."""
        if self.y > TOP_MM:
            self.y += height_mm

    def title(self, text: str) -> None:
        """The name of the whole."""
        self.text(text, STRONG, TITLE_MM)
        self.y += 1.0

    def heading(self, text: str) -> None:
        """What the next section is called; some of it stands on the same sheet."""
        self.space(6.0)
        self.keep(28.0)
        self.text(text, STRONG, HEADING_MM)
        self.rule(self.y + 0.2, _LINE_MM)
        self.y += 2.4

    def rule(self, y: float, thick_mm: float) -> None:
        """A line over the whole width."""
        self.pages[-1].append(Rule(LEFT_MM, y, LEFT_MM + WIDTH_MM, y, thick_mm=thick_mm))

    def text(
        self,
        text: str,
        typeface: str = TEXT,
        height_mm: float = BODY_MM,
        *,
        indent_mm: float = 0.0,
    ) -> None:
        """A paragraph."""
        step = height_mm * _LEADING
        for row in wrapped(text, typeface, height_mm, WIDTH_MM - indent_mm):
            self.keep(step)
            self.pages[-1].append(
                words(row, typeface, height_mm, LEFT_MM + indent_mm, self.y + step * 0.76)
            )
            self.y += step

    def facts(self, rows: Sequence[tuple[str, str | Cell]], label_mm: float = 42.0) -> None:
        """What is called how, in two columns without lines."""
        columns = (Column("", label_mm), Column("", WIDTH_MM - label_mm))
        for label, said in rows:
            self._row(columns, (Cell(label), as_cell(said)), BODY_MM, line=False)

    def table(self, columns: Sequence[Column], rows: Sequence[Sequence[str | Cell]]) -> None:
        """A table; its head stands again on each sheet. Widths add up to at most `WIDTH_MM`."""
        self.keep(20.0)
        self._table_head(columns)
        for row in rows:
            cells = [as_cell(one) for one in row]
            if self.room_mm < self._height(columns, cells, SMALL_MM):
                self.turn()
                self._table_head(columns)
            self._row(columns, cells, SMALL_MM, line=True)

    def _table_head(self, columns: Sequence[Column]) -> None:
        self._row(columns, [Cell(one.title, STRONG) for one in columns], SMALL_MM, line=False)
        self.rule(self.y, _LINE_MM)
        self.y += 0.5

    def _height(self, columns: Sequence[Column], cells: Sequence[Cell], height_mm: float) -> float:
        most = max(len(rows) for rows in _rows(columns, cells, height_mm))
        return most * height_mm * _LEADING + 1.0

    def _row(
        self, columns: Sequence[Column], cells: Sequence[Cell], height_mm: float, *, line: bool
    ) -> None:
        """A row, column by column; one taller than a sheet goes on over the page."""
        filled, step = _rows(columns, cells, height_mm), height_mm * _LEADING
        left, done = max(map(len, filled)), 0
        while left:
            self.keep(step + 1.0)
            some = min(left, max(int((self.room_mm - 1.0) / step), 1))
            x = LEFT_MM
            for column, cell, rows in zip(columns, cells, filled, strict=True):
                typeface = cell.typeface or column.typeface
                self._column(column, typeface, rows[done : done + some], height_mm, x)
                x += column.width_mm
            self.y += some * step
            left, done = left - some, done + some
        if line:
            self.rule(self.y + 0.3, _HAIR_MM)
            self.y += 0.6

    def _column(
        self, column: Column, typeface: str, rows: Sequence[str], height_mm: float, x: float
    ) -> None:
        step = height_mm * _LEADING
        for number, row in enumerate(rows):
            free = column.width_mm - _GAP_MM - width_of(row, typeface, height_mm)
            left = x + (free if column.side == "right" else 0)
            if row:
                place = self.y + (number + 0.76) * step
                self.pages[-1].append(words(row, typeface, height_mm, left, place))

    def finished(self, head: str, foot: str, *, title: str) -> bytes:
        """The sheets as a PDF, each with its running head, its number and its foot."""
        faces = [
            Face(A4_WIDTH_MM, A4_HEIGHT_MM, (*shapes, *_running(head, foot, n, len(self.pages))))
            for n, shapes in enumerate(self.pages, start=1)
        ]
        return pdf(faces, title=title)


def as_cell(said: str | Cell) -> Cell:
    """A cell in the typeface of its column, unless it has one of its own."""
    return said if isinstance(said, Cell) else Cell(said)


def _rows(
    columns: Sequence[Column], cells: Sequence[Cell], height_mm: float
) -> list[tuple[str, ...]]:
    return [
        wrapped(cell.text, cell.typeface or column.typeface, height_mm, column.width_mm - _GAP_MM)
        for column, cell in zip(columns, cells, strict=True)
    ]


def _running(head: str, foot: str, number: int, of: int) -> Iterator[Shape]:
    """What stands on every sheet; a long head is written on two lines."""
    page = f"page {number} of {of}"
    right = LEFT_MM + WIDTH_MM
    wide = width_of(page, TEXT, SMALL_MM)
    yield words(page, TEXT, SMALL_MM, right - wide, _HEAD_MM)
    rows = wrapped(head, TEXT, SMALL_MM, WIDTH_MM - wide - 6)
    for row, text in enumerate(rows[:2]):
        yield words(text, TEXT, SMALL_MM, LEFT_MM, _HEAD_MM + row * SMALL_MM * _LEADING)
    below = _HEAD_MM + (len(rows[:2]) - 1) * SMALL_MM * _LEADING + 2.0
    yield Rule(LEFT_MM, below, right, below, thick_mm=_HAIR_MM)
    yield Rule(LEFT_MM, _FOOT_MM - 3.6, right, _FOOT_MM - 3.6, thick_mm=_HAIR_MM)
    yield words(foot, CODE, 1.4, LEFT_MM, _FOOT_MM)
