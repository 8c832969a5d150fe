"""A tank's own dipstick table both ways, and what a litre of nitrogen weighs and takes up.

Pure. There is no table from level to volume that holds for every tank: each has its own.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from service.bank.tanks_rules import CalibrationPoint

#: Liquid nitrogen that boils at 101 325 Pa (Span et al., J. Phys. Chem. Ref. Data 29:1361, 2000).
KG_PER_LITRE = Decimal("0.80608")

#: The heat that boils off a litre a day, by its latent heat of 160.553 kJ per litre (same source).
WATTS_PER_LITRE_A_DAY = 1.85825


@dataclass(frozen=True, slots=True)
class Dipstick:
    """A tank's table: both columns rise; what lies between two lines is interpolated.

    Below its first line a table goes on straight to an empty tank at 0 cm.
    """

    levels_cm: tuple[Decimal, ...]
    litres: tuple[Decimal, ...]

    @classmethod
    def of(cls, points: Sequence[CalibrationPoint]) -> "Dipstick":
        """The table of these lines, lowest first."""
        levels = tuple(point.level_cm for point in points)
        litres = tuple(point.litres for point in points)
        if levels[0] > 0 and litres[0] > 0:
            return cls((Decimal(0), *levels), (Decimal(0), *litres))
        return cls(levels, litres)

    @property
    def top_cm(self) -> Decimal:
        """The highest level of the table."""
        return self.levels_cm[-1]

    @property
    def top_litres(self) -> Decimal:
        """What is in the tank at the highest level of the table."""
        return self.litres[-1]

    def litres_at(self, level_cm: Decimal) -> Decimal:
        """What is in the tank at this level; beyond the table, what it ends with."""
        return _between(self.levels_cm, self.litres, level_cm)

    def level_at(self, litres: Decimal) -> Decimal:
        """The level in cm with so many litres; beyond the table, what it ends with."""
        return _between(self.litres, self.levels_cm, litres)

    def litres_per_cm(self, level_cm: Decimal) -> Decimal:
        """How much a centimetre holds around this level. Above 0."""
        low = _line_below(self.levels_cm, level_cm)
        return (self.litres[low + 1] - self.litres[low]) / (
            self.levels_cm[low + 1] - self.levels_cm[low]
        )


def litres_weighed(weight_kg: Decimal, *, empty_weight_kg: Decimal) -> Decimal:
    """The nitrogen in a tank that weighs so much; below 0 when it weighs less than empty."""
    return (weight_kg - empty_weight_kg) / KG_PER_LITRE


def _between(known: Sequence[Decimal], wanted: Sequence[Decimal], value: Decimal) -> Decimal:
    if value <= known[0]:
        return wanted[0]
    if value >= known[-1]:
        return wanted[-1]
    low = _line_below(known, value)
    share = (value - known[low]) / (known[low + 1] - known[low])
    return wanted[low] + share * (wanted[low + 1] - wanted[low])


def _line_below(known: Sequence[Decimal], value: Decimal) -> int:
    """The place of the line below a value, with another line above it."""
    return min(max(bisect_right(known, value) - 1, 0), len(known) - 2)
