"""Scanning with a hand-held scanner that acts as a keyboard, and typing codes."""

import time
from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from service.kernel import codes
from tests import building
from tests.journeys.conftest import Screen, Station
from tests.journeys.test_screens import ENHANCED

Screens = Callable[..., Screen]

#: What a French computer makes of the keys of a scanner that is set to English (general knowledge).
AZERTY = dict(zip("0123456789AQZWM", "à&é\"'(-è_çqawz,", strict=True))


#: How far ahead of the clock a simulated scanner's keys lie.
LEAD_SECONDS = 0.15


class Wedge:
    """A scanner: key events of the browser's own, each with the time at which it was struck."""

    def __init__(self, screen: Screen) -> None:
        self.tab = screen.page.context.new_cdp_session(screen.page)

    def _strike(self, key: str, code: str, at: float, *, text: str = "") -> None:
        event = {"key": key, "code": code, "timestamp": at}
        if key == "Enter":
            event |= {"windowsVirtualKeyCode": 13, "text": "\r"}
        elif key == "Tab":
            event |= {"windowsVirtualKeyCode": 9}
        elif text:
            event |= {"text": text}
        kind = "keyDown" if "text" in event else "rawKeyDown"
        self.tab.send("Input.dispatchKeyEvent", {"type": kind, **event})
        up = {name: value for name, value in event.items() if name != "text"}
        self.tab.send("Input.dispatchKeyEvent", {"type": "keyUp", **up})

    def scan(
        self,
        code: str,
        *,
        gap_ms: float = 10,
        ends: tuple[str, ...] = ("Enter",),
        keys: dict[str, str] | None = None,
    ) -> None:
        """One scan, sent at once, with the times of a scanner that takes `gap_ms` for a key.

        The times lie a little ahead: on a busy machine a key may take longer to send than a silence
        lasts. `keys`: what the computer makes of a key, where that differs from what stands on it.
        """
        at = time.time() + LEAD_SECONDS
        for sign in code:
            key = (keys or {}).get(sign.upper(), sign)
            place = f"Digit{sign}" if sign.isdigit() else f"Key{sign.upper()}"
            self._strike(key, place, at, text=key)
            at += gap_ms / 1000
        for end in ends:
            self._strike(end, end, at)
            at += gap_ms / 1000
        time.sleep(max(0.0, at - time.time()))


@pytest.fixture
def stock(station: Station) -> Any:
    """A stallion of this test's own: two batches in two goblets, and codes to scan."""
    name = "Ferrowdale"
    made = station.vet.ok("POST", "/stallions", building.stallion(name, straws=4))
    tank = station.manager.ok("POST", "/tanks", building.tank(f"W{made['id'][-6:]}", straws=40))
    goblets = building.goblets_of(tank)
    batches = [
        station.technician.ok(
            "POST", "/freezes", building.freeze(made["id"], [(goblets[at]["id"], straws)])
        )
        for at, straws in ((0, 3), (1, 6), (2, 5))
    ]
    return {
        "id": made["id"],
        "name": name,
        "tank": tank,
        "goblets": goblets,
        "batches": [one["batch"] for one in batches],
        "codes": [[straw["code"] for straw in one["straws"]] for one in batches],
    }


def _said(screen: Screen) -> Any:
    return screen.page.locator(".scan-one").first


def test_a_scan_opens_what_it_is_at_any_speed_and_with_any_end(
    screen_of: Screens, stock: Any
) -> None:
    screen = screen_of("vet")
    wedge = Wedge(screen)
    scanners: list[tuple[float, tuple[str, ...], bool]] = [
        (1, ("Enter",), False),
        (5, ("Tab",), True),
        (20, ("Enter", "Enter"), False),
        (40, (), False),
    ]
    for (gap_ms, ends, small), code in zip(scanners, stock["codes"][1], strict=False):
        wedge.scan(code.lower() if small else code, gap_ms=gap_ms, ends=ends)
        screen.arrived(f"/straws/{code}")
        expect(_said(screen)).to_contain_text(codes.grouped(code).replace(" ", "\u00a0"))
        expect(_said(screen)).to_contain_text(f"{stock['name']} · {stock['goblets'][1]['address']}")
    size = screen.page.locator(".scan-code").evaluate(
        "(node) => parseFloat(getComputedStyle(node).fontSize)"
    )
    assert size >= 32


@pytest.mark.parametrize("end", ["Enter", "Tab"])
def test_the_end_of_a_scan_presses_nothing(screen_of: Screens, stock: Any, end: str) -> None:
    screen = screen_of("vet")
    wedge = Wedge(screen)
    menu = screen.page.get_by_role("button", name="Menu")
    menu.focus()
    goblet = stock["goblets"][1]
    wedge.scan(goblet["code"], ends=(end, end))
    screen.arrived(f"/bank/goblet/{goblet['id']}")
    assert menu.get_attribute("aria-expanded") == "false"
    screen.page.get_by_role("link", name="Find", exact=True).focus()
    wedge.scan(stock["tank"]["code"], ends=(end, end))
    screen.arrived(f"/bank/tank/{stock['tank']['id']}")


def test_a_scan_into_a_field_gives_the_field_back_and_is_not_lost(
    screen_of: Screens, stock: Any
) -> None:
    screen = screen_of("technician")
    page, wedge = screen.page, Wedge(screen)
    first, second, third = stock["codes"][1][:3]
    screen.open("/dispatch/new")
    to = page.get_by_label("To whom")
    to.fill("Tarn Stud")
    to.press("Home")
    wedge.scan(first)
    expect(page.locator(".codes [data-code]")).to_have_count(1)
    expect(to).to_have_value("Tarn Stud")
    assert to.evaluate("(node) => node.selectionStart") == 0
    expect(page.get_by_text("Please look at the marked fields.")).to_have_count(0)
    # Two in quick succession, a tenth of a second and a half apart, with and without an end.
    wedge.scan(second, ends=())
    page.wait_for_timeout(150)
    wedge.scan(third, ends=("Tab",))
    read = page.locator(".codes [data-code]")
    expect(read).to_have_count(3)
    assert [one.get_attribute("data-code") for one in read.all()] == [first, second, third]
    expect(to).to_be_focused()
    # The same once more within two seconds counts once, and is told softly.
    wedge.scan(third)
    expect(page.locator("#live")).to_contain_text("It counts once")
    expect(read).to_have_count(3)
    # A list would jump to what begins with the letter.
    choose = page.get_by_label("Add from the bank")
    choose.focus()
    page.wait_for_timeout(250)
    wedge.scan(stock["codes"][2][0])
    expect(read).to_have_count(4)
    assert choose.input_value() == ""


def test_who_fills_in_a_form_is_not_taken_away_from_it(screen_of: Screens, stock: Any) -> None:
    screen = screen_of("vet")
    page, wedge = screen.page, Wedge(screen)
    screen.open("/stallions/new")
    name = page.get_by_label("Name", exact=True)
    name.fill("Half a na")
    wedge.scan(stock["codes"][0][1])
    expect(_said(screen)).to_contain_text(stock["name"])
    expect(name).to_have_value("Half a na")
    assert page.url.endswith("/stallions/new")
    page.get_by_role("link", name="Open it").click()
    screen.arrived(f"/straws/{stock['codes'][0][1]}")


def test_a_scan_never_answers_a_question(screen_of: Screens, stock: Any) -> None:
    screen = screen_of("technician")
    page, wedge = screen.page, Wedge(screen)
    goblet, batch = stock["goblets"][2], stock["batches"][2]
    screen.open(f"/bank/goblet/{goblet['id']}/discard?batch={batch['id']}")
    page.get_by_label("Straws to discard").fill("1")
    page.get_by_label("Reason").fill("straw damaged")
    page.get_by_role("button", name="Discard them").click()
    yes = page.get_by_role("button", name="Yes, discard them")
    yes.focus()
    wedge.scan(stock["codes"][2][0])
    expect(page.locator("dialog")).to_contain_text("First answer what is asked here")
    expect(yes).to_be_visible()
    page.get_by_role("button", name="No, keep them").click()


def test_a_scanner_set_to_another_language_is_read_and_told_once(
    screen_of: Screens, stock: Any
) -> None:
    screen = screen_of("vet")
    page, wedge = screen.page, Wedge(screen)
    page.set_viewport_size({"width": 390, "height": 844})
    told = page.locator(".toast")
    first, second = stock["codes"][1][3:5]
    wedge.scan(first, keys=AZERTY)
    screen.arrived(f"/straws/{first}")
    expect(_said(screen)).to_contain_text(stock["name"])
    expect(told).to_contain_text("keyboard language differs")
    told.get_by_role("button", name="Close").click()
    wedge.scan(second, keys=AZERTY)
    screen.arrived(f"/straws/{second}")
    expect(_said(screen)).to_contain_text(stock["name"])
    expect(told).to_have_count(0)
    # On the way into a field too, although the field shows other signs.
    screen.open("/find")
    page.get_by_role("searchbox").focus()
    code = stock["codes"][1][5]
    wedge.scan(code, keys=AZERTY)
    screen.arrived(f"/straws/{code}")


def test_what_cannot_be_read_is_shown_as_it_arrived(screen_of: Screens, stock: Any) -> None:
    screen = screen_of("vet")
    page, wedge = screen.page, Wedge(screen)
    code = stock["codes"][0][0]
    wrong = code[:-1] + ("0" if code[-1] != "0" else "1")
    wedge.scan(wrong)
    expect(_said(screen)).to_contain_text(f"“{wrong}”: One sign is wrong")
    expect(_said(screen)).to_contain_text("Not read")
    screen.arrived("/")
    never = codes.make(codes.Kind.STRAW, lambda bits: 0x155555555 % (1 << bits))
    wedge.scan(never)
    expect(_said(screen)).to_contain_text("this bank never issued it")
    # Somebody who types is no scanner.
    page.keyboard.type("hello", delay=80)
    page.keyboard.press("Enter")
    screen.arrived("/")


def _begin_walk(screen: Screen, stock: Any, doses: str = "1") -> None:
    page = screen.page
    screen.open(f"/dose?stallion={stock['id']}")
    page.get_by_label("Her name, or a part of it").fill("Brindlewick")
    page.get_by_role("radio", name="Brindlewick").first.check()
    page.get_by_label("Doses").fill(doses)
    page.get_by_role("button", name="Show the plan").click()
    page.get_by_role("button", name="Start the walk").wait_for()


def test_a_dose_is_taken_by_scanning_alone(
    screen_of: Screens, station: Station, stock: Any
) -> None:
    """Every verdict, on a phone; the plan takes four of the second batch, then of the third."""
    screen = screen_of("vet")
    page, wedge = screen.page, Wedge(screen)
    third = stock["batches"][2]
    _begin_walk(screen, stock, "2")
    first_goblet, next_goblet = stock["goblets"][1], stock["goblets"][2]
    steps = page.locator(".walk-list .address")
    assert steps.all_inner_texts() == [first_goblet["address"], next_goblet["address"]]

    wedge.scan(first_goblet["code"])  # the plate starts the walk
    expect(_said(screen)).to_contain_text("Right goblet")
    wedge.scan(stock["goblets"][0]["code"])
    expect(_said(screen)).to_contain_text("Wrong goblet")
    expect(_said(screen)).to_contain_text(
        f"That is {stock['goblets'][0]['address']}; the plan is at {first_goblet['address']}."
    )
    wedge.scan(stock["tank"]["canisters"][0]["code"])
    expect(_said(screen)).to_contain_text("Right canister")
    wedge.scan(next_goblet["code"])
    expect(_said(screen)).to_contain_text("Here 4 straws are not read yet")

    mine = stock["codes"][1]
    wedge.scan(_lantern_straw(station))
    expect(_said(screen)).to_contain_text("Wrong stallion")
    expect(_said(screen)).to_contain_text("This straw is Lanternfield’s, not Ferrowdale’s.")
    box = _said(screen).bounding_box()
    assert box
    assert box["width"] > 300
    assert 0 <= box["y"] < 844
    wedge.scan(stock["codes"][0][0])
    expect(_said(screen)).to_contain_text("Wrong batch")
    wedge.scan(stock["codes"][2][0])
    expect(_said(screen)).to_contain_text("comes at a later goblet")
    station.technician.ok("POST", "/discards", {"straw_codes": [mine[5]], "reason": "Cracked."})
    wedge.scan(mine[5])
    expect(_said(screen)).to_contain_text("The book has it as discarded since")
    expect(_said(screen)).to_contain_text("by technician")
    expect(page.locator(".codes li")).to_have_count(0)

    planned = _planned(screen, 0)
    left = [code for code in mine[:5] if code not in planned]
    taken = left + [code for code in mine[:5] if code in planned][: 4 - len(left)]
    for at, code in enumerate(taken, start=1):
        wedge.scan(code, ends=("Tab",) if at % 2 else ())
        expect(page.locator(".walk-read")).to_have_text(f"{at} of 4 read")
        said = "A twin of the same batch" if code in left else "One of the plan"
        expect(_said(screen)).to_contain_text(said)
    [over] = [code for code in mine[:5] if code not in taken]
    wedge.scan(over)
    expect(_said(screen)).to_contain_text("Put this one back")
    expect(page.get_by_role("button", name="All 4 are read: go on")).to_be_visible()

    page.wait_for_timeout(1500)  # within two seconds it would be the scan from before
    wedge.scan(next_goblet["code"])  # the next plate goes on
    expect(page.get_by_role("heading", name="Goblet 2 of 2")).to_be_visible()
    expect(_said(screen)).to_contain_text(f"On to {next_goblet['address']}")
    station.technician.ok("POST", f"/batches/{third['id']}/hold", {"reason": "Owner asks."})
    [twin] = [code for code in stock["codes"][2] if code not in _planned(screen, 1)]
    wedge.scan(twin)
    expect(_said(screen)).to_contain_text("On hold")
    expect(page.locator(".codes li")).to_have_count(0)
    station.vet.ok("POST", f"/batches/{third['id']}/release", {"reason": "Agreed."})
    for at, code in enumerate(stock["codes"][2][:3], start=1):
        wedge.scan(code)
        expect(page.locator(".walk-read")).to_have_text(f"{at} of 4 read")
    wedge.scan(stock["codes"][2][3])
    page.get_by_role("button", name="All 4 are read: go on").click()
    expect(page.get_by_text("Read the mark on a straw aloud")).to_be_visible()
    wedge.scan(first_goblet["code"])
    expect(_said(screen)).to_contain_text("Every goblet of this walk is confirmed")
    page.get_by_role("button", name="Close", exact=True).click()
    page.get_by_role("button", name="Book 8 straws out").click()
    expect(page.get_by_text("8 straws, taken out")).to_be_visible()
    for code in (*taken, *stock["codes"][2][:4]):
        straw = station.vet.ok("GET", f"/straws/{code}")
        assert (straw["state"], straw["provisional"]) == ("lifted", False)


def _lantern_straw(station: Station) -> str:
    [item, *_] = station.vet.ok("GET", f"/stock?stallion_id={station.lantern['id']}")["items"]
    straws = station.vet.ok("GET", f"/batches/{item['batch_id']}")["straws"]
    code: str = next(straw["code"] for straw in straws if straw["state"] == "stored")
    return code


def _planned(screen: Screen, step: int) -> list[str]:
    """Codes that the plan names at this step of the walk."""
    found: list[str] = screen.page.evaluate(
        "(at) => JSON.parse(sessionStorage['rimebook:taking']).walk.steps[at].straw_codes", step
    )
    return found


def test_a_twin_that_the_book_had_let_go_by_count_is_exchanged(
    screen_of: Screens, station: Station, stock: Any
) -> None:
    goblet, batch = stock["goblets"][1], stock["batches"][1]
    picks = [{"goblet_id": goblet["id"], "batch_id": batch["id"], "straws": 1}]
    station.technician.ok("POST", "/discards", {"picks": picks, "reason": "One is cracked."})
    [gone] = [
        straw["code"]
        for straw in station.vet.ok("GET", f"/batches/{batch['id']}")["straws"]
        if straw["state"] == "discarded"
    ]
    screen = screen_of("vet")
    page, wedge = screen.page, Wedge(screen)
    _begin_walk(screen, stock)
    page.get_by_role("button", name="Start the walk").click()
    wedge.scan(gone)
    expect(_said(screen)).to_contain_text("when you book, it changes places with a twin")
    page.get_by_role("button", name="I have 4 straws").click()
    page.get_by_role("button", name="Book 4 straws out").click()
    expect(page.get_by_text("has exchanged the two")).to_contain_text(
        codes.grouped(gone).replace(" ", "\u00a0")
    )
    assert station.vet.ok("GET", f"/straws/{gone}")["state"] == "lifted"


def test_a_code_is_checked_on_the_spot_and_a_plate_chooses_the_goblet(
    screen_of: Screens, stock: Any
) -> None:
    screen = screen_of("technician")
    page, wedge = screen.page, Wedge(screen)
    source, target = stock["goblets"][2], stock["goblets"][3]
    screen.open(f"/bank/goblet/{source['id']}/move?batch={stock['batches'][2]['id']}")
    code = stock["codes"][2][0]
    wedge.scan(code)  # the folded field opens by itself
    field = page.get_by_label("Code of a straw in your hand")
    expect(page.locator(".codes [data-code]")).to_have_count(1)
    spot = page.locator(".scan-spot")
    field.fill(code[:8])
    expect(spot).to_be_empty()
    field.press(code[8])
    expect(spot).to_contain_text("is the code of a straw, and its check is right")
    assert field.input_value() == codes.grouped(code)
    field.press("Backspace")
    field.press("0" if code[8] != "0" else "1")
    expect(spot).to_contain_text("One sign is wrong")
    field.fill(stock["tank"]["code"])
    page.wait_for_timeout(250)
    field.press("Enter")
    expect(_said(screen)).to_contain_text("That is a tank, not a straw.")
    wedge.scan(stock["codes"][1][0])
    expect(_said(screen)).to_contain_text("Wrong batch")
    wedge.scan(target["code"])
    expect(_said(screen)).to_contain_text(f"Into {target['address']}")
    page.get_by_role("button", name="Book the move").click()
    expect(page.get_by_text(f"1 straw moved to {target['address']}.").first).to_be_visible()


def test_a_plate_tells_how_many_straws_of_a_freeze_go_in(screen_of: Screens, stock: Any) -> None:
    screen = screen_of("technician")
    page, wedge = screen.page, Wedge(screen)
    screen.open(f"/freeze/new?stallion={stock['id']}")
    wedge.scan(stock["goblets"][3]["code"])
    expect(_said(screen)).to_contain_text("Added to the places.")
    row = page.locator(".edit-row-place")
    expect(row).to_have_count(1)
    assert row.get_by_label("Goblet").input_value() == stock["goblets"][3]["id"]
    row.get_by_label("Straws").fill("12")
    page.wait_for_timeout(2000)  # the same plate again, later
    wedge.scan(stock["goblets"][3]["code"])
    expect(_said(screen)).to_contain_text("12 straws of this freeze go in here.")
    expect(row).to_have_count(1)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_outcome_has_a_word_an_icon_and_a_tone_and_can_be_read(
    screen_of: Screens, station: Station, stock: Any, scheme: str
) -> None:
    screen = screen_of("vet", bypass_csp=True, color_scheme=scheme)
    page, wedge = screen.page, Wedge(screen)
    page.evaluate(
        """() => { window.tones = []; const start = OscillatorNode.prototype.start;
              OscillatorNode.prototype.start = function (at) {
                window.tones.push(`${this.type} ${this.frequency.value}`);
                return start.call(this, at); }; }"""
    )
    good, gone = stock["codes"][0][:2]
    station.technician.ok("POST", "/discards", {"straw_codes": [gone], "reason": "Cracked."})
    wrong = good[:-1] + ("0" if good[-1] != "0" else "1")
    heard = set()
    for code, word, icon in ((good, "Found", "✓"), (gone, "Check this", "?"), (wrong, "Not", "✕")):
        wedge.scan(code)
        expect(_said(screen)).to_contain_text(word)
        expect(_said(screen).locator(".scan-icon")).to_have_text(icon)
        found = Axe().run(page, context=".scan-note", options=ENHANCED).response["violations"]
        assert not found, (word, found)
        heard.add(tuple(page.evaluate("window.tones.splice(0)")))
    third = stock["codes"][0][2]
    wedge.scan(third)
    screen.arrived(f"/straws/{third}")
    page.evaluate("window.tones.splice(0)")
    wedge.scan(third)
    expect(page.locator("#live")).to_contain_text("It counts once")
    heard.add(tuple(page.evaluate("window.tones.splice(0)")))
    assert len(heard) == 4
    assert () not in heard


def test_the_set_up_page_shows_what_arrives_and_keeps_what_is_set(
    screen_of: Screens, stock: Any
) -> None:
    screen = screen_of("vet")
    page, wedge = screen.page, Wedge(screen)
    screen.open("/account")
    page.get_by_role("link", name="Scanner set-up and sounds").click()
    screen.arrived("/scanner")
    code = stock["codes"][0][0]
    wedge.scan(code)
    said = page.locator(".verdicts")
    expect(said).to_contain_text(f"{codes.grouped(code)}: the code of a straw.")
    expect(said).to_contain_text("fits this device")
    expect(said).to_contain_text("It ends with Enter.")
    expect(page.locator(".keys li")).to_have_count(10)
    assert page.url.endswith("/scanner")
    wedge.scan(code, keys=AZERTY, ends=())
    expect(said).to_contain_text("keyboard language differs")
    page.wait_for_timeout(800)
    wedge.scan("Q1" + code)
    page.get_by_role("button", name="Leave “Q1” out from now on").click()
    page.wait_for_timeout(250)
    wedge.scan("Q1" + stock["codes"][0][1])
    expect(said).to_contain_text("Its check is right")
    for tone in ("Done", "Check this", "Stop", "Same code twice"):
        page.get_by_role("button", name=tone, exact=True).click()
    page.get_by_label("Sound on this device").uncheck()
    page.reload()
    screen.arrived("/scanner")
    expect(page.get_by_label("Sound on this device")).not_to_be_checked()
    page.get_by_role("button", name="Leave nothing out").click()
