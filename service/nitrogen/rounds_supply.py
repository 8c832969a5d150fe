"""The vessel that tanks are filled from: what is in it, whether it lasts, which delivery is needed.

Pure. On a day its own loss goes first, then a delivery arrives, then tanks are filled. What boils
off while filling is not known and comes on top.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta


@dataclass(frozen=True, slots=True)
class Amount:
    """Litres on a day: delivered, or taken out."""

    on: date
    litres: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """The vessel as it was measured; what arrived that day or before is in that figure."""

    litres: float
    measured_on: date
    capacity_litres: float | None
    loss_litres_per_day: float
    deliveries: Sequence[Amount]


@dataclass(frozen=True, slots=True)
class Shortage:
    """A day on which less is there than the tanks take; `litres` are missing.

    `late_delivery_on` is the next delivery after it, which would have to come by that day.
    """

    on: date
    litres: float
    late_delivery_on: date | None


@dataclass(frozen=True, slots=True)
class SupplyCourse:
    """What is in the vessel at the end of each day from today on, and when it falls short.

    Each shortage is counted as if it were made good on its day, so the next one is its own.
    """

    days: Sequence[Amount]
    shortages: Sequence[Shortage]


def course_of(supply: Supply, taken: Sequence[Amount], *, today: date, until: date) -> SupplyCourse:
    """The vessel's course from today through `until`.

    `taken` are past top-ups, of later days than the measure, and planned ones.
    """
    arriving, leaving = _by_day(supply.deliveries), _by_day(taken)
    litres, day = supply.litres, supply.measured_on
    days, shortages = [], []
    while day <= until:
        if day > supply.measured_on:
            litres = max(litres - supply.loss_litres_per_day, 0) + arriving[day]
        if supply.capacity_litres is not None:
            litres = min(litres, supply.capacity_litres)
        short = leaving[day] - litres
        litres = max(-short, 0)
        if day >= today:
            days.append(Amount(day, litres))
            if short > _NOTHING:
                shortages.append(Shortage(day, short, _next_delivery(supply.deliveries, day)))
        day += timedelta(days=1)
    return SupplyCourse(days, shortages)


#: Less than a glass is no shortage.
_NOTHING = 0.05


def _by_day(amounts: Sequence[Amount]) -> defaultdict[date, float]:
    found: defaultdict[date, float] = defaultdict(float)
    for amount in amounts:
        found[amount.on] += amount.litres
    return found


def _next_delivery(deliveries: Sequence[Amount], day: date) -> date | None:
    return min((one.on for one in deliveries if one.on > day), default=None)
