"""A strange reading is kept and questioned at once; an ordinary one is not."""

import random
from typing import Any

import pytest

from service.nitrogen.strange import Point, far_off
from tests.nitrogen.conftest import AtTank


def codes(answer: Any) -> list[str]:
    return [warning["code"] for warning in answer["warnings"]]


def test_a_rise_with_no_top_up_between_is_questioned(at_tank: AtTank) -> None:
    at_tank.levels((8, 30), (4, 29))
    answer = at_tank.level(1, level_cm=33)
    [warning] = answer["warnings"]
    assert (warning["code"], warning["field"]) == ("rise-without-top-up", "level_cm")
    assert "4 cm lower" in warning["message"]
    assert "Measure again" in warning["message"]
    assert len(at_tank.client.ok("GET", f"{at_tank.path}/levels")["items"]) == 3


def test_a_rise_after_a_top_up_is_not(at_tank: AtTank) -> None:
    at_tank.levels((8, 30), (4, 29))
    at_tank.top_up(2, litres_added=6)
    assert codes(at_tank.level(1, level_cm=36)) == []


def test_the_same_rise_is_questioned_when_the_top_up_was_struck(at_tank: AtTank) -> None:
    at_tank.levels((8, 30), (4, 29))
    at_tank.strike("top-ups", at_tank.top_up(2, litres_added=6)["id"])
    assert codes(at_tank.level(1, level_cm=36)) == ["rise-without-top-up"]


def test_a_rise_from_a_reading_that_was_struck_is_none(at_tank: AtTank) -> None:
    at_tank.levels((9, 30), (8, 29.8))
    at_tank.strike("levels", at_tank.level(4, level_cm=12)["id"])
    assert codes(at_tank.level(1, level_cm=28)) == []


def test_a_late_reading_below_the_one_that_follows_is_questioned(at_tank: AtTank) -> None:
    at_tank.level(1, level_cm=30)
    [warning] = at_tank.level(5, level_cm=20)["warnings"]
    assert warning["code"] == "rise-without-top-up"
    assert "The reading after it" in warning["message"]


def test_a_late_reading_between_two_others_is_fine(at_tank: AtTank) -> None:
    at_tank.levels((10, 30), (1, 27.5))
    assert codes(at_tank.level(5, level_cm=28.6)) == []


def daily(at_tank: AtTank, days: int, *, start_cm: float = 40, cm_per_day: float = 0.28) -> float:
    """Days of readings without an error, the last one a day ago; the level of today."""
    at_tank.levels(*((days - day, round(start_cm - cm_per_day * day, 2)) for day in range(days)))
    return start_cm - cm_per_day * days


def test_a_drop_that_the_readings_before_do_not_allow_is_questioned(at_tank: AtTank) -> None:
    today = daily(at_tank, 20)
    [warning] = at_tank.level(0, level_cm=round(today - 5, 1))["warnings"]
    assert warning["code"] == "jump"
    assert "Measure again now" in warning["message"]
    assert "losing its vacuum" in warning["message"]


def test_a_reading_in_its_place_is_not(at_tank: AtTank) -> None:
    today = daily(at_tank, 20)
    assert codes(at_tank.level(0, level_cm=round(today - 1, 1))) == []


def test_the_next_good_reading_after_a_wild_one_is_not(at_tank: AtTank) -> None:
    today = daily(at_tank, 20)
    assert codes(at_tank.level(0.2, level_cm=round(today - 12, 1))) == ["jump"]
    assert codes(at_tank.level(0, level_cm=round(today, 1))) == []


def test_the_same_level_within_minutes_is_asked_about(at_tank: AtTank) -> None:
    at_tank.level(1, level_cm=30)
    [warning] = at_tank.level(1 - 3 / 1440, level_cm="30.0")["warnings"]
    assert warning["code"] == "entered-twice"
    assert "The technician" in warning["message"]
    assert codes(at_tank.level(0.5, level_cm=30)) == []


def test_a_second_look_that_differs_is_not(at_tank: AtTank) -> None:
    at_tank.level(1, level_cm=30)
    assert codes(at_tank.level(1 - 3 / 1440, level_cm=30.4)) == []


def test_more_than_there_was_room_for_is_questioned(at_tank: AtTank) -> None:
    at_tank.levels((8, 40), (4, 39))
    [warning] = at_tank.top_up(2, litres_added=20)["warnings"]
    assert (warning["code"], warning["field"]) == ("more-than-it-holds", "litres_added")


def test_a_warm_tank_takes_more_than_it_holds_and_that_is_asked_about(at_tank: AtTank) -> None:
    assert codes(at_tank.top_up(2, litres_added=50)) == ["more-than-it-holds"]


def test_a_lower_level_after_filling_is_questioned(at_tank: AtTank) -> None:
    at_tank.levels((8, 40), (4, 39))
    assert codes(at_tank.top_up(2, level_after_cm=30)) == ["lower-after-top-up"]


def test_the_same_top_up_within_minutes_is_asked_about(at_tank: AtTank) -> None:
    at_tank.level(3, level_cm=20)
    at_tank.top_up(1, litres_added=5)
    assert codes(at_tank.top_up(1 - 2 / 1440, litres_added=5)) == ["entered-twice"]


def test_the_level_itself_says_when_it_is_below_the_minimum(at_tank: AtTank) -> None:
    assert at_tank.level(2, level_cm=12)["below_minimum"] is False
    assert at_tank.level(1, level_cm=11.9)["below_minimum"] is True


def test_a_year_of_honest_weekly_readings_is_hardly_ever_questioned(at_tank: AtTank) -> None:
    """A dipstick error of 0.5 cm, a top-up every eight weeks; at most one question."""
    chance, level, asked = random.Random(7), 46.0, []
    for week in range(52):
        days = 365 - 7 * week
        if level < 30:
            level = 46.0
            at_tank.top_up(days + 0.01, level_after_cm=46)
        read = round(level + chance.gauss(0, 0.5), 1)
        asked += codes(at_tank.level(days, level_cm=min(read, 50)))
        level -= 7 * 0.3
    assert len(asked) <= 1, asked


def line(*levels: float, filled: int = 0) -> list[Point]:
    return [Point(at=day, level_cm=cm, filled=filled) for day, cm in enumerate(levels)]


@pytest.mark.parametrize(
    ("levels", "wild"),
    [
        ((30, 29.7, 29.2, 29.1, 28.8, 28.5), []),
        ((30, 29.7, 24, 29.1, 28.8, 28.5), [2]),
        ((30, 29.7, 34, 29.1, 28.8, 28.5), [2]),
        ((30, 29.7, 29.2, 29.1, 28.8, 33), [5]),  # nothing after it, but higher
        ((30, 24, 29.2, 29.1, 28.8, 28.5), [1]),
        ((30, 24), []),  # a drop that nothing follows may be true
        ((30,), []),
        ((), []),
    ],
)
def test_in_the_past_a_reading_far_off_its_neighbours_is_found(
    levels: tuple[float, ...], wild: list[int]
) -> None:
    assert [place for place, is_so in enumerate(far_off(line(*levels))) if is_so] == wild


def test_a_rise_over_a_top_up_is_none_in_the_past_either() -> None:
    filled = [Point(at=10 + day, level_cm=cm, filled=1) for day, cm in enumerate((40, 39.7, 39))]
    assert not any(far_off([*line(30, 29.7, 29.2), *filled]))
