"""Straws leave with a packing list, under a seal that is replaced; others leave and get lost."""

from collections.abc import Callable
from typing import Any

from playwright.sync_api import expect

from tests.journeys.conftest import Screen, Station

Screens = Callable[..., Screen]


def _stock(station: Station, stallion: Any) -> list[Any]:
    path = f"/stock?stallion_id={stallion['id']}"
    items: list[Any] = station.vet.ok("GET", path)["items"]
    return items


def _dispatch(screen: Screen, station: Station) -> None:
    """Four straws of two stallions: one by its code from the goblet's page, three by count."""
    page = screen.page
    lantern = _stock(station, station.lantern)[0]
    batch = station.vet.ok("GET", f"/batches/{lantern['batch_id']}")
    code = next(one for one in batch["straws"] if one["goblet_id"] == lantern["goblet_id"])["code"]
    screen.open(f"/bank/goblet/{lantern['goblet_id']}")
    page.get_by_role("link", name="Dispatch straws").click()
    expect(page.locator("main h1")).to_have_text("Dispatch straws")
    expect(page.get_by_text("Before it leaves")).to_be_visible()
    scan = page.get_by_label("Or scan straw, goblet or batch")
    scan.fill(code.lower())
    scan.press("Enter")
    expect(page.get_by_label(f"Straws out of {lantern['address']}")).to_have_value("1")
    moss = _stock(station, station.moss)[0]
    choose = page.get_by_label("Add from the bank")
    named = choose.locator("option").filter(has_text="Mossgrave").first.inner_text()
    choose.select_option(label=named)
    page.get_by_label(f"Straws out of {moss['address']}").fill("3")
    expect(page.get_by_text("4 straws in all.")).to_be_visible()
    page.get_by_label("To whom").fill("Tarn Stud")
    page.get_by_label("Seal number").fill("A 417")
    page.get_by_text("Dry shipper: how long it holds").click()
    page.get_by_label("Maker’s holding time").fill("14")
    page.get_by_label("Filled with nitrogen at").fill("2026-03-02T08:00")
    page.get_by_role("button", name="Book the dispatch").click()
    page.get_by_role("button", name="Print the packing list").wait_for()


def test_four_straws_are_dispatched_with_a_packing_list(
    screen_of: Screens, station: Station
) -> None:
    before = station.vet.ok("GET", "/stock")["straws"]
    screen = screen_of("technician")
    page = screen.page
    _dispatch(screen, station)
    assert screen.title == "Dispatch to Tarn Stud"
    assert station.vet.ok("GET", "/stock")["straws"] == before - 4
    expect(page.get_by_text("the book does not know the identity number").first).to_be_visible()
    expect(page.get_by_text("At most until", exact=True)).to_be_visible()
    expect(page.get_by_text("16 Mar 2026, 08:00 GMT", exact=True)).to_be_visible()

    page.get_by_text("Replace the seal").first.click()
    page.get_by_label("Number of the new seal").fill("B 12")
    page.get_by_label("Why, and by whom").fill("Opened by the official vet")
    page.get_by_role("button", name="Replace the seal").click()
    seals = page.get_by_role("list", name="Seals").get_by_role("listitem")
    expect(seals).to_have_count(2)
    expect(seals.first).to_contain_text("B 12")
    expect(seals.first).to_contain_text("on it")

    page.emulate_media(media="print")
    paper = page.locator(".paper")
    expect(paper.locator("thead")).to_contain_text("Mark on the straws")
    expect(paper.locator("tbody tr:not(.paper-use)")).to_have_count(2)
    expect(paper.locator("tbody")).to_contain_text("37 °C water for 30 s")
    expect(paper.locator("tfoot")).to_contain_text("4 straws of 2 donors")
    expect(paper).to_contain_text("Not measured: weigh it")
    for signature in ("Packed and counted", "Sealed", "Received"):
        expect(paper.get_by_text(signature, exact=True)).to_be_visible()
    expect(page.get_by_role("button", name="Print the packing list")).to_be_hidden()


def test_a_dispatch_is_taken_back_on_its_page_and_its_paper_is_void(
    screen_of: Screens, station: Station
) -> None:
    item = _stock(station, station.moss)[0]
    pick = {"goblet_id": item["goblet_id"], "batch_id": item["batch_id"], "straws": 2}
    sent = station.technician.ok("POST", "/dispatches", {"to": "Alder Farm", "picks": [pick]})
    screen = screen_of("technician")
    page = screen.page
    screen.open(f"/dispatches/{sent['id']}")
    page.get_by_text("Take this dispatch back").click()
    page.get_by_label("Reason").fill("The carrier never came")
    page.get_by_role("button", name="Take it back").click()
    expect(page.get_by_text("The carrier never came")).to_be_visible()
    assert _stock(station, station.moss)[0]["straws"] == item["straws"]
    page.emulate_media(media="print")
    expect(page.get_by_text("This paper is void.")).to_be_visible()
    page.emulate_media(media="screen")
    screen.open("/dispatches")
    row = page.get_by_role("listitem").filter(has_text="Alder Farm")
    expect(row).to_contain_text("taken back")


def test_a_dose_that_left_with_somebody_comes_back_in_part(
    screen_of: Screens, station: Station
) -> None:
    item = _stock(station, station.lantern)[0]
    taken = station.vet.ok(
        "POST",
        "/withdrawals",
        {
            "stallion_id": station.lantern["id"],
            "mare_id": station.mare["id"],
            "doses": 1,
            "taken_by": "Imke Sandvoort",
            "picks": [{"goblet_id": item["goblet_id"], "batch_id": item["batch_id"], "straws": 8}],
        },
    )
    screen = screen_of("vet")
    page = screen.page
    screen.open("/withdrawals")
    expect(page.get_by_text("with Imke Sandvoort")).to_be_visible()
    screen.open(f"/withdrawals/{taken['id']}")
    expect(page.get_by_text("they left the station with Imke Sandvoort")).to_be_visible()
    page.get_by_role("link", name="Some are lost").click()
    page.get_by_label("Straws that are lost").fill("3")
    page.get_by_label("What is known about it").fill("did not come back")
    page.get_by_role("button", name="They are lost").click()
    expect(page.get_by_text("5 straws still out")).to_be_visible()
    straws = page.get_by_role("list", name="The straws").get_by_role("listitem")
    expect(straws.filter(has_text="missing")).to_have_count(3)
    assert station.vet.ok("GET", "/ledger/check")["sound"] is True
