"""A stock-take in a real browser: counted in gloves, compared, adjusted by two, told on paper."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests import building
from tests.journeys.conftest import Api, Screen, Station

Screens = Callable[..., Screen]

DESK = {"width": 1280, "height": 900}

#: What a gloved hand misses, or eyes at arm's length do not read.
TOO_SMALL = """
() => [...document.querySelectorAll(".count button, .count .button, .count input, .count summary")]
  .filter((node) => node.checkVisibility())
  .map((node) => [node, node.getBoundingClientRect(), parseFloat(getComputedStyle(node).fontSize)])
  .filter(([node, box, font]) => {
    const least = node.matches(".button-primary") ? 119.5 : 71.5;
    return box.height < least || box.width < 71.5 || font < 18;
  })
  .map(([node, box, font]) => `${node.outerHTML.slice(0, 99)} ${box.width} x ${box.height} ${font}`)
"""

ENHANCED = {"runOnly": {"type": "rule", "values": ["color-contrast-enhanced"]}}


@pytest.fixture(scope="module")
def stock(station: Station) -> Any:
    """A tank of this module's own with one canister: a batch in each of its two goblets."""
    tank = station.manager.ok(
        "POST", "/tanks", building.tank("Cairn", canisters=1, goblets=2, straws=40)
    )
    goblets = building.goblets_of(tank)
    frozen = [
        station.technician.ok(
            "POST", "/freezes", building.freeze(station.lantern["id"], [(one["id"], straws)])
        )
        for one, straws in ((goblets[0], 12), (goblets[1], 4))
    ]
    return {
        "tank": tank,
        "goblets": goblets,
        "batches": [one["batch"] for one in frozen],
        "codes": [[straw["code"] for straw in one["straws"]] for one in frozen],
    }


@pytest.fixture(scope="module")
def auditor(station: Station) -> Iterator[Api]:
    """The auditor at the API."""
    api = Api(station.address, "auditor")
    yield api
    api.client.close()


@pytest.fixture
def take(auditor: Api, stock: Any) -> Any:
    """A stock-take of that tank, opened by the auditor."""
    return auditor.ok("POST", "/stock-takes", {"scope": {"tank_ids": [stock["tank"]["id"]]}})


def _count_by_api(who: Api, take: Any, goblet: Any, batches: list[Any]) -> None:
    who.ok(
        "POST", f"/stock-takes/{take['id']}/counts", {"goblet_id": goblet["id"], "batches": batches}
    )


def _scan(page: Page, code: str) -> None:
    """As a scanner that acts as a keyboard does."""
    page.keyboard.type(code, delay=4)
    page.keyboard.press("Enter")


def _open_goblet(screen: Screen, take: Any, goblet: Any) -> None:
    screen.open(f"/stock-takes/{take['id']}/count/{goblet['id']}")


def test_a_stock_take_from_opening_to_the_report(
    screen_of: Screens, station: Station, stock: Any
) -> None:
    goblets = stock["goblets"]
    desk = screen_of("auditor", viewport=DESK)
    desk.open("/stock-takes/new")
    page = desk.page
    page.get_by_label("Some tanks").check()
    page.get_by_label("Cairn: 2 goblets").check()
    page.get_by_role("button", name="Open it").click()
    page.get_by_role("link", name=f"Count the next goblet: {goblets[0]['address']}").wait_for()
    route = page.url.split("#")[1]
    take = station.vet.ok("GET", route)

    _technician_counts_by_number(screen_of, route, stock)
    _vet_counts_by_scanning(screen_of, route, stock)
    kept = station.manager.ok("GET", route)["counts"]
    assert [one["not_blind"] for one in kept] == [False, False]

    page.reload()
    page.get_by_role("button", name="Compare with the book").click()
    card = page.get_by_role("region", name=goblets[0]["address"])
    expect(card).to_contain_text("Missing")
    expect(card.locator("tbody td")).to_have_text(["12", "11", "−1"])
    expect(page.get_by_role("region", name=goblets[1]["address"])).to_have_count(0)
    card.get_by_text("Propose what the book should say").click()
    card.get_by_label("Why").select_option(label="They were used, and nobody wrote it down")
    card.get_by_label("What is known about it").fill("Taken on Saturday night; the vet knows")
    card.get_by_role("button", name="Propose it").click()
    expect(page.locator("main").get_by_text("waits for approval")).to_be_visible()

    manager = screen_of("manager", viewport=DESK)
    manager.open(route)
    manager.page.get_by_role("button", name="Approve and book").click()
    expect(manager.page.locator("main").get_by_text("Approved by")).to_be_visible()
    manager.page.locator("summary", has_text="Close this stock-take").click()
    manager.page.get_by_role("button", name="Close and make the report").click()
    expect(manager.page.locator("#toasts")).to_contain_text("Closed. The report is kept.")

    for kind in ("JSON", "PDF"):
        href = page.get_by_role("link", name=kind).get_attribute("href")
        answer = station.manager.client.get(str(href))
        assert (answer.status_code, len(answer.content) > 500) == (200, True)
    assert station.vet.ok("GET", route)["state"] == "closed"
    assert take["id"] in route


def _technician_counts_by_number(screen_of: Screens, route: str, stock: Any) -> None:
    """One too few; a reload in the middle keeps what was entered."""
    screen = screen_of("technician", bypass_csp=True)
    screen.open(route)
    page = screen.page
    page.get_by_role("link", name="Count the next goblet").click()
    page.get_by_role("button", name="Lift").click()
    expect(page.locator("main").get_by_text("The canister is up.")).to_be_visible()
    page.get_by_role("button", name="Lowered").click()
    page.get_by_role("button", name="By number").click()
    page.locator("main").get_by_text("Choose stallion and batch").click()
    page.get_by_label("Stallion, or a part of his name").fill("lantern")
    page.get_by_role("button", name="Lanternfield").click()
    code = stock["batches"][0]["code"]
    page.locator(".batch-button", has_text=f"{code[:3]} {code[3:6]} {code[6:]}").click()
    page.get_by_role("button", name="10 more").click()
    page.get_by_role("button", name="One more").first.click()
    expect(page.get_by_role("button", name="Send: 11 straws")).to_be_visible()
    page.reload()
    expect(page.get_by_role("button", name="Send: 11 straws")).to_be_visible()
    page.evaluate("document.querySelectorAll('details').forEach((one) => one.open = true)")
    page.wait_for_timeout(150)
    assert page.evaluate(TOO_SMALL) == []
    found = Axe().run(page).response["violations"]
    assert not [one for one in found if one["impact"] in ("serious", "critical")]
    assert not Axe().run(page, options=ENHANCED).response["violations"]
    page.get_by_role("button", name="Send: 11 straws").click()
    expect(page.locator("main").get_by_text("1 goblet left to count.")).to_be_visible()


def _vet_counts_by_scanning(screen_of: Screens, route: str, stock: Any) -> None:
    """The plate opens the count; twice the same straw is one; a foreign mark is kept as such."""
    screen = screen_of("vet")
    screen.open(route)
    page = screen.page
    goblet = stock["goblets"][1]
    _scan(page, goblet["code"])
    screen.arrived(f"{route}/count/{goblet['id']}")
    for code in stock["codes"][1]:
        _scan(page, code)
        expect(page.locator(".scan-code").first).to_have_text(
            f"{code[:3]}\u00a0{code[3:6]}\u00a0{code[6:]}"
        )
    page.get_by_label("Scan each straw").fill(stock["codes"][1][0])
    page.get_by_role("button", name="Add").first.click()
    expect(page.locator("main").get_by_text("It counts once.")).to_be_visible()
    expect(page.locator("main").get_by_text("4 straws scanned")).to_be_visible()
    page.get_by_role("button", name="Send: 4 straws").click()
    expect(page.locator("main").get_by_text("All are counted.")).to_be_visible()


def test_whoever_counted_does_not_approve_and_is_told_so(
    screen_of: Screens, station: Station, auditor: Api, stock: Any, take: Any
) -> None:
    goblet, other = stock["goblets"]
    codes = [one["code"] for one in stock["batches"]]
    book = station.vet.ok("GET", f"/goblets/{goblet['id']}")["contents"][0]["straws"]
    few = [{"batch_code": codes[0], "straws": book - 2}]
    _count_by_api(station.manager, take, goblet, few)
    over = [{"batch_code": codes[1], "straws": 4}, {"batch_code": codes[0], "straws": 2}]
    _count_by_api(station.technician, take, other, over)
    auditor.ok("POST", f"/stock-takes/{take['id']}/compare", {})
    screen = screen_of("auditor")
    screen.open(f"/stock-takes/{take['id']}")
    screen.page.get_by_role("button", name="Propose to move 2 straws").first.click()
    expect(screen.page.locator("main").get_by_text("waits for approval")).to_be_visible()
    expect(screen.page.get_by_role("button", name="Propose to move")).to_have_count(0)
    manager = screen_of("manager")
    manager.open(f"/stock-takes/{take['id']}")
    manager.page.get_by_role("button", name="Approve and book").click()
    expect(
        manager.page.locator("main").get_by_text("You counted this goblet yourself.")
    ).to_be_visible()


def test_an_empty_goblet_is_one_tap_and_a_foreign_mark_is_kept(
    screen_of: Screens, station: Station, stock: Any, take: Any
) -> None:
    screen = screen_of("technician")
    page = screen.page
    _open_goblet(screen, take, stock["goblets"][0])
    page.get_by_role("button", name="Send", exact=True).click()
    expect(page.locator("main").get_by_text("Nothing is entered yet.")).to_be_visible()
    page.get_by_role("button", name="It is empty").click()
    page.get_by_role("button", name="Send: the goblet is empty").click()
    page.get_by_role("link", name="Next: ").click()
    screen.arrived(f"/stock-takes/{take['id']}/count/{stock['goblets'][1]['id']}")
    _scan(page, "OX-77/4411")
    expect(page.get_by_role("button", name="Send: 1 foreign mark")).to_be_visible()
    page.get_by_role("button", name="Send: 1 foreign mark").click()
    expect(page.locator("main").get_by_text("All are counted.")).to_be_visible()
    kept = station.manager.ok("GET", f"/stock-takes/{take['id']}")
    assert [one["not_blind"] for one in kept["counts"]] == [False, False]


def test_the_reading_room_shows_every_table_as_of_a_day(
    screen_of: Screens, station: Station, stock: Any
) -> None:
    screen = screen_of("auditor", viewport=DESK)
    screen.open("/reading-room?what=stock")
    page = screen.page
    expect(page.get_by_role("row").filter(has_text=stock["goblets"][1]["address"])).to_be_visible()
    href = page.get_by_role("link", name="As a spreadsheet").get_attribute("href")
    assert station.vet.client.get(str(href)).text.lstrip("\ufeff").startswith("address,")
    page.get_by_label("As it stood on").fill("2020-01-31")
    page.get_by_role("button", name="Show").click()
    expect(
        page.locator("main").get_by_text("There was nothing of the kind by 31 Jan 2020.")
    ).to_be_visible()
