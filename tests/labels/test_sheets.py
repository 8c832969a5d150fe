"""Sheets of A4 begin where a person says; the ruler measures what it claims."""

import io

import numpy as np
import pypdfium2
import pytest

from labels import sheets
from labels.shapes import Printer
from labels.sheets import RULER_OFF_MM, Sheet, SheetTooSmall
from labels.straws import Flag, Strip, flag, strip
from service.kernel.codes import Kind
from tests.labels.words import PRINTERS, random_codes, sizes_mm, text_of, with_code

A4 = pytest.approx((210, 297), abs=0.01)


def flags(number: int) -> list[sheets.Face]:
    return [flag(with_code(code), Flag(), PRINTERS[1]) for code in random_codes(Kind.STRAW, number)]


def test_a_sheet_is_a4_and_filled_row_by_row() -> None:
    columns, rows = sheets.places_on(Sheet(), 48.8, 12)
    assert (columns, rows) == (3, 18)
    assert sizes_mm(sheets.a4(flags(columns * rows), PRINTERS[1], Sheet())) == [A4]
    assert sizes_mm(sheets.a4(flags(columns * rows + 1), PRINTERS[1], Sheet())) == [A4, A4]


def test_a_sheet_that_was_begun_is_gone_on_with() -> None:
    assert len(sizes_mm(sheets.a4(flags(4), PRINTERS[1], Sheet(start=51)))) == 1
    assert len(sizes_mm(sheets.a4(flags(5), PRINTERS[1], Sheet(start=51)))) == 2
    begun = list(sheets._sheets(flags(2), PRINTERS[1], Sheet(start=2)))
    xs = [shape.x for shape in begun[0].shapes if isinstance(shape, sheets.Symbol)]
    assert min(xs) > 10 + 48.8


@pytest.mark.parametrize("start", [0, 55, -1])
def test_a_start_that_the_sheet_does_not_have_is_refused(start: int) -> None:
    with pytest.raises(SheetTooSmall, match="places 1 to 54"):
        sheets.a4(flags(1), PRINTERS[1], Sheet(start=start))


def test_a_label_wider_than_the_sheet_is_refused() -> None:
    wide = strip(with_code("S1234567X"), Strip(length_mm=130), PRINTERS[1])
    with pytest.raises(SheetTooSmall, match="no room on A4"):
        sheets.a4([wide], PRINTERS[1], Sheet(margin_mm=60))


def test_every_label_of_a_batch_is_in_its_pdf_once() -> None:
    codes = random_codes(Kind.STRAW, 60)
    faces = [
        strip(with_code(code), Strip(form="band", length_mm=125), PRINTERS[1]) for code in codes
    ]
    for pdf in (sheets.roll(faces), sheets.a4(faces, PRINTERS[1], Sheet())):
        said = text_of(pdf)
        for code in codes:
            assert said.count(f"{code[:3]} {code[3:6]} {code[6:]}") == 1


@pytest.mark.parametrize("printer", PRINTERS)
def test_the_ruler_measures_fifty_millimetres(printer: Printer) -> None:
    page = pypdfium2.PdfDocument(io.BytesIO(sheets.ruler(printer)))[0]
    per_mm = 40
    dark = np.array(page.render(scale=per_mm * 25.4 / 72, grayscale=True).to_pil()) < 128
    across = dark[round(10.15 * per_mm)]
    down = dark[:, round(10.15 * per_mm)]
    for line in (across, down):
        found = np.flatnonzero(line)
        assert (found[-1] - found[0] + 1) / per_mm == pytest.approx(50.0, abs=RULER_OFF_MM / 5)
