"""How long the comparison of a whole bank takes: 100,000 straws in 5,000 goblets.

    python -m tests.bench.compare_bench [GOBLETS]

All scanned; the goal is a second. The floor is one look-up in a dictionary for each code, measured
in the same run. The best of five of each; the seed is fixed.
"""

import random
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from uuid import UUID

from service.audits.compare import compare
from service.audits.rules import BookedStraw, Sheet

STRAWS_A_GOBLET = 20
RUNS = 5


def build(goblets: int) -> list[Sheet]:
    """Two batches a goblet, four goblets a batch, every straw with a code; all as it should be."""
    sheets = []
    for number in range(goblets):
        goblet = UUID(int=1_000_000 + number)
        batches = (UUID(int=1 + number // 4), UUID(int=500_000 + number // 4))
        booked = {}
        for straw in range(STRAWS_A_GOBLET):
            code = f"S{number:05d}{straw:02d}"
            booked[code] = BookedStraw(code, batches[straw % 2], "stored", goblet, sure=True)
        half = STRAWS_A_GOBLET // 2
        expected = dict.fromkeys(batches, half)
        sheet = Sheet(goblet, f"T1/{number:05d}", goblet, expected, booked, {}, codes=list(booked))
        sheets.append(sheet)
    return sheets


def disorder(sheets: list[Sheet], share: float) -> tuple[list[Sheet], dict[str, BookedStraw]]:
    """In this share of goblets a straw went to the next, and the book is sure of no twin."""
    dice = random.Random(11)
    codes = [list(sheet.codes or ()) for sheet in sheets]
    elsewhere, changed = {}, []
    for number, sheet in enumerate(sheets):
        booked = sheet.expected_codes
        if number + 1 < len(sheets) and dice.random() < share:
            code = dice.choice(sorted(booked))
            codes[number].remove(code)
            codes[number + 1].append(code)
            booked = {code: replace(straw, sure=False) for code, straw in booked.items()}
            elsewhere[code] = booked[code]
        changed.append(replace(sheet, expected_codes=booked))
    made = [replace(sheet, codes=seen) for sheet, seen in zip(changed, codes, strict=True)]
    return made, elsewhere


def best(work: Callable[[], object]) -> float:
    """Seconds of the fastest of some runs."""
    times = []
    for _ in range(RUNS):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return min(times)


def main(goblets: int) -> None:
    """Measure, print."""
    right = build(goblets)
    known = {code: straw for sheet in right for code, straw in sheet.expected_codes.items()}
    codes = [code for sheet in right for code in sheet.codes or ()]
    floor = best(lambda: [known[code] for code in codes])
    print(f"{len(codes):,} straws in {goblets:,} goblets; floor {1000 * floor:.1f} ms")
    for name, share in (("all agree", 0.0), ("1 goblet in 20", 0.05), ("every goblet", 1.0)):
        sheets, elsewhere = disorder(right, share)
        seconds = best(lambda: compare(sheets, elsewhere))  # noqa: B023
        differences = len(compare(sheets, elsewhere).differences)
        print(
            f"{name:>15}: {1000 * seconds:7.1f} ms, {seconds / floor:5.1f} x the floor, "
            f"{differences:,} differences"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5_000)
