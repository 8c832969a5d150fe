"""What a label is made of: shapes on a face, in millimetres from its upper left corner.

A `Face` is one label or one page of paper at true size; everything on it is black. Drawing it is
for `drawing`, which writes exactly these shapes and decides nothing.
"""

from dataclasses import dataclass
from typing import Literal

MM_PER_INCH = 25.4

Dpi = Literal[203, 300, 600]


@dataclass(frozen=True, slots=True)
class Printer:
    """A printer by its dots: symbols are drawn in whole ones."""

    dpi: Dpi = 300

    @property
    def dots_per_mm(self) -> float:
        """Printers sold as 203 dpi have 8 dots a millimetre (common practice, no source)."""
        return 8.0 if self.dpi == 203 else self.dpi / MM_PER_INCH

    def on_a_dot(self, mm: float) -> float:
        """The place nearest to `mm` where a dot begins."""
        return round(mm * self.dots_per_mm) / self.dots_per_mm


@dataclass(frozen=True, slots=True)
class Glyph:
    """One drawn letter: its number in the typeface; offsets and advance in ems.

    `text` is what it stands for, empty where the glyph before stands for it too.
    """

    number: int
    text: str
    dx: float
    dy: float
    advance: float


@dataclass(frozen=True, slots=True)
class Line:
    """A line of text, shaped: glyphs from left to right, whatever way it is read."""

    text: str
    typeface: str
    glyphs: tuple[Glyph, ...]
    width_em: float


@dataclass(frozen=True, slots=True)
class Words:
    """A line set on its baseline at (x, y); `turn` in degrees clockwise, about that point."""

    line: Line
    x: float
    y: float
    em_mm: float
    turn: Literal[0, 90, 180, 270] = 0

    @property
    def width(self) -> float:
        """How long the line is, in mm."""
        return self.line.width_em * self.em_mm


@dataclass(frozen=True, slots=True)
class Symbol:
    """A symbol of square modules; (x, y) is the corner of its first module, not of its quiet zone.

    `rows` are the modules from above, a true one is dark.
    """

    x: float
    y: float
    rows: tuple[tuple[bool, ...], ...]
    module_mm: float


@dataclass(frozen=True, slots=True)
class Bar:
    """A filled rectangle."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Rule:
    """A straight line; `dash_mm` makes it a dashed one."""

    x: float
    y: float
    to_x: float
    to_y: float
    thick_mm: float = 0.15
    dash_mm: float | None = None


Shape = Words | Symbol | Bar | Rule


@dataclass(frozen=True, slots=True)
class Face:
    """A label or a page: its size in mm, and what stands on it."""

    width: float
    height: float
    shapes: tuple[Shape, ...]
