"""What holds on every screen: it can be read, reached and operated by anybody, on any size."""

import json
from collections.abc import Callable, Iterator
from typing import Any, Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from tests.journeys.conftest import Screen, Station

WIDTHS = (320, 390, 1280)

#: Axe's own words for what must not occur.
SERIOUS = ("serious", "critical")

#: Smaller than 48 x 48 px, though something to press: links inside a line of text are exempt
#: (WCAG 2.2, 2.5.8, W3C, 2023, says so of its 24 px too), and so is what is not shown.
SMALL_TARGETS = """
() => [...document.querySelectorAll("a, button, input, select, textarea, summary, label.choice")]
  .filter((node) => node.checkVisibility() && !node.closest(".unseen, svg") && node.id !== "skip")
  .filter((node) => !(node.matches("input") && node.closest("label.choice")))
  .filter((node) => !(node.matches("a") && getComputedStyle(node).display === "inline"))
  .map((node) => [node, node.getBoundingClientRect()])
  .filter(([, box]) => box.width < 47.5 || box.height < 47.5)
  .map(([node, box]) => `${node.outerHTML.slice(0, 120)} ${box.width} x ${box.height}`)
"""

STICKING_OUT = """
() => [...document.querySelectorAll("main *, header *")]
  .filter((node) => node.checkVisibility() && !node.closest(".unseen, svg, .table thead"))
  .filter((node) => node.getBoundingClientRect().right > innerWidth + 0.5)
  .map((node) => node.outerHTML.slice(0, 120))
"""


def _lift_a_dose(station: Station) -> Any:
    """A withdrawal whose straws are still out."""
    plan = station.vet.ok("POST", "/withdrawals/plan", {"stallion_id": station.lantern["id"]})
    picks = [
        {name: pick[name] for name in ("goblet_id", "batch_id", "straws")} for pick in plan["picks"]
    ]
    body = {
        "stallion_id": station.lantern["id"],
        "mare_id": station.mare["id"],
        "doses": 1,
        "picks": picks,
    }
    return station.vet.ok("POST", "/withdrawals", body)


def _person(station: Station, username: str) -> str:
    people = station.vet.ok("GET", "/people")["items"]
    return next(one["id"] for one in people if one["username"] == username)


def _dispatch(station: Station, goblet: str, batch: str) -> str:
    """A dispatch in a sealed dry shipper."""
    sent: dict[str, str] = station.technician.ok(
        "POST",
        "/dispatches",
        {
            "to": "Tarn Stud",
            "seal_number": "A 1",
            "holding_days_rated": 14,
            "filled_at": "2026-03-03T08:00:00Z",
            "picks": [{"goblet_id": goblet, "batch_id": batch, "straws": 2}],
        },
    )
    return sent["id"]


def _room(station: Station, tank: str) -> str:
    """The room that a tank stands in."""
    held = station.manager.client.get(f"/api/tanks/{tank}")
    if (known := held.json()["room_id"]) is not None:
        return str(known)
    room = {"volume_m3": 40, "air_changes_per_hour": 3, "ventilation": "exhaust"}
    made = station.manager.ok("POST", "/rooms", {"name": "Cold store", **room})
    answer = station.manager.client.patch(
        f"/api/tanks/{tank}",
        json={"room_id": made["id"]},
        headers={"If-Match": held.headers["ETag"]},
    )
    assert answer.status_code == 200, answer.text
    return str(made["id"])


def _channel(station: Station) -> str:
    """A channel of the manager's, who is on duty."""
    person = _person(station, "manager")
    body = {"name": "By e-mail", "kind": "email", "target": "m@fellgate.example"}
    made = station.manager.ok("POST", "/alert-channels", body | {"person_id": person})
    etag = station.manager.client.get("/api/duty").headers["ETag"]
    answer = station.manager.client.patch(
        "/api/duty",
        json={"handovers": [{"weekday": 0, "at": "07:00", "person_id": person}]},
        headers={"If-Match": etag},
    )
    assert answer.status_code == 200, answer.text
    return str(made["id"])


def _stock_takes(station: Station) -> tuple[str, str]:
    """Of one goblet: a stock-take that is compared and has a difference, and one being counted."""
    goblet = station.tank["canisters"][0]["goblets"][1]["id"]
    counts = {"goblet_id": goblet, "batches": [], "foreign": ["OX-77"]}
    takes = []
    for _ in range(2):
        made = station.manager.ok("POST", "/stock-takes", {"scope": {"goblet_ids": [goblet]}})
        takes.append(f"/stock-takes/{made['id']}")
    station.technician.ok("POST", f"{takes[0]}/counts", counts)
    station.manager.ok("POST", f"{takes[0]}/compare", {})
    return takes[0], takes[1]


@pytest.fixture(scope="module")
def routes(station: Station) -> dict[str, str]:
    """Every screen by name, each with something on it."""
    stallion, tank = station.lantern["id"], station.tank["id"]
    prepared = station.technician.ok(
        "POST", "/batches", {"stallion_id": stallion, "straws_planned": 30}
    )
    withdrawal = _lift_a_dose(station)
    canister = station.tank["canisters"][0]
    goblet = canister["goblets"][0]["id"]
    frozen = station.vet.ok("GET", f"/goblets/{goblet}")["contents"][0]["batch_id"]
    out = f"/withdrawals/{withdrawal['id']}"
    alert = station.standing("low-stock")["id"]
    channel = _channel(station)
    compared, counting = _stock_takes(station)
    return {
        "home": "/",
        "alerts": "/alerts",
        "alert": f"/alerts/{alert}",
        "alerts that are over": "/alerts?state=closed",
        "how good alerts are": "/alerts/quality",
        "how people are told": "/alerts/settings",
        "channel anew": "/alerts/settings/channels/new",
        "channel": f"/alerts/settings/channels/{channel}",
        "channel change": f"/alerts/settings/channels/{channel}/edit",
        "mail server": "/alerts/settings/mail",
        "times of alerts": "/alerts/settings/times",
        "outside watch": "/alerts/settings/outside",
        "duty": "/alerts/settings/duty",
        "daily summary": "/alerts/settings/summary",
        "find": "/find",
        "bank": "/bank",
        "import": "/import",
        "tank set-up": "/bank/new",
        "tank": f"/bank/tank/{tank}",
        "tank change": f"/bank/tank/{tank}/edit",
        "nitrogen": "/nitrogen",
        "nitrogen of a tank": f"/bank/tank/{tank}/nitrogen",
        "a level": f"/bank/tank/{tank}/dip",
        "round": "/round",
        "how rounds are made": "/round/plan",
        "rooms": "/rooms",
        "room anew": "/rooms/new",
        "room": f"/rooms/{_room(station, tank)}",
        "room change": f"/rooms/{_room(station, tank)}/edit",
        "canister": f"/bank/canister/{canister['id']}",
        "goblet": f"/bank/goblet/{goblet}",
        "move": f"/bank/goblet/{goblet}/move?batch={frozen}",
        "discard": f"/bank/goblet/{goblet}/discard?batch={frozen}",
        "goblet moves": f"/bank/goblet/{goblet}/relocate",
        "canister moves": f"/bank/canister/{canister['id']}/relocate",
        "owner": f"/bank/goblet/{goblet}/owner?batch={frozen}",
        "promise": f"/stallions/{stallion}/promise",
        "bring in straws": f"/receipts/new?stallion={stallion}",
        "freeze": "/freeze",
        "prepare": "/freeze/prepare",
        "freeze anew": "/freeze/new",
        "freeze of a batch": f"/freeze/new?batch={prepared['id']}",
        "batches": "/batches",
        "batch": f"/batches/{frozen}?stored=1",
        "batch codes": f"/batches/{prepared['id']}/codes?fresh=1",
        "labels": f"/batches/{prepared['id']}/labels",
        "label settings": "/station/labels",
        "plate of a goblet": f"/bank/goblet/{goblet}/plates",
        "plates of a canister": f"/bank/canister/{canister['id']}/plates",
        "plates of a tank": f"/bank/tank/{tank}/plates",
        "post-thaw": f"/batches/{frozen}/post-thaw",
        "dose": "/dose",
        "withdrawals": "/withdrawals",
        "withdrawal": out,
        "insemination": f"{out}/insemination",
        "return": f"{out}/return",
        "discard the rest": f"{out}/discard",
        "lost": f"{out}/lost",
        "dispatch anew": f"/dispatch/new?goblet={goblet}&batch={frozen}",
        "dispatches": "/dispatches",
        "dispatch": f"/dispatches/{_dispatch(station, goblet, frozen)}",
        "straws come back": f"/dispatches/{_dispatch(station, goblet, frozen)}/back",
        "stallions": "/stallions",
        "stallion add": "/stallions/new",
        "stallion": f"/stallions/{stallion}",
        "stallion change": f"/stallions/{station.moss['id']}/edit",
        "mares": "/mares",
        "straw": f"/straws/{withdrawal['straws'][0]['code']}",
        "book": "/book",
        "stock-takes": "/stock-takes",
        "stock-take anew": "/stock-takes/new",
        "limits of stock-takes": "/stock-takes/plan",
        "stock-take": counting,
        "stock-take compared": compared,
        "count of a goblet": f"{counting}/count/{canister['goblets'][1]['id']}",
        "reading room": "/reading-room",
        "what stood where": "/reading-room?what=stock",
        "records changed": "/reading-room?what=record-changes",
        "people": "/people",
        "person": f"/people/{_person(station, 'technician')}",
        "station": "/station",
        "backups": "/backups",
        "account": "/account",
        "scanner": "/scanner",
    }


@pytest.fixture(scope="module")
def open_screen(browser: Browser, station: Station) -> Iterator[Screen]:
    """The manager's tab, kept over the tests of this module."""
    # The checker's own script is let in; that the policy holds is another test's business.
    screen = Screen(browser.new_context(bypass_csp=True), station.address)
    screen.sign_in("manager")
    yield screen
    screen.page.context.close()


def _open_everything(screen: Screen) -> None:
    """What is folded away is a part of the screen too."""
    screen.page.evaluate("document.querySelectorAll('details').forEach((one) => one.open = true)")
    screen.page.wait_for_timeout(50)


#: What axe looks at: everything, and again what another set of colours may change.
SCHEMES: dict[Literal["light", "dark"], dict[str, Any]] = {
    "light": {},
    "dark": {"runOnly": ["color-contrast"]},
}


def _findings(screen: Screen, rules: dict[str, Any]) -> list[str]:
    options = {"resultTypes": ["violations"], **rules}
    found = Axe().run(screen.page, options=options).response["violations"]
    return [
        f"{one['id']}: {one['help']}: {node['html'][:160]}"
        for one in found
        if one["impact"] in SERIOUS
        for node in one["nodes"]
    ]


def test_no_screen_has_a_serious_accessibility_fault(
    open_screen: Screen, routes: dict[str, str]
) -> None:
    faults = {}
    screen = open_screen
    screen.page.set_viewport_size({"width": 390, "height": 844})
    for name, route in routes.items():
        screen.open(route)
        _open_everything(screen)
        for scheme, rules in SCHEMES.items():
            screen.page.emulate_media(color_scheme=scheme)
            if found := _findings(screen, rules):
                faults[f"{name}, {scheme}"] = found
    assert not faults, json.dumps(faults, indent=1)


def test_nothing_sticks_out_and_everything_can_be_hit(
    open_screen: Screen, routes: dict[str, str]
) -> None:
    screen = open_screen
    faults = {}
    for name, route in routes.items():
        screen.open(route)
        _open_everything(screen)
        for width in WIDTHS:
            screen.page.set_viewport_size({"width": width, "height": 800})
            wide = screen.page.evaluate("document.documentElement.scrollWidth > innerWidth")
            found = screen.page.evaluate(STICKING_OUT) + screen.page.evaluate(SMALL_TARGETS)
            if found or wide:
                faults[f"{name}, {width}"] = found or ["scrolls sideways"]
    assert not faults, json.dumps(faults, indent=1)


#: The pages of a dose are read at arm's length in a cold store: 7:1 there (WCAG 2.2, 1.4.6).
ENHANCED = {"runOnly": {"type": "rule", "values": ["color-contrast-enhanced"]}}

LOW_BUTTONS = """
() => [...document.querySelectorAll("main .walk button, main .walk .button, main .walk input")]
  .filter((node) => node.checkVisibility())
  .map((node) => [node, node.getBoundingClientRect()])
  .filter(([, box]) => box.height < 71.5 || box.width < 71.5)
  .map(([node, box]) => `${node.outerHTML.slice(0, 120)} ${box.width} x ${box.height}`)
"""


def _walk_faults(screen: Screen) -> list[str]:
    faults = _findings(screen, SCHEMES["light"])
    for found in Axe().run(screen.page, options=ENHANCED).response["violations"]:
        faults += [node["html"][:160] for node in found["nodes"]]
    for width in WIDTHS:
        screen.page.set_viewport_size({"width": width, "height": 800})
        faults += [f"{width}: {one}" for one in screen.page.evaluate(STICKING_OUT)]
        faults += [f"{width}: {one}" for one in screen.page.evaluate(LOW_BUTTONS)]
    return faults


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_pages_of_a_dose_can_be_read_and_hit_in_gloves(
    open_screen: Screen, routes: dict[str, str], station: Station, scheme: Literal["light", "dark"]
) -> None:
    screen, page = open_screen, open_screen.page
    page.emulate_media(color_scheme=scheme)
    for name in ("dose", "withdrawal", "insemination", "return", "discard the rest"):
        screen.open(routes[name])
        _open_everything(screen)
        found = Axe().run(page, options=ENHANCED).response["violations"]
        assert not found, (name, json.dumps(found)[:2000])
    screen.open(f"/dose?stallion={station.moss['id']}")
    page.get_by_label("Her name, or a part of it").fill("Brindlewick")
    page.get_by_role("radio", name="Brindlewick").first.check()
    page.get_by_role("button", name="Show the plan").click()
    page.get_by_role("button", name="Start the walk").wait_for()
    assert not _walk_faults(screen)
    page.get_by_role("button", name="Start the walk").click()
    _open_everything(screen)
    assert not _walk_faults(screen)
    while page.get_by_role("heading", name="Goblet").count():
        page.get_by_role("button", name="I have").click()
        page.wait_for_timeout(100)
    assert not _walk_faults(screen)
    screen.open("/dose")
    page.get_by_role("button", name="Give it up").click()


def test_every_screen_has_one_heading_that_takes_the_focus(
    open_screen: Screen, routes: dict[str, str]
) -> None:
    screen = open_screen
    for name, route in routes.items():
        screen.open(route)
        assert screen.page.locator("h1").count() == 1, name
        assert screen.page.evaluate("document.activeElement.tagName") == "H1", name
        assert screen.title, name
        assert screen.page.title().startswith(screen.title), name


def test_no_screen_breaks_the_security_policy(
    screen_of: Callable[..., Screen], routes: dict[str, str]
) -> None:
    # `screen_of` fails on anything the browser complains of, and the browser does of violations.
    screen = screen_of("manager")
    headers = screen.page.request.get(screen.address).headers
    assert "require-trusted-types-for 'script'" in headers["content-security-policy"]
    screen.page.evaluate(
        """() => { window.broken = []; document.addEventListener("securitypolicyviolation",
              (event) => window.broken.push(event.violatedDirective + " " + event.blockedURI)); }"""
    )
    for route in routes.values():
        screen.open(route)
    assert screen.page.evaluate("window.broken") == []


def test_the_first_page_is_light_and_comes_from_here_alone(
    browser: Browser, screen_of: Callable[..., Screen]
) -> None:
    signed_in = screen_of("technician")
    # With nothing kept: what was kept is asked for again, and the answer is empty.
    context = browser.new_context(storage_state=signed_in.page.context.storage_state())
    screen = Screen(context, signed_in.address)
    answers: list[Any] = []

    def note(answer: Any) -> None:
        answers.append(answer)

    screen.page.on("response", note)
    screen.open("/")
    screen.page.wait_for_timeout(200)
    sizes = {answer.url: answer.request.sizes()["responseBodySize"] for answer in answers}
    context.close()
    assert len(sizes) > 20
    assert all(url.startswith(screen.address) for url in sizes)
    assert sum(sizes.values()) <= 150_000, sizes


def test_the_policy_test_can_fail(screen_of: Callable[..., Screen]) -> None:
    screen = screen_of("manager")
    screen.page.evaluate(
        """() => { window.broken = []; document.addEventListener("securitypolicyviolation",
              (event) => window.broken.push(event.violatedDirective));
              try { document.body.innerHTML += "<p style='color: red'>"; } catch {} }"""
    )
    screen.page.wait_for_timeout(100)
    assert screen.page.evaluate("window.broken") != []
    screen.complaints.clear()
