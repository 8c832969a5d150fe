"""Decisions about how rounds are made: usual settings, and what a supply vessel cannot be.

Pure: no HTTP, no database, no clock.
"""

from datetime import date
from decimal import Decimal

from service.kernel.errors import Invalid

#: Monday is 0. Nitrogen is filled while somebody is there to help (our own choice).
FILL_WEEKDAYS = (0, 1, 2, 3, 4)

#: How sure it is to be that a tank stays above its minimum (our own choice).
CONFIDENCE_PERCENT = Decimal(95)

#: Of the next so many days.
USUAL_DAYS, MOST_DAYS = 60, 366


class BadSupply(Invalid):
    """A supply vessel that cannot be as it is told."""

    code = "bad-supply"
    title = "The supply vessel cannot be so"


def check_supply(
    *,
    litres: Decimal | None,
    measured_on: date | None,
    capacity_litres: Decimal | None,
    today: date,
) -> None:
    """Raise BadSupply for a content without its day, of a day to come, or above the capacity."""
    if (litres is None) != (measured_on is None):
        raise _bad("supply_measured_on", "Content and day of the supply vessel go together.")
    if measured_on is not None and measured_on > today:
        raise _bad("supply_measured_on", "The supply vessel was not measured in the future.")
    if litres is not None and capacity_litres is not None and litres > capacity_litres:
        raise _bad("supply_litres", "That is more than the supply vessel holds. Check both.")


def _bad(field: str, detail: str) -> BadSupply:
    return BadSupply(detail, errors=[{"field": field, "message": detail}])
