"""A thousand straw labels ready to print, beside the plain loop that only makes their symbols.

    python -m tests.bench.label_bench [LABELS]

The floor: the `qrcode` library as its own documentation shows it, all eight masks weighed, no
picture, no words, no page. The first label of a process also loads typefaces; it is timed apart.
"""

import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from statistics import median
from time import perf_counter

import qrcode

from labels import raster, sheets
from labels.payload import data_matrix, qr
from labels.plates import PlateWords, plate
from labels.shapes import Face, Printer
from labels.sheets import Sheet
from labels.straws import Flag, StrawWords, Strip, flag, strip
from service.kernel.codes import Kind
from tests.labels.words import WORDS, random_codes

PRINTER = Printer(300)
LARGEST_MB = 3.0


def timed(work: Callable[..., bytes | None], *given: object) -> tuple[float, bytes]:
    """Seconds, and what came of it."""
    start = perf_counter()
    made = work(*given)
    return perf_counter() - start, made or b""


def plain_symbols(codes: Sequence[str]) -> None:
    """The floor."""
    for code in codes:
        symbol = qrcode.QRCode(error_correction=qrcode.ERROR_CORRECT_H)
        symbol.add_data(code)
        symbol.make(fit=True)


def batch(codes: Sequence[str], make: Callable[[StrawWords], Face]) -> list[Face]:
    """A label for each code, from nothing: symbols that are known already would be no work."""
    qr.cache_clear()
    data_matrix.cache_clear()
    return [make(replace(WORDS, code=code)) for code in codes]


def printed(
    codes: Sequence[str],
    make: Callable[[StrawWords], Face],
    write: Callable[[Sequence[Face]], bytes],
) -> bytes:
    """The batch as a PDF."""
    return write(batch(codes, make))


def main() -> None:
    """Print the table."""
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000
    codes = random_codes(Kind.STRAW, number, seed=7)
    first, _ = timed(raster.png, flag(WORDS, Flag(), PRINTER), PRINTER)
    floor, _ = timed(plain_symbols, codes)
    print(f"{'':34}{'seconds':>9}{'ratio':>8}{'MB':>7}")
    print(f"{f'plain loop, {number} symbols alone':34}{floor:9.2f}{1:8.2f}")
    kinds: dict[str, Callable[[StrawWords], Face]] = {
        "flags": lambda words: flag(words, Flag(), PRINTER),
        "strips": lambda words: strip(words, Strip(), PRINTER),
    }
    for name, make in kinds.items():
        for paper, write in (
            ("a page each", sheets.roll),
            ("on A4", lambda faces: sheets.a4(faces, PRINTER, Sheet())),
        ):
            seconds, pdf = timed(printed, codes, make, write)
            size = len(pdf) / 1e6
            print(
                f"{f'{number} {name}, {paper}':34}{seconds:9.2f}{seconds / floor:8.2f}{size:7.2f}"
            )
            assert size <= LARGEST_MB * max(1, number / 1_000), "the PDF is larger than promised"
    print(f"\nthe first preview of a process {first * 1000:.0f} ms")
    place = PlateWords(kind="goblet", code="G1234567X", title="NORTH-1-L1", line="Canister 1")
    for name, face in {
        "flag": flag(WORDS, Flag(), PRINTER),
        "strip": strip(WORDS, Strip(), PRINTER),
        "plate": plate(place, PRINTER),
    }.items():
        times = [timed(raster.png, face, PRINTER)[0] for _ in range(20)]
        print(f"preview of a {name} as PNG at 300 dpi: {median(times) * 1000:.1f} ms")


if __name__ == "__main__":
    main()
