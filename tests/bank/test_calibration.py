"""A tank's dipstick table and figures: impossible ones are refused, unusual ones questioned."""

from typing import Any

import pytest

from tests import building
from tests.conftest import Client

TANKS = "/api/tanks"


def add(client: Client, name: str = "North", **more: Any) -> Any:
    return client.ok("POST", TANKS, building.tank(name) | more, status=201)


def warned(tank: Any) -> set[str]:
    return {warning["code"] for warning in tank["warnings"]}


def table(*points: tuple[Any, Any]) -> list[Any]:
    return [{"level_cm": level, "litres": litres} for level, litres in points]


@pytest.mark.parametrize(
    ("points", "field"),
    [
        (table(), "calibration"),
        (table((0, 0)), "calibration"),
        (table((0, 0), (0, 35)), "calibration[1].level_cm"),
        (table((0, 0), (50, 0)), "calibration[1].litres"),
        (table((50, 35), (0, 0)), "calibration[1].level_cm"),
        (table((0, 0), (30, 20), (25, 22), (50, 35)), "calibration[2].level_cm"),
        (table((-1, 0), (50, 35)), "calibration[0].level_cm"),
        (table((0, -1), (50, 35)), "calibration[0].litres"),
        (table((0, 0), (50, "35.71")), "calibration[1].litres"),
        (table((13, 7), (50, 35)), "minimum_level_cm"),
        (table((0, 0), (11, 35)), "minimum_level_cm"),
    ],
)
def test_a_table_that_cannot_be_right_is_refused(
    manager: Client, points: list[Any], field: str
) -> None:
    """The tank holds 35 L, its minimum level is 12 cm."""
    body = building.tank() | {"calibration": points}
    problem = manager.refused("POST", TANKS, body, 422, "bad-calibration")
    assert field in {error["field"] for error in problem["errors"]}
    assert manager.ok("GET", TANKS)["items"] == []


def test_all_faults_of_a_table_are_named_at_once(manager: Client) -> None:
    body = building.tank() | {"calibration": table((10, 5), (10, 5), (9, 99))}
    problem = manager.refused("POST", TANKS, body, 422, "bad-calibration")
    assert [error["field"] for error in problem["errors"]] == [
        "calibration[1].level_cm",
        "calibration[1].litres",
        "calibration[2].level_cm",
        "calibration[2].litres",
        "minimum_level_cm",
    ]


@pytest.mark.parametrize("top", ["35.7", "35", "33.25"])
def test_a_table_may_end_a_little_beside_the_capacity(manager: Client, top: str) -> None:
    tank = add(manager, calibration=table((0, 0), (12, 8), (50, top)))
    assert warned(tank) == set()


def test_a_table_that_ends_well_below_the_capacity_is_questioned(manager: Client) -> None:
    tank = add(manager, calibration=table((0, 0), (50, "33.24")))
    assert warned(tank) == {"calibration-ends-low"}


@pytest.mark.parametrize(
    ("loss", "questioned"),
    [("5", False), ("5.01", True), ("0.0584", False), ("0.0583", True)],
)
def test_a_loss_that_few_tanks_have_is_questioned(
    manager: Client, loss: str, *, questioned: bool
) -> None:
    """35 L last 7 days at 5 L/day and 600 at 0.0583."""
    tank = add(manager, rated_loss_litres_per_day=loss)
    assert ("unusual-loss" in warned(tank)) is questioned
