"""Labels are seen, printed and recorded in a browser, before the straws they are for are filled."""

import io
import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, expect
from pypdf import PdfReader

from tests import building
from tests.journeys.conftest import PHONE, Screen, Station

Screens = Callable[..., Screen]

DESK = {"width": 1280, "height": 900}
MM_PER_POINT = 25.4 / 72
A4_MM = (210, 297)


def _pdf(screen: Screen, link: Locator) -> PdfReader:
    """The paper that a link on the page leads to."""
    answer = screen.page.request.get(f"{screen.address}{link.get_attribute('href')}")
    assert answer.ok, answer.text()
    assert answer.headers["content-type"] == "application/pdf"
    return PdfReader(io.BytesIO(answer.body()))


def _sizes(paper: PdfReader) -> set[tuple[int, int]]:
    """The sizes of its pages, in whole mm."""
    boxes = [page.mediabox for page in paper.pages]
    return {(round(x.width * MM_PER_POINT), round(x.height * MM_PER_POINT)) for x in boxes}


def _codes_on(paper: PdfReader) -> list[str]:
    """The first code of a straw on each page."""
    texts = [page.extract_text().replace(" ", "") for page in paper.pages]
    found = [re.search(r"S[0-9A-HJKMNP-TV-Z]{8}", text) for text in texts]
    return [one[0] for one in found if one]


def _print(page: Page, what: str) -> Locator:
    """Press the button twice in a hurry; gives the link to the paper."""
    with page.context.expect_page() as opened:
        page.get_by_role("button", name=f"Print {what}", exact=True).dblclick()
    opened.value.close()
    expect(page.locator("main").get_by_text(f"Recorded: {what} printed.")).to_be_visible()
    return page.get_by_role("link", name="Open the paper (PDF)")


def _asked(page: Page, what: str) -> Locator:
    """Press the button and be asked for a reason; gives what is said about it."""
    page.get_by_role("button", name=f"Print {what}", exact=True).click()
    expect(page.get_by_label("Reason")).to_be_focused()
    return page.locator(".reason .notice-warn")


def _prints(station: Station, query: str) -> list[Any]:
    items: list[Any] = station.vet.ok("GET", f"/prints?{query}")["items"]
    return items


def _prepared(screen: Screen) -> str:
    """Twelve codes for Lanternfield, by the screens; gives the batch's id."""
    page = screen.page
    screen.open("/freeze/prepare")
    page.get_by_label("Stallion").select_option(label="Lanternfield")
    page.get_by_label("Straws to mark").fill("12")
    page.get_by_role("button", name="Make the codes").click()
    page.get_by_role("link", name="Print the labels").click()
    expect(page.get_by_role("button", name="Print 12 strips")).to_be_visible()
    found = re.search(r"/batches/([0-9a-f-]+)/labels", page.url)
    assert found
    return found[1]


@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_strips_and_flags_of_a_prepared_batch_are_printed_before_its_freeze(
    screen_of: Screens, station: Station, viewport: Any
) -> None:
    screen = screen_of("technician", viewport=viewport)
    page = screen.page
    batch = _prepared(screen)
    straws = station.vet.ok("GET", f"/batches/{batch}")["straws"]
    codes = sorted(straw["code"] for straw in straws)
    picture = page.get_by_role("img", name=f"The strip of straw {codes[0]}")
    expect(picture).to_be_visible()
    expect(page.get_by_text("100 × 10.3 mm, at 300 dots an inch")).to_be_visible()

    # Neither his number nor the station's is known: named, with the way to where it is entered.
    lacking = _asked(page, "12 strips")
    number = lacking.get_by_role("link", name="Enter his UELN or microchip")
    expect(number).to_have_attribute("href", f"#/stallions/{station.lantern['id']}/edit")
    expect(lacking.get_by_role("link", name="Enter it for the station")).to_be_visible()
    assert _prints(station, f"batch_id={batch}") == []
    page.get_by_role("button", name="It is written on by hand").click()
    strips = _pdf(screen, _print(page, "12 strips"))
    assert _codes_on(strips) == codes
    assert _sizes(strips) == {(100, 10)}

    # The printer jams after the fourth: its code, as it is read off the label.
    page.get_by_label("The rest after a jam").check()
    page.get_by_label("Last good label").fill(f"{codes[3][:3]} {codes[3][3:]}".lower())
    expect(page.get_by_text("No. 4 of 12")).to_be_visible()
    expect(_asked(page, "8 strips")).to_contain_text("8 of these labels were printed before")
    expect(page.get_by_label("Reason")).to_have_value("The printer jammed")
    assert _codes_on(_pdf(screen, _print(page, "8 strips"))) == codes[4:]

    # Flags on a sheet of which three places are gone.
    page.get_by_label("Flag").check()
    page.get_by_label("All 12 labels").check()
    page.get_by_label("Sheets of A4").check()
    expect(page.get_by_text("54 places on a sheet; 1 sheet in all.")).to_be_visible()
    page.locator("svg.sheet rect").nth(4).click()
    expect(page.get_by_label("First free place")).to_have_value("4")
    _asked(page, "12 flags")
    page.get_by_label("Reason").fill("Goblets with room above the rim")
    flags = _pdf(screen, _print(page, "12 flags"))
    assert _sizes(flags) == {A4_MM}
    words = "".join(flags.pages[0].extract_text().split())
    assert [code for code in codes if code not in words] == []

    history = page.get_by_role("list", name="Printed before").get_by_role("listitem")
    expect(history).to_have_count(3)
    expect(history.nth(1)).to_contain_text("8 printed again")
    told = [
        (one["style"], one["labels"], one["reprinted"], one["reason"])
        for one in _prints(station, f"batch_id={batch}")
    ]
    assert told[1:] == [
        ("strip", 8, 8, "The printer jammed"),
        ("strip", 12, 0, "It is written on by hand"),
    ]
    assert told[0][0::3] == ("flag", "Goblets with room above the rim")
    assert station.vet.ok("GET", f"/batches/{batch}")["state"] == "prepared"
    page.get_by_role("link", name="Log its freeze now").click()
    expect(page.locator("main h1")).to_have_text("Log a freeze")


def test_a_label_of_another_batch_is_no_last_good_one(screen_of: Screens, station: Station) -> None:
    screen = screen_of("technician")
    page = screen.page
    _prepared(screen)
    other = station.technician.ok(
        "POST", "/batches", {"stallion_id": station.moss["id"], "straws_planned": 1}
    )
    page.get_by_label("The rest after a jam").check()
    good = page.get_by_label("Last good label")
    submit = page.get_by_role("button", name=re.compile("^Print "))
    for typed, said in (
        (other["straws"][0]["code"], "This code is not one of this batch."),
        ("13", "There are labels 1 to 12 here."),
        ("12", "That is the last one; no label is left to print."),
    ):
        good.fill(typed)
        submit.click()
        expect(page.get_by_text(said)).to_be_visible()


def test_plates_of_a_goblet_and_of_all_that_hangs_in_its_canister_are_printed(
    screen_of: Screens, station: Station
) -> None:
    canister = station.tank["canisters"][1]
    goblet = canister["goblets"][0]
    screen = screen_of("technician", viewport=DESK)
    page = screen.page
    screen.open(f"/bank/goblet/{goblet['id']}")
    page.get_by_role("link", name="Plate of this goblet").click()
    expect(page.get_by_role("img", name="The plate of the goblet")).to_be_visible()
    expect(page.get_by_text("50 × 16 mm, at 300 dots an inch")).to_be_visible()
    plate = _pdf(screen, _print(page, "1 plate"))
    assert _sizes(plate) == {(50, 16)}
    assert goblet["address"] in plate.pages[0].extract_text()

    screen.open(f"/bank/canister/{canister['id']}")
    page.get_by_role("link", name="Plates of canister and goblets").click()
    page.get_by_label("and those of its 6 goblets").check()
    expect(_asked(page, "7 plates")).to_contain_text("1 of these labels was printed before")
    page.get_by_role("button", name="They cannot be read").click()
    plates = _pdf(screen, _print(page, "7 plates"))
    assert len(plates.pages) == 7
    texts = [one.extract_text() for one in plates.pages[1:]]
    assert all(one["address"] in text for one, text in zip(canister["goblets"], texts, strict=True))
    assert [one["labels"] for one in _prints(station, f"code={goblet['code']}")] == [7, 1]


def test_straws_from_before_labels_have_none_to_print(screen_of: Screens, station: Station) -> None:
    goblet = building.goblets_of(station.tank)[5]
    received = station.technician.ok(
        "POST",
        "/receipts",
        {
            "kind": "opening",
            "stallion_id": station.moss["id"],
            "straws": 3,
            "coded": False,
            "placements": [{"goblet_id": goblet["id"], "straws": 3}],
        },
    )
    screen = screen_of("technician")
    screen.open(f"/batches/{received['batch']['id']}/labels")
    expect(screen.page.get_by_text("This batch has no straws with a code")).to_be_visible()
    expect(screen.page.get_by_role("button", name=re.compile("^Print "))).to_have_count(0)


def test_the_vet_prints_walk_and_thaw_cards(screen_of: Screens, station: Station) -> None:
    screen = screen_of("vet")
    page = screen.page
    screen.open(f"/dose?stallion={station.lantern['id']}")
    page.get_by_label("Her name, or a part of it").fill("Brindle")
    page.get_by_role("radio", name="Brindlewick").check()
    page.get_by_role("button", name="Show the plan").click()
    with page.context.expect_page() as opened, page.expect_response("**/walk-cards") as drawn:
        page.get_by_role("button", name="Print the walk card").click()
    assert opened.value.url.startswith(f"blob:{station.address}")
    opened.value.close()
    assert drawn.value.headers["content-type"] == "application/pdf"
    # The browser keeps no body of what became a paper: the same request is asked again.
    asked = drawn.value.request.post_data_json
    again = station.vet.client.post("/api/labels/walk-cards", json=asked)
    words = PdfReader(io.BytesIO(again.content)).pages[0].extract_text()
    assert "Lanternfield" in words
    assert "Brindlewick" in words
    page.get_by_role("button", name="Start the walk").click()
    page.get_by_role("button", name="I have").click()
    page.get_by_role("button", name="Book 8 straws out").click()
    for card in ("Thaw card", "Walk card"):
        paper = _pdf(screen, page.get_by_role("link", name=f"{card} (PDF)"))
        words = paper.pages[0].extract_text()
        assert words.startswith(card), words
        assert "Brindlewick" in words


def test_the_manager_says_what_labels_are_like_and_others_read_it(
    screen_of: Screens, station: Station
) -> None:
    manager = screen_of("manager", viewport=DESK)
    page = manager.page
    manager.open("/station")
    page.get_by_role("link", name="Label settings").click()
    page.get_by_label("Breed", exact=True).check()
    page.get_by_label("Species", exact=True).uncheck()
    page.get_by_label("203 dots an inch").check()
    page.get_by_label("Band").check()
    page.get_by_label("Length of the strip").fill("90")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Saved.", exact=True)).to_be_visible()
    now = station.vet.ok("GET", "/station")
    assert now["required_marks"] == [
        "collected_on",
        "donor_identity",
        "approval_number",
        "breed",
    ]
    assert (now["printer_dpi"], now["strip_form"], now["strip_length_mm"]) == (203, "band", 90)
    assert now["name"] == "Fellgate Stud"

    technician = screen_of("technician")
    technician.open("/station/labels")
    expect(technician.page.get_by_role("button", name="Save")).to_have_count(0)
    expect(technician.page.get_by_text("203 dots an inch")).to_be_visible()
    _prepared(technician)
    expect(technician.page.get_by_text(re.compile(r"^90 × .* mm, at 203 dots"))).to_be_visible()

    # A straw so thin that no symbol on it would be read: refused in the service's own words.
    page.get_by_label("Outside diameter of the straws").fill("1.5")
    with page.expect_response("**/api/station"):
        page.get_by_role("button", name="Save").click()
    technician.page.reload()
    expect(technician.page.get_by_text("This label is not drawn")).to_be_visible()
    expect(technician.page.locator(".label-seen .problem")).to_contain_text("1.5 mm")
