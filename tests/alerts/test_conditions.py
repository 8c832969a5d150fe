"""Each kind of alert: what raises it, what does not, and what ends it."""

from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest

from service.alerts import cards, nitrogen_conditions, service_conditions
from service.alerts.nitrogen_conditions import Mark
from service.backups.automatic import Standing
from service.ledger.check import Soundness
from tests import building
from tests.alerts.watched import Watched
from tests.nitrogen.station import TUESDAY


def kinds(station: Watched) -> set[str]:
    return {alert["kind"] for alert in station.alerts()}


def test_at_a_station_where_all_is_well_there_is_no_alert(station: Watched) -> None:
    tank = station.tank()
    station.read_daily(tank, 30, loss=0.2, days=20)
    station.look()
    assert station.alerts() == []


def test_a_level_below_the_minimum_is_critical_at_once_and_says_what_to_do(
    station: Watched,
) -> None:
    tank = station.tank(minimum=8)
    station.read(tank, 8)
    station.look(seconds=2)
    assert "low-nitrogen" not in kinds(station)  # below, not at
    station.read(tank, 7.5)
    station.look(seconds=2)
    alert = station.alert("low-nitrogen")
    assert (alert["priority"], alert["state"], alert["subject"]) == ("critical", "open", "North")
    assert "Top the tank up now" in alert["what_to_do"]
    assert alert["facts"]["level_cm"] == 7.5
    assert alert["facts"]["tank_id"] == tank["id"]


def test_a_level_that_was_struck_is_no_alert_any_more(station: Watched) -> None:
    tank = station.tank(minimum=8)
    station.read(tank, 20, days_ago=1)
    level = station.read(tank, 6)
    station.look(seconds=2)
    station.acknowledge(station.alert("low-nitrogen"))
    path = f"/api/tanks/{tank['id']}/levels/{level['id']}/strike"
    station.technician.ok("POST", path, {"id": str(uuid4()), "reason": "read in another tank"})
    station.look(minutes=2)
    assert "low-nitrogen" not in kinds(station)


def test_a_top_up_ends_it_and_a_single_reading_just_above_does_not(station: Watched) -> None:
    tank = station.tank(minimum=8)
    station.read(tank, 7)
    station.look()
    station.acknowledge(station.alert("low-nitrogen"))
    station.now += timedelta(hours=1)
    station.read(tank, 8.5)
    station.look(seconds=2)
    assert station.alert("low-nitrogen")["state"] == "acknowledged"
    station.now += timedelta(hours=1)
    station.fill(tank, level_after_cm=30)
    station.look(seconds=2)
    assert "low-nitrogen" not in kinds(station)


def mark(level_cm: float, *, filled: bool = False) -> Mark:
    return Mark(TUESDAY, Decimal(str(level_cm)), filled)


@pytest.mark.parametrize(
    ("known", "expected"),
    [
        ([], None),
        ([mark(7.9)], True),
        ([mark(8)], False),
        ([mark(9)], None),
        ([mark(7.9), mark(9.5)], False),
        ([mark(7.9), mark(9.5), mark(9.4)], None),
        ([mark(7.9), mark(9.5), mark(8.5)], False),
        ([mark(7.9), mark(9.5, filled=True)], None),
        ([mark(7.9), mark(8.5, filled=True)], False),
    ],
)
def test_between_the_limit_and_the_band_nothing_opens_and_nothing_ends(
    known: list[Mark], expected: bool | None
) -> None:
    low = nitrogen_conditions.low(known, minimum_cm=Decimal(8), top_cm=Decimal(50))
    assert low is expected


def test_a_failing_tank_is_critical_and_stands_for_its_next_top_up(station: Watched) -> None:
    tank = station.tank(minimum=8)
    station.read_daily(tank, 9, loss=0.2, days=30)
    station.now += timedelta(hours=1)
    station.read(tank, 8.6, signs=["frost"])
    station.look()
    alert = station.alert("nitrogen-loss-rising")
    assert alert["priority"] == "critical"
    assert alert["facts"]["state"] == "failing"
    assert kinds(station) == {"nitrogen-loss-rising"}


def test_a_tank_that_cannot_wait_for_the_next_day_of_filling_is_told_of(station: Watched) -> None:
    station.plan(fill_weekdays=[0])  # the next Monday is six days away
    tank = station.tank(minimum=8)
    station.read_daily(tank, 9.2, loss=0.3, days=30)
    station.look()
    alert = station.alert("minimum-before-top-up")
    assert "before the next day of filling" in alert["words"]
    assert "top-up-due" not in kinds(station)
    station.acknowledge(alert)
    station.now += timedelta(minutes=5)
    station.fill(tank, level_after_cm=34)
    station.look(seconds=2)
    assert station.alerts() == []


def test_a_tank_that_has_to_be_filled_on_todays_round_is_told_of(station: Watched) -> None:
    station.plan(fill_weekdays=[1])  # Tuesdays: today, and in a week
    tank = station.tank(minimum=8)
    station.read_daily(tank, 9.5, loss=0.3, days=30)
    station.tank("Full one", minimum=8)
    station.look()
    assert station.alert("top-up-due")["subject"] == tank["name"]


def test_a_tank_that_nobody_reads_is_told_of_until_somebody_does(station: Watched) -> None:
    tank = station.tank()
    station.read_daily(tank, 30, loss=0.2, days=20)
    station.look(days=7)
    assert "level-overdue" not in kinds(station)
    station.look(days=1)
    station.acknowledge(station.alert("level-overdue"))
    station.read(tank, 28)
    station.look(seconds=2)
    assert "level-overdue" not in kinds(station)


def test_low_stock_goes_by_the_stallions_own_limit(station: Watched) -> None:
    stallion = station.low_stallion(limit=2, doses=2)
    station.look()
    assert station.alerts(kind="low-stock") == []  # not below
    body = building.withdrawal(
        stallion["id"],
        picks=[
            {
                "goblet_id": stallion["goblet_id"],
                "batch_id": stallion["freeze"]["batch"]["id"],
                "straws": 4,
            }
        ],
    )
    station.technician.ok("POST", "/api/withdrawals", body)
    station.look(seconds=2)
    alert = station.alert("low-stock")
    assert (alert["facts"]["doses"], alert["facts"]["low_stock_doses"]) == (1, 2)
    assert alert["owner"] == "manager"


def test_a_stallion_without_straws_is_low_only_if_he_ever_had_some(station: Watched) -> None:
    station.manager.ok("POST", "/api/stallions", building.stallion("Never", low_stock_doses=3))
    had = station.low_stallion(limit=1, doses=1)
    pick = {
        "goblet_id": had["goblet_id"],
        "batch_id": had["freeze"]["batch"]["id"],
        "straws": 4,
    }
    discard = {"id": str(uuid4()), "picks": [pick], "reason": "dry tank"}
    station.technician.ok("POST", "/api/discards", discard)
    station.look()
    assert station.alert("low-stock")["facts"]["stallion_id"] == had["id"]


def test_a_hold_that_ends_is_told_once_and_is_no_ones_burden(station: Watched) -> None:
    stallion = station.low_stallion(limit=0)
    batch = stallion["freeze"]["batch"]["id"]
    body = {"id": str(uuid4()), "reason": "waits for EVA", "until": "2026-03-05"}
    station.technician.ok("POST", f"/api/batches/{batch}/hold", body)
    station.look(days=1)
    assert "hold-ended" not in kinds(station)
    station.look(days=1)
    alert = station.alert("hold-ended")
    assert alert["priority"] == "low"
    assert "waits for EVA" in alert["words"]
    station.look(days=15)
    assert "hold-ended" not in kinds(station)


def test_straws_that_are_out_for_hours_are_told_of_until_something_is_recorded(
    station: Watched,
) -> None:
    stallion = station.low_stallion(limit=0)
    pick = {
        "goblet_id": stallion["goblet_id"],
        "batch_id": stallion["freeze"]["batch"]["id"],
        "straws": 4,
    }
    taken = station.technician.ok(
        "POST", "/api/withdrawals", building.withdrawal(stallion["id"], picks=[pick])
    )
    station.look(hours=5)
    assert "straws-out-too-long" not in kinds(station)
    station.look(hours=1)
    alert = station.alert("straws-out-too-long")
    assert "4 straws" in alert["words"]
    assert "Bramblewick" in alert["words"]
    station.acknowledge(alert, "vet")
    used = {
        "id": str(uuid4()),
        "inseminated_at": station.now.isoformat(),
        "straws_used": 4,
    }
    station.technician.ok("POST", f"/api/withdrawals/{taken['id']}/insemination", used)
    station.look(seconds=2)
    assert "straws-out-too-long" not in kinds(station)


def test_a_stallion_who_runs_out_soon_is_told_of_with_an_interval(station: Watched) -> None:
    station.settings(run_out_days=365)
    stallion = station.low_stallion(limit=0, doses=12)
    station.now += timedelta(days=300)
    pick = {
        "goblet_id": stallion["goblet_id"],
        "batch_id": stallion["freeze"]["batch"]["id"],
        "straws": 4,
    }
    for _ in range(9):
        station.look(days=7)
        body = building.withdrawal(stallion["id"], picks=[pick])
        station.technician.ok("POST", "/api/withdrawals", body)
    station.look(days=1)
    alert = station.alert("run-out-forecast")
    facts = alert["facts"]
    assert facts["doses"] == 3
    assert facts["earliest_on"] <= facts["runs_out_on"] <= facts["latest_on"]
    shown = station.manager.ok("GET", f"/api/stallions/{stallion['id']}/run-out")
    assert shown["runs_out_on"] == facts["runs_out_on"]
    assert len(shown["course"]) == 18


def test_when_the_watch_did_not_run_for_an_hour_that_is_told_afterwards(station: Watched) -> None:
    station.look()
    station.look(hours=1)
    alert = station.alert("service-heartbeat")
    assert alert["facts"]["hours"] == 1
    station.look(hours=13)
    station.look(seconds=2)
    assert station.alert("service-heartbeat")["facts"]["hours"] == 13


def a_stock_take_short_of(station: Watched, straws: int) -> Any:
    """A goblet of eight straws is counted, so many short, and compared."""
    stallion = station.low_stallion(limit=0)
    auditor = station.person("auditor")
    scope = {"goblet_ids": [stallion["goblet_id"]]}
    take = auditor.ok("POST", "/api/stock-takes", {"scope": scope})
    path = f"/api/stock-takes/{take['id']}"
    seen = {"batch_id": stallion["freeze"]["batch"]["id"], "straws": 8 - straws}
    count = {"goblet_id": stallion["goblet_id"], "batches": [seen]}
    station.technician.ok("POST", f"{path}/counts", count)
    auditor.ok("POST", f"{path}/compare", {})
    return path, {**count, "batch_id": seen["batch_id"]}


def test_what_a_stock_take_found_is_told_until_it_is_dealt_with(station: Watched) -> None:
    path, count = a_stock_take_short_of(station, 2)
    station.look()
    alert = station.alert("stock-difference")
    assert (alert["facts"]["missing"], alert["facts"]["surplus"]) == (2, 0)
    body = {
        "goblet_id": count["goblet_id"],
        "batch_id": count["batch_id"],
        "difference": -2,
        "reason_code": "unexplained",
        "note": "Nobody knows",
    }
    made = station.person("auditor").ok("POST", f"{path}/adjustments", body)
    station.manager.ok("POST", f"{path}/adjustments/{made['id']}/approve", {})
    station.acknowledge(alert)
    station.look(seconds=2)
    assert station.alerts(kind="stock-difference") == []
    plan = station.manager.get("/api/stock-take-plan")
    station.manager.patch(
        "/api/stock-take-plan",
        json={"unexplained_straws_a_year": 1},
        headers={"If-Match": plan.headers["etag"]},
    )
    station.look(seconds=2)
    assert station.alert("stock-difference")["facts"]["straws"] == 2


def machine(**facts: Any) -> Any:
    standing = Standing(
        folder_set=True,
        every_hours=1,
        overdue=facts.get("overdue", False),
        overdue_since=None,
        last_failure=None,
        items=[],
    )
    sound = Soundness(entries=3, head="0" * 64, problems=facts.get("problems", []))
    return service_conditions.Machine(standing, sound, facts.get("folder"))


def test_a_book_that_is_not_sound_and_a_backup_that_is_late_are_told_of() -> None:
    found = service_conditions.find_around(
        machine(overdue=True, problems=["entry 2 is not what was written"])
    )
    told = {finding.kind: finding for finding in found}
    assert set(told) == {"backup-overdue", "ledger-not-sound"}
    assert told["ledger-not-sound"].priority == "critical"
    assert "entry 2" in told["ledger-not-sound"].words


@pytest.mark.parametrize(
    ("free", "expected"),
    [(50, None), (16, ("medium", False)), (14, ("medium", True)), (4, ("critical", True))],
)
def test_a_disk_that_fills_is_told_of_before_it_is_full(
    free: int, expected: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    usage = SimpleNamespace(total=100, used=100 - free, free=free)
    monkeypatch.setattr(service_conditions.shutil, "disk_usage", lambda _: usage)
    found = service_conditions.find_around(machine(folder=tmp_path))
    assert [(one.priority, one.opens) for one in found] == ([] if expected is None else [expected])


def test_a_kind_without_a_card_stops_the_start(monkeypatch: pytest.MonkeyPatch) -> None:
    cards.refuse_kinds_without_card()
    without = {kind: card for kind, card in cards.CARDS.items() if kind != "low-stock"}
    monkeypatch.setattr(cards, "CARDS", without)
    with pytest.raises(RuntimeError, match="low-stock have no card"):
        cards.refuse_kinds_without_card()
