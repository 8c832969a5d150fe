"""The forecast of the day on which doses run out: its chances, its coverage, what it says."""

import calendar
import os
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import nbinom

from service.alerts.run_out import (
    HORIZON_DAYS,
    Habits,
    Month,
    RunOut,
    at_least,
    course,
    habits,
    observed,
    run_out,
)
from tests.bench.run_out_bench import (
    KINDS,
    Kind,
    Outcome,
    outcomes,
    score,
    simulated,
    their_error,
)

#: Stallions of each kind.
RUN_OUTS = int(os.environ.get("RIMEBOOK_RUN_OUTS", "40"))

TODAY = date(2026, 3, 10)

#: Doses of a stallion in each month of every year.
SPRING = {4: 5, 5: 12, 6: 8, 7: 3}


def spring(
    since: date = date(2021, 1, 1), today: date = TODAY, *, share: float = 1.0
) -> list[Month]:
    """Used alike every year."""
    doses = {
        (year, month): round(share * number)
        for year in range(since.year, today.year + 1)
        for month, number in SPRING.items()
        if since <= date(year, month, 1) <= today
    }
    return observed(since, today, doses)


def station(today: date = TODAY) -> Habits:
    return habits([spring(today=today, share=share) for share in (0.5, 1, 2)], today)


def told(months: list[Month], left: int, known: Habits, *, last_year: int = 28) -> RunOut:
    return run_out(months, left, known, doses_last_year=last_year)


@settings(max_examples=300, deadline=None)
@given(
    st.integers(0, 3_000),
    st.floats(1e-6, 5_000),
    st.floats(1e-3, 1e5),
)
def test_chances_are_the_negative_binomial_ones(doses: int, mean: float, shape: float) -> None:
    """Against SciPy's `nbinom`."""
    assert at_least(doses, mean, shape) == pytest.approx(
        float(nbinom.sf(doses - 1, shape, shape / (shape + mean))), rel=1e-6, abs=1e-9
    )


@pytest.fixture(scope="module")
def found() -> dict[str, list[Outcome]]:
    return {kind.name: list(outcomes(kind, RUN_OUTS, seed=seed)) for seed, kind in enumerate(KINDS)}


def test_the_interval_covers_the_true_day_and_the_likely_day_has_little_bias(
    found: dict[str, list[Outcome]],
) -> None:
    """For ten kinds of stations, each with RIMEBOOK_RUN_OUTS stallions (40; in full 2000).

    Of a few stallions more may lie outside by chance: three standard errors are allowed for.
    """
    everything = score([(one.truth, one.ours) for kind in found.values() for one in kind])
    assert 0.88 <= everything.covered <= 0.96
    assert 0.44 <= everything.before <= 0.56
    chance = 3 * (0.09 / RUN_OUTS) ** 0.5
    for name, kind in found.items():
        ours = score([(one.truth, one.ours) for one in kind])
        assert 0.85 - chance <= ours.covered <= 0.97 + chance, name
        assert abs(ours.before - 0.5) <= 0.08 + 1.5 / RUN_OUTS**0.5, name


def test_the_likely_day_is_as_good_as_that_of_a_regression(
    found: dict[str, list[Outcome]],
) -> None:
    """Against a Poisson regression of statsmodels, month and stallion as factors."""
    everything = [one for kind in found.values() for one in kind]
    ours = score([(one.truth, one.ours) for one in everything])
    assert ours.error <= 0.99 * their_error(everything)


def test_a_forecast_that_ignores_the_season_misses_more(found: dict[str, list[Outcome]]) -> None:
    everything = [one for kind in found.values() for one in kind]
    for part in (everything, [one for one in everything if one.off_season]):
        ours = score([(one.truth, one.ours) for one in part])
        flat = score([(one.truth, one.flat) for one in part])
        assert flat.covered < ours.covered - 0.02
        assert flat.error > 1.1 * ours.error


def test_a_stallion_is_told_what_his_years_say() -> None:
    at = told(spring(), 23, station())
    assert at.likely is not None and at.earliest is not None and at.latest is not None
    # Every year 5 doses in April, 12 in May and 8 in June.
    assert date(2026, 5, 20) < at.likely < date(2026, 6, 30)
    assert date(2026, 4, 25) < at.earliest < at.likely < at.latest
    assert at.doses_next_year == pytest.approx(28, rel=0.15)
    assert at.doses_last_year == 28
    assert at.why == (
        "23 doses left; 28 were used in the last 12 months, most from May to June. "
        f"At this pace they run out in {at.likely:%B}; nine times out of ten between "
        f"{at.earliest.day} {at.earliest:%b} and {at.latest.day} {at.latest:%b %Y}."
    )


def test_recent_use_tells_more_than_old_use() -> None:
    def two_halves(first: float, second: float) -> list[Month]:
        months = spring(date(2018, 1, 1))
        return [
            Month(
                one.year,
                one.month,
                round(one.doses * (first if one.year < 2023 else second)),
                one.days,
            )
            for one in months
        ]

    rising, falling = two_halves(0.5, 2), two_halves(2, 0.5)
    known = habits([rising, falling, spring()], TODAY)
    more, fewer = told(rising, 23, known), told(falling, 23, known)
    assert more.doses_next_year is not None and fewer.doses_next_year is not None
    assert more.doses_next_year == pytest.approx(56, rel=0.3)
    assert fewer.doses_next_year == pytest.approx(14, rel=0.4)


def test_without_use_there_is_no_forecast() -> None:
    unused = observed(date(2024, 5, 1), TODAY, {})
    for known in (station(), habits([], TODAY), habits([unused], TODAY)):
        for months in (unused, []):
            at = told(months, 12, known, last_year=0)
            assert (at.likely, at.earliest, at.latest, at.doses_next_year) == (None,) * 4
            assert at.why == (
                "12 doses left. None was ever used, so there is no telling when they run out."
            )
            assert {one.likely for one in course(months, 12, known, months_ahead=12)} == {12}


def test_with_none_left_it_is_today() -> None:
    for months in (spring(), []):
        at = told(months, 0, station())
        assert at.likely == at.earliest == at.latest == TODAY
        assert at.why == "No doses are left."
        [first, *_] = course(months, 0, station(), months_ahead=12)
        assert (first.low, first.likely, first.high) == (0, 0, 0)


def test_one_dose_is_spoken_of_as_one() -> None:
    at = told(spring(), 1, station(), last_year=1)
    assert at.why.startswith("1 dose left; 1 was used in the last 12 months. At this pace they")
    none = told(spring(), 2, station(), last_year=0)
    assert none.why.startswith("2 doses left; none was used in the last 12 months. At this pace")


def test_a_stallion_seen_for_days_is_taken_for_an_average_one() -> None:
    """Known a little by the others, and hardly by himself: a wide interval."""
    new = observed(date(2026, 3, 1), TODAY, {(2026, 3): 1})
    at, old = told(new, 23, station(), last_year=1), told(spring(), 23, station())
    assert at.earliest is not None and at.likely is not None
    assert old.earliest is not None and old.latest is not None
    assert at.earliest < old.earliest
    assert at.latest is None or at.latest > old.latest
    # Also where nobody else is known.
    alone = told(new, 23, habits([new], TODAY), last_year=1)
    assert alone.earliest is not None
    assert alone.latest is None or alone.latest - alone.earliest > timedelta(days=365)


def test_more_than_ten_years_are_not_told() -> None:
    huge = told(spring(), 100_000, station())
    assert (huge.likely, huge.earliest, huge.latest) == (None, None, None)
    assert huge.why.endswith("At this pace they last longer than ten years.")
    many = told(spring(), 320, station())
    assert many.likely is None and many.earliest is not None
    assert "longer than ten years; they run out hardly before" in many.why
    fewer = told(spring(), 220, station())
    assert fewer.likely is not None and fewer.latest is None
    assert fewer.why.endswith("and perhaps not within ten years.")


@pytest.mark.parametrize(
    "today", [date(2024, 2, 29), date(2025, 3, 1), date(2026, 1, 1), date(2026, 12, 31)]
)
def test_it_works_on_every_day(today: date) -> None:
    known = station(today)
    at = told(spring(date(2020, 2, 29), today), 40, known)
    assert at.earliest is not None and at.likely is not None and at.latest is not None
    assert today <= at.earliest <= at.likely <= at.latest
    # A year's use; and a little, since a rate that wanders rises on average.
    assert 1 < known.ahead[365] < 1.03
    assert len(known.ahead) == HORIZON_DAYS + 1
    [first, *_, last] = course(spring(date(2020, 2, 29), today), 40, known, months_ahead=24)
    assert (first.at.year, first.at.month) == (today.year, today.month)
    assert (last.at + timedelta(days=1)).day == 1
    assert (last.at - today).days == pytest.approx(715, abs=16)


def test_every_month_is_listed_with_the_days_that_were_seen() -> None:
    months = observed(date(2023, 11, 21), date(2024, 3, 1), {(2024, 2): 3})
    assert months == [
        Month(2023, 11, 0, 10),
        Month(2023, 12, 0, 31),
        Month(2024, 1, 0, 31),
        Month(2024, 2, 3, 29),
        Month(2024, 3, 0, 0.5),
    ]
    assert observed(TODAY, TODAY, {}) == [Month(2026, 3, 0, 0.5)]


def test_the_season_is_the_months_shares_and_a_small_station_keeps_some_of_a_level_one() -> None:
    known = station(date(2026, 1, 1))
    assert known.season[4] == pytest.approx(12 * 12 / 28, rel=0.1)
    assert known.season[11] < 0.1
    by_days = sum(
        factor * calendar.monthrange(2026, month)[1]
        for month, factor in enumerate(known.season, start=1)
    )
    assert by_days == pytest.approx(365, abs=1)
    one_dose = habits([observed(date(2026, 1, 1), TODAY, {(2026, 2): 1})], TODAY)
    assert max(one_dose.season) < 3 * min(one_dose.season)


def test_a_season_is_not_taken_from_how_often_a_month_was_seen() -> None:
    """Level use, recorded from March to the June of the year after."""
    today = date(2026, 6, 30)
    level = {(year, month): 6 for year in (2025, 2026) for month in range(1, 13)}
    known = habits([observed(date(2025, 3, 1), today, level)] * 3, today)
    assert max(known.season) < 1.15 * min(known.season)
    assert known.doses_per_year == pytest.approx(72, rel=0.02)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 150))
def test_the_course_falls_and_reaches_none_in_the_months_that_are_told(
    seed: int, left: int
) -> None:
    chance = np.random.default_rng(seed)
    today, [one] = simulated(chance, Kind("", stallions=1, clusters=True, wander=0.3))
    known = habits([one.months], today)
    at = told(one.months, left, known)
    if at.doses_next_year is None:
        return
    picture = course(one.months, left, known, months_ahead=24)
    for month in picture:
        assert 0 <= month.low <= month.likely <= month.high <= left
        assert (month.low == 0) == (at.earliest is not None and at.earliest <= month.at)
        assert (month.likely == 0) == (at.likely is not None and at.likely <= month.at)
        assert (month.high == 0) == (at.latest is not None and at.latest <= month.at)
    for before, after in pairwise(picture):
        assert after.likely <= before.likely and after.low <= before.low
        assert after.high <= before.high
