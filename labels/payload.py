"""Symbols: what is in them, and their modules.

A symbol holds the bare code (nine signs of 0-9 A-Z, no hyphen, no address), so that the smallest
QR Code (ISO/IEC 18004:2015, version 1, 21 × 21 modules) has room for it at its strongest error
correction, level H (10 alphanumeric signs, table 7), and the Data Matrix (ISO/IEC 16022:2006,
ECC 200) of 8 × 32 modules for it and to spare (13 alphanumeric signs, table 7; both from memory).
"""

from functools import lru_cache
from typing import Any, Literal

Rows = tuple[tuple[bool, ...], ...]

SymbolKind = Literal["qr", "data-matrix"]

QR_MODULES = 21
DATA_MATRIX_ROWS, DATA_MATRIX_COLUMNS = 8, 32

#: Empty modules that must stand round a symbol (ISO/IEC 18004, 5.3.8; ISO/IEC 16022, 5.3.1; both
#: from memory).
QR_QUIET, DATA_MATRIX_QUIET = 4, 1

#: Choosing among the eight masks takes ten times as long as drawing the symbol, and one that is
#: fixed is read as well: measured by `tests/bench/label_bench.py` and `tests/labels`.
_MASK = 2

#: How the writer numbers the Data Matrix sizes: this is 8 × 32.
_EIGHT_BY_THIRTY_TWO = 26


@lru_cache(maxsize=5_000)
def qr(code: str) -> Rows:
    """The QR Code of a code: version 1, level H, 21 × 21 modules."""
    import qrcode
    from qrcode.constants import ERROR_CORRECT_H

    symbol = qrcode.QRCode(
        version=1, error_correction=ERROR_CORRECT_H, border=0, mask_pattern=_MASK
    )
    symbol.add_data(code, optimize=0)
    symbol.make(fit=False)
    return tuple(tuple(bool(module) for module in row) for row in symbol.modules)


@lru_cache(maxsize=5_000)
def data_matrix(code: str) -> Rows:
    """The Data Matrix of a code: 8 rows of 32 modules."""
    import zxingcpp

    symbol = zxingcpp.create_barcode(
        code, zxingcpp.BarcodeFormat.DataMatrix, version=_EIGHT_BY_THIRTY_TWO
    )
    picture: Any = memoryview(symbol.to_image(scale=1, add_quiet_zones=False))  # type: ignore[arg-type]
    return tuple(tuple(grey == 0 for grey in row) for row in picture.tolist())
