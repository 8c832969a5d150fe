"""Labels of every kind: all words on them, in whole dots, with quiet zones, at true size."""

import io
import math
from dataclasses import fields, replace

import numpy as np
import pytest
from pypdf import PdfReader

from labels import sheets
from labels.errors import DoesNotFit, NotHonest
from labels.modules import SMALLEST_MM, module
from labels.payload import DATA_MATRIX_QUIET, QR_QUIET
from labels.plates import PlateWords, plate
from labels.shapes import Bar, Face, Printer, Rule, Symbol, Words
from labels.straws import VISIBLE_DEGREES, Flag, StrawWords, Strip, flag, strip
from labels.typefaces import measures
from tests.labels.words import (
    PRINTERS,
    WORDS,
    every_kind,
    picture_of,
    sizes_mm,
    symbol_of,
    text_of,
)

EVERY = [
    pytest.param(printer, face, id=f"{name}-{printer.dpi}")
    for printer in PRINTERS
    for name, face in every_kind(printer)
]


def extent(shape: Words | Symbol | Bar | Rule) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of a shape that stands upright."""
    match shape:
        case Words():
            heights = measures(shape.line.typeface)
            top, bottom = heights.capital * shape.em_mm, heights.descent * shape.em_mm
            return shape.x, shape.y - top, shape.x + shape.width, shape.y + bottom
        case Symbol(x, y, rows, size):
            return x, y, x + len(rows[0]) * size, y + len(rows) * size
        case Bar(x, y, width, height):
            return x, y, x + width, y + height
        case Rule():
            return shape.x, shape.y, shape.to_x, shape.to_y


@pytest.mark.parametrize(("printer", "face"), EVERY)
def test_a_symbol_is_drawn_in_whole_dots(printer: Printer, face: Face) -> None:
    symbol = symbol_of(face)
    dots = symbol.module_mm * printer.dots_per_mm
    assert dots == pytest.approx(round(dots), abs=1e-9)
    assert symbol.module_mm >= SMALLEST_MM
    drawn = np.array(picture_of(face, printer))
    left, top = (round(place * printer.dots_per_mm) for place in (symbol.x, symbol.y))
    rows = np.array(symbol.rows)
    wanted = np.kron(rows, np.ones((round(dots), round(dots)), dtype=bool))
    found = ~drawn[top : top + wanted.shape[0], left : left + wanted.shape[1]]
    assert (found == wanted).all()


@pytest.mark.parametrize(("printer", "face"), EVERY)
def test_the_quiet_zone_stays_empty(printer: Printer, face: Face) -> None:
    symbol = symbol_of(face)
    quiet = (QR_QUIET if len(symbol.rows) == 21 else DATA_MATRIX_QUIET) * symbol.module_mm
    left, top, right, bottom = extent(symbol)
    for shape in face.shapes:
        if shape is symbol:
            continue
        one = extent(shape)
        apart = (
            one[0] >= right + quiet - 1e-6
            or one[2] <= left - quiet + 1e-6
            or one[1] >= bottom + quiet - 1e-6
            or one[3] <= top - quiet + 1e-6
        )
        assert apart, shape


@pytest.mark.parametrize(("printer", "face"), EVERY)
def test_nothing_stands_beyond_the_edge(printer: Printer, face: Face) -> None:
    for shape in face.shapes:
        left, top, right, bottom = extent(shape)
        assert -1e-6 <= left <= right <= face.width + 1e-6, shape
        # Descenders of the lowest line may touch the edge of a band, which is not cut.
        assert -1e-6 <= top <= bottom <= face.height + 0.5, shape


@pytest.mark.parametrize("printer", PRINTERS)
@pytest.mark.parametrize("form", ["band", "wrap"])
def test_every_mark_stands_on_a_strip(printer: Printer, form: str) -> None:
    how = Strip(form=form, length_mm=125)  # type: ignore[arg-type]
    said = text_of(sheets.roll([strip(WORDS, how, printer)]))
    for field in fields(StrawWords):
        value = getattr(WORDS, field.name)
        for text in value if isinstance(value, tuple) else [value]:
            grouped = " ".join((text[:3], text[3:6], text[6:]))
            assert (grouped if "code" in field.name else text) in said, field.name


def test_every_mark_stands_on_a_flag() -> None:
    said = text_of(sheets.roll([flag(WORDS, Flag(), PRINTERS[1])]))
    for text in (WORDS.stallion, WORDS.identity, WORDS.collected, *WORDS.approvals, "B1Q 2W3 E4R"):
        assert text is not None
        assert text in said
    assert all(group in said for group in ("S12", "345", "67X"))


def test_a_strips_symbol_is_seen_from_one_side() -> None:
    """No module lies further round the straw than can be seen at once."""
    for printer in PRINTERS:
        for diameter in (2.8, 3.0):
            face = strip(WORDS, Strip(straw_diameter_mm=diameter), printer)
            across = len(symbol_of(face).rows) * symbol_of(face).module_mm
            assert across / (math.pi * diameter) * 360 <= VISIBLE_DEGREES


def test_a_thin_straw_has_a_symbol_at_600_dpi_only() -> None:
    """0.25 mL straws are 2.0 mm across: the reason and the way out are said."""
    how = Strip(straw_diameter_mm=2.0)
    for printer in PRINTERS[:2]:
        with pytest.raises(NotHonest, match="600 dpi, or without the symbol"):
            strip(WORDS, how, printer)
    assert symbol_of(strip(WORDS, how, PRINTERS[2])).module_mm >= SMALLEST_MM
    without = strip(WORDS, replace(how, symbol=False), PRINTERS[0])
    assert not [shape for shape in without.shapes if isinstance(shape, Symbol)]


def test_a_size_between_dots_is_refused_with_the_reason() -> None:
    with pytest.raises(NotHonest, match=r"0 whole dots of the printer, 0.00 mm"):
        module(Printer(203), aim_mm=0.12, most_mm=0.12, what="This straw")


@pytest.mark.parametrize("diameter", [2.0, 2.8, 3.0])
def test_a_flags_zone_goes_once_round_the_straw(diameter: float) -> None:
    face = flag(WORDS, Flag(straw_diameter_mm=diameter), PRINTERS[1])
    folds = sorted(shape.x for shape in face.shapes if isinstance(shape, Rule))
    assert folds[1] - folds[0] == pytest.approx(math.pi * diameter)
    assert face.width - folds[1] == pytest.approx(folds[0])
    between = [s for s in face.shapes if folds[0] + 0.1 < extent(s)[0] < folds[1] - 0.1]
    assert between == []


def test_a_wrap_goes_round_and_closes_over_itself() -> None:
    face = strip(WORDS, Strip(straw_diameter_mm=2.8), PRINTERS[1])
    assert face.height == pytest.approx(math.pi * 2.8 + 1.5)
    words = [shape for shape in face.shapes if isinstance(shape, Words)]
    assert max(shape.y for shape in words) < math.pi * 2.8


def test_a_wrap_says_on_its_last_row_once_more_whose_it_is() -> None:
    face = strip(WORDS, Strip(), PRINTERS[1])
    lines = [shape for shape in face.shapes if isinstance(shape, Words)]
    last = max(shape.y for shape in lines)
    assert [shape.line.text for shape in lines if shape.y == last][1] == WORDS.stallion


@pytest.mark.parametrize("name", ["Ölzweig vom Ærø", "Жар-птица", "שלום", "فارس", "आकाश", "Δίας"])
def test_names_of_other_scripts_stand_on_straws(name: str) -> None:
    for face in (
        strip(replace(WORDS, stallion=name), Strip(), PRINTERS[0]),
        flag(replace(WORDS, stallion=name), Flag(), PRINTERS[0]),
    ):
        assert len([s for s in face.shapes if isinstance(s, Words)]) > 4


def test_a_name_that_fits_no_straw_is_refused_by_name() -> None:
    name = "Lanternfield of the Very Long Meadow beyond the Grey Hills " * 4
    for made in (strip(WORDS, Strip(), PRINTERS[0]), flag(WORDS, Flag(), PRINTERS[0])):
        assert made.shapes
    with pytest.raises(DoesNotFit, match="The strip has no room for"):
        strip(replace(WORDS, stallion=name), Strip(), PRINTERS[0])
    with pytest.raises(DoesNotFit, match="The flag has no room for"):
        flag(replace(WORDS, stallion=name), Flag(), PRINTERS[0])


@pytest.mark.parametrize(
    ("kind", "title", "distance_mm"),
    [
        ("goblet", "SOUTHWST-12-U10", 500),
        ("canister", "SOUTHWST-12", 700),
        ("tank", "Tank by the south wall", 1_500),
    ],
)
def test_the_address_on_a_plate_is_read_from_where_people_stand(
    kind: str, title: str, distance_mm: int
) -> None:
    """At least 16 minutes of arc high (ISO 9241-303:2011, from memory)."""
    words = PlateWords(kind=kind, code="G1234567X", title=title)  # type: ignore[arg-type]
    face = plate(words, PRINTERS[1])
    lines = [s for s in face.shapes if isinstance(s, Words) and s.line.text in title]
    assert " ".join(line.line.text for line in lines) == title
    for line in lines:
        assert line.em_mm * measures(line.line.typeface).capital >= distance_mm * 0.00465 - 0.05


@pytest.mark.parametrize(("printer", "face"), EVERY)
def test_a_picture_is_black_and_white_at_true_size(printer: Printer, face: Face) -> None:
    picture = picture_of(face, printer)
    assert picture.mode == "1"
    assert picture.size == tuple(
        math.ceil(mm * printer.dots_per_mm - 0.01) for mm in (face.width, face.height)
    )
    assert picture.info["dpi"] == pytest.approx((printer.dots_per_mm * 25.4,) * 2, abs=0.1)


@pytest.mark.parametrize(("printer", "face"), EVERY)
def test_a_page_has_the_labels_size_and_its_typefaces_within(printer: Printer, face: Face) -> None:
    pdf = sheets.roll([face])
    assert sizes_mm(pdf) == [pytest.approx((face.width, face.height), abs=0.01)]
    for font in PdfReader(io.BytesIO(pdf)).pages[0]["/Resources"]["/Font"].values():
        (descendant,) = font.get_object()["/DescendantFonts"]
        assert "/FontFile2" in descendant.get_object()["/FontDescriptor"].get_object()
