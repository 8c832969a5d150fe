"""What is in a tank, how fast it goes, when it runs low, and whether the tank is dying.

Pure: readings and top-ups in, an estimate out. The filter is `filtering`, the test for a changed
loss `change`; how well both do beside an oracle is measured by `tests/bench/nitrogen_bench.py`.
Moments are days (of any epoch), amounts litres. Intervals are 90 %.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from operator import attrgetter
from statistics import median
from typing import Literal

from service.nitrogen.change import Line
from service.nitrogen.filtering import (
    OPENINGS,
    Change,
    Filled,
    Reading,
    Step,
    Track,
    waited,
    wander,
)

#: Allowance for ageing insulation, where a tank's own loss is not known yet: twice its rated loss
#: (University of Oxford, Policy Statement S4/03, Appendix 1).
AGEING = 2.0

#: Both sides of a 90 % interval, and what it takes to be called credible (one in a hundred).
_SIDE, _CREDIBLE = 1.645, 2.33

#: A loss that is open by more than that part of itself is not known yet.
_OPEN = 0.35

#: A changed loss becomes the settled one after so many days, if nothing more changes.
_SETTLES_IN = 60.0

#: The long-ago level of the loss: from so many days ago to so many; what season may do to it.
_PAST_FROM, _PAST_TO, _PAST_LEAST, _SEASON = 45.0, 400.0, 20, 0.12

#: Every reading of the last visits is tested, whatever the screen says.
_WATCHED = 2

_FARTHEST_DAYS = 3_650.0

State = Literal["steady", "rising", "failing", "unknown"]


@dataclass(frozen=True, slots=True)
class TankFacts:
    """What the maker and the station say of a tank."""

    capacity_litres: float
    minimum_litres: float
    rated_loss_litres_per_day: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A tank at one moment; None is not known. Figures are not rounded.

    `days_to_minimum` is likely, `_earliest` and `_latest` bound it with 90 %; None where it is not
    reached within ten years. `by_rating`: too little was read, and twice the rated loss serves.
    """

    litres: float | None
    litres_low: float | None
    litres_high: float | None
    loss_litres_per_day: float | None
    loss_low: float | None
    loss_high: float | None
    days_to_minimum: float | None
    days_to_minimum_earliest: float | None
    days_to_minimum_latest: float | None
    settled_loss: float | None
    changed_at: float | None
    state: State
    readings_used: int
    why: str
    by_rating: bool
    ahead: "Ahead | None" = None


@dataclass(frozen=True, slots=True)
class Ahead:
    """What a forecast goes on from: the line, how it wanders a day, and how wide 90 % is."""

    line: Line
    openings: float
    wander: float
    side: float

    def at(self, days: float) -> tuple[float, float]:
        """Litres after so many days, and their standard deviation."""
        line = self.line
        variance = (
            line.litres_variance
            - 2 * days * line.covariance
            + days * days * line.loss_variance
            + days * (self.openings + self.wander * days * days / 3)
        )
        return line.litres - line.loss * days, math.sqrt(max(variance, 0.0))


def estimate(
    tank: TankFacts,
    readings: Sequence[Reading],
    filled: Sequence[Filled],
    *,
    as_of: float,
    signs: bool = False,
) -> Estimate:
    """How a tank stands at `as_of`, by everything that was measured until then.

    The order of the input does not matter. `signs` are outward ones (frost, sweat, noise), and
    speak louder than any figure.
    """
    events = in_order(readings, filled, as_of)
    used = sum(isinstance(event, Reading) for event in events)
    if not used:
        return _nothing_read(signs=signs)
    track = _track(tank, events)
    assert track.line is not None
    line = waited(track.line, as_of, track.rated)
    side = _SIDE * (1 + (_SIDE**2 + 1) / (4 * track.freedom))
    if _is_open(tank, line):
        return _by_rating(tank, line, side, used, signs=signs)
    ahead = Ahead(line, OPENINGS, wander(line.loss, track.rated), side)
    change = _standing_change(track, as_of)
    settled = _settled(track, change, as_of)
    state, why = _state(tank, line, change, settled, signs=signs)
    return Estimate(
        **_figures(tank, line, side),
        days_to_minimum=_reached(tank, ahead, 0.0),
        days_to_minimum_earliest=_reached(tank, ahead, -side),
        days_to_minimum_latest=_reached(tank, ahead, side),
        settled_loss=settled[0],
        changed_at=change.at if change else None,
        state=state,
        readings_used=used,
        why=why,
        by_rating=False,
        ahead=ahead,
    )


def fan(found: Estimate, days: int) -> list[tuple[int, float, float, float]]:
    """The forecast: for today and each of so many days (day, low, likely, high) in litres."""
    if found.ahead is None:
        return []
    return [(day, *_bounds(found.ahead, day)) for day in range(days + 1)]


def loss_history(
    tank: TankFacts, readings: Sequence[Reading], filled: Sequence[Filled]
) -> list[tuple[float, float, float, float]]:
    """What the loss was known to be after each reading: (at, loss, low, high) in litres a day.

    Nothing until it is known at all.
    """
    track = _track(tank, in_order(readings, filled, math.inf))
    return [
        (step.at, step.line.loss, *_around(step.line.loss, step.line.loss_variance, _SIDE))
        for step in track.steps
        if not _is_open(tank, step.line)
    ]


def _is_open(tank: TankFacts, line: Line) -> bool:
    least = max(line.loss, 0.5 * tank.rated_loss_litres_per_day)
    return math.sqrt(line.loss_variance) > _OPEN * least


def in_order(
    readings: Sequence[Reading], filled: Sequence[Filled], until: float
) -> list[Reading | Filled]:
    """What happened until then, in order of time; what was read when it was filled comes before."""
    events: list[Reading | Filled] = [one for one in readings if one.at <= until]
    events.sort(key=_WHEN_READ)
    if filled:
        events += [one for one in filled if one.at <= until]
        events.sort(key=_WHEN)  # keeps the order of what stands at the same moment
    return events


_WHEN_READ, _WHEN = attrgetter("at", "litres", "litres_per_cm"), attrgetter("at")


def _track(tank: TankFacts, events: Sequence[Reading | Filled]) -> Track:
    track = Track(capacity=tank.capacity_litres, rated_loss=tank.rated_loss_litres_per_day)
    track.feed(events, watched_from=len(events) - _WATCHED)
    return track


def _around(middle: float, variance: float, side: float) -> tuple[float, float]:
    reach = side * math.sqrt(variance)
    return max(0.0, middle - reach), max(0.0, middle + reach)


def _figures(tank: TankFacts, line: Line, side: float) -> dict[str, float]:
    low, high = _around(line.litres, line.litres_variance, side)
    loss_low, loss_high = _around(line.loss, line.loss_variance, side)
    top = tank.capacity_litres
    return {
        "litres": min(max(line.litres, 0.0), top),
        "litres_low": min(low, top),
        "litres_high": min(high, top),
        "loss_litres_per_day": line.loss,
        "loss_low": loss_low,
        "loss_high": loss_high,
    }


def _bounds(ahead: Ahead, day: float) -> tuple[float, float, float]:
    litres, deviation = ahead.at(day)
    reach = ahead.side * deviation
    return max(0.0, litres - reach), max(0.0, litres), max(0.0, litres + reach)


def _reached(tank: TankFacts, ahead: Ahead, sides: float) -> float | None:
    """When the minimum is reached by the line that lies so many deviations off; None for never."""

    def above(days: float) -> bool:
        litres, deviation = ahead.at(days)
        return litres + sides * deviation > tank.minimum_litres

    if not above(0.0):
        return 0.0
    step = 1.0
    while above(step):
        step *= 2
        if step > _FARTHEST_DAYS:
            return None
    low, high = step / 2 if step > 1 else 0.0, step
    for _ in range(24):
        middle = (low + high) / 2
        low, high = (middle, high) if above(middle) else (low, middle)
    return high


def _nothing_read(*, signs: bool) -> Estimate:
    why = "No level was read yet. Measure now."
    return Estimate(
        litres=None,
        litres_low=None,
        litres_high=None,
        loss_litres_per_day=None,
        loss_low=None,
        loss_high=None,
        days_to_minimum=None,
        days_to_minimum_earliest=None,
        days_to_minimum_latest=None,
        settled_loss=None,
        changed_at=None,
        state="failing" if signs else "unknown",
        readings_used=0,
        why=f"{_SIGNS} {why}" if signs else why,
        by_rating=False,
    )


_SIGNS = "Outward signs were seen: frost, sweat or noise at the neck or shell."


def _by_rating(tank: TankFacts, line: Line, side: float, used: int, *, signs: bool) -> Estimate:
    """Too little is known of this tank's own loss: twice the maker's serves for the forecast."""
    loss = AGEING * tank.rated_loss_litres_per_day
    rated = Line(line.at, line.litres, loss, line.litres_variance, 0.0, (0.25 * loss) ** 2)
    ahead = Ahead(rated, OPENINGS, 0.0, side)
    figures = _figures(tank, line, side)
    why = (
        f"{used} reading{'' if used == 1 else 's'} so far: too few to know this tank's own loss. "
        "The forecast goes by twice its rated loss, the published allowance for ageing."
    )
    return Estimate(
        **{**figures, "loss_litres_per_day": None, "loss_low": None, "loss_high": None},
        days_to_minimum=_reached(tank, ahead, 0.0),
        days_to_minimum_earliest=_reached(tank, ahead, -side),
        days_to_minimum_latest=_reached(tank, ahead, side),
        settled_loss=None,
        changed_at=None,
        state="failing" if signs else "unknown",
        readings_used=used,
        why=f"{_SIGNS} {why}" if signs else why,
        by_rating=True,
        ahead=ahead,
    )


def _standing_change(track: Track, as_of: float) -> Change | None:
    """The change that is not the tank's settled past yet; of several in a row the first."""
    recent = [one for one in track.changes if as_of - one.at <= _SETTLES_IN]
    return recent[0] if recent else None


def _settled(track: Track, change: Change | None, as_of: float) -> tuple[float | None, float]:
    """The tank's own settled loss and its variance: before a change, else long ago, else None."""
    if change is not None:
        return change.settled, change.settled_variance
    past = _past(track.steps, as_of)
    if len(past) < _PAST_LEAST:
        return None, 0.0
    middle = median(past)
    return middle, (_SEASON * middle) ** 2


def _past(steps: Sequence[Step], as_of: float) -> list[float]:
    """The losses of long ago, where they were well known."""
    first, last = as_of - _PAST_TO, as_of - _PAST_FROM
    return [
        loss
        for _, _, (at, _, loss, _, _, variance), _ in steps
        if first <= at <= last and variance < 0.1 * loss * loss
    ]


def _state(
    tank: TankFacts,
    line: Line,
    change: Change | None,
    settled: tuple[float | None, float],
    *,
    signs: bool,
) -> tuple[State, str]:
    if signs:
        return "failing", f"{_SIGNS} They count before any figure."
    loss, variance = line.loss, line.loss_variance
    rated = tank.rated_loss_litres_per_day
    times = f"{loss / rated:.1f} times its rated loss" if rated else f"{loss:.2f} litres a day"
    if _credibly_above(loss, variance, 2 * rated, 0.0):
        return "failing", f"It loses {times}: credibly more than twice the rating."
    past, past_variance = settled
    if past is None:
        return "steady", f"It loses {times}. There is no settled past to compare with yet."
    state = _against_past(line, change, past, past_variance)
    if state == "steady":
        return state, f"It loses {times}, as it used to."
    ratio = loss / past if past else math.inf
    return state, f"It loses {ratio:.1f} times what it used to ({past:.2f} litres a day)."


def _against_past(line: Line, change: Change | None, past: float, past_variance: float) -> State:
    """A found change stands until the loss has come back; without one it takes three deviations."""
    loss, variance = line.loss, line.loss_variance
    if _credibly_above(loss, variance, 2 * past, 4 * past_variance):
        return "failing"
    needed = 3.0 if change is None else 1.0
    return "rising" if _credibly_above(loss, variance, past, past_variance, needed) else "steady"


def _credibly_above(
    loss: float, variance: float, limit: float, limit_variance: float, needed: float = _CREDIBLE
) -> bool:
    return loss - limit > needed * math.sqrt(variance + limit_variance)
