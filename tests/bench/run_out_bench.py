"""How good the forecast of the day is on which a stallion's doses run out.

    python -m tests.bench.run_out_bench [stallions of each kind]

Simulated stations, seeds fixed: a breeding season whose height is in May and whose sharpness
differs, stallions of 0.2 to 6 doses a month seen for one to eight years, looked at on any day of
the year with stock for two months to three years. Covered: how often the true day lies within the
90 % interval; earlier and later: how often it lies on either side. Before: how often it comes
before the likely day (half is best). Error: the mean distance of the likely day from the true one,
in days; beside it that of a Poisson regression with month and stallion as factors (statsmodels),
fitted on the same months and simulated forward, and that of our forecast without a season. Last,
the time for a stallion.
"""

import argparse
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from statistics import fmean
from time import process_time

import numpy as np
from numpy.typing import NDArray

from service.alerts.run_out import (
    HORIZON_DAYS,
    Habits,
    Month,
    RunOut,
    habits,
    looking_ahead,
    observed,
    run_out,
)

#: What comes after the horizon is all the same.
NEVER = HORIZON_DAYS + 1

_YEAR = 365.25

#: The season's height, in parts of the year.
_HEIGHT = 0.38

#: Months in which hardly any dose is used.
OFF_SEASON = (9, 10, 11, 12, 1)

#: Doses that a mare takes: one, and twice one more with this chance; variance over mean 2.2.
_MORE = 0.45

_PATHS = 200


@dataclass(frozen=True)
class Kind:
    """How doses are used at a station.

    `wander`: standard deviation a year of the logarithm of a rate that wanders; `jump`: of one that
    changed once; `uneven`: variance of a factor that each month has for itself.
    """

    name: str
    stallions: int = 12
    clusters: bool = False
    wander: float = 0.0
    jump: float = 0.0
    uneven: float = 0.0


KINDS = (
    Kind("steady"),
    Kind("clusters", clusters=True),
    Kind("uneven months", uneven=0.3),
    Kind("wanders 0.2", wander=0.2),
    Kind("wanders 0.4", wander=0.4),
    Kind("clusters, wanders 0.3", clusters=True, wander=0.3),
    Kind("jumped", jump=0.7),
    Kind("three stallions", stallions=3),
    Kind("three, clusters, wander", stallions=3, clusters=True, wander=0.3),
    Kind("forty, clusters, wander", stallions=40, clusters=True, wander=0.3),
)


@dataclass(frozen=True)
class Simulated:
    """A stallion until today, and in how many days he runs out."""

    months: list[Month]
    left: int
    last_year: int
    runs_out: int


@dataclass(frozen=True)
class Told:
    """A forecast in days from today: earliest, likely, latest."""

    earliest: int
    likely: int
    latest: int


@dataclass(frozen=True)
class Outcome:
    """What was true, and what each method told; `theirs` is the likely day of the regression."""

    off_season: bool
    truth: int
    ours: Told
    flat: Told
    theirs: float


def simulated(chance: np.random.Generator, kind: Kind) -> tuple[date, list[Simulated]]:
    """A station as it stands on some day of a year."""
    today = date(2026, 1, 1) + timedelta(days=int(chance.integers(365)))
    parts = np.arange(366) / 366
    season = np.exp(chance.uniform(2, 4) * (np.cos(2 * np.pi * (parts - _HEIGHT)) - 1))
    season += chance.uniform(0, 0.08)
    season /= season.mean()
    return today, [_stallion(chance, kind, today, season) for _ in range(kind.stallions)]


def _stallion(
    chance: np.random.Generator, kind: Kind, today: date, season: NDArray[np.float64]
) -> Simulated:
    rate = 12 * np.exp(chance.uniform(np.log(0.2), np.log(6)))
    past = int(chance.uniform(1, 8) * _YEAR)
    days = np.arange(-past, HORIZON_DAYS + 1)
    of_year = (today.timetuple().tm_yday - 1 + days) % _YEAR
    mean = rate / _YEAR * season[of_year.astype(int)] * np.exp(_walk(chance, kind, past, len(days)))
    if kind.uneven:
        factors = chance.gamma(1 / kind.uneven, kind.uneven, len(days) // 30 + 1)
        mean *= factors[np.arange(len(days)) // 30]
    mares = chance.poisson(mean / (1 + 2 * _MORE) if kind.clusters else mean)
    used = mares + chance.binomial(2 * mares, _MORE) if kind.clusters else mares
    future = used[past:].copy()
    used[past] = chance.binomial(used[past], 0.5)  # of today's, what is over
    future[0] -= used[past]
    left = max(round(rate * np.exp(chance.uniform(np.log(0.15), np.log(3)))), 1)
    since = today - timedelta(days=past)
    doses: dict[tuple[int, int], int] = {}
    for i in np.flatnonzero(used[: past + 1]):
        on = since + timedelta(days=int(i))
        doses[on.year, on.month] = doses.get((on.year, on.month), 0) + int(used[i])
    return Simulated(
        months=observed(since, today, doses),
        left=left,
        last_year=int(used[max(past - 364, 0) : past + 1].sum()),
        runs_out=int(np.searchsorted(np.cumsum(future), left)),
    )


def _walk(
    chance: np.random.Generator, kind: Kind, past: int, length: int
) -> NDArray[np.float64] | float:
    """The logarithm of the rate, 0 today."""
    if kind.wander:
        walk = np.cumsum(chance.normal(0, kind.wander / np.sqrt(_YEAR), length))
        return walk - walk[past]
    if kind.jump:
        jumped = np.zeros(length)
        jumped[: chance.integers(past)] = chance.normal(0, kind.jump)
        return jumped
    return 0.0


def regression(
    chance: np.random.Generator, stallions: Sequence[Simulated], today: date
) -> list[float]:
    """The likely day of each by a Poisson regression of all months, simulated forward."""
    from statsmodels.genmod.families import Poisson
    from statsmodels.genmod.generalized_linear_model import GLM

    # The likelihood knows no more of the months than their sums by month of the year.
    doses, days = np.zeros((len(stallions), 12)), np.zeros((len(stallions), 12))
    for i, one in enumerate(stallions):
        for month in one.months:
            doses[i, month.month - 1] += month.doses
            days[i, month.month - 1] += month.days
    stallion, of_year = np.nonzero(days)
    factors = np.hstack([np.eye(12)[of_year, 1:], np.eye(len(stallions))[stallion]])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a month without any dose has no logarithm
        found = GLM(
            doses[stallion, of_year],
            factors,
            family=Poisson(),
            offset=np.log(days[stallion, of_year]),
        ).fit(maxiter=50)
    by_month = np.concatenate([[0.0], found.params[:11]])
    ahead = np.datetime64(today) + np.arange(HORIZON_DAYS + 1)
    daily = by_month[ahead.astype("M8[M]").astype(int) % 12]
    likely = []
    for one, level in zip(stallions, found.params[11:], strict=True):
        mean = np.exp(np.clip(daily + level, -30, 10))
        mean[0] /= 2
        # The n-th event of a Poisson process comes when its summed mean is a gamma(n) variable.
        paths = np.searchsorted(np.cumsum(mean), chance.gamma(one.left, 1, _PATHS))
        likely.append(float(np.median(paths)))
    return likely


def without_season(known: Habits) -> Habits:
    """The same, for a station that knows of no season."""
    level = [1.0] * 12
    ahead, vague = looking_ahead(level, known.wander, known.today)
    return replace(known, season=level, ahead=ahead, vague=vague)


def told(found: RunOut, today: date) -> Told:
    """In days from today."""

    def days(day: date | None) -> int:
        return NEVER if day is None else (day - today).days

    return Told(days(found.earliest), days(found.likely), days(found.latest))


def outcomes(kind: Kind, number: int, *, seed: int) -> Iterator[Outcome]:
    """Of so many stallions (and as many more as fill the last station)."""
    chance, done = np.random.default_rng(seed), 0
    while done < number:
        today, station = simulated(chance, kind)
        known = habits([one.months for one in station], today)
        flat = without_season(known)
        used = [one for one in station if any(month.doses for month in one.months)]
        for one, theirs in zip(used, regression(chance, used, today), strict=True):
            ours, level = (
                told(run_out(one.months, one.left, by, doses_last_year=one.last_year), today)
                for by in (known, flat)
            )
            yield Outcome(today.month in OFF_SEASON, one.runs_out, ours, level, theirs)
        done += len(used)


@dataclass(frozen=True)
class Score:
    """How often the truth was covered, and how far off the likely day was, in days."""

    covered: float
    earlier: float
    later: float
    before: float
    error: float


def score(pairs: Sequence[tuple[int, Told]]) -> Score:
    """Of truths, each with what was told."""
    return Score(
        covered=fmean(one.earliest <= truth <= one.latest for truth, one in pairs),
        earlier=fmean(truth < one.earliest for truth, one in pairs),
        later=fmean(truth > one.latest for truth, one in pairs),
        before=fmean((truth < one.likely) + (truth == one.likely) / 2 for truth, one in pairs),
        error=fmean(abs(truth - one.likely) for truth, one in pairs),
    )


def their_error(found: Sequence[Outcome]) -> float:
    """The regression's, in days."""
    return fmean(abs(one.truth - one.theirs) for one in found)


def milliseconds(stallions: int) -> float:
    """For a stallion of a station: what is learnt from all, and his forecast."""
    chance = np.random.default_rng(9)
    today, station = simulated(chance, Kind("", stallions=stallions, clusters=True))
    since = process_time()
    known = habits([one.months for one in station], today)
    for one in station:
        run_out(one.months, one.left, known, doses_last_year=one.last_year)
    return 1_000 * (process_time() - since) / stallions


def _line(name: str, found: Sequence[Outcome]) -> str:
    ours = score([(one.truth, one.ours) for one in found])
    flat = score([(one.truth, one.flat) for one in found])
    theirs = their_error(found)
    return (
        f"{name:24} {ours.covered:8.3f} {ours.earlier:8.3f} {ours.later:6.3f} {ours.before:7.3f} "
        f"{ours.error:6.0f} {ours.error / theirs:11.2f} {flat.covered:8.3f} "
        f"{ours.error / flat.error:10.2f}"
    )


def main() -> None:
    """Print all figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("stallions", type=int, nargs="?", default=1_000)
    number = parser.parse_args().stallions
    print(f"{'':24}  covered  earlier  later  before  error  / regress.  flat cov. / flat's error")
    everything: list[Outcome] = []
    for seed, kind in enumerate(KINDS):
        found = list(outcomes(kind, number, seed=seed))
        print(_line(kind.name, found), flush=True)
        everything += found
    print(_line("all", everything))
    print(_line("all, in the off season", [one for one in everything if one.off_season]))
    print(f"{milliseconds(40):.2f} ms a stallion, of forty")


if __name__ == "__main__":
    main()
