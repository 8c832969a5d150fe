"""Labels on paper: a page for each, or many on A4; and the ruler that proves the size."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from labels.drawing import pdf
from labels.errors import NotDrawn
from labels.fitting import Field, Room, in_room
from labels.shapes import Bar, Face, Printer, Rule, Shape, Symbol, Words
from labels.typefaces import STRONG

#: ISO 216:2007.
A4_WIDTH_MM, A4_HEIGHT_MM = 210.0, 297.0

#: What the ruler claims to measure, and by how much it may be off, in mm.
RULER_MM, RULER_OFF_MM = 50.0, 0.5


class SheetTooSmall(NotDrawn):
    """A sheet on which not one label has room, or a start behind its end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A sheet of A4: margins, the gap between labels, and the first place that is still free."""

    margin_mm: float = 10.0
    gap_mm: float = 3.0
    start: int = 1


def roll(faces: Sequence[Face], *, title: str = "Labels") -> bytes:
    """A page a label, of the label's own size."""
    return pdf(faces, title=title)


def a4(faces: Sequence[Face], printer: Printer, sheet: Sheet, *, title: str = "Labels") -> bytes:
    """Labels in rows on sheets of A4, with marks to cut along. Raises SheetTooSmall.

    Labels are placed where a dot begins, so that their symbols stay in whole dots.
    """
    return pdf(list(_sheets(faces, printer, sheet)), title=title)


def places_on(sheet: Sheet, width: float, height: float) -> tuple[int, int]:
    """How many columns and rows of labels a sheet has. Raises SheetTooSmall."""
    columns = int((A4_WIDTH_MM - 2 * sheet.margin_mm + sheet.gap_mm) // (width + sheet.gap_mm))
    rows = int((A4_HEIGHT_MM - 2 * sheet.margin_mm + sheet.gap_mm) // (height + sheet.gap_mm))
    if columns < 1 or rows < 1:
        raise SheetTooSmall(
            f"A label of {width:.1f} × {height:.1f} mm has no room on A4 between margins of "
            f"{sheet.margin_mm:g} mm. Make the margins smaller, or print on label paper."
        )
    if not 1 <= sheet.start <= columns * rows:
        raise SheetTooSmall(
            f"The sheet has places 1 to {columns * rows} for these labels; there is no place "
            f"{sheet.start} to begin at."
        )
    return columns, rows


def _sheets(faces: Sequence[Face], printer: Printer, sheet: Sheet) -> Iterator[Face]:
    width, height = max(face.width for face in faces), max(face.height for face in faces)
    columns, rows = places_on(sheet, width, height)
    shapes: list[Shape] = []
    place = sheet.start - 1
    for face in faces:
        if place == columns * rows:
            yield Face(A4_WIDTH_MM, A4_HEIGHT_MM, tuple(shapes))
            shapes, place = [], 0
        row, column = divmod(place, columns)
        x = printer.on_a_dot(sheet.margin_mm + column * (width + sheet.gap_mm))
        y = printer.on_a_dot(sheet.margin_mm + row * (height + sheet.gap_mm))
        shapes += [moved(shape, x, y) for shape in face.shapes]
        shapes += _cut_marks(x, y, face)
        place += 1
    yield Face(A4_WIDTH_MM, A4_HEIGHT_MM, tuple(shapes))


def moved(shape: Shape, x: float, y: float) -> Shape:
    """The shape, so far to the right and down."""
    match shape:
        case Rule():
            return replace(
                shape, x=shape.x + x, y=shape.y + y, to_x=shape.to_x + x, to_y=shape.to_y + y
            )
        case Words() | Symbol() | Bar():
            return replace(shape, x=shape.x + x, y=shape.y + y)


def _cut_marks(x: float, y: float, face: Face) -> Iterator[Rule]:
    """Two strokes at each corner, outside of the label."""
    off, long = 0.4, 1.0
    for corner_x, out_x in ((x, -1), (x + face.width, 1)):
        for corner_y, out_y in ((y, -1), (y + face.height, 1)):
            from_x, from_y = corner_x + out_x * off, corner_y + out_y * off
            yield Rule(from_x, corner_y, from_x + out_x * long, corner_y, thick_mm=0.1)
            yield Rule(corner_x, from_y, corner_x, from_y + out_y * long, thick_mm=0.1)


def ruler(printer: Printer) -> bytes:
    """A page that is measured before labels are trusted: 50.0 mm each way, and lines of one dot."""
    width, height = RULER_MM + 20, RULER_MM + 20
    shapes: list[Shape] = [
        Bar(10, 10, RULER_MM, 0.3),
        Bar(10, 10, 0.3, RULER_MM),
        *(Rule(10 + mm, 10, 10 + mm, 10 - _tick(mm), thick_mm=0.1) for mm in range(51)),
        *(Rule(10, 10 + mm, 10 - _tick(mm), 10 + mm, thick_mm=0.1) for mm in range(51)),
    ]
    told = (
        f"Both lines must measure {RULER_MM:.1f} mm,",
        f"give or take {RULER_OFF_MM} mm.",
        "Otherwise print at 100 %, without",
        "“fit to page”.",
        f"Lines of 1, 2 and 3 dots at {printer.dpi} dpi:",
    )
    for row, text in enumerate(told):
        room = Room(14, 14 + row * 5, RULER_MM, 5, "The ruler")
        shapes += in_room(Field(text, STRONG), room, preferred_mm=2.0, smallest_mm=1.5)
    dot = 1 / printer.dots_per_mm
    left = printer.on_a_dot(14)
    for dots in (1, 2, 3):
        for line in range(8):
            shapes.append(Bar(left + line * 2 * dots * dot, 42, dots * dot, 8))
        left = printer.on_a_dot(left + 16 * dots * dot + 4)
    return pdf([Face(width, height, tuple(shapes))], title="Ruler")


def _tick(mm: int) -> float:
    return 4.0 if mm % 10 == 0 else 2.5 if mm % 5 == 0 else 1.5
