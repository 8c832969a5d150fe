"""A tank's record: put right, renamed with its plates, never made wrong."""

from typing import Any

import pytest

from tests import building
from tests.bank.changing import change, refused_change
from tests.conftest import Client

TANKS = "/api/tanks"


def add(client: Client, name: str = "North", **more: Any) -> Any:
    return client.ok("POST", TANKS, building.tank(name) | more, status=201)


def addresses(tank: Any) -> list[str]:
    return [goblet["address"] for goblet in building.goblets_of(tank)]


def table(*points: tuple[Any, Any]) -> list[Any]:
    return [{"level_cm": level, "litres": litres} for level, litres in points]


def test_a_tanks_record_can_be_put_right(manager: Client) -> None:
    made = add(manager)
    path = f"{TANKS}/{made['id']}"
    changes = {
        "rated_loss_litres_per_day": 0.2,
        "minimum_level_cm": 10,
        "calibration": table((0, 0), (50, 34)),
        "capacity_litres": 34,
        "empty_weight_kg": 17.5,
        "quarantine": True,
    }
    assert change(manager, path, changes) == made | changes
    [kept] = manager.ok("GET", f"{path}/changes")["items"]
    assert kept["before"]["calibration"] == [["0", "0"], ["25", "16.5"], ["50", "35"]]
    assert kept["after"]["calibration"] == [["0", "0"], ["50", "34"]]
    assert set(kept["after"]) == set(changes)
    assert change(manager, path, {"empty_weight_kg": None})["empty_weight_kg"] is None


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"capacity_litres": 30}, "bad-calibration"),
        ({"minimum_level_cm": 51}, "bad-calibration"),
        ({"calibration": table((20, 10), (50, 35))}, "bad-calibration"),
        ({"calibration": None}, "invalid"),
        ({"name": None}, "invalid"),
        ({"quarantine": None}, "invalid"),
        ({"layout": {}}, "invalid"),
    ],
)
def test_a_record_cannot_be_made_wrong(manager: Client, changes: dict[str, Any], code: str) -> None:
    made = add(manager)
    path = f"{TANKS}/{made['id']}"
    refused_change(manager, path, changes, 422, code)
    assert manager.ok("GET", path) == made
    assert manager.ok("GET", f"{path}/changes")["items"] == []


def test_addresses_follow_a_new_name_and_plates_are_to_be_printed(manager: Client) -> None:
    made = add(manager)
    path = f"{TANKS}/{made['id']}"
    renamed = change(manager, path, {"name": "Harbour"})
    assert addresses(renamed) == [
        address.replace("NORTH", "HARBOUR") for address in addresses(made)
    ]
    [warning] = renamed["warnings"]
    assert (warning["code"], warning["field"]) == ("plates-out-of-date", "name")
    assert "4 addresses" in warning["message"]
    assert manager.ok("GET", path)["warnings"] == []
    ids = [goblet["id"] for goblet in building.goblets_of(made)]
    assert [goblet["id"] for goblet in building.goblets_of(renamed)] == ids
    assert add(manager)["short_name"] == "NORTH"


def test_a_renamed_tank_leaves_addresses_chosen_by_hand_alone(manager: Client) -> None:
    made = add(manager)
    goblet = building.goblets_of(made)[0]
    change(manager, f"/api/goblets/{goblet['id']}", {"address": "STALL-7"})
    renamed = change(manager, f"{TANKS}/{made['id']}", {"name": "Harbour"})
    assert addresses(renamed)[0] == "STALL-7"
    assert addresses(renamed)[1] == "HARBOUR-1-U1"
    assert "3 addresses" in renamed["warnings"][0]["message"]


def test_a_name_that_shortens_to_the_same_keeps_the_plates(manager: Client) -> None:
    made = add(manager)
    renamed = change(manager, f"{TANKS}/{made['id']}", {"name": "Nörth 🧊"})
    assert (renamed["name"], renamed["warnings"]) == ("Nörth 🧊", [])
    assert addresses(renamed) == addresses(made)


def test_a_chosen_short_name_outlives_a_change_that_keeps_the_name(manager: Client) -> None:
    made = add(manager, short_name="A")
    path = f"{TANKS}/{made['id']}"
    assert change(manager, path, {"name": "North", "quarantine": True})["short_name"] == "A"
    assert addresses(change(manager, path, {"short_name": "B"}))[0] == "B-1-L1"


def test_a_tank_cannot_take_the_name_or_the_addresses_of_another(manager: Client) -> None:
    add(manager)
    south = add(manager, "South")
    path = f"{TANKS}/{south['id']}"
    refused_change(manager, path, {"name": "NORTH"}, 409, "name-taken")
    refused_change(manager, path, {"short_name": "NORTH"}, 409, "name-taken")
    assert manager.ok("GET", path) == south


def test_renaming_onto_an_address_chosen_by_hand_is_refused(manager: Client) -> None:
    goblet = building.goblets_of(add(manager))[0]
    change(manager, f"/api/goblets/{goblet['id']}", {"address": "HARBOUR-2-U1"})
    south = add(manager, "South")
    path = f"{TANKS}/{south['id']}"
    refused_change(manager, path, {"name": "Harbour"}, 409, "address-taken")
    assert manager.ok("GET", path) == south


def test_a_retired_tank_frees_its_name_and_stays_as_it_was(manager: Client) -> None:
    made = add(manager)
    path = f"{TANKS}/{made['id']}"
    manager.ok("POST", f"{path}/retire", {"reason": "lost its vacuum"}, status=201)
    refused_change(manager, path, {"name": "Harbour"}, 409, "tank-retired")
    again = add(manager)
    assert addresses(again) == addresses(made)
    listed = manager.ok("GET", TANKS)["items"]
    assert {tank["id"]: tank["retired_at"] is None for tank in listed} == {
        made["id"]: False,
        again["id"]: True,
    }
