"""An empty folder becomes a working bank, by the screens alone."""

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests import building
from tests.journeys.conftest import PHONE, Screen, Station
from tests.serving import rimebook, running

PASSWORD = "seven herons on the frozen weir"


@pytest.fixture
def empty(browser: Browser, tmp_path: Path) -> Iterator[tuple[Screen, str, str]]:
    """A browser at a service just started on nothing, and what it printed to get in with."""
    with running(rimebook(tmp_path / "data")) as server:
        printed = (tmp_path / "server.log").read_text()
        told = re.search(r"user name\s+(\S+)\s+one-time code\s+(\S+)", printed)
        assert told, printed
        context = browser.new_context(viewport=PHONE)
        screen = Screen(context, server.address)
        yield screen, *told.groups()
        context.close()
        assert not screen.complaints


def _get_in(screen: Screen, username: str, code: str) -> None:
    page = screen.page
    page.goto(screen.address)
    page.get_by_label("User name").fill(username)
    page.get_by_label("Password or one-time code").fill(code)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_label("Your new password").wait_for()
    page.reload()  # whoever reloads here is still asked for the password, and not for the code
    page.get_by_label("Your new password").fill(PASSWORD)
    page.get_by_label("The same again").fill(PASSWORD)
    page.get_by_role("button", name="Save the password").click()
    page.get_by_role("button", name="Menu").wait_for()


def _name_the_station(screen: Screen) -> None:
    screen.open("/station")
    screen.page.get_by_label("Name", exact=True).fill("Sallowmere")
    screen.page.get_by_label("Time zone").fill("Europe/Dublin")
    screen.page.get_by_role("button", name="Save").click()
    expect(screen.page.locator(".top-station")).to_have_text("Sallowmere")


def _set_up_a_tank(screen: Screen) -> None:
    page = screen.page
    screen.open("/bank")
    expect(page.get_by_text("There is no tank yet")).to_be_visible()
    page.get_by_role("link", name="Set up a tank").click()
    page.get_by_label("Name", exact=True).fill("Marsh")
    page.get_by_label("Nitrogen it holds").fill("35")
    page.get_by_label("Rated loss").fill("0,18")
    page.get_by_label("Minimum level").fill("12")
    table = page.get_by_role("group", name="Dipstick table")
    table.get_by_label("Level (cm)").nth(1).fill("50")
    table.get_by_label("Litres").nth(1).fill("35")
    page.get_by_label("Of different kinds").check()
    kinds = page.get_by_role("group", name="Kinds of canisters")
    for label, value in (
        ("Canisters", "2"),
        ("Goblets, lower layer", "3"),
        ("Goblets, upper layer", "2"),
        ("Straws a goblet holds", "25"),
    ):
        kinds.get_by_label(label).fill(value)
    page.get_by_role("button", name="Set up this tank").click()
    expect(page.locator("main h1")).to_have_text("Marsh")
    expect(page.get_by_text("0 of 125 straws")).to_have_count(2)


def _add_a_stallion(screen: Screen) -> None:
    page = screen.page
    screen.open("/stallions/new")
    page.get_by_label("Name", exact=True).fill("Wintergrace")
    page.get_by_label("As many straws as hold").check()
    page.get_by_label("Progressively motile sperm a dose").fill("250")
    page.get_by_label("Least progressive motility").fill("35")
    page.get_by_label("Straw colour").fill("green")
    page.get_by_role("button", name="Add him").click()
    expect(page.locator("main h1")).to_have_text("Wintergrace")


def _freeze_anew(screen: Screen) -> None:
    page = screen.page
    page.get_by_role("link", name="Log a freeze").click()
    collection = page.get_by_role("group", name="The collection")
    collection.get_by_label("Gel-free volume").fill("60")
    collection.get_by_label(re.compile("^Concentration")).fill("200")
    collection.get_by_label(re.compile("^Progressive motility")).fill("70")
    page.get_by_label(re.compile("^In the straw")).fill("200")
    page.get_by_label("Straws to store").fill("40")
    expect(page.get_by_text("All 40 straws have a place.")).to_be_visible()
    page.get_by_role("button", name="Book 40 straws").click()
    expect(page.get_by_text("40 straws booked")).to_be_visible()
    expect(page.get_by_text("No doses are counted")).to_be_visible()


def _examine(screen: Screen) -> None:
    page = screen.page
    page.get_by_role("link", name="Record a post-thaw result").click()
    page.get_by_label("Progressive motility").fill("40")
    page.get_by_role("button", name="Record the result").click()
    expect(page.locator(".figure", has_text="In the bank")).to_contain_text("39 straws")
    expect(page.locator(".figure", has_text="Doses")).to_contain_text("5")


def test_from_an_empty_folder_to_straws_in_the_bank(empty: tuple[Screen, str, str]) -> None:
    screen, username, code = empty
    _get_in(screen, username, code)
    _name_the_station(screen)
    _set_up_a_tank(screen)
    _add_a_stallion(screen)
    _freeze_anew(screen)
    _examine(screen)


def test_an_entry_is_taken_back_by_a_counter_entry(
    screen_of: Callable[..., Screen], station: Station
) -> None:
    stallion = station.vet.ok("POST", "/stallions", building.stallion("Thornlea"))
    free = station.vet.ok("GET", f"/goblets/free?straws=5&stallion_id={stallion['id']}")
    goblet = free["placements"][0]["goblet_id"]
    station.technician.ok("POST", "/freezes", building.freeze(stallion["id"], [(goblet, 5)]))
    screen = screen_of("technician")
    page = screen.page
    screen.open("/book")
    expect(page.get_by_text("each fits the one before")).to_be_visible()
    newest = page.locator(".entry").first
    expect(newest.locator("h3")).to_contain_text("Frozen")
    newest.get_by_text("Take this entry back").click()
    newest.get_by_label("Reason").fill("Booked for the wrong stallion.")
    newest.get_by_role("button", name="Take this entry back").click()
    expect(page.locator(".entry").first).to_contain_text("Taken back by a correction")
    expect(page.locator(".entry").first).to_contain_text("Booked for the wrong stallion.")
    read = station.vet.ok("GET", f"/stock?stallion_id={stallion['id']}")
    assert read["straws"] == 0
    assert station.vet.ok("GET", "/ledger/check")["sound"] is True


def test_a_tank_is_renamed_and_an_empty_goblet_taken_out_of_use(
    screen_of: Callable[..., Screen], station: Station
) -> None:
    tank = station.manager.ok("POST", "/tanks", building.tank("Fen", goblets=2))
    screen = screen_of("manager")
    page = screen.page
    screen.open(f"/bank/tank/{tank['id']}/edit")
    page.get_by_label("Name", exact=True).fill("Fen house")
    page.get_by_role("button", name="Save").first.click()
    expect(page.locator("main h1")).to_have_text("Fen house")
    screen.open(f"/bank/tank/{tank['id']}/edit")
    page.get_by_text("Canister 1", exact=True).click()
    page.get_by_text(re.compile("^Goblet ")).first.click()
    page.get_by_text("Take this goblet out of use").first.click()
    page.get_by_label("Reason").first.fill("Its rim is bent.")
    page.get_by_role("button", name="Take this goblet out of use").first.click()
    expect(page.get_by_text("It is out of use.").first).to_be_visible()
    read = station.manager.ok("GET", f"/tanks/{tank['id']}")
    assert read["name"] == "Fen house"
    assert len(building.goblets_of(read)) == 3
