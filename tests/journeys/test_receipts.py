"""Old stock and straws that somebody sent are brought in on a phone, knowing little of them."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from tests import building
from tests.journeys.conftest import Screen, Station

Screens = Callable[..., Screen]


@pytest.fixture
def tarnwater(station: Station) -> Any:
    """A stallion long dead, of whom no straw is in the book yet."""
    body = building.stallion("Tarnwater", straws=4, straw_colour="red", died_on="2011-05-01")
    found = station.vet.ok("GET", "/stallions?q=Tarnwater")["items"]
    return found[0] if found else station.vet.ok("POST", "/stallions", body)


def _batch_shown(screen: Screen, station: Station) -> Any:
    found = re.search(r"/batches/([0-9a-f-]+)", screen.page.url)
    assert found
    return station.vet.ok("GET", f"/batches/{found[1]}")


def test_old_stock_without_labels_comes_in_with_its_mark_only(
    screen_of: Screens, station: Station, tarnwater: Any
) -> None:
    screen = screen_of("technician")
    page = screen.page
    screen.open("/bank")
    page.get_by_role("link", name="Bring in straws").click()
    screen.arrived("/receipts/new")
    expect(page.get_by_label("From whom")).to_be_hidden()
    page.get_by_label("Stallion").select_option(label=tarnwater["name"])
    page.get_by_label("How many straws").fill("12")
    page.get_by_label("What stands on the straws").fill("TW 94 117")
    expect(page.get_by_text("All 12 straws have a place.")).to_be_visible()
    page.reload()
    expect(page.get_by_label("What stands on the straws")).to_have_value("TW 94 117")
    expect(page.get_by_text("All 12 straws have a place.")).to_be_visible()
    page.get_by_role("button", name="Book 12 straws").dblclick()
    expect(page.get_by_text("They have no labels, so they go by count.")).to_be_visible()

    for told in ("days in store cannot be counted", "gets no thaw card", "TW 94 117"):
        expect(page.locator("#main").get_by_text(told)).to_be_visible()
    expect(page.locator("dl.facts dd", has_text="not known")).not_to_have_count(0)
    expect(page.get_by_text("List of codes")).to_have_count(0)
    batch = _batch_shown(screen, station)
    assert (batch["origin"], batch["straws_stored"], batch["doses"]) == ("opening", 12, 3)
    assert batch["thaw"] is batch["straw_colour"] is batch["collected_on"] is None
    batches = station.vet.ok("GET", f"/batches?stallion_id={tarnwater['id']}")["items"]
    assert len(batches) == 1, "a double click books once"
    plan = {"stallion_id": tarnwater["id"], "doses": 1}
    assert station.vet.ok("POST", "/withdrawals/plan", plan)["straws"] == 4


def test_straws_that_somebody_sent_come_in_with_what_is_known_and_wait_for_papers(
    screen_of: Screens, station: Station, tarnwater: Any
) -> None:
    screen = screen_of("technician")
    page = screen.page
    screen.open(f"/stallions/{tarnwater['id']}")
    page.get_by_role("link", name="Bring in straws of his").click()
    page.get_by_role("radio", name="Somebody sent them").check()
    page.get_by_label("From whom").fill("Fernhollow Stud")
    expect(page.get_by_label("Stallion")).to_have_value(tarnwater["id"])
    page.get_by_label("How many straws").fill("5")
    page.get_by_role("radio", name="They get them now").check()
    page.locator("summary", has_text="What is known of them").click()
    page.get_by_label("Collected on").fill("2030-05-04")
    page.get_by_label("Straw size").fill("0,5")
    page.get_by_label("Progressive after thawing").fill("42")
    page.get_by_role("button", name="Add a step").click()
    page.get_by_label("Water").fill("37")
    page.get_by_label("Seconds").fill("30")
    page.locator("summary", has_text="Hold, day they came, note").click()
    page.get_by_label("Hold them because").fill("papers are on their way")
    expect(page.get_by_text("All 5 straws have a place.")).to_be_visible()
    page.get_by_role("button", name="Book 5 straws").click()
    expect(page.get_by_text("lies in the future").first).to_be_visible()
    page.get_by_label("Collected on").fill("2010-05-04")
    page.get_by_role("button", name="Book 5 straws").click()
    expect(page.get_by_text("5 straws booked. The codes")).to_be_visible()

    expect(page.get_by_text("Fernhollow Stud")).to_be_visible()
    expect(page.get_by_text("papers are on their way").first).to_be_visible()
    batch = _batch_shown(screen, station)
    assert (batch["origin"], batch["received_from"]) == ("received", "Fernhollow Stud")
    assert (batch["straw_volume_ml"], batch["on_hold"]) == (0.5, True)
    assert batch["thaw"] == {"steps": [{"water_c": 37, "seconds": 30}]}
    assert all(straw["code"] for straw in batch["straws"])
    assert station.vet.ok("GET", "/ledger/check")["sound"] is True


def test_some_straws_of_a_dispatch_come_back_unused(screen_of: Screens, station: Station) -> None:
    goblet = building.goblets_of(station.tank)[9]
    made = station.technician.ok(
        "POST", "/freezes", building.freeze(station.lantern["id"], [(goblet["id"], 6)])
    )
    codes = [straw["code"] for straw in made["straws"]]
    picks = [{"goblet_id": goblet["id"], "batch_id": made["batch"]["id"], "straws": 3}]
    sent = station.technician.ok("POST", "/dispatches", {"to": "Tarn Stud", "picks": picks})
    screen = screen_of("technician")
    page = screen.page
    screen.open(f"/dispatches/{sent['id']}")
    page.get_by_role("link", name="Some of these straws came back").click()
    page.get_by_role("button", name="Put them back in store").click()
    expect(page.get_by_text("Read the code of at least one straw.")).to_be_visible()
    for code in (codes[0], codes[-1]):
        page.get_by_label("Code of a straw in your hand").fill(code)
        page.keyboard.press("Enter")
    page.get_by_label("Into goblet").select_option(goblet["id"])
    page.get_by_role("button", name="Put 2 straws back in store").click()
    expect(page.get_by_text("What may have thawed does not go back.")).to_be_visible()
    page.get_by_role("checkbox", name="They stayed in the cold").check()
    page.get_by_role("button", name="Put 2 straws back in store").click()
    expect(page.locator("#main").get_by_text("2 straws back in store.")).to_be_visible()
    batch = _batch_shown(screen, station)
    assert (batch["id"], batch["straws_stored"]) == (made["batch"]["id"], 5)
    assert {one["code"]: one["state"] for one in batch["straws"]}[codes[-1]] == "stored"
    assert station.vet.ok("GET", "/ledger/check")["sound"] is True


def test_a_receipt_is_taken_back_from_the_book(screen_of: Screens, station: Station) -> None:
    goblet = building.goblets_of(station.tank)[8]["id"]
    body = {
        "kind": "opening",
        "stallion_id": station.moss["id"],
        "straws": 3,
        "placements": [{"goblet_id": goblet, "straws": 3}],
    }
    made = station.technician.ok("POST", "/receipts", body)
    screen = screen_of("technician")
    screen.open("/book")
    entry = screen.page.locator(".entry").first
    expect(entry.get_by_role("heading")).to_contain_text("Came in")
    entry.locator("summary", has_text="Take this entry back").click()
    entry.get_by_label("Reason").fill("counted twice")
    entry.get_by_role("button", name="Take this entry back").click()
    expect(screen.page.get_by_text("counted twice").first).to_be_visible()
    screen.open(f"/batches/{made['batch']['id']}")
    expect(screen.page.get_by_text("Void: all its straws were taken back.")).to_be_visible()
