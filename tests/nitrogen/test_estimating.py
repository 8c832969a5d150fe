"""What the estimate must be, whatever is read: never negative, hardly moved by a wild reading."""

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.tsa.statespace.kalman_filter import KalmanFilter

from service.nitrogen import filtering
from service.nitrogen.estimating import (
    Estimate,
    TankFacts,
    estimate,
    fan,
    loss_history,
)
from service.nitrogen.filtering import Filled, Reading, Track

TANK = TankFacts(capacity_litres=35, minimum_litres=9, rated_loss_litres_per_day=0.22)


def daily(
    days: int, *, loss: float = 0.25, start: float = 33.0, seed: int = 1, noise: float = 0.3
) -> list[Reading]:
    """A steady tank read every day from day 0 on."""
    chance = np.random.default_rng(seed)
    return [
        Reading(float(day), max(0.0, float(start - loss * day + chance.normal(0, noise))), 0.65)
        for day in range(days)
    ]


def litres(found: Estimate) -> float:
    assert found.litres is not None
    return found.litres


def test_a_steady_tank_is_known_after_two_weeks() -> None:
    found = estimate(TANK, daily(15), [], as_of=14.0)
    assert litres(found) == pytest.approx(33 - 0.25 * 14, abs=0.5)
    assert found.loss_litres_per_day == pytest.approx(0.25, rel=0.25)
    assert found.days_to_minimum == pytest.approx((29.5 - 9) / 0.25, rel=0.25)
    assert found.state == "steady"
    assert (found.readings_used, found.by_rating) == (15, False)
    assert found.litres_low is not None and found.litres_high is not None
    assert found.litres_low < litres(found) < found.litres_high


def test_nothing_is_made_up_where_nothing_was_read() -> None:
    found = estimate(TANK, [], [], as_of=3.0)
    assert (found.state, found.readings_used) == ("unknown", 0)
    assert {getattr(found, one.name) for one in fields(found) if "litres" in one.name} == {None}
    assert fan(found, 30) == []


@pytest.mark.parametrize("count", [1, 2, 3])
def test_too_little_is_unknown_and_twice_the_rating_serves(count: int) -> None:
    """The allowance of 2 for ageing: University of Oxford, Policy Statement S4/03, Appendix 1."""
    found = estimate(TANK, daily(count, noise=0.0), [], as_of=float(count - 1))
    assert (found.state, found.by_rating, found.loss_litres_per_day) == ("unknown", True, None)
    assert found.days_to_minimum == pytest.approx((litres(found) - 9) / 0.44, rel=0.02)
    assert found.days_to_minimum_earliest is not None
    assert found.days_to_minimum_earliest < found.days_to_minimum
    assert "twice its rated loss" in found.why


def test_a_top_up_is_no_loss_and_no_gain() -> None:
    """Twenty litres on day 40; the loss is known as before, and goes on."""
    readings = daily(40) + [
        replace(one, at=one.at + 40, litres=one.litres + 20 - 10) for one in daily(40, seed=2)
    ]
    with_it = estimate(TANK, readings, [Filled(39.5, litres_added=20.0)], as_of=79.0)
    assert with_it.loss_litres_per_day == pytest.approx(0.25, rel=0.1)
    assert with_it.state == "steady"
    after = estimate(TANK, readings, [Filled(39.5, litres_after=33.0)], as_of=79.0)
    assert after.loss_litres_per_day == pytest.approx(0.25, rel=0.1)


def test_a_top_up_that_nobody_recorded_begins_a_new_segment() -> None:
    readings = daily(40) + [
        replace(one, at=one.at + 40, litres=one.litres) for one in daily(20, seed=2)
    ]
    found = estimate(TANK, readings, [], as_of=59.0)
    assert litres(found) == pytest.approx(33 - 0.25 * 19, abs=0.7)
    assert found.loss_litres_per_day == pytest.approx(0.25, rel=0.25)


@pytest.mark.parametrize("off", [-10, -6.5, 6.5, 12])
@pytest.mark.parametrize("when", [10, 25, 39])
def test_a_wild_reading_hardly_moves_the_estimate(off: float, when: int) -> None:
    readings = daily(40)
    plain = estimate(TANK, readings, [], as_of=39.0)
    readings[when] = replace(readings[when], litres=readings[when].litres + off)
    found = estimate(TANK, readings, [], as_of=39.0)
    assert litres(found) == pytest.approx(litres(plain), abs=0.35)
    assert found.loss_litres_per_day == pytest.approx(plain.loss_litres_per_day, rel=0.1)
    assert found.state == "steady"


@pytest.mark.parametrize(("factor", "within"), [(2, 7), (5, 2), (10, 2)])
def test_a_loss_that_multiplies_is_called_in_time(factor: int, within: int) -> None:
    before = daily(60, seed=3)
    worse = [
        Reading(59.0 + day, before[-1].litres - 0.25 * factor * day, 0.65)
        for day in range(1, within + 1)
    ]
    found = estimate(TANK, before + worse, [], as_of=59.0 + within)
    assert found.state in ("rising", "failing")
    assert found.changed_at is not None
    assert 55 <= found.changed_at <= 59 + within
    assert found.settled_loss == pytest.approx(0.25, rel=0.2)
    assert "times what it used to" in found.why or "twice the rating" in found.why


def test_a_call_stands_until_the_loss_comes_back() -> None:
    before = daily(60, seed=3, noise=0.1)
    level = before[-1].litres
    worse = [Reading(59.0 + day, level - 0.75 * day, 0.65) for day in range(1, 15)]
    states = [
        estimate(TANK, before + worse[:count], [], as_of=59.0 + count).state
        for count in range(6, 15)
    ]
    assert set(states) <= {"rising", "failing"}


@pytest.mark.parametrize("told", ["added", "after"])
@pytest.mark.parametrize("every", [1, 2, 3])
@pytest.mark.parametrize(("factor", "state"), [(5, "failing"), (1, "steady")])
def test_filling_up_again_and_again_hides_no_dying_tank(
    told: str, every: int, factor: int, state: str
) -> None:
    """Between two top-ups there is one reading; seven days of them are enough."""
    chance, read, filled, held = np.random.default_rng(3), daily(60, loss=0.2), list[Filled](), 33.0
    for day in range(60, 68):
        held -= 0.2 * factor
        read.append(Reading(float(day), float(held + chance.normal(0, 0.3)), 0.65))
        if day % every:
            continue
        missing, held = 33.0 - held, 33.0
        if told == "added":
            filled.append(Filled(day + 0.01, litres_added=missing * chance.normal(1, 0.02)))
        else:
            filled.append(Filled(day + 0.01, litres_after=float(held + chance.normal(0, 0.3))))
    before = Filled(59.5, litres_after=33.0)
    assert estimate(TANK, read, [before, *filled], as_of=68.0).state == state


def test_a_tank_that_always_loses_thrice_its_rating_is_failing() -> None:
    found = estimate(TANK, daily(30, loss=0.66), [], as_of=29.0)
    assert found.state == "failing"
    assert "twice the rating" in found.why


def test_outward_signs_come_before_any_figure() -> None:
    assert estimate(TANK, daily(30), [], as_of=29.0, signs=True).state == "failing"
    assert estimate(TANK, [], [], as_of=0.0, signs=True).state == "failing"


def test_a_slow_rise_over_months_is_found_against_the_long_ago() -> None:
    chance = np.random.default_rng(5)
    level, readings = 34.0, []
    filled = []
    for day in range(300):
        level -= 0.2 * (1 + 0.7 * max(0, day - 120) / 180)
        if level < 11:
            filled.append(Filled(day - 0.1, litres_added=22.0))
            level += 22
        readings.append(Reading(float(day), float(level + chance.normal(0, 0.3)), 0.65))
    found = estimate(TANK, readings, filled, as_of=299.0)
    assert found.state in ("rising", "failing")


def test_later_readings_do_not_reach_back() -> None:
    readings = daily(60)
    early = estimate(TANK, readings[:30], [], as_of=29.0)
    assert estimate(TANK, readings, [], as_of=29.0) == early


def test_the_forecast_widens_and_falls() -> None:
    found = estimate(TANK, daily(40), [], as_of=39.0)
    ahead = fan(found, 30)
    assert [day for day, *_ in ahead] == list(range(31))
    assert all(low <= likely <= high for _, low, likely, high in ahead)
    widths = [high - low for _, low, _, high in ahead]
    assert widths == sorted(widths)
    assert ahead[30][2] == pytest.approx(ahead[0][2] - 30 * 0.25, abs=1)


def test_the_history_of_the_loss_begins_once_it_is_known() -> None:
    past = loss_history(TANK, daily(60), [])
    assert past[0][0] >= 2
    assert past[-1][1] == pytest.approx(0.25, rel=0.15)
    assert all(low <= loss <= high for _, loss, low, high in past)


readings_of_any_kind = st.lists(
    st.builds(
        Reading,
        at=st.floats(0, 400),
        litres=st.floats(0, 35),
        litres_per_cm=st.sampled_from([0.65, 1.0, 1.2]),
    ),
    max_size=40,
)
top_ups_of_any_kind = st.lists(
    st.one_of(
        st.builds(Filled, at=st.floats(0, 400), litres_added=st.floats(0.1, 35)),
        st.builds(Filled, at=st.floats(0, 400), litres_after=st.floats(0, 35)),
    ),
    max_size=6,
)


@given(readings=readings_of_any_kind, filled=top_ups_of_any_kind, signs=st.booleans())
def test_whatever_is_read_every_figure_is_a_figure(
    readings: list[Reading], filled: list[Filled], signs: bool
) -> None:
    found = estimate(TANK, readings, filled, as_of=401.0, signs=signs)
    for one in fields(found):
        value = getattr(found, one.name)
        if isinstance(value, float):
            assert math.isfinite(value)
            assert value >= 0
    if found.litres is not None:
        assert found.litres_low is not None and found.litres_high is not None
        assert found.litres_low <= found.litres <= found.litres_high <= TANK.capacity_litres
    if found.loss_low is not None:
        assert found.loss_high is not None and found.loss_litres_per_day is not None
        assert found.loss_low <= found.loss_litres_per_day <= found.loss_high
    assert found.why


@given(readings=readings_of_any_kind, filled=top_ups_of_any_kind, chance=st.randoms())
def test_the_order_in_which_they_were_entered_does_not_matter(
    readings: list[Reading], filled: list[Filled], chance: object
) -> None:
    one = estimate(TANK, readings, filled, as_of=401.0)
    chance.shuffle(readings)  # type: ignore[attr-defined]
    moments = [fill.at for fill in filled]
    if len(set(moments)) == len(moments):
        chance.shuffle(filled)  # type: ignore[attr-defined]
    assert estimate(TANK, readings, filled, as_of=401.0) == one


def test_ten_thousand_readings_are_taken_in() -> None:
    readings = [Reading(day / 4, 34 - (0.25 * day / 4) % 24, 0.65) for day in range(10_000)]
    filled = [Filled(cycle * 96 - 0.01, litres_added=24.0) for cycle in range(1, 27)]
    found = estimate(TANK, readings, filled, as_of=2_500.0)
    assert found.readings_used == 10_000
    assert found.loss_litres_per_day == pytest.approx(0.25, rel=0.1)


def test_the_filter_is_the_textbooks_where_nothing_is_wild(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Beside the Kalman filter of statsmodels, an independent implementation, at uneven times."""
    drift, noise = 2e-5, 0.09
    monkeypatch.setattr(filtering, "WILD", 0.0)
    monkeypatch.setattr(filtering, "wander", lambda loss, rated: drift)
    chance = np.random.default_rng(7)
    at = np.cumsum(chance.uniform(0.3, 3, 60))
    seen = 30 - 0.2 * at + chance.normal(0, 0.3, 60)
    track = Track(capacity=35, rated_loss=0.22)
    track.noise, track.freedom = noise, 1e15
    track.feed(
        [Reading(float(t), float(y), 1.0) for t, y in zip(at, seen, strict=True)],
        watched_from=10**9,
    )

    reference = KalmanFilter(k_endog=1, k_states=2, k_posdef=2)
    reference.bind(seen[1:].reshape(-1, 1))
    steps = np.diff(at)
    transition, noise_in = np.zeros((2, 2, 59)), np.zeros((2, 2, 59))
    for index, days in enumerate(steps[1:]):
        transition[:, :, index] = [[1, -days], [0, 1]]
        noise_in[:, :, index] = waiting(days, drift)
    transition[:, :, -1] = np.eye(2)
    reference["design"] = np.array([[1.0, 0.0]])
    reference["obs_cov"] = np.array([[noise]])
    reference["transition"], reference["state_cov"] = transition, noise_in
    reference["selection"] = np.eye(2)
    first = np.array([[1, -steps[0]], [0, 1]])
    began = np.diag([noise, 0.22**2])
    reference.initialize_known(
        first @ np.array([seen[0], 1.2 * 0.22]),
        first @ began @ first.T + waiting(steps[0], drift),
    )
    found = reference.filter()
    assert track.line is not None
    assert track.line.litres == pytest.approx(found.filtered_state[0, -1], abs=1e-6)
    assert track.line.loss == pytest.approx(found.filtered_state[1, -1], abs=1e-6)
    covariance = found.filtered_state_cov[:, :, -1]
    assert track.line.litres_variance == pytest.approx(covariance[0, 0], rel=1e-6)
    assert track.line.covariance == pytest.approx(covariance[0, 1], rel=1e-6)
    assert track.line.loss_variance == pytest.approx(covariance[1, 1], rel=1e-6)


def waiting(days: float, drift: float) -> np.ndarray:
    """How state noise grows over so many days, in the reference's terms."""
    openings = filtering.OPENINGS
    return np.array(
        [
            [openings * days + drift * days**3 / 3, -drift * days**2 / 2],
            [-drift * days**2 / 2, drift * days],
        ]
    )
