"""The report on paper says everything that somebody signs for, on as many sheets as it takes."""

import io
import re
from copy import deepcopy
from typing import Any
from uuid import UUID

import pytest
from pypdf import PdfReader

from labels.shapes import Words
from service.audits.report_paper import WIDTH_MM, Column, Paper, width_of, wrapped
from service.audits.report_pdf import BY_HAND, hash_groups, pdf_of, signed_number
from tests.audits.ledgers import ADJUSTMENT, PROPOSER, at, bank, signed, stock_take
from tests.labels.words import sizes_mm

A4 = pytest.approx((210, 297), abs=0.01)


@pytest.fixture(scope="module")
def true() -> dict[str, Any]:
    return stock_take(bank())


def pages_of(report: dict[str, Any]) -> list[str]:
    """What stands on each sheet, in one line."""
    read = PdfReader(io.BytesIO(pdf_of(report)))
    return [" ".join(page.extract_text().split()) for page in read.pages]


def said(report: dict[str, Any]) -> str:
    return " ".join(pages_of(report))


def test_it_says_what_was_counted_what_was_found_and_what_was_done(true: dict[str, Any]) -> None:
    text = said(true)
    for words in (
        "Fellgate Stud",
        "4 of 4 goblets counted; 1 difference in 1 goblet: 1 adjusted, 0 explained, 0 open.",
        "All goblets of tank North.",
        "Counted blind: nobody was shown what the book expects.",
        "Opened Bram Okafor, 2 Mar 2026, 08:05",
        "Counted (goblets) Orla Finnerty (4)",
        "Closed Ines Valcourt, 2 Mar 2026, 08:09",
        "Europe/Dublin",
        "NORTH-1-L1, batch B00 000 00X, Lanternfield",
        "−1: missing. The book has 10, counted were 9.",
        "It may be: Entry 4 moved two straws of it: one more may have gone along.",
        "Adjusted. Booked as missing.",
        "unexplained: nobody knows (S00 000 05X)",
        "Bram Okafor, 2 Mar 2026, 08:30; Ines Valcourt, 2 Mar 2026, 08:31",
        "All 4 goblets of the scope were counted, and 1 of them is wrong.",
        "It says nothing about goblets outside of its scope.",
    ):
        assert words in text
    for name in ("freeze", "compared", "closing"):
        assert f"entry {true[name]['seq']}, " in text
        assert hash_groups(true[name]["head"]) in text
    for who, meaning in BY_HAND:
        assert f"{who} {meaning} " in text
    assert "question mark" not in text


def test_every_goblet_and_batch_has_a_row(true: dict[str, Any]) -> None:
    text = said(true)
    for row in true["goblets"]:
        for code, expected in row["expected"].items():
            counted = row["counted"][code]
            numbers = f"{expected} {counted} {signed_number(counted - expected)}"
            assert re.search(rf"{row['address']} B\d\d 000 0\dX \w+ {numbers} Orla Finnerty", text)


def test_each_sheet_has_its_number_its_head_and_the_hash(true: dict[str, Any]) -> None:
    report = many(true, 300)
    pages = pages_of(report)
    assert sizes_mm(pdf_of(report)) == [A4] * len(pages)
    assert 6 < len(pages) < 14
    for number, text in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in text
        assert "Fellgate Stud. Stock-take of 2 March 2026" in text
        assert f"SHA-256 {hash_groups(report['sha256'])}" in text
    counted = [text for text in pages if "Counted by, when and how" in text]
    assert len(counted) > 4
    text = " ".join(pages)
    assert all(f"{row['address']} " in text for row in report["goblets"])


def many(true: dict[str, Any], number: int) -> dict[str, Any]:
    report = deepcopy(true)
    for goblet in range(number):
        row = deepcopy(report["goblets"][1])
        row |= {"goblet_id": str(UUID(int=goblet)), "address": f"WEST-{goblet // 9}-U{goblet % 9}"}
        report["goblets"].append(row)
    return signed(report)


def test_what_is_out_of_the_ordinary_is_told(true: dict[str, Any]) -> None:
    report = deepcopy(true)
    row, empty = report["goblets"][1], report["goblets"][2]
    row |= {"round": 2, "not_blind": True, "method": "by scanning", "unreadable": 2}
    row |= {"foreign": ["XF-9911"], "disturbed": True}
    before = {"round": 1, "counted_by": PROPOSER, "counted_at": at(3), "counted": {"B": 1}}
    row["counts_before"] = [before]
    empty |= {"expected": {}, "counted": {}}
    no_batch = deepcopy(report["differences"][0])
    no_batch |= {"batch_code": None, "difference": 0, "class": "unknown", "foreign": ["XF-9911"]}
    no_batch |= {"end": "open", "end_words": "Nobody knows the mark.", "adjustment_ids": []}
    report["differences"].append(no_batch)
    other = deepcopy(report["adjustments"][0])
    other |= {"other_goblet_id": row["goblet_id"], "approved_by": None, "approved_at": None}
    other |= {"entry_seq": None, "straw_codes": []}
    report["adjustments"].append(other)
    report["closing_note"] = "The lid of North was open for an hour."
    report["signatures"] = [
        {
            "by": {"id": ADJUSTMENT, "name": "Márta Őszi"},
            "role": "auditor",
            "meaning": "I have seen ten goblets myself",
            "note": "with Bram",
            "at": at(90),
        }
    ]
    text = said(signed(report))
    for words in (
        "Of 1 goblet the counter had read it: marked “not blind”.",
        "scanned; count 2; not blind; disturbed; before by Bram Okafor: 1 straw",
        "2 unreadable, foreign: XF-9911",
        "NORTH-1-L2 empty 0 0 0",
        "no batch Cannot be named. Foreign marks: XF-9911",
        "Open. Nobody knows the mark.",
        "NORTH-1-L1, to NORTH-1-L4",
        "not approved",
        "Note The lid of North was open for an hour.",
        "Márta Őszi, auditor, 2 Mar 2026, 09:30 Meaning: I have seen ten goblets myself",
        "“with Bram”",
    ):
        assert words in text


def test_a_sample_is_told_with_its_seed_and_its_numbers(true: dict[str, Any]) -> None:
    report = deepcopy(true)
    report["sample"] = {
        "seed": "9f2c" * 8,
        "detect_percent": "2",
        "confidence_percent": "95",
        "algorithm": "In the order of the SHA-256 of seed and id.",
        "tanks": [{"tank_id": ADJUSTMENT, "tank": "North", "goblets": 700, "drawn": 97}],
        "claim": "",
    }
    text = said(signed(report))
    assert "with 95 % confidence if 2 % of the goblets or more are wrong. In the order" in text
    assert "Drawn 97 of 700 in North" in text
    assert f"Seed {'9f2c' * 8}" in text


def test_a_draft_says_so_on_every_sheet_and_is_not_signed(true: dict[str, Any]) -> None:
    report = many(true, 60)
    report["closed_by"] = {"id": "", "name": "not closed yet"}
    for text in pages_of(signed(report)):
        assert "Draft, not closed. Fellgate Stud" in text
    assert BY_HAND[0][1] not in said(signed(report))


def test_names_of_many_scripts_wrap_and_letters_that_we_lack_do_not_stop_it(
    true: dict[str, Any],
) -> None:
    report = deepcopy(true)
    report["station"]["name"] = "Γεννηματά " * 30
    report["batches"][0]["stallion"] = "نسيم الصباح"
    report["batches"][1]["stallion"] = "Ａ漢字" + "Überlang" * 20
    report["goblets"][0]["address"] = "N" * 90
    report["differences"][0]["note"] = "one\nline\tand\u2028another " + "🐴 Łąka ผลิต Здесь"
    text = said(signed(report))
    assert "one line and another ? Łąka" in text
    assert "A question mark may stand for a letter that could not be printed." in text
    assert "Überlang" in text
    assert "Здесь" in text


def test_nothing_is_cut_off_or_runs_out_of_its_column() -> None:
    text = "Quillhaven and the station beyond it " * 40 + "W" * 500
    rows = wrapped(text, "figo", 2.0, 40.0)
    assert "".join(rows).replace(" ", "") == text.replace(" ", "")
    assert all(width_of(row, "figo", 2.0) <= 40.0 for row in rows)
    assert wrapped("B00\u00a0000\u00a000X", "figo", 2.0, 80.0) == ("B00\u00a0000\u00a000X",)
    paper = Paper()
    paper.table((Column("A", 30), Column("B", WIDTH_MM - 30)), [(text * 8, "x"), ("y", "z")])
    assert len(paper.pages) > 2
    for page in paper.pages:
        assert all(20 < shape.y < 276 for shape in page if isinstance(shape, Words))
