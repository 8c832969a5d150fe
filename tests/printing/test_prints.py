"""Labels are printed with a record, and printed again only with a reason."""

from typing import Any
from uuid import uuid4

import pytest

from tests import building
from tests.bank.changing import change
from tests.banks import Bank
from tests.conftest import Client
from tests.labels.words import sizes_mm, text_of
from tests.printing.asked import PRINTS, get_pdf, grouped, head, printed


def test_a_print_is_recorded_in_the_book(technician: Client, prepared: Any) -> None:
    before = head(technician)
    done = printed(technician, prepared["code"], "strip")
    assert (done["labels"], done["reprinted"], done["missing_marks"]) == (12, 0, [])
    assert head(technician) != before
    assert len(sizes_mm(get_pdf(technician, done["pdf_url"]))) == 12
    [kept] = technician.ok("GET", f"{PRINTS}?batch_id={prepared['id']}")["items"]
    assert (kept["what"], kept["style"], kept["labels"]) == ("batch", "strip", 12)
    assert kept["by"]
    entries = technician.ok("GET", "/api/ledger")["items"]
    assert [entry["kind"] for entry in entries].count("print") == 1


def test_the_same_print_twice_is_one_print(technician: Client, prepared: Any) -> None:
    body = {"id": str(uuid4()), "what": prepared["code"], "style": "flag"}
    first = technician.post(PRINTS, json=body)
    again = technician.post(PRINTS, json=body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json() == first.json()
    assert again.headers["replayed"] == "true"
    assert len(technician.ok("GET", PRINTS)["items"]) == 1
    technician.refused("POST", PRINTS, {**body, "style": "strip"}, 409, "id-reused")


def test_a_reprint_asks_why_and_keeps_the_codes(technician: Client, prepared: Any) -> None:
    printed(technician, prepared["code"], "strip")
    body = {"what": prepared["code"], "style": "strip"}
    problem = technician.refused("POST", PRINTS, body, 422, "reason-needed")
    assert (problem["reprinted"], problem["missing_marks"]) == (12, [])
    assert "12 of these labels were printed before" in problem["detail"]
    codes = [straw["code"] for straw in prepared["straws"]]
    assert [one["code"] for one in problem["printed_before"]] == sorted(codes)
    assert {(one["times"], one["by"]) for one in problem["printed_before"]} == {
        (1, "The technician")
    }
    again = printed(technician, prepared["code"], "strip", reason="the roll tore")
    assert again["reprinted"] == 12
    problem = technician.refused("POST", PRINTS, body, 422, "reason-needed")
    assert {one["times"] for one in problem["printed_before"]} == {2}
    items = technician.ok("GET", f"{PRINTS}?code={prepared['straws'][3]['code']}")["items"]
    assert [one["reprinted"] for one in items] == [12, 0]
    assert items[0]["reason"] == "the roll tore"
    said = text_of(get_pdf(technician, again["pdf_url"]))
    assert all(grouped(straw["code"]) in said for straw in prepared["straws"])


def test_a_flag_for_a_straw_that_has_a_strip_is_no_reprint(
    technician: Client, prepared: Any
) -> None:
    printed(technician, prepared["code"], "strip")
    assert printed(technician, prepared["code"], "flag")["reprinted"] == 0
    body = {"what": prepared["code"], "style": "flag"}
    assert technician.refused("POST", PRINTS, body, 422, "reason-needed")["reprinted"] == 12


def test_the_rest_after_a_jam_is_printed_alone(technician: Client, prepared: Any) -> None:
    printed(technician, prepared["code"], "strip")
    rest = [straw["code"] for straw in prepared["straws"]][7:]
    done = printed(technician, prepared["code"], "strip", straws=rest, reason="jammed after 7")
    assert (done["labels"], done["reprinted"]) == (5, 5)
    said = text_of(get_pdf(technician, done["pdf_url"]))
    assert [code for code in rest if grouped(code) not in said] == []
    assert grouped(prepared["straws"][0]["code"]) not in said


def test_straws_of_another_batch_are_refused(
    technician: Client, prepared: Any, known: Bank
) -> None:
    foreign = known.codes_in(0)[0]
    body = {"what": prepared["code"], "style": "strip", "straws": [foreign]}
    problem = technician.refused("POST", PRINTS, body, 422, "other-straws")
    assert problem["straw_codes"] == [foreign]


def test_missing_marks_need_a_reason(technician: Client, bank: Bank) -> None:
    body = {"what": bank.batch_code, "style": "strip"}
    problem = technician.refused("POST", PRINTS, body, 422, "reason-needed")
    assert problem["missing_marks"] == ["donor_identity", "approval_number"]
    assert "identity number" in problem["detail"]
    done = printed(technician, bank.batch_code, "strip", reason="passport not here yet")
    assert done["missing_marks"] == ["donor_identity", "approval_number"]
    technician.refused("POST", PRINTS, {**body, "reason": "  "}, 422, "invalid")


def test_what_is_required_is_the_stations_setting(manager: Client, known: Bank) -> None:
    change(manager, "/api/station", {"required_marks": ["donor_identity", "breed"]})
    body = {"what": known.batch_code, "style": "strip"}
    problem = manager.refused("POST", PRINTS, body, 422, "reason-needed")
    assert problem["missing_marks"] == ["breed"]
    change(manager, f"/api/stallions/{known.stallion['id']}", {"breed": "Connemara"})
    pdf = get_pdf(manager, printed(manager, known.batch_code, "strip")["pdf_url"])
    assert "Connemara" in text_of(pdf)


def test_plates_of_a_tank_and_all_that_hangs_in_it(manager: Client, known: Bank) -> None:
    [tank] = manager.ok("GET", "/api/tanks")["items"]
    goblets = building.goblets_of(tank)
    inside = 1 + len(tank["canisters"]) + len(goblets)
    one = printed(manager, {"kind": "tank", "id": tank["id"]}, "plate")
    assert one["labels"] == 1
    again = {"what": tank["code"], "style": "plates"}
    assert manager.refused("POST", PRINTS, again, 422, "reason-needed")["reprinted"] == 1
    all_of_it = printed(manager, tank["code"], "plates", reason="new room")
    assert all_of_it["labels"] == inside
    said = text_of(get_pdf(manager, all_of_it["pdf_url"]))
    assert all(goblet["address"] in said for goblet in goblets)
    pdf = get_pdf(manager, f"/api/labels/tanks/{tank['id']}.pdf?all=true")
    assert len(sizes_mm(pdf)) == inside
    assert len(sizes_mm(get_pdf(manager, f"/api/labels/tanks/{tank['id']}.pdf"))) == 1


@pytest.mark.parametrize(
    ("what", "style", "code"),
    [
        ("batch", "plate", "other-style"),
        ("tank", "strip", "other-style"),
        ("nothing", "strip", "unknown-subject"),
        ("misread", "strip", "misread-code"),
    ],
)
def test_what_cannot_be_printed_is_refused(
    manager: Client, known: Bank, what: str, style: str, code: str
) -> None:
    [tank] = manager.ok("GET", "/api/tanks")["items"]
    named = {
        "batch": known.batch_code,
        "tank": tank["code"],
        "nothing": {"kind": "batch", "id": str(uuid4())},
        "misread": "B00000001",
    }[what]
    status = 404 if code == "unknown-subject" else 422
    before = head(manager)
    manager.refused("POST", PRINTS, {"what": named, "style": style}, status, code)
    assert head(manager) == before


def test_what_is_printed_is_a_code_or_a_kind_with_its_id(technician: Client, known: Bank) -> None:
    for what, field in ((5, "what"), ({"kind": "batch"}, "what.id"), ({"id": "x"}, "what.kind")):
        body = {"what": what, "style": "strip"}
        problem = technician.refused("POST", PRINTS, body, 422, "invalid")
        assert [error["field"] for error in problem["errors"]] == [field]


def test_a_print_stays_what_it_was(manager: Client, known: Bank, prepared: Any) -> None:
    """The same labels on the same sheet, whatever the station prints on since."""
    done = printed(manager, prepared["code"], "flag", sheet="a4", start=50, margin_mm=12.5, dpi=600)
    before = get_pdf(manager, done["pdf_url"])
    assert len(sizes_mm(before)) == 2
    change(manager, "/api/station", {"printer_dpi": 300, "label_style": "strip"})
    freeze = building.freeze(known.stallion["id"], [(known.goblets[3]["id"], 8)])
    manager.ok("POST", "/api/freezes", {**freeze, "batch_id": prepared["id"]})
    [kept] = manager.ok("GET", f"{PRINTS}?batch_id={prepared['id']}")["items"]
    assert kept["pdf_url"] == done["pdf_url"]
    again = get_pdf(manager, kept["pdf_url"])
    assert sizes_mm(again) == sizes_mm(before)
    assert text_of(again) == text_of(before)


def test_plates_that_were_printed_are_shown_when_a_canister_hangs_elsewhere(
    manager: Client, known: Bank
) -> None:
    [tank] = manager.ok("GET", "/api/tanks")["items"]
    done = printed(manager, tank["code"], "plates")
    other = manager.ok("POST", "/api/tanks", building.tank("South"))
    moved = {"id": str(uuid4()), "tank_id": other["id"]}
    manager.ok("POST", f"/api/canisters/{tank['canisters'][0]['id']}/relocate", moved)
    assert len(sizes_mm(get_pdf(manager, done["pdf_url"]))) == done["labels"]


def test_a_print_is_not_taken_back(manager: Client, prepared: Any) -> None:
    done = printed(manager, prepared["code"], "strip")
    body = {"id": str(uuid4()), "reason": "wrong roll"}
    manager.refused("POST", f"/api/ledger/{done['id']}/correct", body, 409, "not-correctable")


def test_a_day_that_can_be_misread_is_warned_of(technician: Client, known: Bank) -> None:
    """“03.02.26” is also 26 February 2003 to somebody who begins with the year."""
    body = {
        "id": str(uuid4()),
        "stallion_id": known.stallion["id"],
        "straws_planned": 1,
        "collected_on": "2026-02-03",
    }
    made = technician.ok("POST", "/api/batches", body)
    [warning] = printed(technician, made["code"], "strip")["warnings"]
    assert warning["code"] == "day-can-be-misread"
    assert "2003-02-26" in warning["message"]
