"""Taking a dose when things do not go by the plan."""

import re
from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from service.kernel import codes
from tests import building
from tests.journeys.conftest import Screen, Station

Screens = Callable[..., Screen]


@pytest.fixture
def herd(station: Station) -> Any:
    """A stallion of this test's own with 40 straws in two goblets, two batches."""
    made = station.vet.ok("POST", "/stallions", building.stallion("Tarnwind", straws=8))
    goblets = building.goblets_of(
        station.manager.ok("POST", "/tanks", building.tank(f"T{made['id'][-6:]}", straws=40))
    )
    batches = [
        station.technician.ok(
            "POST", "/freezes", building.freeze(made["id"], [(goblets[at]["id"], straws)])
        )["batch"]
        for at, straws in ((0, 5), (1, 20))
    ]
    return {"id": made["id"], "goblets": goblets, "batches": batches}


def _plan(screen: Screen, stallion_id: str, mare: str = "Brindlewick") -> None:
    page = screen.page
    screen.open("/dose")
    page.get_by_label("Stallion").select_option(value=stallion_id)
    page.get_by_label("Her name, or a part of it").fill(mare)
    page.get_by_role("radio", name=mare, exact=False).first.check()
    page.get_by_role("button", name="Show the plan").click()
    page.get_by_role("button", name="Start the walk").click()


def _confirm_all(screen: Screen) -> None:
    page = screen.page
    while page.get_by_role("heading", name="Goblet").count():
        step = page.get_by_role("heading", name="Goblet").inner_text()
        page.get_by_role("button", name=re.compile("I have|There are none|go on")).click()
        expect(page.get_by_role("heading", name=step)).to_have_count(0)


def _scan_field(screen: Screen) -> Any:
    return screen.page.get_by_label("Scan each straw, or type its code")


def _codes_in(station: Station, batch_id: str) -> list[str]:
    straws = station.vet.ok("GET", f"/batches/{batch_id}")["straws"]
    return [straw["code"] for straw in straws if straw["state"] == "stored"]


def test_a_scanned_twin_is_taken_and_is_the_one_that_left(
    screen_of: Screens, station: Station, herd: Any
) -> None:
    screen = screen_of("technician")
    _plan(screen, herd["id"])
    scan = _scan_field(screen)
    twin = _codes_in(station, herd["batches"][1]["id"])[-1]
    scan.press_sequentially(twin.lower())
    scan.press("Tab")  # some scanners end with Tab
    expect(screen.page.locator(".scan-said")).to_contain_text("A twin of the same batch")
    scan.fill(twin)
    screen.page.wait_for_timeout(250)  # an Enter that follows a scan at once is the scanner's own
    scan.press("Enter")
    expect(screen.page.locator(".scan-said")).to_contain_text("read already")
    expect(screen.page.locator(".codes li")).to_have_count(1)
    _confirm_all(screen)
    screen.page.get_by_role("button", name="Book 8 straws out").click()
    expect(screen.page.get_by_text("8 straws, taken out")).to_be_visible()
    assert station.vet.ok("GET", f"/straws/{twin}")["state"] == "lifted"


def test_the_wrong_stallion_and_a_misread_code_are_told_at_once(
    screen_of: Screens, station: Station, herd: Any
) -> None:
    screen = screen_of("technician")
    _plan(screen, herd["id"])
    scan = _scan_field(screen)
    stranger = station.vet.ok("GET", f"/stock?stallion_id={station.lantern['id']}")["items"][0]
    code = _codes_in(station, stranger["batch_id"])[0]
    scan.fill(code)
    scan.press("Enter")
    said = screen.page.locator(".scan-said")
    expect(said).to_contain_text("This straw is Lanternfield’s")
    swapped = code[:3] + code[4] + code[3] + code[5:] if code[3] != code[4] else f"{code[:-1]}!"
    scan.fill(swapped)
    scan.press("Enter")
    expect(said).to_contain_text(re.compile("One sign is wrong|never have"))
    expect(screen.page.locator(".codes li")).to_have_count(0)


def test_a_dose_below_the_rule_needs_a_vet_and_a_reason(
    screen_of: Screens, station: Station, herd: Any
) -> None:
    for role in ("technician", "vet"):
        screen = screen_of(role)
        page = screen.page
        _plan(screen, herd["id"])
        page.get_by_text("A different number").click()
        page.get_by_role("button", name="One fewer").click()
        _confirm_all(screen)
        page.get_by_role("button", name="Book 7 straws out").click()
        expect(page.get_by_text("the rule asks for more")).to_be_visible()
        reason = page.get_by_label("Reason for a dose that does not meet the rule")
        if role == "technician":
            expect(reason).to_be_hidden()
            expect(page.get_by_text("Only a vet or a manager")).to_be_visible()
        else:
            reason.fill("Seven are enough for a deep deposit.")
            page.get_by_role("button", name="Book 7 straws out").click()
            expect(page.get_by_text("7 straws, taken out")).to_be_visible()
            expect(page.get_by_text("Seven are enough for a deep deposit.")).to_be_visible()


def test_who_comes_second_is_told_and_can_plan_anew(
    screen_of: Screens, station: Station, herd: Any
) -> None:
    slow = screen_of("technician")
    _plan(slow, herd["id"])
    _confirm_all(slow)
    goblet = herd["goblets"][1]
    station.vet.ok(
        "POST",
        "/discards",
        {
            "picks": [
                {"goblet_id": goblet["id"], "batch_id": herd["batches"][1]["id"], "straws": 15}
            ],
            "reason": "Tank room flooded.",
        },
    )
    slow.page.get_by_role("button", name="Book 8 straws out").click()
    expect(slow.page.get_by_role("alert")).to_be_visible()
    slow.page.get_by_role("link", name="Plan anew").click()
    expect(slow.page.locator("main h1")).to_have_text("Take a dose")


def test_straws_that_may_have_warmed_do_not_go_back(
    screen_of: Screens, station: Station, herd: Any
) -> None:
    screen = screen_of("vet")
    page = screen.page
    _plan(screen, herd["id"])
    _confirm_all(screen)
    page.get_by_role("button", name="Book 8 straws out").click()
    page.get_by_role("link", name="Put straws back").click()
    page.get_by_label("No, or I am not sure").check()
    expect(page.get_by_text("Then they do not go back")).to_be_visible()
    expect(page.get_by_role("button", name="Put them back")).to_be_hidden()
    page.get_by_label("Yes, the whole time").check()
    page.get_by_label("Straws that go back").fill("3")
    page.get_by_role("button", name="Put them back").click()
    expect(page.get_by_text("3 straws back in the bank.").first).to_be_visible()
    page.get_by_role("link", name="Discard the rest").click()
    page.get_by_label("Reason").fill("May have warmed.")
    page.get_by_role("button", name="Discard 5 straws").click()
    expect(page.get_by_text("5 straws discarded.").first).to_be_visible()
    straws = station.vet.ok("GET", f"/batches/{herd['batches'][1]['id']}")["straws"]
    assert Counter(one["state"] for one in straws) == {"stored": 15, "discarded": 5}


def test_the_thaw_timer_counts_down_and_on(screen_of: Screens, station: Station, herd: Any) -> None:
    screen = screen_of("vet")
    page = screen.page
    _plan(screen, herd["id"])
    _confirm_all(screen)
    page.get_by_role("button", name="Book 8 straws out").click()
    page.get_by_role("button", name="Straw in the water: start").wait_for()
    page.clock.install()
    page.get_by_role("button", name="Straw in the water: start").click()
    page.clock.run_for(12_000)
    expect(page.locator(".timer-digits")).to_have_text("18")
    page.clock.run_for(20_500)
    expect(page.locator(".timer-digits")).to_have_text("+2")
    expect(page.get_by_text("Time is up. Take it out now.").first).to_be_visible()
    page.get_by_role("button", name="Straw out: stop").click()
    expect(page.locator(".timer-state")).to_contain_text("Stopped after 32.")


def test_the_reserve_is_a_manager_s_to_release(screen_of: Screens, station: Station) -> None:
    old = station.vet.ok(
        "POST", "/stallions", building.stallion("Hoarwick", straws=4, reserve_doses=2)
    )
    free = station.vet.ok("GET", f"/goblets/free?straws=8&stallion_id={old['id']}")["placements"]
    places = [(one["goblet_id"], one["straws"]) for one in free]
    station.technician.ok("POST", "/freezes", building.freeze(old["id"], places))
    for role in ("vet", "manager"):
        page = screen_of(role).page
        page.goto(f"{station.address}/#/dose?stallion={old['id']}")
        page.get_by_label("Her name, or a part of it").fill("Brindlewick")
        page.get_by_role("radio", name="Brindlewick").first.check()
        page.get_by_role("button", name="Show the plan").click()
        reason = page.get_by_label("Reason for giving up the reserve")
        if role == "vet":
            expect(page.get_by_text("Only a manager can release what is kept back")).to_be_visible()
            expect(reason).to_be_hidden()
        else:
            reason.fill("His last daughter, agreed with the owner.")
            page.get_by_role("button", name="Show the plan").click()
            expect(page.get_by_role("button", name="Start the walk")).to_be_visible()


def test_straws_of_two_batches_are_told_apart_when_used_and_given_back(
    screen_of: Screens, station: Station, herd: Any
) -> None:
    picks = [
        {"goblet_id": herd["goblets"][at]["id"], "batch_id": herd["batches"][at]["id"], "straws": 4}
        for at in (0, 1)
    ]
    withdrawal = station.vet.ok(
        "POST",
        "/withdrawals",
        {
            "stallion_id": herd["id"],
            "mare_id": station.mare["id"],
            "doses": 1,
            "picks": picks,
        },
    )
    screen = screen_of("vet")
    page = screen.page
    screen.open(f"/withdrawals/{withdrawal['id']}/insemination")
    used = page.get_by_label("Straws used, batch")
    expect(used).to_have_count(2)
    second = codes.grouped(herd["batches"][1]["code"])
    page.get_by_label(f"Straws used, batch {second}").fill("1")
    expect(page.get_by_text("3 straws still frozen")).to_be_visible()
    page.get_by_role("button", name="Record the insemination").click()
    page.get_by_label("Yes, the whole time").check()
    page.get_by_role("button", name="Put them back").click()
    expect(page.get_by_text("3 straws back in the bank.").first).to_be_visible()
    after = station.vet.ok("GET", f"/withdrawals/{withdrawal['id']}")
    assert (after["insemination"]["straws_used"], after["state"]) == (5, "inseminated")
    left = station.vet.ok("GET", f"/batches/{herd['batches'][1]['id']}")
    assert left["straws_stored"] == 19
