"""When a stallion's doses run out, by how they were used through the years and seasons.

Pure. A stallion's use is a rate (doses a year) times the season (a factor for each month of the
year, 1 on average). The season is learnt from all stallions of the station, since few have enough
use of their own. The rate is a gamma variable that every month's use sharpens and that wanders
between months, so that recent use tells more than old use, by as much as the station's stallions
were seen to change (after Harvey and Fernandes, "Time series models for count or qualitative
observations", Journal of Business & Economic Statistics 7, 1989; from memory). Doses go in clusters
(a mare takes several), so use varies more than Poisson counts by a factor, the spread. Together,
the use until a day is negative binomial, and its chance to reach what is left rises day by day:
where it passes 5, 50 and 95 % are the earliest, the likely and the latest day.

How good it is, and beside what, is measured by `tests/bench/run_out_bench.py`.
"""

import math
from calendar import month_name, monthrange
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

#: Days that are looked ahead: ten years.
HORIZON_DAYS = 3_653

_YEAR = 365.25
_LENGTHS = (31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)

#: Both sides of a 90 % interval.
_EARLY, _LIKELY, _LATE = 0.05, 0.5, 0.95

#: What is known of a stallion before his first dose, in doses: he is like the average one, but
#: rates differ tenfold between stallions.
_PRIOR_DOSES = 1.0

#: Doses in each month of the year that speak for a level season; one year's use outweighs them.
_LEVEL_DOSES = 0.7

#: How often the season is found from the rates and these from it: more changes nothing.
_ROUNDS = 4

#: Variance that the logarithm of a rate may gain a year, and how likely each is beforehand: of one
#: in three a year is thought before anything was seen, and nobody's demand stands quite still.
_WANDERS = ((0.01, 0.2), (0.04, 0.25), (0.1, 0.25), (0.25, 0.2), (0.6, 0.1))
_WANDER_GUESS = 0.1

#: For how many years ahead a rate wanders; further off, it comes back as often as it goes on.
_WANDERS_YEARS = 3.0

#: The spread is estimated within these limits; so many doses speak for the guess beforehand.
_LEAST_SPREAD, _MOST_SPREAD, _SPREAD_GUESS, _GUESS_DOSES = 1.0, 5.0, 1.5, 20.0

#: An interval of so many days is told with the likely day, a wider one with its month.
_NARROW_DAYS = 45

#: A run of months is worth a word when it is no longer and takes so much of the use.
_SEASON_MONTHS, _SEASON_SHARE, _SEASON_LEAST = 5, 0.65, 6


@dataclass(frozen=True, slots=True)
class Month:
    """Doses taken in a calendar month, and on how many of its days they could be taken.

    A month without use is in the list with 0 doses; one in which he had none left is not.
    """

    year: int
    month: int
    doses: int
    days: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Habits:
    """What all stallions of a station tell about one; good for one day.

    `season` holds 12 factors, January first. `doses_per_year` is of the average stallion. `spread`
    is the variance of a month's use over its mean, `wander` the variance a year of the logarithm of
    a rate. `ahead[t]` is the use until the end of day t (today: 0) in parts of a year's by the rate
    of today; `vague[t]` is what that wanders by then adds to its variance, in parts of its square.
    """

    today: date
    season: Sequence[float]
    doses_per_year: float
    spread: float
    wander: float
    ahead: Sequence[float]
    vague: Sequence[float]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOut:
    """When the doses run out; days beyond ten years are None.

    `earliest` and `latest` bound it with 90 %. `doses_next_year` is what would be used if there
    were enough; None, like the days, for a stallion of whom nothing was ever used.
    """

    likely: date | None
    earliest: date | None
    latest: date | None
    doses_next_year: float | None
    doses_last_year: int
    why: str


@dataclass(frozen=True, slots=True)
class Left:
    """Doses left at the end of a day, with 90 %."""

    at: date
    likely: int
    low: int
    high: int


@dataclass(frozen=True, slots=True)
class _Rate:
    """A gamma variable: doses a year, known as well as so many doses in so many years tell it."""

    doses: float
    years: float

    @property
    def mean(self) -> float:
        return self.doses / self.years


def observed(since: date, today: date, doses: Mapping[tuple[int, int], int]) -> list[Month]:
    """Every month from the first day on, with the doses by (year, month); today counts half."""
    months = []
    year, month = since.year, since.month
    while (year, month) <= (today.year, today.month):
        length = monthrange(year, month)[1]
        first = since.day - 1 if (year, month) == (since.year, since.month) else 0
        end = today.day - 0.5 if (year, month) == (today.year, today.month) else length
        months.append(Month(year, month, doses.get((year, month), 0), max(end - first, 0.5)))
        year, month = (year, month + 1) if month < 12 else (year + 1, 1)
    return months


def habits(stallions: Collection[Sequence[Month]], today: date) -> Habits:
    """What the months of all stallions tell, each stallion's in order of time."""
    used = [months for months in stallions if any(month.doses for month in months)]
    season, average = _season(used)
    start = _start(average)
    spread, wander = _SPREAD_GUESS, _WANDER_GUESS
    for _ in range(2):  # the one is told from the other
        spread = _spread(used, season, start, spread, wander)
        wander = _wander(used, season, start, spread)
    ahead, vague = looking_ahead(season, wander, today)
    return Habits(
        today=today,
        season=season,
        doses_per_year=average,
        spread=spread,
        wander=wander,
        ahead=ahead,
        vague=vague,
    )


def _start(average: float) -> _Rate:
    return _Rate(_PRIOR_DOSES, _PRIOR_DOSES / average)


def _season(stallions: Sequence[Sequence[Month]]) -> tuple[list[float], float]:
    """The factor of each month of the year, and the doses a year of the average stallion.

    Use is compared with what each stallion's own rate and days would give in a level year: a
    station whose records begin in spring has seen more springs.
    """
    season, average = [1.0] * 12, 1.0
    totals = [sum(month.doses for month in months) for months in stallions]
    for _ in range(_ROUNDS):
        weighted = [sum(m.days * season[m.month - 1] for m in one) / _YEAR for one in stallions]
        if weighted:
            average = sum(totals) / sum(weighted)
        start = _start(average)
        taken, due = [0.0] * 12, [0.0] * 12
        for months, total, years in zip(stallions, totals, weighted, strict=True):
            rate = (total + start.doses) / (years + start.years) / _YEAR
            for month in months:
                taken[month.month - 1] += month.doses
                due[month.month - 1] += rate * month.days
        season = [(t + _LEVEL_DOSES) / (d + _LEVEL_DOSES) for t, d in zip(taken, due, strict=True)]
        level = sum(factor * _LENGTHS[i] for i, factor in enumerate(season)) / _YEAR
        season = [factor / level for factor in season]
    return season, average


def _followed(
    months: Sequence[Month], season: Sequence[float], start: _Rate, spread: float, wander: float
) -> tuple[list[tuple[int, float, float]], _Rate]:
    """Month by month the doses, what was to be expected, and by how many doses; the rate after."""
    known, years = start.doses, start.years
    foretold = []
    last = None
    for month in months:
        number = month.year * 12 + month.month
        if last is not None:
            # Less well known; and since it is as likely to have doubled as halved, its mean rises.
            wandered = wander * (number - last) / 12
            keeps = 1 / (1 + wandered * known)
            known *= keeps
            years *= keeps * math.exp(-wandered / 2)
        last = number
        due = month.days * season[month.month - 1] / _YEAR
        foretold.append((month.doses, known / years * due, known))
        known += month.doses / spread
        years += due / spread
    return foretold, _Rate(known, years)


def _spread(
    stallions: Sequence[Sequence[Month]],
    season: Sequence[float],
    start: _Rate,
    guess: float,
    wander: float,
) -> float:
    """Squared surprises over what was expected, less what an ill-known rate has in them."""
    surprise, expected = _SPREAD_GUESS * _GUESS_DOSES, _GUESS_DOSES
    for months in stallions:
        for taken, mean, known in _followed(months, season, start, guess, wander)[0]:
            surprise += (taken - mean) ** 2 / (1 + mean / known / guess)
            expected += mean
    return min(max(surprise / expected, _LEAST_SPREAD), _MOST_SPREAD)


def _wander(
    stallions: Sequence[Sequence[Month]], season: Sequence[float], start: _Rate, spread: float
) -> float:
    """The mean of what the rates may wander, each weighed by how well it foretold every month."""
    logs = [math.log(before) for _, before in _WANDERS]
    for months in stallions:
        for i, (wander, _) in enumerate(_WANDERS):
            logs[i] += sum(
                _log_chance(taken, mean, _shape(mean, spread, 1 / known))
                for taken, mean, known in _followed(months, season, start, spread, wander)[0]
            )
    best = max(logs)
    weights = [math.exp(log - best) for log in logs]
    return sum(w * wander for w, (wander, _) in zip(weights, _WANDERS, strict=True)) / sum(weights)


def _shape(mean: float, spread: float, vague: float) -> float:
    """Of the negative binomial with this mean: its variance is m + m² / shape.

    Clusters make it spread * m, and a rate whose variance is `vague` of its square adds to that.
    """
    return mean / (spread - 1 + mean * vague)


def _log_chance(doses: int, mean: float, shape: float) -> float:
    none = -shape * math.log1p(mean / shape)
    if not doses:
        return none
    ways = math.lgamma(doses + shape) - math.lgamma(shape) - math.lgamma(doses + 1)
    return ways + none + doses * math.log(mean / (shape + mean))


def at_least(doses: int, mean: float, shape: float) -> float:
    """The chance that a negative binomial variable of this mean and shape reaches so many doses.

    The regularised incomplete beta function of x = mean / (mean + shape) at (doses, shape) (NIST
    Digital Library of Mathematical Functions, 8.17.22: its continued fraction).
    """
    if doses <= 0:
        return 1.0
    if mean <= 0:
        return 0.0
    x = mean / (mean + shape)
    front = math.exp(
        math.lgamma(doses + shape)
        - math.lgamma(doses)
        - math.lgamma(shape)
        + doses * math.log(x)
        - shape * math.log1p(mean / shape)
    )
    if x < (doses + 1) / (doses + shape + 2):
        return min(front / doses * _fraction(doses, shape, x), 1.0)
    return max(1 - front / shape * _fraction(shape, doses, 1 - x), 0.0)


def _fraction(a: float, b: float, x: float) -> float:
    """Ends within some tens of steps: it is asked only where it converges fast."""
    above, below = 1.0, 1 / (1 - (a + b) * x / (a + 1))
    found = below
    for m in range(1, 100_000):
        for term in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            below = 1 / (1 + term * below)
            above = 1 + term / above
            found *= above * below
        if abs(above * below - 1) < 1e-12:
            break
    return found


def looking_ahead(
    season: Sequence[float], wander: float, today: date
) -> tuple[list[float], list[float]]:
    """`ahead` and `vague` of the habits.

    A rate that is as likely to double as to halve rises on average. What it strays by a day is in
    all use from that day on: the variance of the sum is the sum over all pairs of days of what the
    rate has strayed by the earlier of them.
    """
    weights = [0.5 * season[today.month - 1] / _YEAR]
    on, end = today + timedelta(days=1), today + timedelta(days=HORIZON_DAYS + 1)
    while on < end:
        days = min(monthrange(on.year, on.month)[1] - on.day + 1, (end - on).days)
        weights += [season[on.month - 1] / _YEAR] * days
        on += timedelta(days=days)
    use = of_use = of_pairs = spoilt = 0.0
    ahead, vague = [], []
    for day, weight in enumerate(weights):
        years = day / _YEAR
        if years < _WANDERS_YEARS:
            strayed = wander * years
            rises = math.exp(strayed / 2)
        due = weight * rises
        of_pairs += due * strayed * (use + due / 2)
        use += due
        of_use += due * strayed
        if years < _WANDERS_YEARS:
            spoilt = 2 * (use * of_use - of_pairs) / use**2
        ahead.append(use)
        vague.append(spoilt)
    return ahead, vague


@dataclass(frozen=True, slots=True)
class _Use:
    """A stallion's use from now until the end of day t."""

    rate: _Rate
    known: Habits

    def mean(self, day: int) -> float:
        return self.rate.mean * self.known.ahead[day]

    def reaches(self, doses: int, day: int) -> float:
        """The chance that so many are used by then."""
        mean, vague = self.mean(day), 1 / self.rate.doses + self.known.vague[day]
        return at_least(doses, mean, _shape(mean, self.known.spread, vague))

    def day_when(self, left: int, chance: float, *, after: int | None) -> int | None:
        """The first day, from `after` on, by which all are used with this chance; None: never."""
        if after is None or self.reaches(left, HORIZON_DAYS) < chance:
            return None
        low, high = after, HORIZON_DAYS
        while low < high:
            middle = (low + high) // 2
            if self.reaches(left, middle) < chance:
                low = middle + 1
            else:
                high = middle
        return high

    def used_at_most(self, day: int, chance: float, left: int) -> int:
        """What use does not pass by then, with this chance; no more than is left."""
        low, high = 0, left
        while low < high:
            middle = (low + high) // 2
            if 1 - self.reaches(middle + 1, day) < chance:
                low = middle + 1
            else:
                high = middle
        return high


def _use(months: Sequence[Month], known: Habits) -> _Use:
    start = _start(known.doses_per_year)
    _, rate = _followed(months, known.season, start, known.spread, known.wander)
    return _Use(rate, known)


def run_out(months: Sequence[Month], left: int, known: Habits, *, doses_last_year: int) -> RunOut:
    """When this many doses run out, by a stallion's own months and what all of them tell.

    `doses_last_year` is of the twelve months to today, to the day, which months cannot tell.
    """
    use = _use(months, known) if any(month.doses for month in months) else None
    earliest, likely, latest = _days(use, left, known.today)
    found = RunOut(
        likely=likely,
        earliest=earliest,
        latest=latest,
        doses_next_year=use.mean(365) if use else None,
        doses_last_year=doses_last_year,
        why="",
    )
    return replace(found, why=_why(months, left, found, known.today))


def _days(use: _Use | None, left: int, today: date) -> tuple[date | None, date | None, date | None]:
    if left <= 0:
        return today, today, today
    if use is None:
        return None, None, None
    earliest = use.day_when(left, _EARLY, after=0)
    likely = use.day_when(left, _LIKELY, after=earliest)
    latest = use.day_when(left, _LATE, after=likely)

    def on(day: int | None) -> date | None:
        return None if day is None else today + timedelta(days=day)

    return on(earliest), on(likely), on(latest)


def course(months: Sequence[Month], left: int, known: Habits, *, months_ahead: int) -> list[Left]:
    """Doses left at the end of this month and of those that follow, so many in all."""
    use = _use(months, known) if any(month.doses for month in months) else None
    likely = low = high = max(left, 0)
    found, at = [], known.today
    for _ in range(months_ahead):
        at = at.replace(day=monthrange(at.year, at.month)[1])
        if use is not None:
            day = (at - known.today).days
            # Never more than a month before: a fitted chance may come back by a hair.
            likely = min(likely, left - use.used_at_most(day, _LIKELY, left))
            low = min(low, left - use.used_at_most(day, _LATE, left))
            high = min(high, left - use.used_at_most(day, _EARLY, left))
        found.append(Left(at, likely, low, high))
        at += timedelta(days=1)
    return found


def _why(months: Sequence[Month], left: int, found: RunOut, today: date) -> str:
    if left <= 0:
        return "No doses are left."
    if found.doses_next_year is None:
        return f"{_doses(left)} left. None was ever used, so there is no telling when they run out."
    return f"{_told(months, left, found, today)} {_when(found, today)}"


def _doses(number: int) -> str:
    return "1 dose" if number == 1 else f"{number} doses"


def _told(months: Sequence[Month], left: int, found: RunOut, today: date) -> str:
    """`23 doses left; 31 were used in the last 12 months, most from April to July.`"""
    used = found.doses_last_year
    were = "none was" if not used else "1 was" if used == 1 else f"{used} were"
    recent = [m for m in months if (m.year + 1, m.month) >= (today.year, today.month)]
    most = _busiest(recent) if used >= _SEASON_LEAST else None
    return f"{_doses(left)} left; {were} used in the last 12 months{most or ''}."


def _busiest(months: Sequence[Month]) -> str | None:
    """The shortest run of months of the year that takes most of these doses."""
    taken = [0] * 12
    for month in months:
        taken[month.month - 1] += month.doses
    for length in range(1, _SEASON_MONTHS + 1):
        runs = [
            (sum(taken[(first + i) % 12] for i in range(length)), -first) for first in range(12)
        ]
        most, first = max(runs)
        if most > 0 and most >= _SEASON_SHARE * sum(taken):
            begins, ends = month_name[1 - first], month_name[(length - first - 1) % 12 + 1]
            return f", most in {begins}" if length == 1 else f", most from {begins} to {ends}"
    return None


def _when(found: RunOut, today: date) -> str:
    """`At this pace they run out in May; nine times out of ten between 20 Apr and 9 Jul.`"""

    def words(day: date) -> str:
        return f"{day.day} {day:%b}" if day.year == today.year else f"{day.day} {day:%b %Y}"

    if found.earliest is None:
        return "At this pace they last longer than ten years."
    hardly = f"hardly before {words(found.earliest)}"
    if found.likely is None:
        return f"At this pace they last longer than ten years; they run out {hardly}."
    month = (
        f"in {found.likely:%B}" if found.likely.year == today.year else f"in {found.likely:%B %Y}"
    )
    if found.latest is None:
        return f"At this pace they run out {month}; {hardly}, and perhaps not within ten years."
    if (found.latest - found.earliest).days <= _NARROW_DAYS:
        month = f"about {words(found.likely)}"
    return (
        f"At this pace they run out {month}; nine times out of ten between "
        f"{words(found.earliest)} and {words(found.latest)}."
    )
