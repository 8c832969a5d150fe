"""How large a module of a symbol is: a whole number of the printer's dots, or no symbol at all.

A module between two dots is drawn a dot too wide here and too narrow there. Below 0.2 mm symbols
were read too rarely in our simulation of straws (`tests/labels`), so that is refused as well.
"""

import math

from labels.errors import NotHonest
from labels.shapes import Printer

#: The least module that is dependably read, and the one we aim at on straws, in mm.
SMALLEST_MM, ON_STRAWS_MM = 0.2, 0.26


def module(printer: Printer, *, aim_mm: float, most_mm: float, what: str) -> float:
    """The largest whole number of dots up to both limits, in mm.

    Raises NotHonest, with what to do, when that is less than what can be read.
    """
    limit = min(aim_mm, most_mm)
    dots = math.floor(limit * printer.dots_per_mm + 1e-9)
    found = dots / printer.dots_per_mm
    if found < SMALLEST_MM:
        raise NotHonest(
            f"{what} has room for modules of {most_mm:.2f} mm at most. At {printer.dpi} dpi that "
            f"is {dots} whole dot{'' if dots == 1 else 's'} of the printer, {found:.2f} mm, and "
            f"below {SMALLEST_MM} mm a symbol is not read dependably. "
            + (
                "Print it at 600 dpi, or without the symbol."
                if printer.dpi < 600
                else "Leave the symbol out, or choose a larger label."
            )
        )
    return found
