"""Who sees what, and how people get in."""

import re
from collections.abc import Callable

from playwright.sync_api import expect

from tests.journeys.conftest import Screen, Station

Screens = Callable[..., Screen]

#: Words that only stand on things that write.
WRITES = re.compile(
    "Take a dose|Log a freeze|Move straws|Discard|Record|Add a|Put straws back|Hold this|Release"
    "|Change|Take this entry back|Set up|Save"
)


def test_an_auditor_reads_everything_and_is_offered_nothing_to_write(
    screen_of: Screens, station: Station
) -> None:
    goblet = station.tank["canisters"][0]["goblets"][0]["id"]
    batch = station.vet.ok("GET", "/batches")["items"][0]["id"]
    screen = screen_of("auditor")
    for route in (
        "/",
        "/bank",
        f"/bank/tank/{station.tank['id']}",
        f"/bank/goblet/{goblet}",
        f"/batches/{batch}",
        "/batches",
        "/stallions",
        f"/stallions/{station.lantern['id']}",
        "/mares",
        "/withdrawals",
        "/book",
        "/people",
        "/station",
    ):
        screen.open(route)
        main = screen.page.locator("main")
        offered = main.get_by_role("button", name=WRITES).or_(main.get_by_role("link", name=WRITES))
        assert offered.count() == 0, (route, offered.all_inner_texts())
        assert main.locator("summary", has_text=WRITES).count() == 0, route


def test_a_technician_sets_no_dose_rule_and_releases_no_hold(
    screen_of: Screens, station: Station
) -> None:
    batch = station.vet.ok("GET", "/batches")["items"][0]["id"]
    station.technician.ok("POST", f"/batches/{batch}/hold", {"reason": "Test is missing."})
    for role, sees in (("technician", False), ("vet", True)):
        screen = screen_of(role)
        screen.open(f"/stallions/{station.lantern['id']}")
        change = screen.page.get_by_role("link", name="Change his record or rule")
        assert (change.count() == 1) is sees
        screen.open(f"/batches/{batch}")
        assert (screen.page.get_by_text("Release this batch").count() > 0) is sees
    station.vet.ok("POST", f"/batches/{batch}/release", {"reason": "Test is here."})


def test_a_new_person_gets_in_with_a_one_time_code_and_a_password_of_their_own(
    screen_of: Screens, station: Station
) -> None:
    manager = screen_of("manager")
    manager.open("/people")
    manager.page.get_by_text("Add a person").click()
    manager.page.get_by_label("User name").fill("ilva")
    manager.page.get_by_role("textbox", name="Name, as it stands in the book").first.fill("Ilva T.")
    manager.page.get_by_role("radio", name="Technician").first.check()
    manager.page.get_by_role("button", name="Add and show the one-time code").click()
    code = manager.page.locator(".one-time").inner_text()

    new = screen_of(None)
    page = new.page
    page.goto(station.address)
    page.get_by_label("User name").fill("ilva")
    page.get_by_label("Password or one-time code").fill(code)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_label("Your new password").fill("four wet boots by the door")
    page.get_by_label("The same again").fill("four wet boots by the moor")
    page.get_by_role("button", name="Save the password").click()
    expect(page.get_by_text("The two are not the same")).to_be_visible()
    page.get_by_label("The same again").fill("four wet boots by the door")
    page.get_by_role("button", name="Save the password").click()
    expect(page.get_by_text("Signed in as Ilva T.")).to_be_visible()
    page.get_by_role("button", name="Menu").click()
    page.get_by_role("button", name="Sign out").click()
    new.sign_in("ilva", "four wet boots by the door")
    assert new.page.locator("main h1").count() == 1


def test_a_wrong_password_is_told_without_saying_which_was_wrong(
    screen_of: Screens, station: Station
) -> None:
    page = screen_of(None).page
    page.goto(f"{station.address}/#/bank")
    said = []
    for name in ("manager", "nobody-at-all"):
        page.get_by_label("User name").fill(name)
        page.get_by_label("Password or one-time code").fill("wrong")
        page.get_by_role("button", name="Sign in").click()
        alert = page.get_by_role("alert")
        expect(alert).to_be_visible()
        said.append(alert.inner_text())
    assert said[0] == said[1]


def test_signing_in_comes_back_to_the_page_that_was_asked_for(
    screen_of: Screens, station: Station
) -> None:
    screen = screen_of(None)
    screen.page.goto(f"{station.address}/#/stallions")
    screen.page.get_by_label("User name").fill("vet")
    screen.page.get_by_label("Password or one-time code").fill("grey geese over the winter fjord")
    screen.page.keyboard.press("Enter")
    screen.arrived("/stallions")
    assert screen.title == "Stallions"


def test_the_keyboard_alone_is_enough(screen_of: Screens, station: Station) -> None:
    screen = screen_of("vet")
    page = screen.page
    screen.open("/")
    page.keyboard.press("Tab")
    if page.evaluate("document.activeElement.tagName") == "SUMMARY":
        page.keyboard.press("Tab")  # over what others take care of, where there is any
    assert page.evaluate("document.activeElement.className").startswith("door")
    page.keyboard.press("Enter")
    screen.arrived("/dose")
    page.keyboard.press("Tab")
    # As fast as a person types; faster it is a scanner's, and its Tab ends a scan.
    page.keyboard.type("Lantern", delay=70)
    page.wait_for_timeout(300)
    page.keyboard.press("Tab")
    page.keyboard.type("Brindlewick", delay=70)
    page.get_by_role("radio", name="Brindlewick").first.wait_for()
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.value") == "1"
    page.keyboard.press("Enter")
    screen.arrived("/dose/walk")
    outline = page.evaluate(
        """() => { const b = [...document.querySelectorAll("button")].find(
                 (one) => one.textContent === "Start the walk");
               b.focus({focusVisible: true}); return getComputedStyle(b).outlineStyle; }"""
    )
    assert outline == "solid"
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Goblet 1").wait_for()
