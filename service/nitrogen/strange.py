"""Which readings of the past lie far off their neighbours. Pure; for pictures only.

A reading is questioned when it is entered, by what was known then. Looking back more is known: what
came after it, too. The estimate uses every reading that was not struck, and weighs for itself.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from statistics import median

from service.nitrogen.rules import JUMP_CM, RISE_CM

#: Three on each side: one wild one among them does not turn their median.
_NEIGHBOURS = 3


@dataclass(frozen=True, slots=True)
class Point:
    """A reading on the line of time: `at` in days; `filled` counts the top-ups before it."""

    at: float
    level_cm: float
    filled: int


def far_off(points: Sequence[Point]) -> list[bool]:
    """Whether each reading, in order of time, lies far off those beside it.

    Either 3 cm off the lines between those before and after it, with no top-up between; or 2 cm
    above the last good one before it, with no top-up between.
    """
    wild = [_off_the_lines(points, place) for place in range(len(points))]
    good: Point | None = None
    for place, point in enumerate(points):
        if wild[place]:
            continue
        if good is not None and good.filled == point.filled:
            wild[place] = point.level_cm - good.level_cm >= RISE_CM
        # A rise that lasts was a top-up that nobody entered: what follows is measured by it.
        good = point
    return wild


def _off_the_lines(points: Sequence[Point], place: int) -> bool:
    point = points[place]
    before = _beside(points[max(place - _NEIGHBOURS, 0) : place], point)
    after = _beside(points[place + 1 : place + 1 + _NEIGHBOURS], point)
    lines = [
        first.level_cm
        + (point.at - first.at) / (last.at - first.at) * (last.level_cm - first.level_cm)
        for first, last in product(before, after)
        if last.at > first.at
    ]
    return bool(lines) and abs(point.level_cm - median(lines)) >= JUMP_CM


def _beside(points: Sequence[Point], point: Point) -> list[Point]:
    return [one for one in points if one.filled == point.filled]
