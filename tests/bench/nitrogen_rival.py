"""The methods that lost: robust segments, and the slope of the last two readings.

Robust segments: between two top-ups the loss is the median of all slopes between two readings
(Theil and Sen; Sen, Journal of the American Statistical Association 63, 1968) of the last four
weeks, the level the median of what the readings say of today. A change is called when the slope of
the last seven readings lies so many of its own standard errors above the one before, with the noise
by the median deviation.
"""

from collections.abc import Sequence
from itertools import combinations
from statistics import median

from service.nitrogen.filtering import Filled, Reading

READINGS, LATEST, SIGMAS = 28, 7, 4.4


def segment(readings: Sequence[Reading], filled: Sequence[Filled]) -> list[Reading]:
    """The readings since the last top-up."""
    since = max((one.at for one in filled), default=float("-inf"))
    return [one for one in readings if one.at > since]


def theil_sen(readings: Sequence[Reading]) -> tuple[float, float]:
    """Slope in litres a day, and litres at the last reading."""
    slopes = [
        (b.litres - a.litres) / (b.at - a.at) for a, b in combinations(readings, 2) if b.at > a.at
    ]
    slope = median(slopes) if slopes else 0.0
    last = readings[-1].at
    return slope, median(one.litres + slope * (last - one.at) for one in readings)


def days_to_minimum(
    readings: Sequence[Reading], filled: Sequence[Filled], minimum: float
) -> float | None:
    """By robust segments; None where no loss is seen."""
    slope, level = theil_sen(segment(readings, filled)[-READINGS:])
    return (level - minimum) / -slope if slope < -1e-3 else None


def calls(readings: Sequence[Reading], filled: Sequence[Filled]) -> bool:
    """Whether the loss is called changed at the last reading."""
    since = segment(readings, filled)[-READINGS:]
    if len(since) < 2 * LATEST:
        return False
    before, latest = since[:-LATEST], since[-LATEST:]
    old, _ = theil_sen(before)
    new, level = theil_sen(latest)
    off = [one.litres - level - new * (one.at - latest[-1].at) for one in latest]
    noise = max(1.4826 * median(abs(one) for one in off), 0.2 * latest[0].litres_per_cm)
    middle = sum(one.at for one in latest) / LATEST
    spread = sum((one.at - middle) ** 2 for one in latest)
    return bool((old - new) * spread**0.5 / noise > SIGMAS)


def naive_days(readings: Sequence[Reading], minimum: float) -> float | None:
    """By the slope of the last two readings; None where they rise."""
    a, b = readings[-2:]
    slope = (b.litres - a.litres) / (b.at - a.at)
    return (b.litres - minimum) / -slope if slope < -1e-3 else None
