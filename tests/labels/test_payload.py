"""Symbols hold the bare code, in the smallest version of the standards that has room for it."""

import numpy as np
import pytest
import zxingcpp

from labels import payload
from service.kernel.codes import Kind
from tests.labels.words import random_codes


def read(rows: payload.Rows) -> zxingcpp.Barcode:
    """What an independent reader makes of the modules, with the quiet zone the standard wants."""
    modules = np.pad(np.array(rows, dtype=np.uint8), 4)
    picture = np.kron(1 - modules, np.ones((4, 4), dtype=np.uint8)) * 255
    (found,) = zxingcpp.read_barcodes(picture)
    return found


@pytest.mark.parametrize("kind", Kind)
def test_a_qr_is_of_version_1_and_level_h(kind: Kind) -> None:
    """ISO/IEC 18004:2015: version 1 has 21 modules, level H restores about 30 %."""
    for code in random_codes(kind, 40):
        rows = payload.qr(code)
        assert (len(rows), {len(row) for row in rows}) == (21, {21})
        found = read(rows)
        assert (found.text, found.ec_level) == (code, "H")


@pytest.mark.parametrize("kind", Kind)
def test_a_data_matrix_has_8_rows_of_32(kind: Kind) -> None:
    """ISO/IEC 16022:2006, table 7: 8 × 32 is a size of ECC 200."""
    for code in random_codes(kind, 40):
        rows = payload.data_matrix(code)
        assert (len(rows), {len(row) for row in rows}) == (8, {32})
        assert read(rows).text == code


def test_a_data_matrix_has_its_finder_and_clock() -> None:
    """ISO/IEC 16022, 5.3: a solid left and lower edge; two regions of 16 columns, each bordered."""
    rows = payload.data_matrix("S1234567X")
    assert all(rows[-1])
    for region in (0, 16):
        assert all(row[region] for row in rows)
        assert [rows[0][region + column] for column in range(16)] == [True, False] * 8
        assert [row[region + 15] for row in rows] == [False, True] * 4
