"""The oxygen in a room over HTTP: the promised figures, by its own tanks, and what is said."""

from typing import Any

import pytest

from tests import building
from tests.bank.changing import change
from tests.conftest import Client

PROMISED = {
    *("evaporation_m3_per_hour", "steady_percent", "hours_to_19_5_percent", "filling_percent"),
    *("spill_percent", "full_loss_percent", "formulas", "assumptions", "thresholds", "caution"),
}


def room(client: Client, **more: Any) -> Any:
    body = {"name": "Cold store", "volume_m3": 36, "air_changes_per_hour": "0.4"}
    usual = {"ventilation": "exhaust", "expansion_ratio": 700, "oxygen_percent": 21}
    return client.ok("POST", "/api/rooms", body | usual | more, status=201)


def tank(client: Client, room: Any, name: str, *, litres: float, loss: float) -> Any:
    table = [{"level_cm": 0, "litres": 0}, {"level_cm": 50, "litres": litres}]
    body = building.tank(name) | {
        "capacity_litres": litres,
        "rated_loss_litres_per_day": loss,
        "calibration": table,
        "room_id": room["id"],
    }
    return client.ok("POST", "/api/tanks", body, status=201)


def oxygen(client: Client, room: Any) -> Any:
    return client.ok("GET", f"/api/rooms/{room['id']}/oxygen")


def words(found: Any, field: str = "may_enter_words") -> str:
    return " ".join(found[field])


def test_five_vessels_in_a_small_room(manager: Client, auditor: Client) -> None:
    """University of Oxford, Policy Statement S4/03, Appendix 1; releases by our own arithmetic."""
    made = room(manager)
    for number in range(5):
        tank(manager, made, f"Tank {number}", litres=10, loss=0.15)
    found = oxygen(auditor, made)
    assert found.keys() >= PROMISED
    assert found["evaporation_m3_per_hour"] == pytest.approx(0.04375)
    assert 21 - found["steady_percent"] == pytest.approx(0.0638, abs=5e-5)
    assert found["hours_to_19_5_percent"] is None
    assert found["filling_percent"] == pytest.approx(20.592, abs=5e-4)
    assert found["spill_percent"] == pytest.approx(16.917, abs=5e-4)
    assert found["full_loss_percent"] == 0, "55 L become 38.5 m³, more than the room holds"
    assert [one["tank_name"] for one in found["tanks"]] == [f"Tank {n}" for n in range(5)]
    assert "20.9 %" in words(found)
    assert "16.9 %" in words(found)


def test_the_largest_tank_spills_and_all_are_lost_at_once(manager: Client) -> None:
    made = room(manager, volume_m3=100)
    tank(manager, made, "Small", litres=20, loss=0.1)
    tank(manager, made, "Large", litres=50, loss=0.3)
    elsewhere = manager.ok("POST", "/api/tanks", building.tank("Elsewhere"))
    found = oxygen(manager, made)
    assert found["evaporation_m3_per_hour"] == pytest.approx(2 * 0.4 * 700 / 24_000)
    assert found["filling"]["litres"] == pytest.approx(5)
    assert found["spill"]["litres"] == 50
    assert found["full_loss"]["litres"] == pytest.approx(77)
    assert found["full_loss_percent"] == pytest.approx(21 * (100 - 53.9) / 100)
    assert elsewhere["id"] not in {one["tank_id"] for one in found["tanks"]}
    change(manager, f"/api/tanks/{elsewhere['id']}", {"room_id": made["id"]})
    assert oxygen(manager, made)["full_loss"]["litres"] == pytest.approx(1.1 * 105)


def test_a_retired_tank_gives_nothing_off(manager: Client) -> None:
    made = room(manager)
    gone = tank(manager, made, "North", litres=10, loss=0.15)
    manager.ok("POST", f"/api/tanks/{gone['id']}/retire", {"reason": "worn out"}, status=201)
    found = oxygen(manager, made)
    assert (found["tanks"], found["evaporation_m3_per_hour"]) == ([], 0)
    assert (found["spill_percent"], found["steady_percent"]) == (21, 21)
    assert "no tank stands" in words(found)


def test_without_ventilation_the_hours_matter(manager: Client) -> None:
    made = room(manager, ventilation="none", air_changes_per_hour=0)
    tank(manager, made, "North", litres=10, loss=0.75)
    found = oxygen(manager, made)
    assert found["steady_percent"] is None
    # V / R × ln(c0 / 19.5), R = 0.04375 m³ per hour.
    assert found["hours_to_19_5_percent"] == pytest.approx(60.98, abs=0.01)
    assert found["spill"]["recovery_minutes"] is None
    assert "Nothing airs this room" in words(found)
    percents = [point["percent"] for point in found["curves"]["evaporation"]]
    assert percents == sorted(percents, reverse=True)
    assert percents[-1] < 19.5 < percents[0] == 21
    changed = change(manager, f"/api/rooms/{made['id']}", {"ventilation": "supply"})
    assert oxygen(manager, changed)["steady_percent"] is None, "that fan stands still"


@pytest.mark.parametrize(("ventilation", "percent"), [("supply", 19.5), ("exhaust", 19.38)])
def test_too_little_ventilation_is_said_at_once(
    manager: Client, ventilation: str, percent: float
) -> None:
    # 1.10769 m³ of gas an hour: 18.989 L a day by its rating, doubled.
    made = room(manager, ventilation=ventilation)
    tank(manager, made, "North", litres=40, loss=1.10769 * 24_000 / 700 / 2)
    found = oxygen(manager, made)
    assert found["steady_percent"] == pytest.approx(percent, abs=6e-3)
    assert ("Do not go in" in words(found)) is (found["steady_percent"] < 19.5)
    assert (found["hours_to_19_5_percent"] is None) is (found["steady_percent"] >= 19.5)


def test_the_room_recovers_by_its_fan(manager: Client) -> None:
    made = room(manager)
    tank(manager, made, "North", litres=10, loss=0.001)
    found = oxygen(manager, made)
    # From 16.917 % at 0.4 an hour: ln(4.083 / 1.5) / 0.4 hours, nearly.
    assert found["spill"]["recovery_minutes"] == pytest.approx(150.2, abs=0.1)
    assert found["filling"]["recovery_minutes"] == 0
    spill = found["curves"]["spill"]
    assert spill[0] == {"hours": 0, "percent": found["spill_percent"]}
    assert spill[-1]["percent"] == pytest.approx(21, abs=0.03)


def test_who_says_what_stands_beside_each_level(manager: Client) -> None:
    found = oxygen(manager, room(manager))
    assert all(one["source"] and one["meaning"] for one in found["thresholds"])
    percents = [one["percent"] for one in found["thresholds"]]
    assert percents == sorted(percents, reverse=True)
    assert {19.5, 19, 18, 14} == set(percents)
    assert any("29 CFR 1910.146" in one["source"] for one in found["thresholds"])
    alarm = words(found, "alarm_words")
    assert "Warn at 19.5 %" in alarm
    assert "At 18 %" in alarm
    for part in ("estimate", "perfectly mixed", "no substitute", "competent person"):
        assert part in found["caution"]


def test_every_figure_names_its_formula_and_every_parameter_its_source(manager: Client) -> None:
    found = oxygen(manager, room(manager))
    figures = {one["figure"] for one in found["formulas"]}
    assert figures >= {name for name in PROMISED if "percent" in name or "m3" in name}
    assumed = {one["name"]: one["value"] for one in found["assumptions"]}
    assert assumed["expansion_ratio"] == 700
    assert assumed["oxygen_percent"] == 21
    assert assumed["ageing_factor"] == 2
    assert assumed["ventilation"] == "exhaust"
    assert all(one["source"] for one in [*found["formulas"], *found["assumptions"]])
