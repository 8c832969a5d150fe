"""Levels and top-ups: entered late and in any order, listed, struck, never changed."""

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest

from tests.conftest import Client
from tests.nitrogen.conftest import AtTank


def codes(answer: Any) -> list[str]:
    return [warning["code"] for warning in answer["warnings"]]


def test_a_level_is_read_in_any_of_three_ways(at_tank: AtTank) -> None:
    by_cm = at_tank.level(30, level_cm="30")
    assert (by_cm["litres"], by_cm["level_cm"], by_cm["warnings"]) == (20.2, 30, [])
    assert by_cm["percent"] == pytest.approx(20.2 / 35 * 100)
    by_litres = at_tank.level(20, litres=18.35)
    assert by_litres["level_cm"] == pytest.approx(27.5)
    by_weight = at_tank.level(10, weight_kg="27.80032")  # 14.5 kg + 16.5 L x 0.80608 kg
    assert (by_weight["litres"], by_weight["level_cm"]) == (16.5, 25)


def test_a_level_without_a_time_is_one_of_now(at_tank: AtTank) -> None:
    at_tank.level(level_cm=30)
    [level] = at_tank.client.ok("GET", f"{at_tank.path}/levels")["items"]
    measured_at = datetime.fromisoformat(level["measured_at"])
    assert abs(measured_at - datetime.now(UTC)) < timedelta(minutes=1)


def test_occurred_at_serves_where_measured_at_is_left_out(at_tank: AtTank) -> None:
    body = {"id": str(uuid4()), "occurred_at": at_tank.days_ago(3), "level_cm": 30}
    at_tank.client.ok("POST", f"{at_tank.path}/levels", body, status=201)
    [level] = at_tank.client.ok("GET", f"{at_tank.path}/levels")["items"]
    assert datetime.fromisoformat(level["measured_at"]) == at_tank.now - timedelta(days=3)


def test_a_level_is_entered_once_however_often_it_is_sent(at_tank: AtTank) -> None:
    body = at_tank.body(1, level_cm=30, signs=["sweat", "frost"])
    first = at_tank.client.post(f"{at_tank.path}/levels", json=body)
    again = at_tank.client.post(f"{at_tank.path}/levels", json=body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.headers["Replayed"] == "true"
    assert again.json() == first.json()
    assert first.json()["id"] == body["id"]
    at_tank.refused(body | {"level_cm": 31}, 409, "id-reused")


@pytest.mark.parametrize(
    ("figures", "code"),
    [
        ({}, "read-one-way"),
        ({"level_cm": 20, "litres": 13.2}, "read-one-way"),
        ({"level_cm": -1}, "impossible-level"),
        ({"litres": "-0.1"}, "impossible-level"),
        ({"weight_kg": -20}, "impossible-level"),
        ({"level_cm": 50.1}, "impossible-level"),
        ({"litres": 35.1}, "impossible-level"),
        ({"weight_kg": 43}, "impossible-level"),
        ({"weight_kg": 14.4}, "impossible-level"),
        ({"level_cm": True}, "invalid"),
        ({"level_cm": "half"}, "invalid"),
        ({"level_cm": 20, "signs": ["smoke"]}, "invalid"),
        ({"level_cm": 20, "depth": 1}, "invalid"),
    ],
)
def test_only_what_cannot_be_is_refused(
    at_tank: AtTank, figures: dict[str, Any], code: str
) -> None:
    problem = at_tank.refused(at_tank.body(**figures), 422, code)
    assert problem["errors"][0]["message"]


@pytest.mark.parametrize("cm", [0, 50])
def test_both_ends_of_the_table_can_be_read(at_tank: AtTank, cm: int) -> None:
    assert at_tank.level(level_cm=cm)["level_cm"] == cm


def test_a_weight_without_the_empty_weight_says_nothing(at_tank: AtTank, manager: Client) -> None:
    answer = manager.get(at_tank.path)
    manager.patch(
        at_tank.path, json={"empty_weight_kg": None}, headers={"If-Match": answer.headers["ETag"]}
    ).raise_for_status()
    at_tank.refused(at_tank.body(weight_kg=30), 422, "no-empty-weight")


def test_a_weight_of_the_past_is_left_out_when_the_empty_weight_is_gone(
    at_tank: AtTank, manager: Client
) -> None:
    at_tank.level(2, weight_kg=30)
    answer = manager.get(at_tank.path)
    manager.patch(
        at_tank.path, json={"empty_weight_kg": None}, headers={"If-Match": answer.headers["ETag"]}
    ).raise_for_status()
    [level] = manager.ok("GET", f"{at_tank.path}/levels")["items"]
    assert (level["weight_kg"], level["litres"], level["level_cm"]) == (30, None, None)
    assert at_tank.nitrogen()["readings_used"] == 0
    assert at_tank.level(1, level_cm=20)["warnings"] == []


@pytest.mark.parametrize(
    ("moment", "code"),
    [
        (timedelta(minutes=6), "in-the-future"),
        (timedelta(days=-365 * 90), "beyond-time"),
    ],
)
def test_a_slip_in_the_time_is_refused(at_tank: AtTank, moment: timedelta, code: str) -> None:
    at = (datetime.now(UTC) + moment).isoformat()
    for what, body in [
        ("levels", {"measured_at": at, "level_cm": 20}),
        ("top-ups", {"filled_at": at, "level_after_cm": 20}),
    ]:
        problem = at_tank.refused(body, 422, code, what=what)
        assert problem["errors"][0]["field"] in ("measured_at", "filled_at")


def test_a_phone_whose_clock_is_a_little_ahead_is_believed(at_tank: AtTank) -> None:
    at = (datetime.now(UTC) + timedelta(minutes=4)).isoformat()
    at_tank.client.ok(
        "POST", f"{at_tank.path}/levels", {"measured_at": at, "level_cm": 31}, status=201
    )
    assert at_tank.nitrogen()["level_cm"] == pytest.approx(31, abs=1)


def test_levels_are_listed_by_when_they_were_measured_in_pages(at_tank: AtTank) -> None:
    at_tank.levels((5, 30), (9, 31), (1, 29), (7, 30.5))
    read, path = [], f"{at_tank.path}/levels?limit=3"
    page = at_tank.client.ok("GET", path)
    assert len(page["items"]) == 3
    read += page["items"]
    page = at_tank.client.ok("GET", f"{path}&after={page['next']}")
    assert page["next"] is None
    read += page["items"]
    assert [one["level_cm"] for one in read] == [29, 30, 30.5, 31]


def test_a_level_says_all_that_was_entered(at_tank: AtTank) -> None:
    at_tank.level(2, weight_kg=30, signs=["noise", "frost"], note="Hisses at the neck")
    [level] = at_tank.client.ok("GET", f"{at_tank.path}/levels")["items"]
    assert (level["read_as"], level["weight_kg"], level["by"], level["struck"]) == (
        "weight_kg",
        30,
        "The technician",
        None,
    )
    assert level["litres"] == pytest.approx(15.5 / 0.80608)
    assert level["signs"] == ["frost", "noise"]
    assert level["note"] == "Hisses at the neck"


def test_what_was_struck_stays_and_says_who_and_why(at_tank: AtTank) -> None:
    wrong = at_tank.level(2, level_cm=3)
    struck = at_tank.strike("levels", wrong["id"], "read the wrong tank")
    [level] = at_tank.client.ok("GET", f"{at_tank.path}/levels")["items"]
    assert level == struck
    assert level["struck"]["by"] == "The technician"
    assert level["struck"]["reason"] == "read the wrong tank"
    assert at_tank.nitrogen()["readings_used"] == 0


def test_a_top_up_is_struck_likewise(at_tank: AtTank) -> None:
    wrong = at_tank.top_up(2, litres_added=12)
    struck = at_tank.strike("top-ups", wrong["id"])
    assert at_tank.client.ok("GET", f"{at_tank.path}/top-ups")["items"] == [struck]
    assert struck["struck"]["reason"] == "misread"


@pytest.mark.parametrize("what", ["levels", "top-ups"])
def test_something_is_struck_only_once_and_only_at_its_own_tank(
    at_tank: AtTank, manager: Client, what: str
) -> None:
    made = at_tank.level(2, level_cm=30) if what == "levels" else at_tank.top_up(2, litres_added=3)
    path = f"{at_tank.path}/{what}/{made['id']}/strike"
    body = {"id": str(uuid4()), "reason": "a test"}
    unknown = "unknown-level" if what == "levels" else "unknown-top-up"
    other = manager.ok("POST", "/api/tanks", {**_body_of(at_tank.tank), "name": "South"})
    strange = path.replace(at_tank.tank["id"], other["id"])
    at_tank.client.refused("POST", strange, body, 404, unknown)
    at_tank.client.refused("POST", path.replace(made["id"], str(uuid4())), body, 404, unknown)
    at_tank.client.ok("POST", path, body, status=201)
    assert at_tank.client.ok("POST", path, body, status=200)["struck"] is not None
    problem = at_tank.client.refused(
        "POST", path, {"id": str(uuid4()), "reason": "again"}, 409, "already-struck"
    )
    assert problem["by"] == "The technician"


def _body_of(tank: Any) -> Any:
    names = ("capacity_litres", "rated_loss_litres_per_day", "minimum_level_cm", "calibration")
    layout = {"canisters": 1, "goblets_per_canister": 1, "straws_per_goblet": 5}
    return {name: tank[name] for name in names} | {"layout": layout}


def test_a_retired_tank_takes_only_what_was_measured_before(
    at_tank: AtTank, manager: Client
) -> None:
    manager.ok("POST", f"{at_tank.path}/retire", {"id": str(uuid4()), "reason": "its vacuum"})
    at_tank.refused(at_tank.body(level_cm=20), 409, "tank-retired")
    at_tank.refused({"litres_added": 3}, 409, "tank-retired", what="top-ups")
    at_tank.level(1, level_cm=20)
    assert at_tank.nitrogen()["reading_overdue"] is False


def test_a_tank_that_is_not_there(technician: Client) -> None:
    path = f"/api/tanks/{uuid4()}"
    technician.refused("POST", f"{path}/levels", {"level_cm": 20}, 404, "unknown-tank")
    technician.refused("POST", f"{path}/top-ups", {"litres_added": 3}, 404, "unknown-tank")
    for what in ("levels", "top-ups", "nitrogen", "nitrogen/history"):
        technician.refused("GET", f"{path}/{what}", None, 404, "unknown-tank")


@pytest.mark.parametrize(
    ("figures", "code"),
    [
        ({}, "read-one-way"),
        ({"level_after_cm": 40, "litres_added": 3}, "read-one-way"),
        ({"level_after_cm": 51}, "impossible-level"),
        ({"level_after_cm": -1}, "impossible-level"),
        ({"litres_added": 200}, "impossible-level"),
        ({"litres_added": 0}, "invalid"),
    ],
)
def test_a_top_up_that_cannot_be_is_refused(
    at_tank: AtTank, figures: dict[str, Any], code: str
) -> None:
    at_tank.refused(figures, 422, code, what="top-ups")


def test_a_top_up_says_what_is_in_the_tank_then(at_tank: AtTank) -> None:
    answer = at_tank.top_up(1, level_after_cm=45, note="From the large dewar")
    assert (answer["litres_after"], answer["warnings"]) == (31.3, [])
    [top_up] = at_tank.client.ok("GET", f"{at_tank.path}/top-ups")["items"]
    assert (top_up["litres_after"], top_up["litres_added"]) == (31.3, None)
    assert top_up["note"] == "From the large dewar"
    assert codes(at_tank.top_up(0.5, litres_added=3)) == []


def test_a_table_that_is_put_right_puts_the_past_right(at_tank: AtTank, manager: Client) -> None:
    at_tank.level(1, level_cm=25)
    answer = manager.get(at_tank.path)
    lines = [{"level_cm": 0, "litres": 0}, {"level_cm": 50, "litres": 35}]
    manager.patch(
        at_tank.path, json={"calibration": lines}, headers={"If-Match": answer.headers["ETag"]}
    ).raise_for_status()
    [level] = manager.ok("GET", f"{at_tank.path}/levels")["items"]
    assert (level["level_cm"], level["litres"]) == (25, 17.5)


def test_many_at_one_moment_are_all_listed_once(at_tank: AtTank) -> None:
    """The id decides where moments are the same."""
    at = at_tank.days_ago(1)
    for cm in range(30, 35):
        body = {"id": str(uuid4()), "measured_at": at, "level_cm": cm}
        at_tank.client.ok("POST", f"{at_tank.path}/levels", body, status=201)
    seen, after = [], ""
    while True:
        page = at_tank.client.ok("GET", f"{at_tank.path}/levels?limit=2{after}")
        seen += [one["level_cm"] for one in page["items"]]
        if page["next"] is None:
            break
        after = f"&after={page['next']}"
    assert sorted(seen) == [30, 31, 32, 33, 34]
