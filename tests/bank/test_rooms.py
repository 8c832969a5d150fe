"""Rooms that tanks stand in: entered, put right, retired; and where each tank stands."""

from typing import Any
from uuid import uuid4

import pytest

from tests import building
from tests.bank.changing import change, refused_change
from tests.conftest import Client

ROOMS = "/api/rooms"


def room(name: str = "Cold store", **more: Any) -> Any:
    return {
        "name": name,
        "volume_m3": 36,
        "air_changes_per_hour": "0.4",
        "ventilation": "exhaust",
        **more,
    }


def add(client: Client, name: str = "Cold store", **more: Any) -> Any:
    return client.ok("POST", ROOMS, room(name, **more), status=201)


def tank(client: Client, name: str = "North", **more: Any) -> Any:
    return client.ok("POST", "/api/tanks", building.tank(name) | more, status=201)


def retire(client: Client, made: Any, *, status: int = 201, code: str = "") -> Any:
    path, body = f"{ROOMS}/{made['id']}/retire", {"id": str(uuid4()), "reason": "rebuilt"}
    if status == 201:
        return client.ok("POST", path, body, status=201)
    return client.refused("POST", path, body, status, code)


def test_a_room_has_usual_figures_unless_it_says_otherwise(manager: Client) -> None:
    made = add(manager)
    assert made == {
        "id": made["id"],
        "name": "Cold store",
        "volume_m3": 36,
        "air_changes_per_hour": 0.4,
        "ventilation": "exhaust",
        "expansion_ratio": 696,
        "oxygen_percent": 20.9,
        "ageing_factor": 2,
        "retired_at": None,
        "tanks": [],
        "warnings": [],
    }
    assert manager.ok("GET", f"{ROOMS}/{made['id']}") == made
    own = {"expansion_ratio": 700, "oxygen_percent": 21, "ageing_factor": "1.5"}
    assert add(manager, "Attic", **own).items() >= {**own, "ageing_factor": 1.5}.items()
    assert [one["name"] for one in manager.ok("GET", ROOMS)["items"]] == ["Attic", "Cold store"]


def test_the_list_goes_on_where_it_ended(manager: Client) -> None:
    for name in ("Cellar", "Attic", "Barn"):
        add(manager, name)
    first = manager.ok("GET", f"{ROOMS}?limit=2")
    rest = manager.ok("GET", f"{ROOMS}?limit=2&after={first['next']}")
    names = [one["name"] for page in (first, rest) for one in page["items"]]
    assert names == ["Attic", "Barn", "Cellar"]
    assert rest["next"] is None


def test_the_same_room_sent_twice_is_one_room(manager: Client) -> None:
    body = room() | {"id": str(uuid4())}
    made = manager.ok("POST", ROOMS, body, status=201)
    assert manager.ok("POST", ROOMS, body, status=200) == made
    manager.refused("POST", ROOMS, body | {"volume_m3": 37}, 409, "id-reused")
    assert len(manager.ok("GET", ROOMS)["items"]) == 1


@pytest.mark.parametrize(
    "wrong",
    [
        {"volume_m3": 0},
        {"volume_m3": -36},
        {"air_changes_per_hour": -1},
        {"air_changes_per_hour": "NaN"},
        {"ventilation": "window"},
        {"expansion_ratio": 69.6},
        {"oxygen_percent": 0.209},
        {"ageing_factor": 0},
        {"name": " "},
        {"doors": 2},
    ],
)
def test_a_room_that_cannot_be_is_refused(manager: Client, wrong: Any) -> None:
    manager.refused("POST", ROOMS, room() | wrong, 422, "invalid")
    made = add(manager)
    refused_change(manager, f"{ROOMS}/{made['id']}", wrong, 422, "invalid")
    assert manager.ok("GET", f"{ROOMS}/{made['id']}") == made


@pytest.mark.parametrize(
    ("odd", "code"),
    [
        ({"ventilation": "none"}, "air-changes-without-fan"),
        ({"air_changes_per_hour": 0}, "fan-without-air-changes"),
        ({"air_changes_per_hour": 40}, "many-air-changes"),
    ],
)
def test_an_odd_room_is_kept_and_questioned(manager: Client, odd: Any, code: str) -> None:
    [warning] = add(manager, **odd)["warnings"]
    assert (warning["code"], warning["field"]) == (code, "air_changes_per_hour")
    assert add(manager, "Shed", ventilation="none", air_changes_per_hour=0)["warnings"] == []


def test_a_room_can_be_put_right_and_the_old_values_stay_readable(manager: Client) -> None:
    made = add(manager)
    path = f"{ROOMS}/{made['id']}"
    changes = {"name": "Vault", "volume_m3": 40.5, "ventilation": "supply", "ageing_factor": 3}
    assert change(manager, path, changes) == made | changes
    [kept] = manager.ok("GET", f"{path}/changes")["items"]
    assert kept["before"] == {
        "name": "Cold store", "volume_m3": "36", "ventilation": "exhaust", "ageing_factor": "2",
    }  # fmt: skip
    assert kept["after"].keys() == changes.keys()


def test_a_change_needs_the_version_it_starts_from(manager: Client) -> None:
    path = f"{ROOMS}/{add(manager)['id']}"
    manager.refused("PATCH", path, {"volume_m3": 40}, 428, "if-match-required")
    stale = {"If-Match": manager.get(path).headers["etag"]}
    change(manager, path, {"volume_m3": 40})
    answer = manager.patch(path, json={"volume_m3": 50}, headers=stale)
    assert (answer.status_code, answer.json()["code"]) == (412, "stale")
    assert manager.ok("GET", path)["volume_m3"] == 40


def test_two_rooms_in_use_never_have_one_name(manager: Client) -> None:
    add(manager)
    manager.refused("POST", ROOMS, room("COLD STORE"), 409, "name-taken")
    other = add(manager, "Attic")
    refused_change(manager, f"{ROOMS}/{other['id']}", {"name": "cold störe"}, 409, "name-taken")
    assert change(manager, f"{ROOMS}/{other['id']}", {"name": "attic"})["name"] == "attic"


def test_a_tank_stands_in_a_room_from_the_start_or_is_brought_and_taken_out(
    manager: Client,
) -> None:
    store, attic = add(manager), add(manager, "Attic")
    north, south = tank(manager, room_id=store["id"]), tank(manager, "South")
    assert (north["room_id"], south["room_id"]) == (store["id"], None)
    path, version = f"{ROOMS}/{store['id']}", f"/api/tanks/{south['id']}"
    before = manager.get(path).headers["etag"]
    assert change(manager, version, {"room_id": store["id"]})["room_id"] == store["id"]
    names = [one["name"] for one in manager.ok("GET", path)["tanks"]]
    assert names == ["North", "South"]
    assert manager.get(path).headers["etag"] == before, "tanks are no part of a room's record"
    change(manager, version, {"room_id": attic["id"]})
    change(manager, f"/api/tanks/{north['id']}", {"room_id": None})
    rooms = {one["name"]: one["tanks"] for one in manager.ok("GET", ROOMS)["items"]}
    assert rooms == {"Attic": [{"id": south["id"], "name": "South"}], "Cold store": []}
    [kept] = manager.ok("GET", f"/api/tanks/{north['id']}/changes")["items"]
    assert (kept["before"], kept["after"]) == ({"room_id": store["id"]}, {"room_id": None})


def test_what_is_left_out_of_a_tanks_change_leaves_it_where_it_stands(manager: Client) -> None:
    store = add(manager)
    north = tank(manager, room_id=store["id"])
    moved = change(manager, f"/api/tanks/{north['id']}", {"minimum_level_cm": 14})
    assert moved["room_id"] == store["id"]


def test_no_tank_stands_in_a_room_that_is_not_there(manager: Client) -> None:
    nowhere, closed = str(uuid4()), retire(manager, add(manager))["id"]
    made = tank(manager)
    for room_id, status, code in ((nowhere, 404, "unknown-room"), (closed, 409, "room-retired")):
        body = building.tank("South") | {"room_id": room_id}
        manager.refused("POST", "/api/tanks", body, status, code)
        change_to = {"room_id": room_id}
        refused_change(manager, f"/api/tanks/{made['id']}", change_to, status, code)
    assert manager.ok("GET", "/api/tanks")["items"] == [made]


def test_a_room_is_not_retired_over_its_tanks(manager: Client) -> None:
    store = add(manager)
    north = tank(manager, room_id=store["id"])
    assert retire(manager, store, status=409, code="tanks-stand-here")["tanks"] == ["North"]
    manager.ok("POST", f"/api/tanks/{north['id']}/retire", {"reason": "worn out"}, status=201)
    assert retire(manager, store)["retired_at"]
    refused_change(manager, f"{ROOMS}/{store['id']}", {"volume_m3": 1}, 409, "room-retired")
    retire(manager, store, status=409, code="room-retired")
    [kept] = manager.ok("GET", f"{ROOMS}/{store['id']}/changes")["items"]
    assert kept["after"]["reason"] == "rebuilt"
    assert add(manager)["id"] != store["id"], "its name is free again"


def test_an_unknown_room_is_not_found(technician: Client) -> None:
    for path in ("", "/changes", "/oxygen"):
        technician.refused("GET", f"{ROOMS}/{uuid4()}{path}", None, 404, "unknown-room")
