"""How long a camera's picture takes to be read, clean and under frost, beside one plain try.

    python -m tests.bench.picture_bench [PICTURES]

The floor is zxing-cpp once, with its own settings, on the same picture. A picture is what a page
sends: 1,280 points on its longer side.
"""

import sys
from statistics import median, quantiles
from time import perf_counter

import numpy as np
import zxingcpp
from PIL import Image

from labels.reading import read
from labels.shapes import Face, Printer
from labels.straws import Flag, Strip, flag, strip
from service.kernel.codes import Kind
from tests.labels.simulation import Shot, taken
from tests.labels.words import random_codes, with_code

PRINTER = Printer(300)
LONGEST = 1_280


def picture(face: Face, chance: np.random.Generator, *, frost: bool) -> Image.Image:
    """A label in the middle of a picture as it is sent."""
    shot = Shot(points_per_mm=chance.uniform(16, 26), turn=chance.uniform(-5, 5), frost=frost)
    seen = taken(face, PRINTER, shot, chance)
    table = Image.new("L", (LONGEST, LONGEST * 9 // 16), 190)
    table.paste(seen, ((table.width - seen.width) // 2, (table.height - seen.height) // 2))
    return table


def main() -> None:
    """Print the table."""
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    chance = np.random.default_rng(3)
    print(f"{'':22}{'read':>6}{'median ms':>11}{'p95 ms':>9}{'plain: read':>13}{'median ms':>11}")
    for frost in (False, True):
        for name in ("flag", "strip"):
            ours, plain, found, found_plain = [], [], 0, 0
            for code in random_codes(Kind.STRAW, number, seed=4):
                words = with_code(code)
                face = flag(words, Flag(), PRINTER) if name == "flag" else None
                seen = picture(
                    face or strip(words, Strip(length_mm=45), PRINTER), chance, frost=frost
                )
                start = perf_counter()
                found_plain += {one.text for one in zxingcpp.read_barcodes(seen)} == {code}
                middle = perf_counter()
                found += {one.text for one in read(seen)} == {code}
                plain.append(middle - start)
                ours.append(perf_counter() - middle)
            row = f"{name}{', frost' if frost else ''}"
            figures = f"{found / number:6.0%}{median(ours) * 1000:11.1f}"
            figures += f"{quantiles(ours, n=20)[-1] * 1000:9.1f}"
            print(f"{row:22}{figures}{found_plain / number:13.0%}{median(plain) * 1000:11.1f}")


if __name__ == "__main__":
    main()
