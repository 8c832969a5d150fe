"""A canister goes into another tank: seen before, booked once, right on the map, taken back."""

import re
from collections.abc import Callable

from playwright.sync_api import expect

from tests import building
from tests.journeys.conftest import Screen, Station

Screens = Callable[..., Screen]


def _planned(station: Station) -> set[str]:
    plan = station.vet.ok(
        "POST", "/withdrawals/plan", {"stallion_id": station.lantern["id"], "doses": 3}
    )
    return {pick["address"] for pick in plan["picks"]}


def test_a_canister_moves_to_another_tank_and_back(screen_of: Screens, station: Station) -> None:
    canister = station.tank["canisters"][0]
    screen = screen_of("technician")
    page = screen.page
    assert _planned(station) == {"NORTH-1-L1", "NORTH-1-L2"}

    screen.open(f"/bank/canister/{canister['id']}")
    page.get_by_role("link", name="Move this canister").click()
    screen.arrived(f"/bank/canister/{canister['id']}/relocate")
    assert screen.title == "Move canister 1 of North"
    expect(page.get_by_text("Its 60 straws go with it.")).to_be_visible()
    expect(page.get_by_text("one lifts, one reads aloud")).to_be_visible()
    page.get_by_role("radio", name="South").check()
    coming = page.get_by_role("list", name="Addresses")
    expect(coming.get_by_text("SOUTH-2-L1")).to_be_visible()
    expect(page.get_by_role("heading", name="South, canister 2, as it will be")).to_be_visible()
    expect(page.get_by_role("link", name="Goblet SOUTH-2-L1: 20 of 60 straws")).to_be_visible()
    page.get_by_role("button", name="Book the move").click()
    page.get_by_role("button", name="Yes, book it").click()
    expect(page.get_by_role("heading", name="Moved", exact=True)).to_be_visible()
    expect(page.get_by_role("heading", name="South, canister 2, as it is now")).to_be_visible()
    expect(page.get_by_role("link", name="Goblet SOUTH-2-L2: 10 of 60 straws")).to_be_visible()
    assert _planned(station) == {"SOUTH-2-L1", "SOUTH-2-L2"}

    page.get_by_role("button", name="Undo").click()
    screen.arrived(f"/bank/canister/{canister['id']}")
    assert screen.title == "North, canister 1"
    assert _planned(station) == {"NORTH-1-L1", "NORTH-1-L2"}
    assert station.vet.ok("GET", "/ledger/check")["sound"] is True

    screen.open("/book")
    expect(page.get_by_role("heading", name=re.compile("6 goblets moved"))).to_be_visible()
    batch = station.vet.ok("GET", f"/batches?stallion_id={station.lantern['id']}")["items"][0]
    code = station.vet.ok("GET", f"/batches/{batch['id']}")["straws"][0]["code"]
    screen.open(f"/straws/{code}")
    told = page.locator(".history li").all_inner_texts()
    assert "Hung elsewhere, with its goblet" in told[-2]
    assert "NORTH-1-L1 → SOUTH-2-L1" in told[-2].replace("\n", " ")
    assert "SOUTH-2-L1 → NORTH-1-L1" in told[-1].replace("\n", " ")


def test_a_goblet_moves_and_a_refusal_is_told_before_it_is_booked(
    screen_of: Screens, station: Station
) -> None:
    goblet = station.tank["canisters"][0]["goblets"][2]
    wren = building.tank("Wren", canisters=1)
    station.manager.ok("POST", "/tanks", {**wren, "quarantine": True})
    screen = screen_of("vet")
    page = screen.page
    screen.open(f"/bank/goblet/{goblet['id']}")
    page.get_by_role("link", name="Move this goblet").click()
    page.get_by_role("radio", name="Wren").check()
    page.get_by_role("radio", name="Canister 1").check()
    expect(page.get_by_role("alert")).to_contain_text("Wren is a quarantined tank")
    page.get_by_role("radio", name="North").check()
    page.get_by_role("radio", name="Canister 2").check()
    expect(page.get_by_text("NORTH-2-L4")).to_be_visible()
    page.get_by_label("Layer optional").select_option(label="Upper layer")
    expect(page.get_by_text("NORTH-2-U4")).to_be_visible()
    page.get_by_role("button", name="Book the move").click()
    page.get_by_role("button", name="Not yet").click()
    assert station.vet.ok("GET", f"/goblets/{goblet['id']}")["address"] == goblet["address"]
    page.get_by_role("button", name="Book the move").click()
    page.get_by_role("button", name="Yes, book it").click()
    expect(page.get_by_role("heading", name="Moved", exact=True)).to_be_visible()
    assert station.vet.ok("GET", f"/goblets/{goblet['id']}")["address"] == "NORTH-2-U4"
