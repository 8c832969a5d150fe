"""The station's record: its defaults, what it may say, and what it said before."""

from datetime import UTC, date, datetime
from typing import Any

import pytest

from service.bank.store import Station, today_at
from tests import building
from tests.bank.changing import change, refused_change
from tests.banks import Bank
from tests.conftest import Client

PATH = "/api/station"


def test_a_new_book_has_a_station(technician: Client) -> None:
    station = technician.ok("GET", PATH)
    assert station["time_zone"] == "UTC"
    assert station["level_unit"] == "cm"
    assert station["country"] is None
    # Directive 92/65/EEC Annex D as amended by Regulation (EU) 176/2010, from memory.
    assert (station["days_in_store"], station["required_tests"]) == (30, ["EIA", "EVA", "CEM"])


def test_a_manager_changes_it_and_the_old_values_stay_readable(manager: Client) -> None:
    before = manager.ok("GET", PATH)
    changes = {
        "name": "Quillhaven Stallion Station",
        "country": "ie",
        "approval_number": "IE-EQ-0042",
        "time_zone": "Europe/Dublin",
        "mark_date_format": "yy.mm.dd",
        "level_unit": "litres",
        "days_in_store": 90,
        "required_tests": ["EVA", "CEM first", "CEM second"],
    }
    after = change(manager, PATH, changes)
    assert after == before | changes | {"country": "IE"}
    assert manager.ok("GET", PATH) == after
    [kept] = manager.ok("GET", f"{PATH}/changes")["items"]
    assert kept["before"] == {name: before[name] for name in changes}
    assert kept["after"] == {name: after[name] for name in changes}
    assert kept["changed_by"] == "The manager"


def test_no_days_and_no_tests_may_be_asked_for(manager: Client) -> None:
    after = change(manager, PATH, {"days_in_store": 0, "required_tests": []})
    assert (after["days_in_store"], after["required_tests"]) == (0, [])


def test_what_stands_on_labels_is_said_before_anybody_sets_it(technician: Client) -> None:
    station = technician.ok("GET", PATH)
    # Commission Delegated Regulation (EU) 2020/686, Article 10 (OJ L 174, 2020).
    assert station["required_marks"] == [
        *("collected_on", "species", "donor_identity", "approval_number")
    ]
    assert (station["species_mark"], station["label_style"]) == ("EQUINE", "strip")
    # Straws sold as 0.5 mL are 2.8 mm thick (ICAR-IASRI e-course on semen production).
    assert station["straw_diameter_mm"] == 2.8


def test_how_labels_are_made_is_set_and_the_old_ways_stay_readable(manager: Client) -> None:
    changes = {
        "required_marks": ["breed", "collected_on"],
        "species_mark": "Equus caballus",
        "label_style": "flag",
        "printer_dpi": 203,
        "straw_diameter_mm": 2.05,
        "strip_length_mm": 45.5,
        "strip_form": "band",
        "strip_symbol": False,
    }
    before = manager.ok("GET", PATH)
    assert {name for name in changes if before[name] == changes[name]} == set()
    assert change(manager, PATH, changes) == before | changes
    [kept] = manager.ok("GET", f"{PATH}/changes")["items"]
    assert set(kept["before"]) == set(kept["after"]) == set(changes)


def test_a_freeze_takes_its_place_and_number_from_the_station(
    manager: Client, technician: Client, bank: Bank
) -> None:
    change(manager, PATH, {"name": "Fellgate Stud", "approval_number": "IE-EQ-0042"})
    placed = [(bank.goblets[1]["id"], 8)]
    here = building.freeze(bank.stallion["id"], placed)
    elsewhere = building.freeze(bank.stallion["id"], placed, collected_where="Another stud")
    told = []
    for body in (here, elsewhere):
        made = technician.ok("POST", "/api/freezes", body)
        batch = technician.ok("GET", f"/api/batches/{made['batch']['id']}")
        told.append((batch["collected_where"], batch["approval_number"]))
    assert told == [("Fellgate Stud", "IE-EQ-0042"), ("Another stud", None)]


def test_what_is_left_out_stays_and_null_clears(manager: Client) -> None:
    change(manager, PATH, {"country": "IE", "approval_number": "IE-EQ-0042"})
    after = change(manager, PATH, {"approval_number": None})
    assert (after["country"], after["approval_number"]) == ("IE", None)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"time_zone": "Europe/Quillhaven"}, "bad-time-zone"),
        ({"time_zone": "../../etc/passwd"}, "bad-time-zone"),
        ({"time_zone": "Factory"}, "bad-time-zone"),
        ({"time_zone": "localtime"}, "bad-time-zone"),
        ({"time_zone": "europe/dublin"}, "bad-time-zone"),
        ({"country": "QQ"}, "bad-country"),
        ({"country": "IRL"}, "bad-country"),
        ({"mark_date_format": "yyddd"}, "invalid"),
        ({"level_unit": "inches"}, "invalid"),
        ({"days_in_store": -1}, "invalid"),
        ({"days_in_store": 3_651}, "invalid"),
        ({"days_in_store": 30.5}, "invalid"),
        ({"days_in_store": "30"}, "invalid"),
        ({"days_in_store": None}, "invalid"),
        ({"required_tests": None}, "invalid"),
        ({"required_tests": "EIA"}, "invalid"),
        ({"required_tests": [""]}, "invalid"),
        ({"required_tests": ["EIA"] * 21}, "invalid"),
        ({"required_tests": ["CEM first", "cem  First"]}, "same-test-twice"),
        ({"required_marks": None}, "invalid"),
        ({"required_marks": ["colour"]}, "invalid"),
        ({"required_marks": ["species", "species"]}, "same-mark-twice"),
        ({"species_mark": None}, "invalid"),
        ({"species_mark": "  "}, "invalid"),
        ({"species_mark": "x" * 21}, "invalid"),
        ({"label_style": "plate"}, "invalid"),
        ({"printer_dpi": 204}, "invalid"),
        ({"printer_dpi": "203"}, "invalid"),
        ({"straw_diameter_mm": 1.4}, "invalid"),
        ({"straw_diameter_mm": "4.01"}, "invalid"),
        ({"straw_diameter_mm": "NaN"}, "invalid"),
        ({"strip_length_mm": 29.9}, "invalid"),
        ({"strip_length_mm": 131}, "invalid"),
        ({"strip_form": "spiral"}, "invalid"),
        ({"strip_symbol": "yes"}, "invalid"),
        ({"strip_symbol": 1}, "invalid"),
        ({"name": None}, "invalid"),
        ({"name": "  "}, "invalid"),
        ({"name": "\u200f"}, "invalid"),
        ({"name": "x" * 121}, "invalid"),
        ({"stallions": 3}, "invalid"),
    ],
)
def test_what_a_station_cannot_say_is_refused(
    manager: Client, changes: dict[str, Any], code: str
) -> None:
    before = manager.ok("GET", PATH)
    refused_change(manager, PATH, changes, 422, code)
    assert manager.ok("GET", PATH) == before
    assert manager.ok("GET", f"{PATH}/changes")["items"] == []


@pytest.mark.parametrize(
    # Commission Implementing Regulation (EU) 2020/999, Annex (OJ L 221, 2020).
    "written",
    ["ddmmyy", "yymmdd", "dd/mm/yy", "yy/mm/dd", "dd.mm.yy", "yy.mm.dd"],
)
def test_every_permitted_way_to_write_a_date_is_offered(manager: Client, written: str) -> None:
    assert change(manager, PATH, {"mark_date_format": written})["mark_date_format"] == written


def test_a_change_says_what_it_starts_from(manager: Client) -> None:
    stale = manager.get(PATH).headers["etag"]
    manager.refused("PATCH", PATH, {"name": "A"}, 428, "if-match-required")
    change(manager, PATH, {"name": "A"})
    answer = manager.patch(PATH, json={"name": "B"}, headers={"If-Match": stale})
    assert (answer.status_code, answer.json()["code"]) == (412, "stale")
    assert answer.json()["current"]["name"] == "A"
    assert manager.ok("GET", PATH)["name"] == "A"


def test_a_change_that_changes_nothing_is_not_kept(manager: Client) -> None:
    before = manager.ok("GET", PATH)
    change(manager, PATH, {"name": before["name"]})
    change(manager, PATH, {})
    assert manager.ok("GET", f"{PATH}/changes")["items"] == []


def test_the_history_comes_in_pages_newest_first(manager: Client) -> None:
    for name in ("A", "B", "C"):
        change(manager, PATH, {"name": name})
    first = manager.ok("GET", f"{PATH}/changes?limit=2")
    assert [item["after"]["name"] for item in first["items"]] == ["C", "B"]
    change(manager, PATH, {"name": "D"})
    rest = manager.ok("GET", f"{PATH}/changes?limit=2&after={first['next']}")
    assert [item["after"]["name"] for item in rest["items"]] == ["A"]
    assert rest["next"] is None


@pytest.mark.parametrize("after", ["W10", "WyJhIl0", "bm90IGpzb24", "%00", "WzEsMl0"])
def test_a_page_marker_of_someone_elses_is_refused(manager: Client, after: str) -> None:
    """An empty key, a word for a number, no JSON, no base64, two parts instead of one."""
    answer = manager.get(f"{PATH}/changes?after={after}")
    assert (answer.status_code, answer.json()["code"]) == (422, "bad-cursor")


@pytest.mark.parametrize(
    ("zone", "moment", "day"),
    [
        ("UTC", datetime(2026, 3, 3, 23, 59, tzinfo=UTC), date(2026, 3, 3)),
        ("Europe/Berlin", datetime(2026, 3, 3, 23, 0, tzinfo=UTC), date(2026, 3, 4)),
        ("America/Denver", datetime(2026, 3, 3, 5, 0, tzinfo=UTC), date(2026, 3, 2)),
        ("Pacific/Kiritimati", datetime(2026, 3, 3, 10, 0, tzinfo=UTC), date(2026, 3, 4)),
    ],
)
def test_today_is_the_day_on_the_stations_own_wall(zone: str, moment: datetime, day: date) -> None:
    station = Station(name="A", time_zone=zone, mark_date_format="dd.mm.yy", level_unit="cm")
    assert today_at(station, moment) == day


@pytest.mark.parametrize(
    ("zone", "moment", "day_before", "day"),
    [
        ("America/Denver", "2026-03-04T03:00:00Z", "2026-03-02", "2026-03-03"),
        ("Pacific/Auckland", "2026-03-03T20:00:00Z", "2026-03-03", "2026-03-04"),
    ],
)
def test_days_of_acts_are_those_of_the_stations_clocks(
    manager: Client, bank: Bank, zone: str, moment: str, day_before: str, day: str
) -> None:
    """A collection and an insemination, each on another day by UTC."""
    change(manager, PATH, {"time_zone": zone})
    placed = [(bank.goblets[1]["id"], 8)]
    body = building.freeze(bank.stallion["id"], placed, collected_at=moment, occurred_at=moment)
    batch_id = manager.ok("POST", "/api/freezes", body)["batch"]["id"]
    assert manager.ok("GET", f"/api/batches/{batch_id}")["collected_on"] == day

    pick = {"goblet_id": bank.goblets[1]["id"], "batch_id": batch_id, "straws": 4}
    taken = manager.ok(
        "POST", "/api/withdrawals", bank.withdrawal(picks=[pick], occurred_at=moment)
    )
    used = {"inseminated_at": moment, "straws_used": 4, "occurred_at": moment}
    made = manager.ok("POST", f"/api/withdrawals/{taken['id']}/insemination", used)
    path = f"/api/inseminations/{made['id']}/outcome"
    outcome = {"checked_on": day_before, "pregnant": True}
    manager.refused("POST", path, outcome, 422, "wrong-day")
    manager.ok("POST", path, outcome | {"checked_on": day})
