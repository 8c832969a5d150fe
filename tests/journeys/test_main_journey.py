"""The main job from end to end, by two people, each in a browser of their own."""

import re
from collections.abc import Callable

from playwright.sync_api import Locator, expect

from tests.journeys.conftest import Screen, Station

Screens = Callable[..., Screen]


def _field(screen: Screen, group: str, label: str) -> Locator:
    return screen.page.get_by_role("group", name=group).get_by_label(re.compile(f"^{label}"))


def _prepare(screen: Screen, station: Station) -> str:
    """Codes for 48 straws; gives the batch's id."""
    screen.open("/freeze/prepare")
    screen.page.get_by_label("Stallion").select_option(label="Lanternfield")
    screen.page.get_by_label("Straws to mark").fill("48")
    screen.page.get_by_role("button", name="Make the codes").click()
    expect(screen.page.get_by_text("48 codes made")).to_be_visible()
    expect(screen.page.locator(".code-tick li")).to_have_count(48)
    found = re.search(r"/batches/([0-9a-f-]+)/codes", screen.page.url)
    assert found
    return found[1]


def _freeze(screen: Screen) -> None:
    """The prepared batch frozen, 48 straws into the proposed places."""
    page = screen.page
    page.get_by_role("link", name="Log its freeze now").click()
    expect(page.locator("main h1")).to_have_text("Log a freeze")
    _field(screen, "The collection", "Gel-free volume").fill("60")
    _field(screen, "The collection", "Concentration").fill("200")
    _field(screen, "The collection", "Progressive motility").fill("70")
    _field(screen, "The straws", "In the straw").fill("200")
    _field(screen, "The straws", "Recovered").fill("85")
    _field(screen, "After thawing", "Progressive motility").fill("40")
    figures = page.get_by_role("region", name="What this makes")
    expect(figures.locator(".figure", has_text="Straws it fills")).to_contain_text("102")
    expect(figures.locator(".figure", has_text="Doses")).to_contain_text("6")
    expect(page.get_by_text("All 48 straws have a place.")).to_be_visible()
    page.get_by_role("button", name="Book 48 straws").click()
    expect(page.get_by_text("48 straws booked")).to_be_visible()
    expect(page.locator("main .code-grid li")).to_have_count(48)


def _walk(screen: Screen) -> None:
    """A dose by the plan, every goblet confirmed by count."""
    page = screen.page
    screen.open("/dose")
    page.get_by_label("Stallion").select_option(label="Lanternfield")
    page.get_by_label("Her name, or a part of it").fill("Brindle")
    page.get_by_role("radio", name="Brindlewick").check()
    page.get_by_role("button", name="Show the plan").click()
    expect(page.locator("main h1")).to_have_text("Lanternfield for Brindlewick")
    expect(page.get_by_text("Before you lift")).to_be_visible()
    page.get_by_role("button", name="Start the walk").click()
    while page.get_by_role("heading", name="Goblet").count():
        step = page.get_by_role("heading", name="Goblet").inner_text()
        page.get_by_role("button", name="I have").click()
        expect(page.get_by_role("heading", name=step)).to_have_count(0)
    page.get_by_role("button", name="Book 8 straws out").click()
    expect(page.get_by_text("8 straws, taken out")).to_be_visible()


def _inseminate(screen: Screen) -> None:
    """Seven used, one thawed and not used."""
    page = screen.page
    page.get_by_role("link", name="Record the insemination").click()
    page.get_by_label("Straws used").fill("7")
    page.get_by_label("Thawed, but not used").fill("1")
    expect(page.get_by_text("No straw is left over.")).to_be_visible()
    page.get_by_role("button", name="Record the insemination").click()
    expect(page.get_by_role("heading", name="Insemination", exact=True)).to_be_visible()


def test_a_freeze_goes_in_and_a_dose_comes_out(screen_of: Screens, station: Station) -> None:
    technician = screen_of("technician")
    batch_id = _prepare(technician, station)
    _freeze(technician)
    frozen = station.technician.ok("GET", f"/batches/{batch_id}")
    assert frozen["straws_stored"] == 48

    vet = screen_of("vet")
    _walk(vet)
    _inseminate(vet)

    taken = [
        straw
        for batch in station.vet.ok("GET", "/batches")["items"]
        for straw in station.vet.ok("GET", f"/batches/{batch['id']}")["straws"]
        if straw["state"] in ("used", "discarded")
    ]
    assert sorted(straw["state"] for straw in taken) == ["discarded"] + ["used"] * 7
    used = next(straw["code"] for straw in taken if straw["state"] == "used")
    vet.open(f"/straws/{used}")
    told = vet.page.locator(".history li .what").all_inner_texts()
    assert [one.split("\n")[0].removesuffix(" by count").strip() for one in told] == [
        "Codes made",
        "Frozen",
        "Taken out for a dose",
        "Insemination",
    ]
    assert station.vet.ok("GET", "/ledger/check")["sound"] is True
