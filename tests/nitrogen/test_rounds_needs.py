"""What an estimate means for the round: the same dates, and a reason."""

from uuid import UUID

import pytest

from service.nitrogen.estimating import Estimate, TankFacts, estimate
from service.nitrogen.filtering import Filled, Reading
from service.nitrogen.rounds import Need
from service.nitrogen.rounds_needs import need_of

TANK = TankFacts(capacity_litres=35, minimum_litres=8, rated_loss_litres_per_day=0.2)


def estimated(loss: float, readings: int, *, signs: bool = False, last: float = 20) -> Estimate:
    off = (0.2, -0.15, -0.25, 0.2, 0.05, -0.05)
    levels = [
        Reading(float(day), last + loss * (readings - 1 - day) + off[day % 6], 0.7)
        for day in range(readings)
    ]
    return estimate(TANK, levels, [], as_of=float(max(readings - 1, 0)), signs=signs)


def need(found: Estimate, *, fill_to: float = 34) -> Need:
    return need_of(
        UUID(int=1), "North", TANK, fill_to_litres=fill_to, top_litres_per_cm=0.7, estimate=found
    )


@pytest.mark.parametrize("readings", [10, 40])
def test_its_dates_are_those_of_the_estimate(readings: int) -> None:
    found = estimated(0.25, readings)
    assert found.state == "steady", found.why
    course = need(found).now
    assert found.days_to_minimum is not None
    assert course.days_above(8, 0.95) == pytest.approx(found.days_to_minimum_earliest, rel=1e-3)
    assert course.days_above(8, 0.5) == pytest.approx(found.days_to_minimum, rel=1e-6)
    assert course.litres == found.litres


def test_a_full_tank_is_known_as_well_as_its_dipstick_and_its_loss() -> None:
    few, many = need(estimated(0.25, 10)), need(estimated(0.25, 100, last=9))
    assert few.full.litres == many.full.litres == few.fill_to_litres == 34
    assert few.full.days_above(8, 0.95) < many.full.days_above(8, 0.95)
    assert many.full.days_above(8, 0.95) < many.full.days_above(8, 0.5)
    assert many.full.low(0, 0.95) == pytest.approx(34 - 0.35 * 1.645, abs=0.03)


def test_why_a_tank_is_filled() -> None:
    assert need(estimated(0.25, 40)).cause == "due"
    assert need(estimated(0.25, 40, signs=True)).cause == "failing"
    assert need(estimated(0.25, 0)).cause == "unread"
    assert need(estimated(0.25, 0, signs=True)).cause == "failing"
    assert need(estimated(0.25, 1)).cause == "by-rating"


def test_a_loss_that_rises_is_a_reason() -> None:
    levels = [Reading(float(day), 34 - 0.2 * day, 0.7) for day in range(100)]
    levels += [Reading(100.0 + day, 33.5 - 0.34 * day, 0.7) for day in range(21)]
    found = estimate(TANK, levels, [Filled(99.5, litres_after=33.6)], as_of=120.0)
    assert found.state == "rising", found.why
    assert need(found).cause == "rising"


@pytest.mark.parametrize("readings", [0, 1])
def test_an_unknown_tank_loses_twice_its_rated_loss(readings: int) -> None:
    """University of Oxford, Policy Statement S4/03, Appendix 1: an allowance for ageing."""
    found = need(estimated(0.25, readings))
    assert found.now.loss_per_day == found.full.loss_per_day == pytest.approx(0.4)
    assert found.now.litres == pytest.approx(20 if readings else 8, abs=0.3)
