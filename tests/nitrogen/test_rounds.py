"""The round: never a tank below its minimum, and never a visit more than needed.

The plan is held against every choice of days there is, and against tanks drawn by chance.
"""

import random
from collections.abc import Iterator, Sequence
from itertools import combinations
from math import inf
from uuid import UUID

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.nitrogen.rounds import Cause, Course, Days, Need, Visit, can_be_kept, plan

SURE = 0.95


def course(litres: float, loss: float, *, litres_sd: float = 0, loss_sd: float = 0) -> Course:
    return Course(litres=litres, loss_per_day=loss, variance=(litres_sd**2, 0, loss_sd**2, 0))


def tank(
    litres: float,
    loss: float,
    *,
    number: int = 1,
    holds: float = 35,
    minimum: float = 8,
    litres_sd: float = 0,
    loss_sd: float = 0,
    cause: Cause = "due",
) -> Need:
    return Need(
        tank_id=UUID(int=number),
        tank_name=f"Tank {number}",
        minimum_litres=minimum,
        fill_to_litres=holds,
        now=course(litres, loss, litres_sd=litres_sd, loss_sd=loss_sd),
        full=course(holds, loss, loss_sd=loss_sd),
        cause=cause,
    )


def days(number: int, fill_days: Sequence[int] | None = None, day_left: float = 0.5) -> Days:
    return Days(
        number=number,
        fill_days=range(number) if fill_days is None else fill_days,
        day_left=day_left,
    )


def laid(visits: Sequence[Visit]) -> list[tuple[int, list[str]]]:
    return [(visit.day, [fill.need.tank_name for fill in visit.fills]) for visit in visits]


def test_a_tank_is_filled_on_the_last_day_it_can_wait_for() -> None:
    [visit] = plan([tank(10.1, 0.4)], days(20), confidence=SURE)
    assert visit.day == 4, "5.25 days are left, half a day of them today"
    [fill] = visit.fills
    assert fill.litres == pytest.approx(35 - (10.1 - 0.4 * 4.5))
    assert (fill.last_day, fill.likely_last_day) == (4, 4)


def test_the_last_fill_day_before_that_is_taken() -> None:
    for fill_days, day in (([0, 3, 7], 3), ([0, 7], 0), ([4], 4)):
        [visit] = plan([tank(10.1, 0.4)], days(20, fill_days), confidence=SURE)
        assert (visit.day, visit.fill_day) == (day, True)


def test_where_no_fill_day_is_in_time_another_day_is_taken_and_said_to_be_none() -> None:
    [visit] = plan([tank(10.1, 0.4)], days(20, [7]), confidence=SURE)
    assert (visit.day, visit.fill_day) == (4, False)


def test_tanks_share_visits_and_only_those_that_cannot_wait_are_filled() -> None:
    needs = [tank(10, 0.4, number=1), tank(11, 0.4, number=2), tank(30, 0.2, number=3)]
    assert laid(plan(needs, days(60), confidence=SURE)) == [(4, ["Tank 1", "Tank 2"])]
    assert laid(plan(needs, days(80), confidence=SURE)) == [
        (4, ["Tank 1", "Tank 2"]),
        (71, ["Tank 1", "Tank 2"]),
    ]
    assert laid(plan(needs, days(150), confidence=SURE)) == [
        (4, ["Tank 1", "Tank 2"]),
        (71, ["Tank 1", "Tank 2", "Tank 3"]),
        (138, ["Tank 1", "Tank 2"]),
    ]


def test_a_tank_that_may_be_below_its_minimum_is_filled_today_whatever_day_it_is() -> None:
    [visit] = plan([tank(8.1, 0.4, litres_sd=0.3)], days(20, [5]), confidence=SURE)
    assert (visit.day, visit.fill_day) == (0, False)
    assert visit.fills[0].last_day == -1


@pytest.mark.parametrize("cause", ["failing", "unread"])
def test_what_cannot_wait_for_a_plan_goes_first_and_today(cause: Cause) -> None:
    needs = [tank(8.3, 0.4, number=1), tank(30, 0.9, number=2, cause=cause)]
    assert laid(plan(needs, days(20, [5, 12]), confidence=SURE)) == [(0, ["Tank 2", "Tank 1"])]


def test_uncertainty_brings_a_visit_forward_and_asks_for_more_nitrogen() -> None:
    vague = tank(20, 0.4, litres_sd=0.5, loss_sd=0.05)
    [known] = plan([tank(20, 0.4)], days(40), confidence=SURE)
    [early] = plan([vague], days(40), confidence=SURE)
    [earlier] = plan([vague], days(40), confidence=0.99)
    assert known.day > early.day > earlier.day
    assert early.fills[0].litres_most > early.fills[0].litres
    assert early.fills[0].likely_last_day == known.day


def test_a_tank_that_loses_nothing_is_never_filled() -> None:
    assert plan([tank(20, 0)], days(366), confidence=SURE) == []
    assert plan([], days(60), confidence=SURE) == []


def test_a_tank_that_no_round_can_keep_is_seen_once() -> None:
    lost = tank(20, 30, cause="failing")
    assert not can_be_kept(lost, confidence=SURE)
    assert laid(plan([lost], days(60), confidence=SURE)) == [(0, ["Tank 1"])]
    assert can_be_kept(tank(20, 13), confidence=SURE)
    assert len(plan([tank(20, 13, cause="failing")], days(60), confidence=SURE)) == 30


def test_a_tank_that_is_overfull_asks_for_nothing() -> None:
    [visit] = plan([tank(36, 0.4, cause="failing")], days(20), confidence=SURE)
    assert visit.fills[0].litres == pytest.approx(0)
    over = tank(40, 0.4, cause="failing")
    assert plan([over], days(20), confidence=SURE)[0].fills[0].litres == 0


def in_time(needs: Sequence[Need], chosen: Sequence[int], over: Days) -> bool:
    """Whether visits on these days, each filling every tank, keep them all (loss known exactly)."""
    for need in needs:
        litres, at = need.now.litres, 0.0
        for day in chosen:
            then = over.day_left + day
            litres -= need.now.loss_per_day * (then - at)
            if litres < need.minimum_litres - 1e-7:
                return False
            litres, at = max(litres, need.fill_to_litres), then
        end = over.day_left + over.number
        if litres - need.now.loss_per_day * (end - at) < need.minimum_litres - 1e-7:
            return False
    return True


def fewest(needs: Sequence[Need], over: Days) -> int | None:
    """By trying every choice of fill days; None when no choice is in time."""
    fill_days = sorted(day for day in over.fill_days if day < over.number)
    for visits in range(len(fill_days) + 1):
        if any(in_time(needs, chosen, over) for chosen in combinations(fill_days, visits)):
            return visits
    return None


@st.composite
def small_rounds(draw: st.DrawFn) -> tuple[list[Need], Days]:
    needs = []
    for number in range(draw(st.integers(1, 4))):
        loss = draw(st.integers(20, 300)) / 100
        litres = draw(st.integers(81, 350)) / 10
        needs.append(tank(litres, loss, number=number))
    number = draw(st.integers(1, 14))
    fill_days = draw(st.sets(st.integers(0, number - 1)))
    return needs, days(number, sorted(fill_days), day_left=draw(st.integers(0, 10)) / 10)


@settings(max_examples=300, deadline=None)
@given(small_rounds())
def test_no_choice_of_days_makes_fewer_visits(round_: tuple[list[Need], Days]) -> None:
    needs, over = round_
    least = fewest(needs, over)
    assume(least is not None)
    visits = plan(needs, over, confidence=SURE)
    assert all(visit.fill_day for visit in visits)
    assert len(visits) == least


def followed(need: Need, visits: Sequence[Visit], over: Days) -> Iterator[float]:
    """What is in a tank that is filled as planned: before each filling, and at the end."""
    litres, at = need.now.litres, 0.0
    for visit in visits:
        if need.tank_id in {fill.need.tank_id for fill in visit.fills}:
            then = over.day_left + visit.day
            yield litres - need.now.loss_per_day * (then - at)
            litres, at = need.fill_to_litres, then
    yield litres - need.now.loss_per_day * (over.day_left + over.number - 1 - at)


@settings(max_examples=300, deadline=None)
@given(small_rounds())
def test_every_tank_stays_above_its_minimum_by_what_is_filled(
    round_: tuple[list[Need], Days],
) -> None:
    """Also where fill days are too few; unless it is too late before today has ended."""
    needs, over = round_
    visits = plan(needs, over, confidence=SURE)
    for need in needs:
        if need.now.litres - need.now.loss_per_day * over.day_left >= need.minimum_litres:
            assert min(followed(need, visits, over)) >= need.minimum_litres - 1e-6


def test_the_confidence_is_what_it_says() -> None:
    """4,000 tanks drawn by chance, filled on the day planned for what is known of them."""
    chance = random.Random(7)
    below = 0
    for _ in range(4_000):
        litres, loss = chance.uniform(15, 30), chance.uniform(0.2, 0.6)
        need = tank(litres, loss, litres_sd=0.4, loss_sd=0.06)
        [first, *_] = plan([need], days(400, day_left=0), confidence=0.9)
        real = chance.gauss(litres, 0.4) - chance.gauss(loss, 0.06) * (first.day + 1)
        below += real < need.minimum_litres
    # A day later than the last safe one: a little more than 1 in 10 (400, sd 19).
    assert 400 < below < 560


def test_days_above_is_where_line_and_spread_meet() -> None:
    known = course(20, 0.4, litres_sd=0.5, loss_sd=0.05)
    at = known.days_above(8, SURE)
    assert known.low(at, SURE) == pytest.approx(8)
    assert known.days_above(8, 0.5) == pytest.approx(30)
    assert course(20, 0, loss_sd=0.1).days_above(8, SURE) == pytest.approx(12 / 0.1 / 1.644854)
    assert course(20, 0).days_above(8, SURE) == inf
    assert course(8, 0).days_above(8, SURE) == 0
    assert course(8.5, 0.1, litres_sd=0.5).days_above(8, SURE) == 0
    assert course(5, 0.1).low(60, SURE) == course(5, 0.1).likely(60) == 0


def test_lids_that_are_opened_and_a_loss_that_wanders_bring_a_visit_forward() -> None:
    plain = course(30, 0.3)
    opened = Course(litres=30, loss_per_day=0.3, variance=(0, 0.04, 0, 0))
    wandering = Course(litres=30, loss_per_day=0.3, variance=(0, 0, 0, 1e-4))
    for other in (opened, wandering):
        at = other.days_above(8, SURE)
        assert at < plain.days_above(8, SURE)
        assert other.low(at, SURE) == pytest.approx(8)
