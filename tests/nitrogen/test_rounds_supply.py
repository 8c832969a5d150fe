"""The supply vessel's course, and which delivery is needed by when."""

from datetime import date, timedelta
from typing import Any

from service.nitrogen.rounds_supply import Amount, Shortage, Supply, course_of

MONDAY = date(2026, 3, 2)


def on(day: int) -> date:
    return MONDAY + timedelta(days=day)


def vessel(litres: float = 100, **more: Any) -> Supply:
    usual: dict[str, Any] = {
        "measured_on": MONDAY,
        "capacity_litres": None,
        "loss_litres_per_day": 0,
        "deliveries": [],
    }
    return Supply(litres=litres, **(usual | more))


def litres_of(supply: Supply, taken: list[Amount], *, days: int, today: int = 0) -> list[float]:
    found = course_of(supply, taken, today=on(today), until=on(days))
    assert [one.on for one in found.days] == [on(day) for day in range(today, days + 1)]
    return [one.litres for one in found.days]


def test_it_loses_gives_and_is_filled() -> None:
    supply = vessel(loss_litres_per_day=2, deliveries=[Amount(on(2), 50)])
    assert litres_of(supply, [Amount(on(1), 30)], days=3) == [100, 68, 116, 114]


def test_what_is_filled_on_the_day_of_the_measure_is_still_to_come() -> None:
    assert litres_of(vessel(), [Amount(on(0), 30)], days=1) == [70, 70]


def test_a_delivery_before_the_measure_is_in_it() -> None:
    assert litres_of(vessel(deliveries=[Amount(on(0), 50)]), [], days=1) == [100, 100]


def test_it_never_holds_more_than_it_can_nor_less_than_nothing() -> None:
    supply = vessel(capacity_litres=120, loss_litres_per_day=70, deliveries=[Amount(on(3), 500)])
    assert litres_of(supply, [], days=4) == [100, 30, 0, 120, 50]


def test_it_is_shown_from_today_on() -> None:
    supply = vessel(loss_litres_per_day=1)
    assert litres_of(supply, [Amount(on(2), 10)], days=6, today=5) == [85, 84]


def test_a_delivery_of_the_day_is_in_time_and_a_later_one_is_named() -> None:
    taken = [Amount(on(3), 130)]
    for day, shortages in (
        (3, []),
        (4, [Shortage(on(3), 30, on(4))]),
    ):
        supply = vessel(deliveries=[Amount(on(day), 50)])
        found = course_of(supply, taken, today=MONDAY, until=on(5))
        assert found.shortages == shortages
    alone = course_of(vessel(), taken, today=MONDAY, until=on(5))
    assert alone.shortages == [Shortage(on(3), 30, None)]


def test_each_shortage_is_its_own() -> None:
    taken = [Amount(on(1), 60), Amount(on(2), 60), Amount(on(2), 5), Amount(on(4), 40)]
    found = course_of(vessel(), taken, today=MONDAY, until=on(5))
    assert [(one.on, one.litres) for one in found.shortages] == [(on(2), 25), (on(4), 40)]


def test_what_is_past_was_filled_whatever_the_figures_say() -> None:
    found = course_of(vessel(), [Amount(on(1), 160)], today=on(2), until=on(3))
    assert found.shortages == []
    assert [one.litres for one in found.days] == [0, 0]
