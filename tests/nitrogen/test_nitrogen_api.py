"""How a tank stands, over HTTP: figures of the contract, dates at the station, signs, the list."""

import random
from datetime import UTC, datetime, timedelta

import pytest

from tests import building
from tests.conftest import Client
from tests.nitrogen.conftest import AtTank

#: What anybody may rely on, whatever else there is.
PROMISED = {
    *("as_of", "level_cm", "litres", "litres_low", "litres_high"),
    *("loss_litres_per_day", "loss_low", "loss_high", "rated_loss_litres_per_day"),
    *("ratio_to_rated", "heat_leak_watts", "minimum_litres", "reaches_minimum_on"),
    *("reaches_minimum_earliest_on", "state", "reading_overdue", "readings_used", "why"),
}


def fill_days(
    at_tank: AtTank, days: int, *, start_litres: float = 30, loss: float = 0.25, until: float = 0.1
) -> float:
    """A reading a day with a dipstick's error, the last one today; what is really in there."""
    chance = random.Random(3)
    for day in range(days):
        litres = start_litres - loss * day
        cm = 25 + (litres - 16.5) / 0.74 if litres > 16.5 else litres / 0.66
        read = max(round(cm + chance.gauss(0, 0.4), 1), 0)
        at_tank.level(days - 1 - day + until, level_cm=read)
    return start_litres - loss * (days - 1 + until)


def test_a_tank_that_behaves_is_steady_and_says_when_it_must_be_filled(at_tank: AtTank) -> None:
    litres = fill_days(at_tank, 60, start_litres=34)
    found = at_tank.nitrogen()
    assert found.keys() >= PROMISED
    assert found["state"] == "steady", found["why"]
    assert found["readings_used"] == 60
    assert found["litres_low"] <= found["litres"] <= found["litres_high"]
    assert found["litres"] == pytest.approx(litres, abs=0.6)
    assert found["loss_low"] <= found["loss_litres_per_day"] <= found["loss_high"]
    assert found["loss_litres_per_day"] == pytest.approx(0.25, abs=0.05)
    assert found["rated_loss_litres_per_day"] == 0.18
    assert found["ratio_to_rated"] == pytest.approx(found["loss_litres_per_day"] / 0.18)
    assert found["heat_leak_watts"] == pytest.approx(found["loss_litres_per_day"] * 1.85825)
    assert found["minimum_litres"] == pytest.approx(12 * 0.66)
    likely = datetime.fromisoformat(found["reaches_minimum_on"])
    truth = at_tank.now + timedelta(days=(litres - 7.92) / 0.25)
    assert abs((likely.date() - truth.date()).days) <= 8
    assert found["reaches_minimum_earliest_on"] <= found["reaches_minimum_on"]
    assert found["reaches_minimum_on"] <= found["reaches_minimum_latest_on"]
    assert found["reading_overdue"] is False
    assert found["why"]


def test_a_tank_that_nobody_read_is_unknown(at_tank: AtTank) -> None:
    found = at_tank.nitrogen()
    assert (found["state"], found["readings_used"]) == ("unknown", 0)
    assert (found["litres"], found["reaches_minimum_on"], found["last_read_at"]) == (None,) * 3
    assert found["why"]


def test_after_one_reading_the_rating_serves_and_says_so(at_tank: AtTank) -> None:
    at_tank.level(0.1, level_cm=40)
    found = at_tank.nitrogen()
    assert (found["state"], found["by_rating"]) == ("unknown", True)
    assert found["level_cm"] == pytest.approx(40, abs=1)
    assert found["reaches_minimum_on"] is not None
    assert found["reaches_minimum_earliest_on"] <= found["reaches_minimum_on"]


def test_as_of_is_measured_time_whenever_it_was_entered(at_tank: AtTank) -> None:
    fill_days(at_tank, 10)
    past = f"?as_of={at_tank.days_ago(5.5).replace('+00:00', 'Z')}"
    before = at_tank.nitrogen(past)
    assert before["readings_used"] == 4
    at_tank.level(20, level_cm=44.5)  # late, and from before the tank was in the book
    after = at_tank.nitrogen(past)
    assert after["readings_used"] == 5
    assert datetime.fromisoformat(after["as_of"]) == at_tank.now - timedelta(days=5.5)


def test_what_will_be_can_be_asked(at_tank: AtTank) -> None:
    litres = fill_days(at_tank, 60, start_litres=34)
    later = at_tank.now + timedelta(days=20)
    found = at_tank.nitrogen(f"?as_of={later:%Y-%m-%dT%H:%M:%SZ}")
    assert found["litres"] == pytest.approx(litres - 20 * 0.25, abs=1.5)
    assert found["reading_overdue"] is True


@pytest.mark.parametrize(
    ("as_of", "code"),
    [
        ("yesterday", "invalid"),
        ("2026-03-03T14:05:00", "invalid"),
        ("0001-01-01T00:00:00Z", "beyond-time"),
        ("9999-12-31T23:59:59Z", "beyond-time"),
    ],
)
def test_a_time_that_is_none_is_refused(at_tank: AtTank, as_of: str, code: str) -> None:
    path = f"{at_tank.path}/nitrogen?as_of={as_of}"
    at_tank.client.refused("GET", path, None, 422, code)


def test_a_struck_reading_does_not_count(at_tank: AtTank) -> None:
    fill_days(at_tank, 30)
    before = at_tank.nitrogen()
    wrong = at_tank.level(0.05, level_cm=3)
    at_tank.strike("levels", wrong["id"])
    after = at_tank.nitrogen()
    assert after["readings_used"] == before["readings_used"]
    assert after["litres"] == pytest.approx(before["litres"], abs=0.01)


def test_a_top_up_is_no_gain_in_the_loss(at_tank: AtTank) -> None:
    for day in range(30):
        litres = 20 - 0.25 * day + (12 if day >= 15 else 0)
        if day == 15:
            at_tank.top_up(30 - day + 0.5, litres_added=12)
        at_tank.level(30 - day, litres=round(litres, 2))
    found = at_tank.nitrogen()
    assert found["loss_litres_per_day"] == pytest.approx(0.25, abs=0.05)
    assert found["litres"] == pytest.approx(24.5, abs=0.6)


def test_frost_is_failing_at_once(at_tank: AtTank) -> None:
    fill_days(at_tank, 30, until=1.1)
    assert at_tank.nitrogen()["state"] == "steady"
    at_tank.level(0.1, level_cm=34, signs=["frost"])
    found = at_tank.nitrogen()
    assert (found["state"], found["signs"]) == ("failing", ["frost"])


def test_frost_that_was_never_there_is_struck(at_tank: AtTank) -> None:
    fill_days(at_tank, 30, until=1.1)
    at_tank.strike("levels", at_tank.level(0.1, level_cm=34, signs=["frost"])["id"])
    assert at_tank.nitrogen()["state"] == "steady"


def test_a_second_look_at_once_takes_no_sign_back_and_one_the_next_day_does(
    at_tank: AtTank,
) -> None:
    at_tank.level(2, level_cm=34, signs=["noise"])
    at_tank.level(2 - 5 / 1440, level_cm=34.2)
    assert at_tank.nitrogen()["signs"] == ["noise"]
    at_tank.level(1, level_cm=34)
    assert at_tank.nitrogen()["signs"] == []


def test_signs_stand_until_somebody_looks_again(at_tank: AtTank) -> None:
    at_tank.level(40, level_cm=34, signs=["sweat"])
    found = at_tank.nitrogen()
    assert (found["state"], found["reading_overdue"]) == ("failing", True)


@pytest.mark.parametrize(("days", "overdue"), [(0, False), (6, False), (8.1, True), (30, True)])
def test_a_reading_is_overdue_after_a_week(at_tank: AtTank, days: float, overdue: bool) -> None:
    at_tank.level(days, level_cm=30)
    assert at_tank.nitrogen()["reading_overdue"] is overdue


def test_how_often_is_the_managers_to_say(at_tank: AtTank, manager: Client) -> None:
    at_tank.level(6, level_cm=30)
    etag = manager.get("/api/nitrogen/plan").headers["ETag"]
    manager.patch(
        "/api/nitrogen/plan", json={"level_every_days": 3}, headers={"If-Match": etag}
    ).raise_for_status()
    assert at_tank.nitrogen()["reading_overdue"] is True


def test_a_new_tank_has_a_week_for_its_first_reading(at_tank: AtTank) -> None:
    assert at_tank.nitrogen()["reading_overdue"] is False
    later = at_tank.now + timedelta(days=9)
    assert at_tank.nitrogen(f"?as_of={later:%Y-%m-%dT%H:%M:%SZ}")["reading_overdue"] is True


def test_days_are_the_stations(at_tank: AtTank, manager: Client) -> None:
    etag = manager.get("/api/station").headers["ETag"]
    manager.patch(
        "/api/station", json={"time_zone": "Pacific/Auckland"}, headers={"If-Match": etag}
    ).raise_for_status()
    body = {"measured_at": "2026-03-03T23:30:00Z", "level_cm": 30}
    at_tank.client.ok("POST", f"{at_tank.path}/levels", body, status=201)
    found = at_tank.nitrogen("?as_of=2026-03-04T00:00:00Z")
    assert found["next_reading_on"] == "2026-03-11"  # it was the 4th there


def test_all_tanks_at_a_glance_the_worst_first(manager: Client, technician: Client) -> None:
    names = ("Calm", "Dry", "Frosted", "Gone", "Soon", "Unread")
    tanks = {name: manager.ok("POST", "/api/tanks", building.tank(name)) for name in names}
    at = {name: AtTank(technician, tank) for name, tank in tanks.items()}
    for name, start in [("Calm", 34.0), ("Soon", 14.5), ("Dry", 12.0)]:
        fill_days(at[name], 25, start_litres=start)
    fill_days(at["Frosted"], 10, start_litres=34, until=1.1)
    at["Frosted"].level(0.1, level_cm=47, signs=["frost"])
    manager.ok("POST", f"{at['Gone'].path}/retire", {"reason": "sold"})
    items = technician.ok("GET", "/api/nitrogen")["items"]
    assert [item["tank_name"] for item in items] == ["Frosted", "Dry", "Soon", "Unread", "Calm"]
    by_name = {item["tank_name"]: item for item in items}
    assert by_name["Dry"]["below_minimum"] is True
    assert by_name["Frosted"]["state"] == "failing"
    assert by_name["Unread"]["litres"] is None
    for name in ("Calm", "Soon"):
        one = at[name].nitrogen()
        again = by_name[name]
        assert again["reaches_minimum_on"] == one["reaches_minimum_on"]
        assert again["litres"] == pytest.approx(one["litres"], abs=0.01)


def test_a_tanks_past_and_what_is_to_be_expected(at_tank: AtTank) -> None:
    fill_days(at_tank, 40, start_litres=20, loss=0.25, until=0.3)
    wild = at_tank.level(12.5, level_cm=3)
    wrong = at_tank.level(5.5, level_cm=44)
    at_tank.strike("levels", wrong["id"])
    filled = at_tank.top_up(0.2, litres_added=8)
    past = at_tank.client.ok("GET", f"{at_tank.path}/nitrogen/history?days=30")
    readings = past["readings"]
    assert [one["at"] for one in readings] == sorted(one["at"] for one in readings)
    assert len(readings) == 30 + 2
    assert [one["id"] for one in readings if one["struck"]] == [wrong["id"]]
    assert [one["id"] for one in readings if one["questioned"]] == [wild["id"]]
    assert [(one["id"], one["litres_added"], one["struck"]) for one in past["top_ups"]] == [
        (filled["id"], 8, False)
    ]
    fan = past["forecast"]
    assert all(one["litres_low"] <= one["litres"] <= one["litres_high"] for one in fan)
    assert fan[0]["litres"] > fan[-1]["litres"]
    assert fan[-1]["litres_high"] - fan[-1]["litres_low"] > (
        fan[0]["litres_high"] - fan[0]["litres_low"]
    )
    now = at_tank.nitrogen()
    assert fan[0]["litres"] == pytest.approx(now["litres"], abs=0.5)
    losses = past["losses"]
    assert losses
    assert all(one["loss_low"] <= one["loss_litres_per_day"] <= one["loss_high"] for one in losses)
    assert past["minimum_litres"] == now["minimum_litres"]
    assert past["reaches_minimum_on"] == now["reaches_minimum_on"]


def test_the_past_of_a_tank_that_nobody_read_is_empty(at_tank: AtTank) -> None:
    past = at_tank.client.ok("GET", f"{at_tank.path}/nitrogen/history")
    assert (past["readings"], past["top_ups"], past["forecast"], past["losses"]) == ([],) * 4


def test_a_tank_that_loses_its_vacuum_is_failing_and_says_since_when(at_tank: AtTank) -> None:
    litres, chance = 34.0, random.Random(11)
    for day in range(70):
        cm = 25 + (litres - 16.5) / 0.74 if litres > 16.5 else litres / 0.66
        at_tank.level(69 - day + 0.1, level_cm=round(cm + chance.gauss(0, 0.4), 1))
        litres -= 0.2 if day < 62 else 1.2
    found = at_tank.nitrogen()
    assert found["state"] == "failing", found["why"]
    assert found["loss_litres_per_day"] == pytest.approx(1.2, rel=0.3)
    changed = datetime.fromisoformat(found["changed_at"])
    assert abs(changed - (at_tank.now - timedelta(days=7))) < timedelta(days=4)
    assert found["settled_loss_litres_per_day"] == pytest.approx(0.2, abs=0.05)


def test_moments_are_in_utc(at_tank: AtTank) -> None:
    at_tank.level(1, level_cm=30)
    found = at_tank.nitrogen()
    for name in ("as_of", "last_read_at"):
        assert datetime.fromisoformat(found[name]).tzinfo == UTC
        assert found[name].endswith("Z")
