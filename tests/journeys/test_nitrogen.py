"""Nitrogen in a real browser: a level in a few taps, a strange one asked back, a dying tank."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.journeys.conftest import Screen, Station

Screens = Callable[..., Screen]


def dipped(station: Station, tank: str, days_ago: float, litres: float, **more: Any) -> Any:
    """A level of the past."""
    at = datetime.now(UTC) - timedelta(days=days_ago)
    body = {"measured_at": at.isoformat(timespec="seconds"), "litres": round(litres, 2), **more}
    return station.technician.ok("POST", f"/tanks/{tank}/levels", body)


@pytest.fixture(scope="module")
def tanks(station: Station) -> dict[str, str]:
    """North loses 0.2 litres a day as ever; South did, and loses a litre a day since a week."""
    listed = {one["name"]: one["id"] for one in station.manager.ok("GET", "/tanks")["items"]}
    for day in range(30, 0, -1):
        dipped(station, listed["North"], day, 24 + 0.2 * day)
        lost = 0.2 * (30 - day) if day > 7 else 0.2 * 23 + (7 - day)
        dipped(station, listed["South"], day, 30 - lost)
    return listed


def press(screen: Screen, figure: str) -> None:
    for key in figure:
        screen.page.get_by_role("button", name=key, exact=True).click()


def test_a_level_is_entered_with_a_few_taps(
    screen_of: Screens, station: Station, tanks: dict[str, str]
) -> None:
    screen = screen_of("technician")
    screen.open(f"/bank/tank/{tanks['North']}/dip")
    page = screen.page
    page.get_by_role("button", name="litres", exact=True).click()
    press(screen, "24")
    for button in page.locator(".pad button").all():
        box = button.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 72
    page.get_by_role("button", name="Book this level").click()
    expect(page.get_by_text("24 litres,")).to_be_visible()
    newest = station.technician.ok("GET", f"/tanks/{tanks['North']}/levels?limit=1")["items"][0]
    assert (newest["read_as"], float(newest["litres"])) == ("litres", 24.0)


def test_a_strange_level_is_questioned_and_struck_at_once(
    screen_of: Screens, station: Station, tanks: dict[str, str]
) -> None:
    screen = screen_of("technician")
    screen.open(f"/bank/tank/{tanks['North']}/dip")
    page = screen.page
    page.get_by_role("button", name="litres", exact=True).click()
    press(screen, "8")
    page.get_by_role("button", name="Book this level").click()
    expect(page.get_by_text("Measure again?")).to_be_visible()
    page.get_by_role("button", name="Strike it, and measure again").click()
    expect(page.get_by_role("button", name="Book this level")).to_be_visible()
    listed = station.technician.ok("GET", f"/tanks/{tanks['North']}/levels?limit=3")["items"]
    [struck] = [one for one in listed if one["struck"]]
    assert float(struck["litres"]) == 8.0


def test_nothing_is_booked_without_a_figure(screen_of: Screens, tanks: dict[str, str]) -> None:
    screen = screen_of("technician")
    screen.open(f"/bank/tank/{tanks['North']}/dip")
    screen.page.get_by_role("button", name="Book this level").click()
    expect(screen.page.get_by_text("Type the figure first.")).to_be_visible()


def test_a_top_up_is_entered_on_the_same_screen(
    screen_of: Screens, station: Station, tanks: dict[str, str]
) -> None:
    screen = screen_of("technician")
    screen.open(f"/bank/tank/{tanks['North']}/dip")
    page = screen.page
    page.get_by_role("button", name="Top-up").click()
    press(screen, "5,5")
    page.get_by_role("button", name="Book this top-up").click()
    expect(page.get_by_text("The top-up is booked")).to_be_visible()
    [made] = station.technician.ok("GET", f"/tanks/{tanks['North']}/top-ups")["items"]
    assert float(made["litres_added"]) == 5.5


def test_the_dying_tank_is_found_by_looking(
    screen_of: Screens, station: Station, tanks: dict[str, str]
) -> None:
    screen = screen_of("manager")
    screen.open("/nitrogen")
    page = screen.page
    first = page.locator(".tank-cards > section").first
    expect(first).to_contain_text("South")
    expect(first).to_contain_text("Failing")
    first.get_by_role("link", name="All about it").click()
    screen.arrived(f"/bank/tank/{tanks['South']}/nitrogen")
    expect(page.get_by_role("heading", name="What to do, in this order")).to_be_visible()
    expect(
        page.get_by_role("img", name="Litres in South, as read, and the forecast")
    ).to_be_visible()
    expect(page.get_by_role("img", name="Litres a day that South loses")).to_be_visible()
    expect(page.locator(".chart-name", has_text="minimum")).to_have_count(1)
    page.locator("summary", has_text="As a table").first.click()
    expect(page.get_by_role("columnheader", name="Litres", exact=True)).to_be_visible()


def test_the_first_page_names_the_dying_tank(
    screen_of: Screens, station: Station, tanks: dict[str, str]
) -> None:
    station.standing("nitrogen-loss-rising")
    screen = screen_of("vet")
    screen.open("/")
    critical = screen.page.locator(".alert-critical").filter(has_text="South is failing")
    expect(critical).to_contain_text("Critical")
    critical.get_by_role("link").click()
    screen.page.get_by_role("link", name="Nitrogen in South").click()
    screen.arrived(f"/bank/tank/{tanks['South']}/nitrogen")
    expect(screen.page.locator(".tank-state-word")).to_contain_text("Failing")


def test_the_keyboard_stays_where_it_was_when_the_unit_changes(
    screen_of: Screens, tanks: dict[str, str]
) -> None:
    screen = screen_of("technician")
    screen.open(f"/bank/tank/{tanks['North']}/dip")
    unit = screen.page.get_by_role("button", name="litres", exact=True)
    unit.focus()
    screen.page.keyboard.press("Enter")
    expect(unit).to_be_focused()
    expect(unit).to_have_attribute("aria-pressed", "true")


def test_a_wrong_reading_is_struck_with_a_reason(
    screen_of: Screens, station: Station, tanks: dict[str, str]
) -> None:
    screen = screen_of("technician")
    screen.open(f"/bank/tank/{tanks['South']}/nitrogen")
    page = screen.page
    page.get_by_role("button", name="Strike").last.click()
    page.get_by_label("Reason").fill("misread")
    page.get_by_role("dialog").get_by_role("button", name="Strike").click()
    expect(page.get_by_text("struck by")).to_be_visible()


def test_an_auditor_looks_and_enters_nothing(screen_of: Screens, tanks: dict[str, str]) -> None:
    screen = screen_of("auditor")
    screen.open("/nitrogen")
    expect(screen.page.get_by_role("link", name="All about it").first).to_be_visible()
    expect(screen.page.get_by_role("link", name="Enter a level")).to_have_count(0)
