"""Plates of places: what a person reads at a tank, on a raised canister, on a goblet's rim.

Letters are sized for how far away they are read: a goblet from half a metre, a canister from 70 cm,
a tank from a metre and a half.
"""

from dataclasses import dataclass
from typing import Literal

from labels.fitting import LEAST_MINUTES, Field, Room, in_room, letter_height
from labels.modules import module
from labels.payload import QR_MODULES, QR_QUIET, qr
from labels.shapes import Face, Printer, Shape, Symbol
from labels.straws import grouped
from labels.typefaces import CODE, STRONG

PlateKind = Literal["goblet", "canister", "tank"]


@dataclass(frozen=True, slots=True)
class _Size:
    """A plate in mm, the module its symbol aims at, and from how far away it is read."""

    width: float
    height: float
    module: float
    distance: float


#: 0.38 mm is what hand-held scanners are made for (GS1 General Specifications, at second hand).
_SIZES: dict[PlateKind, _Size] = {
    "goblet": _Size(50, 16, 0.51, 500),
    "canister": _Size(70, 26, 0.86, 700),
    "tank": _Size(105, 50, 1.6, 1_500),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateWords:
    """What is said on a plate: `title` is what the place is called by, `line` what else helps."""

    kind: PlateKind
    code: str
    title: str
    line: str | None = None


def plate(words: PlateWords, printer: Printer) -> Face:
    """The plate of a place. Raises DoesNotFit, NotHonest, CannotDraw."""
    size = _SIZES[words.kind]
    name = f"The plate of the {words.kind}"
    modules = QR_MODULES + 2 * QR_QUIET
    square = module(printer, aim_mm=size.module, most_mm=size.height / modules, what=name)
    top = printer.on_a_dot((size.height - QR_MODULES * square) / 2)
    left = printer.on_a_dot(max(QR_QUIET * square, top))
    begin = left + (QR_MODULES + QR_QUIET) * square
    margin = size.height / 12
    room = size.height - 2 * margin
    width = size.width - begin - margin
    comfortable, least = letter_height(size.distance), letter_height(size.distance, LEAST_MINUTES)
    below = 0.28 * room
    above = room - 2 * below if words.line else room - below
    shapes: list[Shape] = [Symbol(left, top, qr(words.code), square)]
    shapes += in_room(
        Field(words.title, STRONG),
        Room(begin, margin, width, above, name),
        preferred_mm=1.6 * comfortable,
        smallest_mm=round(least, 1),
    )
    small = round(letter_height(300, LEAST_MINUTES), 1)
    if words.line:
        shapes += in_room(
            Field(words.line),
            Room(begin, margin + above, width, below, name),
            preferred_mm=0.7 * below,
            smallest_mm=small,
        )
    shapes += in_room(
        Field(grouped(words.code), CODE),
        Room(begin, size.height - margin - below, width, below, name),
        preferred_mm=0.8 * below,
        smallest_mm=small,
    )
    return Face(size.width, size.height, tuple(shapes))
