"""The round: on which days to fill which tanks so that none falls below its minimum; few visits.

Pure. Days are numbered from today, 0; a visit counts as made at the end of its day. What is in a
tank is known within limits, so "above its minimum" is meant with a confidence, for each tank.

The first visit is laid on the last fill day that every tank can wait for, the next one on the last
day that all of them can wait for when each was filled then, and so on. No other choice makes fewer
visits: with any other, the first visit is no later, so every tank has to be seen again no later,
and so on for the second and each that follows. On a visit only those tanks are filled that cannot
wait for the next one.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import floor, inf, sqrt
from statistics import NormalDist
from typing import Literal
from uuid import UUID

#: Why a tank is filled when it is: what the words are made of.
Cause = Literal["failing", "unread", "by-rating", "rising", "due"]

#: Those go first on a visit.
_FIRST: tuple[Cause, ...] = ("failing", "unread")


#: A tank that is above its minimum for so long is taken to be so for ever.
_FOR_EVER_DAYS = 3_650

#: Halvings of a day count: to a ten-millionth of a day.
_HALVINGS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """What will be in a tank that nobody fills: a straight line, and how well it is known.

    `variance` is of the litres after t days, as v0 + v1 t + v2 t² + v3 t³: of what is in it now; of
    lids opened, and of what moves with the loss; of the loss; of how that wanders.
    """

    litres: float
    loss_per_day: float
    variance: tuple[float, float, float, float] = (0, 0, 0, 0)

    def likely(self, days: float) -> float:
        """Litres after so many days; never below 0."""
        return max(self.litres - self.loss_per_day * days, 0)

    def low(self, days: float, confidence: float) -> float:
        """What is still in it then with this confidence (0 to 1); never below 0."""
        return max(self._low(days, NormalDist().inv_cdf(confidence)), 0)

    def _low(self, days: float, z: float) -> float:
        v0, v1, v2, v3 = self.variance
        spread = sqrt(max(v0 + days * (v1 + days * (v2 + days * v3)), 0))
        return self.litres - self.loss_per_day * days - z * spread

    def days_above(self, litres: float, confidence: float) -> float:
        """For how many days it stays above this with the confidence.

        0 when it may be below now, `inf` when it takes ten years.
        """
        z = NormalDist().inv_cdf(confidence)
        if self._low(0, z) <= litres:
            return 0
        low, high = 0.0, 1.0
        while self._low(high, z) > litres:
            low, high = high, 2 * high
            if low > _FOR_EVER_DAYS:
                return inf
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            low, high = (middle, high) if self._low(middle, z) > litres else (low, middle)
        return high


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """A tank as the round sees it: its course from now on, and from a filling on.

    One that nobody has read is taken to be at its minimum.
    """

    tank_id: UUID
    tank_name: str
    minimum_litres: float
    fill_to_litres: float
    now: Course
    full: Course
    cause: Cause


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """The days that are planned: `number` from today on, of which some are fill days.

    `day_left` is how much of today is left, 0 to 1.
    """

    number: int
    fill_days: Collection[int]
    day_left: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """A tank to be filled on a visit.

    `last_day` is the last day on which it can be filled in time (below 0: it may be late now),
    `likely_last_day` the same by the likely course alone. Both None: it would last for ever.
    """

    need: Need
    litres: float
    litres_most: float
    last_day: int | None
    likely_last_day: int | None


@dataclass(frozen=True, slots=True)
class Visit:
    """A day on which somebody fills these tanks, the most urgent first."""

    day: int
    fill_day: bool
    fills: Sequence[Fill]


@dataclass(slots=True)
class _Tank:
    """A tank while the round is laid: on its course since `since`, in days from now.

    `wait` is the last day it can wait for; a full one can wait for `full_wait` days.
    """

    need: Need
    course: Course
    since: float
    wait: float
    full_wait: float

    def fill(self, day: int, days: Days) -> None:
        """From this day's end on it is full."""
        self.course, self.since = self.need.full, days.day_left + day
        self.wait = max(self.wait, day + self.full_wait)


def plan(needs: Sequence[Need], days: Days, *, confidence: float) -> list[Visit]:
    """The visits of these days, as few as can be; `confidence` is 0 to 1.

    Failing tanks and those that nobody has read are seen today, whatever day it is. A day that is
    no fill day is taken only when a tank cannot wait for one. A tank that no round can keep is seen
    once, see `can_be_kept`.
    """
    tanks = [_tank(need, days, confidence) for need in needs]
    on = _visit_days([(tank.wait, tank.full_wait) for tank in tanks], days)
    laid = []
    for day, following in pairwise([*on, days.number]):
        urgent = [tank for tank in tanks if tank.wait < following]
        fills = [_fill(tank, day, days, confidence) for tank in urgent]
        laid.append(Visit(day, day in days.fill_days, sorted(fills, key=_most_urgent_first)))
        for tank in urgent:
            tank.fill(day, days)
    return laid


def _visit_days(waits: Sequence[tuple[float, float]], days: Days) -> list[int]:
    """The latest day that every tank can wait for, again and again, each filled on each.

    `waits`: until which day a tank can wait now, and how many days when it is full.
    """
    visits: list[int] = []
    until = [now for now, _ in waits]
    while (first := min(until, default=inf)) < days.number:
        before = visits[-1] if visits else -1
        last = max(int(first), before + 1)
        day = max((day for day in days.fill_days if before < day <= last), default=last)
        visits.append(day)
        until = [max(now, day + full) for now, (_, full) in zip(until, waits, strict=True)]
    return visits


def _tank(need: Need, days: Days, confidence: float) -> _Tank:
    full_wait = _whole(need.full.days_above(need.minimum_litres, confidence))
    if full_wait < 1:  # no round can keep it: it is seen once, and is to be emptied
        full_wait = inf
    wait = 0 if need.cause in _FIRST else max(_last_day(need, need.now, 0, days, confidence), 0)
    return _Tank(need, need.now, 0, wait, full_wait)


def _last_day(need: Need, course: Course, since: float, days: Days, confidence: float) -> float:
    """The last day at whose end the tank is above its minimum; below 0 when it may be below now."""
    return _whole(since + course.days_above(need.minimum_litres, confidence) - days.day_left)


def _whole(days: float) -> float:
    # Halving, and sums of binary fractions, may lack a hair of a whole day.
    return inf if days == inf else floor(days + 1e-9)


def _fill(tank: _Tank, day: int, days: Days, confidence: float) -> Fill:
    need, course = tank.need, tank.course
    passed = max(days.day_left + day - tank.since, 0)
    last = _last_day(need, course, tank.since, days, confidence)
    likely = _last_day_likely(tank, days)
    return Fill(
        need=need,
        litres=max(need.fill_to_litres - course.likely(passed), 0),
        litres_most=max(need.fill_to_litres - course.low(passed, confidence), 0),
        last_day=None if last == inf else int(last),
        likely_last_day=None if likely == inf else int(likely),
    )


def _last_day_likely(tank: _Tank, days: Days) -> float:
    above = max(tank.course.litres - tank.need.minimum_litres, 0)
    loss = tank.course.loss_per_day
    return inf if loss <= 0 else _whole(tank.since + above / loss - days.day_left)


def _most_urgent_first(fill: Fill) -> tuple[bool, float, str]:
    last = inf if fill.last_day is None else fill.last_day
    return fill.need.cause not in _FIRST, last, fill.need.tank_name


def can_be_kept(need: Need, *, confidence: float) -> bool:
    """Whether a visit a day would keep this tank above its minimum."""
    return _whole(need.full.days_above(need.minimum_litres, confidence)) >= 1
