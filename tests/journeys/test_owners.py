"""Straws that belong to somebody, and promised doses, on the screens."""

from collections.abc import Callable

from playwright.sync_api import expect

from tests.journeys.conftest import Screen, Station

Screens = Callable[..., Screen]


def test_a_manager_gives_straws_to_an_owner_and_a_dose_is_taken_of_them(
    screen_of: Screens, station: Station
) -> None:
    screen = screen_of("manager")
    page = screen.page
    [item, *_] = station.manager.ok("GET", f"/stock?stallion_id={station.moss['id']}")["items"]
    screen.open(f"/bank/goblet/{item['goblet_id']}")
    page.get_by_role("link", name="Change the owner").click()
    page.get_by_label("Whose they are from now on").fill("Marrow Farm")
    page.get_by_label("How many straws").fill("18")
    page.get_by_label("Reason").fill("bought at the dispersal")
    page.get_by_role("button", name="Change the owner").click()
    expect(page.get_by_text("18 straws of Marrow Farm")).to_be_visible()
    screen.open(f"/stallions/{station.moss['id']}")
    expect(page.get_by_role("heading", name="Belong to others")).to_be_visible()

    screen.open("/dose")
    page.get_by_label("Stallion").select_option(label="Mossgrave")
    page.get_by_label("Whose straws").select_option(value="Marrow Farm")
    page.get_by_label("Her name, or a part of it").fill("Brindlewick")
    page.get_by_role("radio", name="Brindlewick").first.check()
    page.get_by_role("button", name="Show the plan").click()
    page.get_by_role("button", name="Start the walk").click()
    page.get_by_role("button", name="I have").click()
    page.get_by_role("button", name="out").click()
    page.get_by_text("taken out").first.wait_for()
    [owned] = station.manager.ok("GET", "/owners")["items"]
    assert owned["straws"] < 18


def test_a_vet_promises_doses_and_a_technician_hears_of_it(
    screen_of: Screens, station: Station
) -> None:
    screen = screen_of("vet")
    page = screen.page
    screen.open(f"/stallions/{station.lantern['id']}")
    page.get_by_role("link", name="Promise doses").click()
    page.get_by_role("radio", name="An owner").check()
    page.get_by_label("Owner", exact=True).fill("Tarn Stud")
    page.get_by_label("Doses", exact=True).fill("3")
    page.get_by_role("button", name="Promise them").click()
    expect(page.get_by_text("3 of 3 doses for Tarn Stud")).to_be_visible()

    other = screen_of("technician")
    other.open("/dose")
    other.page.get_by_label("Stallion").select_option(label="Lanternfield")
    other.page.get_by_label("Her name, or a part of it").fill("Brindlewick")
    other.page.get_by_role("radio", name="Brindlewick").first.check()
    other.page.get_by_role("button", name="Show the plan").click()
    expect(other.page.get_by_role("alert")).to_contain_text("3 to Tarn Stud")

    page.get_by_text("End this promise").first.click()
    page.get_by_label("Why the doses are anybody’s again").fill("the mare is in foal")
    page.get_by_role("button", name="End this promise").click()
    expect(page.get_by_text("Nothing of his is promised.")).to_be_visible()
