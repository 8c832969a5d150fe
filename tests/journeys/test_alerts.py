"""Alerts in a real browser: seen at once, taken care of in two taps, told to others as set up."""

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.journeys.conftest import Screen, Station, station_in

Screens = Callable[..., Screen]

TAKE = "I take care of it"


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Station]:
    """A station that may call addresses on this machine."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("RIMEBOOK_PRIVATE_ADDRESSES", "true")
        with station_in(tmp_path_factory.mktemp("station")) as made:
            yield made


@pytest.fixture(scope="module")
def low_stock(station: Station) -> Any:
    """Lanternfield has fewer doses than his limit."""
    return station.standing("low-stock")


def test_low_stock_is_taken_care_of_in_two_taps_and_others_see_by_whom(
    screen_of: Screens, low_stock: Any
) -> None:
    manager = screen_of("manager")
    manager.open("/")
    page = manager.page
    mine = page.get_by_role("list", name="For you now")
    row = mine.locator(".alert").filter(has_text="Lanternfield")
    expect(row).to_contain_text("Today")
    button = row.get_by_role("button", name=TAKE)
    box = button.bounding_box()
    assert box is not None
    assert box["height"] >= 48
    button.click()  # the first tap; there is no second
    expect(row).to_contain_text("You take care of it since")
    row.get_by_role("link").click()
    manager.arrived(f"/alerts/{low_stock['id']}")
    expect(page.get_by_text("You take care of it since").first).to_be_visible()
    expect(page.get_by_role("button", name=TAKE)).to_have_count(0)
    history = page.locator(".history")
    expect(history).to_contain_text("takes care of it")
    expect(page.get_by_role("img", name="Doses of Lanternfield")).to_be_visible()
    expect(page.locator(".chart-name", has_text="his limit")).to_have_count(1)
    assert low_stock["id"] not in page.locator("main").inner_text()

    vet = screen_of("vet")
    vet.open("/")
    vet.page.locator("summary", has_text="Others take care of (1)").click()
    expect(vet.page.locator(".alert").filter(has_text="Lanternfield")).to_contain_text(
        "takes care of it since"
    )


def test_an_auditor_sees_it_and_has_no_button(screen_of: Screens, low_stock: Any) -> None:
    screen = screen_of("auditor")
    screen.open("/")
    expect(screen.page.get_by_text("Nothing needs you now.")).to_be_visible()
    screen.page.locator("summary", has_text="Others take care of").click()
    expect(screen.page.get_by_text("Lanternfield: few doses are left")).to_be_visible()
    assert screen.page.locator("main button").count() == 0
    screen.open(f"/alerts/{low_stock['id']}")
    assert screen.page.locator("main button").count() == 0
    screen.open("/alerts/settings")
    assert screen.page.get_by_role("link", name="Add a channel").count() == 0


def test_a_message_link_leads_back_after_the_sign_in(screen_of: Screens, low_stock: Any) -> None:
    screen = screen_of(None)
    page = screen.page
    page.goto(f"{screen.address}/#/alerts/{low_stock['id']}")
    page.get_by_label("User name").fill("technician")
    page.get_by_label("Password or one-time code").fill("grey geese over the winter fjord")
    page.get_by_role("button", name="Sign in").click()
    screen.arrived(f"/alerts/{low_stock['id']}")
    assert screen.title == "Lanternfield: few doses are left"


def test_a_webhook_is_added_its_secret_shown_once_and_a_test_says_what_happened(
    screen_of: Screens,
) -> None:
    screen = screen_of("manager")
    screen.open("/")
    page = screen.page
    page.get_by_text("Nobody is told when you are not here.").wait_for()
    page.get_by_role("link", name="Set up how people are told").click()
    page.get_by_role("link", name="Add a channel").click()
    page.get_by_label("Name").fill("Board in the lab")
    page.get_by_role("radio", name="Webhook").check()
    page.get_by_label("Address of the program").fill("http://127.0.0.1:9/hook")
    page.get_by_role("button", name="Add it").click()
    secret = page.locator("input[readonly]")
    expect(secret).to_have_value(re.compile("^whsec_"))
    page.get_by_role("link", name="Go on to the channel").click()
    expect(page.get_by_text("not tried yet")).to_be_visible()
    assert "whsec_" not in page.content()
    page.get_by_role("button", name="Send a test").click()
    expect(page.get_by_role("status").filter(has_text="did not arrive")).to_be_visible()


def test_somebody_whom_no_channel_reaches_is_refused_in_words(screen_of: Screens) -> None:
    screen = screen_of("manager")
    screen.open("/alerts/settings/duty")
    page = screen.page
    expect(page.get_by_text("There is no rota").first).to_be_visible()
    page.get_by_role("button", name="Add a handover").click()
    page.get_by_label("On duty").select_option(label="vet")
    page.get_by_role("button", name="Save the rota").click()
    expect(page.get_by_role("alert")).to_contain_text("No channel reaches vet.")
