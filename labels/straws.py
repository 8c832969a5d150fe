"""What a straw carries: the strip along its body, and the flag at its free end.

The strip has the marks as words along the straw and, where wanted, a Data Matrix of 8 × 32 modules
along its axis: the one symbol that a bare straw carries dependably. As a *band* it stands on one
side of the straw, as much of it as can be seen at once; as a *wrap* it is a label all round the
straw that closes over itself.

The flag is a tab: its middle goes round the straw, the two faces close on each other. A QR stands
on one, words on the other. It rides above the goblet's rim and comes off at loading.

Neither was tried in nitrogen by us.
"""

import math
from dataclasses import dataclass
from typing import Literal

from labels.errors import DoesNotFit
from labels.fitting import Field, Room, in_room, in_rows, letter_height
from labels.modules import ON_STRAWS_MM, module
from labels.payload import (
    DATA_MATRIX_COLUMNS,
    DATA_MATRIX_QUIET,
    DATA_MATRIX_ROWS,
    QR_MODULES,
    QR_QUIET,
    data_matrix,
    qr,
)
from labels.shapes import Face, Printer, Rule, Shape, Symbol, Words
from labels.typefaces import CODE, CODE_LIGHT, STRONG, TEXT

#: Letters on straws, in mm: comfortable at 30 cm, and the least, read at 26 cm.
PREFERRED_MM, SMALLEST_MM = round(letter_height(300), 2), 1.2

#: How much of a straw is seen at once, in degrees (common practice, no source: 90 to 100).
VISIBLE_DEGREES = 100

#: By how much a wrap closes over itself, and how far words keep from its ends, in mm.
OVERLAP_MM, MARGIN_MM = 1.5, 1.0

#: One face of the flag, and the module its symbol aims at, in mm.
FLAG_WIDTH_MM, FLAG_HEIGHT_MM = 20.0, 12.0

FLAG_MODULE_MM = 0.38

_FLAG_ROWS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class StrawWords:
    """What is said on a straw. `collected` is the day as it is written there."""

    code: str
    stallion: str
    identity: str | None = None
    species: str | None = None
    breed: str | None = None
    collected: str | None = None
    approvals: tuple[str, ...] = ()
    batch_code: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """How strips are made: for which straw, how long, in which form, with a symbol or without."""

    straw_diameter_mm: float = 2.8
    length_mm: float = 100.0
    form: Literal["band", "wrap"] = "wrap"
    symbol: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """How flags are made: for which straw."""

    straw_diameter_mm: float = 2.8


def grouped(code: str) -> str:
    """A code as people read it: in threes that no line tears apart."""
    return "\u00a0".join(code[start : start + 3] for start in range(0, len(code), 3))


def strip(words: StrawWords, how: Strip, printer: Printer) -> Face:
    """The strip of a straw. Raises DoesNotFit, NotHonest, CannotDraw."""
    round_it = math.pi * how.straw_diameter_mm
    visible = round_it * VISIBLE_DEGREES / 360
    rows = 3 if how.form == "wrap" else 1
    row_height = round_it / rows if how.form == "wrap" else visible
    height = round_it + OVERLAP_MM if how.form == "wrap" else visible
    shapes: list[Shape] = []
    begin = MARGIN_MM
    if how.symbol:
        size = module(
            printer,
            aim_mm=ON_STRAWS_MM,
            most_mm=visible / DATA_MATRIX_ROWS,
            what=f"A straw of {how.straw_diameter_mm:g} mm",
        )
        across = DATA_MATRIX_ROWS * size
        # Where the band is no higher than the symbol, the straw itself is its quiet zone.
        top = printer.on_a_dot((row_height - across) / 2)
        left = printer.on_a_dot(MARGIN_MM)
        shapes.append(Symbol(left, top, data_matrix(words.code), size))
        begin = left + (DATA_MATRIX_COLUMNS + DATA_MATRIX_QUIET) * size + MARGIN_MM / 2
    rooms = tuple(
        Room(
            x=begin if row == 0 else MARGIN_MM,
            y=row * row_height,
            width=how.length_mm - MARGIN_MM - (begin if row == 0 else MARGIN_MM),
            height=row_height,
            name="The strip",
        )
        for row in range(rows)
    )
    shapes += _strip_words(words, rooms)
    if how.form == "wrap":
        shapes += _overlap_marks(round_it, how.length_mm)
    return Face(how.length_mm, height, tuple(shapes))


def _strip_words(words: StrawWords, rooms: tuple[Room, ...]) -> tuple[Words, ...]:
    """The words in the rows; where a row of three stays free, it says once more whose it is."""
    whose = (Field(grouped(words.code), CODE), Field(words.stallion, STRONG))
    fields = (*whose, *_fields(words)[1:])
    if len(rooms) > 1:
        try:
            said = _in_rows(fields, rooms[:-1])
            return said + _in_rows(whose, rooms[-1:])
        except DoesNotFit:
            pass
    return _in_rows(fields, rooms)


def _in_rows(fields: tuple[Field, ...], rooms: tuple[Room, ...]) -> tuple[Words, ...]:
    return in_rows(fields, rooms, preferred_mm=PREFERRED_MM, smallest_mm=SMALLEST_MM)


def flag(words: StrawWords, how: Flag, printer: Printer) -> Face:
    """The flag of a straw, unfolded: QR face, the zone that goes round the straw, words face.

    Raises DoesNotFit, NotHonest, CannotDraw.
    """
    zone = math.pi * how.straw_diameter_mm
    size = module(
        printer,
        aim_mm=FLAG_MODULE_MM,
        most_mm=FLAG_HEIGHT_MM / (QR_MODULES + 2 * QR_QUIET),
        what="The flag",
    )
    quiet = QR_QUIET * size
    left = printer.on_a_dot(quiet)
    top = printer.on_a_dot((FLAG_HEIGHT_MM - QR_MODULES * size) / 2)
    symbol = Symbol(left, top, qr(words.code), size)
    beside = left + QR_MODULES * size + quiet
    groups = grouped(words.code).split()
    third = (FLAG_HEIGHT_MM - 2 * MARGIN_MM) / len(groups)
    shapes: list[Shape] = [symbol]
    for number, group in enumerate(groups):
        room = Room(
            x=beside,
            y=MARGIN_MM + number * third,
            width=FLAG_WIDTH_MM - beside - MARGIN_MM / 2,
            height=third,
            name="The flag",
        )
        shapes += in_room(
            Field(group, CODE), room, preferred_mm=2.0, smallest_mm=PREFERRED_MM, centred=True
        )
    shapes += _flag_words(words, FLAG_WIDTH_MM + zone)
    for fold in (FLAG_WIDTH_MM, FLAG_WIDTH_MM + zone):
        shapes.append(Rule(fold, 0, fold, FLAG_HEIGHT_MM, thick_mm=0.1, dash_mm=0.6))
    return Face(2 * FLAG_WIDTH_MM + zone, FLAG_HEIGHT_MM, tuple(shapes))


def _flag_words(words: StrawWords, begin: float) -> tuple[Shape, ...]:
    step = (FLAG_HEIGHT_MM - MARGIN_MM) / _FLAG_ROWS
    rooms = tuple(
        Room(
            x=begin + MARGIN_MM,
            y=MARGIN_MM / 2 + row * step,
            width=FLAG_WIDTH_MM - 2 * MARGIN_MM,
            height=step,
            name="The flag",
        )
        for row in range(_FLAG_ROWS)
    )
    return in_rows(_fields(words), rooms, preferred_mm=1.4, smallest_mm=SMALLEST_MM)


def _fields(words: StrawWords) -> tuple[Field, ...]:
    """What is said beside the code, in the order of its weight."""
    batch = [Field(grouped(words.batch_code), CODE_LIGHT)] if words.batch_code else []
    said = (words.identity, words.collected, *words.approvals)
    less = (words.species, words.breed)
    return (
        Field(words.stallion, STRONG),
        *(Field(text, TEXT) for text in said if text),
        *batch,
        *(Field(text, TEXT) for text in less if text),
    )


def _overlap_marks(top: float, length: float) -> tuple[Rule, ...]:
    """Short strokes at both ends, up to which the label closes over itself."""
    return tuple(Rule(x, top, x + 0.8, top, thick_mm=0.1) for x in (0.0, length - 0.8))
