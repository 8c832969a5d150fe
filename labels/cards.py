"""Cards on paper for the cold store: the way to the straws, and how they are thawed.

They are read at arm's length, at night, in gloves: few words, large, one thing after the other, and
room to write where a phone is not at hand. What they caution about is shown on every card; the
freezing laboratory's own card and local codes come first.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from labels.fitting import Field, Room, in_room, letter_height, paragraph
from labels.modules import module
from labels.payload import QR_MODULES, QR_QUIET, qr
from labels.shapes import Face, Printer, Rule, Shape, Symbol
from labels.straws import grouped
from labels.typefaces import CODE, STRONG, TEXT

#: ISO 216:2007, A5 upright.
WIDTH_MM, HEIGHT_MM = 148.0, 210.0

MARGIN_MM = 9.0

#: Letters read at arm's length (60 cm), on the way (1 m), and close by (40 cm), in mm.
BODY_MM, LARGE_MM, SMALL_MM = (round(letter_height(far), 1) for far in (600, 1_000, 400))

_INNER = WIDTH_MM - 2 * MARGIN_MM
_STOP_MM = 31.0
_FOOT_MM = 40.0
_SYMBOL_MM = 0.51

AT_THE_TANK = (
    "Never alone, nor when an oxygen alarm sounds. Face shield, loose cryogenic gloves, closed "
    "shoes. One lift at a time, seconds above the frost line: lower again rather than hurry. Read "
    "the straw's own mark aloud against stallion and mare. What thawed never goes back."
)
AT_THE_BATH = (
    "The freezing laboratory's own card comes first. Protect your eyes: a straw that leaked can "
    "burst in the bath. Read the mark aloud against mare and stallion, dry the straw before you "
    "cut it. What thawed never goes back. The vet decides."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One goblet of the way: where, its code, and what is taken there."""

    address: str
    goblet_code: str
    straws: int
    batch_code: str
    collected: str | None = None
    straw_colour: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WalkCard:
    """The way to the straws of one withdrawal; `foot` says who printed it where and when."""

    stallion: str
    mare: str
    lead: str
    stops: tuple[Stop, ...]
    foot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ThawStep:
    """Into water of so many degrees Celsius for so many seconds, both as they are read."""

    water_c: str
    seconds: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ThawBatch:
    """The straws of one batch: how many, the codes of those that have one, and the steps."""

    batch_code: str
    straws: int
    straw_codes: tuple[str, ...]
    steps: tuple[ThawStep, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ThawCard:
    """How the straws of one withdrawal are thawed: by batch, since protocols may differ."""

    stallion: str
    mare: str
    batches: tuple[ThawBatch, ...]
    foot: str


def walk_card(card: WalkCard, printer: Printer) -> tuple[Face, ...]:
    """The pages of a walk card. Raises DoesNotFit, CannotDraw."""
    pages: list[Face] = []
    shapes, y = _head("Walk card", card.stallion, card.mare)
    lead, y = paragraph(Field(card.lead), x=MARGIN_MM, top=y, width=_INNER, height_mm=BODY_MM)
    shapes += lead
    y += 2
    for number, stop in enumerate(card.stops, start=1):
        if y + _STOP_MM > HEIGHT_MM - _FOOT_MM:
            pages.append(_page(shapes, AT_THE_TANK, card.foot))
            shapes, y = _head("Walk card, continued", card.stallion, card.mare)
        shapes += _stop(stop, number, len(card.stops), y, printer)
        y += _STOP_MM
    return (*pages, _page(shapes, AT_THE_TANK, card.foot))


def thaw_card(card: ThawCard) -> tuple[Face, ...]:
    """The pages of a thaw card, one a batch. Raises DoesNotFit, CannotDraw."""
    return tuple(_page(list(_thaw(card, batch)), AT_THE_BATH, card.foot) for batch in card.batches)


def _head(title: str, stallion: str, mare: str) -> tuple[list[Shape], float]:
    """What every card begins with, and where it ends."""
    top = MARGIN_MM
    shapes: list[Shape] = []
    for text, height, typeface in (
        (title, SMALL_MM, TEXT),
        (stallion, LARGE_MM, STRONG),
        (f"for {mare}", BODY_MM, TEXT),
    ):
        room = Room(MARGIN_MM, top, _INNER, height * 2, "The card")
        shapes += in_room(
            Field(text, typeface), room, preferred_mm=height, smallest_mm=min(height, SMALL_MM)
        )
        top += height * 2
    return shapes, top


def _stop(stop: Stop, number: int, of: int, top: float, printer: Printer) -> Iterator[Shape]:
    yield Rule(MARGIN_MM, top, WIDTH_MM - MARGIN_MM, top, thick_mm=0.2)
    size = module(printer, aim_mm=_SYMBOL_MM, most_mm=_SYMBOL_MM, what="The card")
    x = printer.on_a_dot(MARGIN_MM + QR_QUIET * size)
    y = printer.on_a_dot(top + (_STOP_MM - QR_MODULES * size) / 2)
    yield Symbol(x, y, qr(stop.goblet_code), size)
    begin = x + (QR_MODULES + QR_QUIET) * size + 2
    width = WIDTH_MM - MARGIN_MM - begin
    marks = ", ".join(
        text
        for text in (
            f"batch {grouped(stop.batch_code)}",
            stop.collected and f"collected {stop.collected}",
            stop.straw_colour and f"{stop.straw_colour} straws",
        )
        if text
    )
    lines = (
        (f"{number} of {of}", SMALL_MM, TEXT, 5.0),
        (stop.address, LARGE_MM, STRONG, 8.5),
        (f"Take {stop.straws} {'straw' if stop.straws == 1 else 'straws'}", 4.5, STRONG, 7.5),
        (marks, SMALL_MM, TEXT, 5.0),
    )
    down = top + 2
    for text, height, typeface, step in lines:
        yield from in_room(
            Field(text, typeface),
            Room(begin, down, width - 22, step, "The card"),
            preferred_mm=height,
            smallest_mm=min(height, 1.7),
        )
        down += step
    yield from _blank("Taken", WIDTH_MM - MARGIN_MM - 20, top + _STOP_MM - 8, 20)


def _thaw(card: ThawCard, batch: ThawBatch) -> Iterator[Shape]:
    head, y = _head("Thaw card", card.stallion, card.mare)
    yield from head
    of = f"{batch.straws} {'straw' if batch.straws == 1 else 'straws'}"
    told = f"Batch {grouped(batch.batch_code)}: {of}"
    words, y = paragraph(Field(told), x=MARGIN_MM, top=y, width=_INNER, height_mm=BODY_MM)
    yield from words
    codes = "   ".join(map(grouped, batch.straw_codes))
    words, y = paragraph(
        Field(codes, CODE), x=MARGIN_MM, top=y + 1, width=_INNER, height_mm=SMALL_MM
    )
    yield from words
    y += 4
    if not batch.steps:
        words, y = paragraph(
            Field(
                "How this batch is thawed is not in the book: use the laboratory's card.", STRONG
            ),
            x=MARGIN_MM,
            top=y,
            width=_INNER,
            height_mm=BODY_MM,
        )
        yield from words
    for number, step in enumerate(batch.steps, start=1):
        yield Rule(MARGIN_MM, y, WIDTH_MM - MARGIN_MM, y, thick_mm=0.2)
        text = f"{number}.  {step.water_c} °C for {step.seconds} seconds"
        yield from in_room(
            Field(text, STRONG),
            Room(MARGIN_MM, y, _INNER, 16, "The card"),
            preferred_mm=8,
            smallest_mm=BODY_MM,
        )
        y += 16
    yield Rule(MARGIN_MM, y, WIDTH_MM - MARGIN_MM, y, thick_mm=0.2)
    third = _INNER / 3
    for column, told in enumerate(("Bath, °C", "Thawed at", "By")):
        yield from _blank(told, MARGIN_MM + column * third, y + 12, third - 5)


def _blank(told: str, x: float, y: float, width: float) -> Iterator[Shape]:
    """A line to write on, and what is written there."""
    yield Rule(x, y, x + width, y, thick_mm=0.2)
    yield from in_room(
        Field(told), Room(x, y + 0.8, width, 3, "The card"), preferred_mm=1.8, smallest_mm=1.5
    )


def _page(shapes: Sequence[Shape], cautions: str, foot: str) -> Face:
    top = HEIGHT_MM - _FOOT_MM + 6
    words, below = paragraph(
        Field(cautions), x=MARGIN_MM, top=top, width=_INNER, height_mm=SMALL_MM
    )
    last, _ = paragraph(Field(foot), x=MARGIN_MM, top=below + 2, width=_INNER, height_mm=1.8)
    return Face(WIDTH_MM, HEIGHT_MM, (*shapes, *words, *last))
