"""The station's own list into the book and out again, on a phone."""

import csv
import io
from collections.abc import Callable
from pathlib import Path

from axe_playwright_python.sync_playwright import Axe

from tests.journeys.conftest import Screen, Station

LIST = (
    "Hengst;Wo;Anzahl;Charge;Datum;Volumen\n"
    "Lanternfield;NORTH-1-L2;12;L 7;03.04.2014;0,5\n"
    "Lanternfield;NORTH-1-L2;8;L 8;10.04.2014;0,5\n"
    "Old Harrier;NORTH-1-L3;9;OH;;0,5\n"
)


def test_a_list_is_asked_about_then_booked_and_the_stock_goes_out(
    station: Station, screen_of: Callable[..., Screen], tmp_path: Path
) -> None:
    before = station.vet.ok("GET", "/stock")["straws"]
    file = tmp_path / "list.csv"
    file.write_text(LIST, encoding="utf-8")
    screen = screen_of("vet")
    screen.open("/bank")
    screen.page.get_by_role("link", name="Spreadsheet in and out").click()
    screen.arrived("/import")
    screen.page.get_by_label("Your list, as a CSV file").set_input_files(file)
    screen.page.get_by_text("Which column is “Goblet (address or code)”?").wait_for()
    screen.page.get_by_label("Wo", exact=True).select_option("place")
    screen.page.get_by_text("Which comes first in 03.04.2014").wait_for()
    # A click, not a check: once it is answered the question is gone.
    screen.page.get_by_label("The day", exact=True).click()
    screen.page.get_by_text("There is no stallion Old Harrier").wait_for()
    assert not screen.page.get_by_role("button", name="Book all").is_visible()
    violations = Axe().run(screen.page).response["violations"]
    assert [one["id"] for one in violations if one["impact"] in ("serious", "critical")] == []
    screen.page.get_by_label("Straws that make a dose of theirs").fill("8")
    screen.page.get_by_role("button", name="Enter them with the file").click()
    screen.page.get_by_role("button", name="Book all 29 straws").click()
    screen.page.locator(".notice-good", has_text="29 straws in 3 batches").wait_for()
    assert station.vet.ok("GET", "/stock")["straws"] == before + 29
    with screen.page.expect_download() as downloading:
        screen.page.get_by_role("link", name="Stock").click()
    text = Path(downloading.value.path()).read_text(encoding="utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert sum(int(row["straws"]) for row in rows) == before + 29
    assert screen.page.evaluate("document.documentElement.scrollWidth") <= 390
    assert screen.complaints == []


def test_a_file_that_is_no_table_is_said_in_words(
    screen_of: Callable[..., Screen], tmp_path: Path
) -> None:
    file = tmp_path / "picture.csv"
    file.write_bytes(b"a,b\n\0\n")
    screen = screen_of("technician")
    screen.open("/import")
    screen.page.get_by_label("Your list, as a CSV file").set_input_files(file)
    screen.page.get_by_text("Line 2 has a NUL in it").wait_for()
    assert screen.complaints == []


def test_an_auditor_takes_the_book_out_and_brings_nothing_in(
    screen_of: Callable[..., Screen],
) -> None:
    screen = screen_of("auditor")
    screen.open("/import")
    assert screen.page.get_by_label("Your list, as a CSV file").count() == 0
    assert screen.page.get_by_role("link", name="Withdrawals").is_visible()
