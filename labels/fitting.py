"""Words into the room there is: letters shrink to a stated height, lines wrap, or it is said.

Heights are those of capital letters, in mm. For a reading distance d the height that is comfortable
is 20 minutes of arc, 5.8 mm a metre; 16 are the least (ISO 9241-303:2011, from memory). Nothing is
ever cut.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from labels.errors import DoesNotFit
from labels.shapes import Words
from labels.typefaces import TEXT, measures, shaped

COMFORTABLE_MINUTES, LEAST_MINUTES = 20, 16

#: From baseline to baseline, in heights of a capital.
LEADING = 1.55

#: Letters shrink by this much a step, in mm.
_STEP = 0.05

#: Between two fields of a row, in heights of a capital.
_GAP = 1.1


def letter_height(distance_mm: float, minutes: float = COMFORTABLE_MINUTES) -> float:
    """How high a capital is that is seen under so many minutes of arc from that far away."""
    return 2 * distance_mm * math.tan(math.radians(minutes / 60) / 2)


@dataclass(frozen=True, slots=True)
class Field:
    """One thing that is said: in which typeface, and between which fields it must not be torn."""

    text: str
    typeface: str = TEXT


@dataclass(frozen=True, slots=True)
class Room:
    """A rectangle for words: its upper left corner and size, what it is called in a refusal."""

    x: float
    y: float
    width: float
    height: float
    name: str = "The label"


@lru_cache(maxsize=2_000)
def in_room(
    field: Field, room: Room, *, preferred_mm: float, smallest_mm: float, centred: bool = False
) -> tuple[Words, ...]:
    """A text in a room: on one line as high as it can be, else on several at the smallest height.

    The lines stand in the middle of the room's height. Raises DoesNotFit, CannotDraw.
    """
    for height in _heights(min(preferred_mm, room.height), smallest_mm):
        if _width(field, height) <= room.width:
            return _set([field], height, room, centred=centred)
    rows = _wrapped(field, smallest_mm, room.width)
    if rows is None or smallest_mm + (len(rows) - 1) * smallest_mm * LEADING > room.height:
        raise DoesNotFit([field.text], smallest_mm, room.name)
    return _set(rows, smallest_mm, room, centred=centred)


@lru_cache(maxsize=2_000)
def in_rows(
    fields: tuple[Field, ...], rooms: tuple[Room, ...], *, preferred_mm: float, smallest_mm: float
) -> tuple[Words, ...]:
    """Fields one after the other in rows, all of one height, as high as they can be.

    A field moves to the next row as a whole; at the smallest height it may be torn between words.
    Raises DoesNotFit with the fields that found no room, CannotDraw.
    """
    for height in _heights(min(preferred_mm, *(room.height for room in rooms)), smallest_mm):
        placed, left = _flow(fields, rooms, height)
        if not left:
            return placed
    words = [Field(word, field.typeface) for field in fields for word in _words_of(field)]
    placed, _ = _flow(words, rooms, smallest_mm)
    if len(placed) == len(words):
        return placed
    raise DoesNotFit([field.text for field in left], smallest_mm, rooms[0].name)


def paragraph(
    field: Field, *, x: float, top: float, width: float, height_mm: float, name: str = "The card"
) -> tuple[tuple[Words, ...], float]:
    """A text in letters of one height, on as many lines as it takes; and where it ends.

    Raises DoesNotFit for a word that is wider than the room, CannotDraw.
    """
    rows = _wrapped(field, height_mm, width)
    if rows is None:
        raise DoesNotFit([field.text], height_mm, name)
    step = height_mm * LEADING
    room = Room(x, top, width, step * len(rows), name)
    return _set(rows, height_mm, room, centred=False), top + room.height


def _heights(preferred_mm: float, smallest_mm: float) -> list[float]:
    steps = round((preferred_mm - smallest_mm) / _STEP)
    return [preferred_mm - _STEP * step for step in range(steps)] + [smallest_mm]


def _em(typeface: str, height: float) -> float:
    return height / measures(typeface).capital


def _width(field: Field, height: float) -> float:
    return shaped(field.text, field.typeface).width_em * _em(field.typeface, height)


def _words_of(field: Field) -> list[str]:
    """Where a text may be torn: at spaces, but not at those that hold together."""
    return [word for word in field.text.split(" ") if word]


def _wrapped(field: Field, height: float, width: float) -> list[Field] | None:
    """The text on lines of that width, torn between words; None when a word alone is wider."""
    rows: list[str] = []
    for word in _words_of(field):
        longer = f"{rows[-1]} {word}" if rows else word
        if rows and _width(Field(longer, field.typeface), height) <= width:
            rows[-1] = longer
        elif _width(Field(word, field.typeface), height) <= width:
            rows.append(word)
        else:
            return None
    return [Field(row, field.typeface) for row in rows]


def _set(rows: Sequence[Field], height: float, room: Room, *, centred: bool) -> tuple[Words, ...]:
    step = height * LEADING
    baseline = room.y + (room.height - height - step * (len(rows) - 1)) / 2 + height
    placed = []
    for number, field in enumerate(rows):
        line = shaped(field.text, field.typeface)
        em = _em(field.typeface, height)
        x = room.x + (room.width - line.width_em * em) / 2 if centred else room.x
        placed.append(Words(line, x, baseline + step * number, em))
    return tuple(placed)


def _flow(
    fields: Sequence[Field], rooms: Sequence[Room], height: float
) -> tuple[tuple[Words, ...], Sequence[Field]]:
    """What found room, and the fields that did not, from the first of them on."""
    placed: list[Words] = []
    row, used = 0, 0.0
    for index, field in enumerate(fields):
        width = _width(field, height)
        while used and row < len(rooms) and used + width > rooms[row].width:
            row, used = row + 1, 0.0
        while row < len(rooms) and width > rooms[row].width:
            row, used = row + 1, 0.0
        if row == len(rooms):
            return tuple(placed), fields[index:]
        room = rooms[row]
        line = shaped(field.text, field.typeface)
        baseline = room.y + (room.height + height) / 2
        placed.append(Words(line, room.x + used, baseline, _em(field.typeface, height)))
        used += width + _GAP * height
    return tuple(placed), ()
