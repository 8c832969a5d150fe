"""A batch held at its freeze until its tests are answered; what each person did; the station."""

import re
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import expect

from tests import building
from tests.journeys.conftest import Screen, Station

Screens = Callable[..., Screen]


def today(zone: str = "Europe/Dublin") -> Any:
    """Today on the station's own clocks."""
    return datetime.now(ZoneInfo(zone)).date()


@pytest.fixture
def emberfold(station: Station) -> Any:
    """A stallion with nothing in the bank."""
    return station.vet.ok("POST", "/stallions", building.stallion("Emberfold"))


def _freeze_on_hold(screen: Screen, stallion: Any) -> str:
    """Eight straws, held until they are long enough in store; gives the batch's id."""
    page = screen.page
    screen.open("/freeze/new")
    page.get_by_label("Stallion").select_option(label=stallion["name"])
    collection = page.get_by_role("group", name="The collection")
    collection.get_by_label(re.compile("^Gel-free volume")).fill("60")
    collection.get_by_label(re.compile("^Concentration")).fill("200")
    collection.get_by_label(re.compile("^Progressive motility")).fill("70")
    page.get_by_role("group", name="The straws").get_by_label(re.compile("^In the straw")).fill(
        "200"
    )
    page.get_by_label("Straws to store").fill("8")
    page.get_by_text("Hold, note and other details").click()
    page.get_by_role("button", name="30 days from collection").click()
    expect(page.get_by_label("Hold until")).to_have_value(str(today() + timedelta(days=30)))
    expect(page.get_by_text("All 8 straws have a place.")).to_be_visible()
    page.get_by_role("button", name="Book 8 straws").click()
    expect(page.get_by_text("8 straws booked")).to_be_visible()
    found = re.search(r"/batches/([0-9a-f-]+)", page.url)
    assert found
    return found[1]


def _told(screen: Screen, words: str) -> None:
    """It stands on the page (a screen reader is told it beside the page)."""
    expect(screen.page.locator("#main").get_by_text(words)).to_be_visible()


def _record(screen: Screen, test: str, result: str) -> None:
    """A test sampled today; waits until the table has it."""
    page = screen.page
    page.locator("summary", has_text="Record a test").click()
    page.get_by_label("Test", exact=True).fill(test)
    page.get_by_label("Sampled on").fill(str(today()))
    page.get_by_role("radio", name=result).check()
    page.get_by_role("button", name="Record a test").click()
    row = page.get_by_role("row", name=re.compile(f"^{test}", re.IGNORECASE))
    expect(row).to_contain_text(result.lower())
    _told(screen, "The test is recorded.")


def test_a_batch_is_held_at_its_freeze_tested_released_by_the_vet_and_planned(
    screen_of: Screens, station: Station, emberfold: Any
) -> None:
    technician = screen_of("technician")
    batch_id = _freeze_on_hold(technician, emberfold)
    plan = {"stallion_id": emberfold["id"], "doses": 1}
    refused = station.vet.client.post("/api/withdrawals/plan", json=plan)
    assert (refused.status_code, refused.json()["code"]) == (409, "not-enough-straws")

    technician.open(f"/batches/{batch_id}")
    expect(technician.page.get_by_text("On hold until").first).to_be_visible()
    expect(technician.page.get_by_text("A vet or a manager can release it.")).to_be_visible()
    for test in ("EIA", "EVA"):
        _record(technician, test, "Negative")
    _record(technician, "cem", "Awaited")
    _told(technician, "Lacking: 30 days in store, a negative CEM.")

    vet = screen_of("vet")
    vet.open(f"/batches/{batch_id}")
    vet.page.locator("summary", has_text="Release this batch").click()
    vet.page.get_by_label("Reason").first.fill("For our own mares only")
    vet.page.get_by_role("button", name="Release this batch").click()
    _told(vet, "The batch is released.")
    for told in ("0 of 30 days in store since collection", "Not answered yet: CEM."):
        _told(vet, told)
    _told(vet, "Not on hold: doses may be planned from it.")

    vet.open("/dose")
    vet.page.get_by_label("Stallion").select_option(label="Emberfold")
    vet.page.get_by_label("Her name, or a part of it").fill("Brindle")
    vet.page.get_by_role("radio", name="Brindlewick").check()
    vet.page.get_by_role("button", name="Show the plan").click()
    expect(vet.page.locator("main h1")).to_have_text("Emberfold for Brindlewick")
    assert station.vet.ok("GET", "/ledger/check")["sound"] is True


def test_a_positive_test_asks_for_a_hold_and_its_release_for_a_second_reason(
    screen_of: Screens, station: Station
) -> None:
    goblet = building.goblets_of(station.tank)[4]["id"]
    made = station.technician.ok(
        "POST", "/freezes", building.freeze(station.moss["id"], [(goblet, 8)])
    )
    batch_id = made["batch"]["id"]
    vet = screen_of("vet")
    vet.open(f"/batches/{batch_id}")
    _record(vet, "EVA", "Positive")
    _told(vet, "is not on hold, so doses are planned from it")
    _told(vet, "Positive: EVA.")

    vet.page.locator("summary", has_text="Hold this batch").click()
    vet.page.get_by_label("Reason").fill("EVA")
    vet.page.get_by_role("button", name="Hold this batch").click()
    _told(vet, "The batch is on hold.")

    vet.page.locator("summary", has_text="Release this batch").click()
    vet.page.get_by_label("Reason").first.fill("Decided with the owner")
    vet.page.get_by_role("button", name="Release this batch").click()
    expect(vet.page.get_by_text("Please fill this in.")).to_be_visible()
    assert station.vet.ok("GET", f"/batches/{batch_id}")["on_hold"] is True
    vet.page.get_by_label("Why it is released although").fill("Vaccinated, titre falling")
    vet.page.get_by_role("button", name="Release this batch").click()
    _told(vet, "The batch is released.")
    assert station.vet.ok("GET", f"/batches/{batch_id}")["on_hold"] is False


def test_the_book_leads_to_what_a_person_did(screen_of: Screens, station: Station) -> None:
    manager = screen_of("manager")
    manager.open("/book")
    manager.page.locator(".entry").get_by_role("link", name="technician").first.click()
    expect(manager.page.get_by_role("heading", name="What they did in the book")).to_be_visible()
    did = manager.page.get_by_role("list", name="What they did in the book").locator(".entry")
    assert did.count() >= 4
    expect(did.get_by_role("link", name="manager", exact=True)).to_have_count(0)
    manager.page.locator("summary", has_text="What happened to their account").click()
    expect(manager.page.get_by_text("signed in").first).to_be_visible()

    ids = {one["username"]: one["id"] for one in station.vet.ok("GET", "/people")["items"]}
    technician = screen_of("technician")
    technician.open(f"/people/{ids['auditor']}")
    expect(technician.page.get_by_text("Nothing of theirs stands in the book yet.")).to_be_visible()
    expect(technician.page.get_by_text("What happened to their account")).to_have_count(0)


def test_the_station_says_what_is_asked_for_and_shows_today_in_every_format(
    screen_of: Screens, station: Station
) -> None:
    manager = screen_of("manager")
    manager.open("/station")
    written = f"yy/mm/dd: today is {today():%y/%m/%d}"
    manager.page.get_by_label("How dates are written").select_option(label=written)
    manager.page.get_by_label("Days in store").fill("14")
    tests = manager.page.get_by_label("Tests that are asked for")
    tests.fill("EVA, CEM first, cem FIRST")
    manager.page.get_by_role("button", name="Save").click()
    expect(manager.page.get_by_text("names cem FIRST twice")).to_be_visible()
    tests.fill("EVA, CEM first")
    manager.page.get_by_role("button", name="Save").click()
    expect(manager.page.get_by_text("Saved.", exact=True)).to_be_visible()
    manager.page.locator("summary", has_text="What was changed").click()
    changed = manager.page.get_by_text("required tests: EIA, EVA, CEM → EVA, CEM first")
    expect(changed).to_be_visible()

    technician = screen_of("technician")
    technician.open("/station")
    expect(technician.page.get_by_text(written)).to_be_visible()
    expect(technician.page.get_by_text("EVA, CEM first")).to_be_visible()
    technician.open("/freeze/new")
    technician.page.get_by_text("Hold, note and other details").click()
    expect(technician.page.get_by_role("button", name="14 days from collection")).to_be_visible()


def test_a_prepared_day_is_the_stations_day_in_the_freeze(
    screen_of: Screens, station: Station
) -> None:
    """On the far side of the date line nine in the morning is the evening before, elsewhere."""
    _in_zone(station, "Pacific/Honolulu")
    day = str(today("Pacific/Honolulu") - timedelta(days=2))
    body = {"stallion_id": station.lantern["id"], "straws_planned": 4, "collected_on": day}
    prepared = station.technician.ok("POST", "/batches", body)["id"]
    screen = screen_of("technician")
    screen.open(f"/freeze/new?batch={prepared}")
    expect(screen.page.get_by_label("Collected at")).to_have_value(f"{day}T09:00")
    _in_zone(station, "Europe/Dublin")


def _in_zone(station: Station, zone: str) -> None:
    etag = station.manager.client.get("/api/station").headers["ETag"]
    answer = station.manager.client.patch(
        "/api/station", json={"time_zone": zone}, headers={"If-Match": etag}
    )
    assert answer.status_code == 200, answer.text
