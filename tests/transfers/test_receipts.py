"""Receipts: straws that were not frozen here, whose unknown facts stay unknown and say so."""

import sqlite3
from pathlib import Path
from typing import Any

import pytest

from service.kernel.codes import check_symbol
from tests import building
from tests.banks import Bank
from tests.conftest import Client
from tests.transfers.receiving import KNOWN, batch_of, codes, receipt, receive, sound

SPERM = {"kind": "sperm", "progressive_million": 250, "minimum_post_thaw_percent": 35}


def test_unknown_facts_stay_null_and_are_told(technician: Client, bank: Bank) -> None:
    made = receive(technician, bank)
    assert (made["straws_per_dose"], made["doses"], made["straws"]) == (4, 1, [])
    assert made["progressive_million_per_straw"] is None
    assert codes(made) == {
        *("collected-on-unknown", "thaw-missing", "marks-unknown", "approval-number-missing"),
    }
    batch = batch_of(technician, made)
    assert (batch["state"], batch["origin"], batch["receipt_id"]) == (
        *("frozen", "opening", made["id"]),
    )
    unknown = (
        *("collected_on", "collected_at", "collected_where", "approval_number", "collection"),
        *("recovery_percent", "straw_volume_ml", "straw_concentration_million_per_ml", "extender"),
        *("post_thaw", "thaw", "freeze_id", "received_from", "marks_as_read", "note"),
    )
    assert [name for name in unknown if batch[name] is not None] == []
    assert sound(technician)


def test_nothing_is_taken_from_the_stations_own_defaults(
    technician: Client, manager: Client, bank: Bank
) -> None:
    """Neither its name nor its numbers, nor the colour that this stallion's straws have here."""
    version = manager.request("GET", "/api/station").headers["ETag"]
    ours = {"approval_number": "IE 7", "processing_approval_number": "IE 8"}
    changed = manager.request("PATCH", "/api/station", json=ours, headers={"If-Match": version})
    assert changed.status_code == 200
    coloured = manager.ok("POST", "/api/stallions", building.stallion("Tarn", straw_colour="red"))
    made = receive(technician, bank, kind="received", stallion_id=coloured["id"])
    assert "sender-unknown" in codes(made)
    batch = batch_of(technician, made)
    assert batch["approval_number"] is batch["collected_where"] is batch["straw_colour"] is None
    stock = technician.ok("GET", f"/api/stock?batch_id={batch['id']}")
    assert [item["straw_colour"] for item in stock["items"]] == [None]


def test_what_is_known_is_kept_as_it_was_said(technician: Client, bank: Bank) -> None:
    made = receive(
        technician, bank, 10, kind="received", coded=True, straw_colour="green", note="two tubes",
        owner="Marrow Farm", **KNOWN,
    )  # fmt: skip
    assert made["progressive_million_per_straw"] == 50
    assert made["warnings"] == []
    batch = batch_of(technician, made)
    assert batch["received_from"] == "Fernhollow Stud"
    assert batch["post_thaw"] == {"progressive_motility_percent": 40, "minutes": 30}
    for name in ("marks_as_read", "collected_on", "collected_where", "approval_number"):
        assert batch[name] == KNOWN[name]
    assert (batch["straw_colour"], batch["note"]) == ("green", "two tubes")
    owned = technician.ok("GET", "/api/owners")["items"]
    assert [(one["owner"], one["straws"]) for one in owned] == [("Marrow Farm", 10)]
    assert sound(technician)


def test_labelled_straws_have_codes_that_can_be_looked_up(technician: Client, bank: Bank) -> None:
    made = receive(technician, bank, 3, coded=True)
    assert len({straw["code"] for straw in made["straws"]}) == 3
    straw = technician.ok("GET", f"/api/straws/{made['straws'][0]['code']}")
    assert (straw["state"], straw["batch_id"]) == ("stored", made["batch"]["id"])
    assert [step["kind"] for step in straw["history"]] == ["receive"]


@pytest.mark.sqlite_only
def test_straws_without_labels_have_no_code_that_leads_anywhere(
    technician: Client, bank: Bank, data: Path
) -> None:
    made = receive(technician, bank, 3)
    assert [straw["code"] for straw in batch_of(technician, made)["straws"]] == [None] * 3
    shown = technician.ok("GET", "/api/ledger?newest_first=true&limit=1")["items"][0]
    assert shown["kind"] == "receive"
    assert [line["straw_code"] for line in shown["lines"]] == [None] * 3
    with sqlite3.connect(data / "rimebook.db") as book:
        [(hidden,), *_] = book.execute("SELECT code FROM straws WHERE NOT coded").fetchall()
    for path in (f"/api/straws/{hidden}", f"/api/scan/{hidden}"):
        assert technician.refused("GET", path, None, 404, "unknown-code")


def test_a_rule_by_sperm_makes_no_dose_before_a_result_is_recorded(
    technician: Client, vet: Client, bank: Bank
) -> None:
    stallion = vet.ok("POST", "/api/stallions", {"name": "Tarnwater", "dose_rule": SPERM})
    straw = {"volume_ml": "0.5", "concentration_million_per_ml": 250}
    made = receive(technician, bank, 10, stallion_id=stallion["id"], straw=straw)
    assert (made["straws_per_dose"], made["doses"]) == (None, None)
    assert "no-post-thaw" in codes(made)
    plan = {"stallion_id": stallion["id"], "doses": 1}
    vet.refused("POST", "/api/withdrawals/plan", plan, 409, "not-enough-straws")
    pick = {"goblet_id": bank.goblets[1]["id"], "batch_id": made["batch"]["id"], "straws": 1}
    thawed = {"progressive_motility_percent": 40, "picks": [pick]}
    result = technician.ok("POST", f"/api/batches/{made['batch']['id']}/post-thaw", thawed)
    assert result["after"] == {
        "straws_stored": 9, "progressive_million_per_straw": 50, "straws_per_dose": 5, "doses": 1,
    }  # fmt: skip
    assert vet.ok("POST", "/api/withdrawals/plan", plan)["straws"] == 5
    assert sound(technician)


def test_a_result_that_came_along_is_one_of_the_batchs_results(
    technician: Client, bank: Bank
) -> None:
    """A later one counts instead; one that is older than the receipt does not."""
    made = receive(technician, bank, occurred_at="2026-03-01T10:00:00Z", **KNOWN)
    path = f"/api/batches/{made['batch']['id']}/post-thaw"
    older = {"progressive_motility_percent": 60, "occurred_at": "2020-01-01T10:00:00Z"}
    assert "later-result-counts" in codes(technician.ok("POST", path, older))
    assert batch_of(technician, made)["post_thaw"]["progressive_motility_percent"] == 40
    later = {"progressive_motility_percent": 33, "occurred_at": "2026-03-02T10:00:00Z"}
    technician.ok("POST", path, later)
    assert batch_of(technician, made)["post_thaw"]["progressive_motility_percent"] == 33
    assert sound(technician)


def test_stock_of_unknown_age_is_planned_first_and_leaves_by_count(vet: Client, bank: Bank) -> None:
    made = receive(vet, bank, 6, occurred_at="2009-05-04T10:00:00Z", marks_as_read="LF 98")
    plan = vet.ok("POST", "/api/withdrawals/plan", {"stallion_id": bank.stallion["id"]})
    [pick] = plan["picks"]
    assert (pick["batch_id"], pick["straws"], pick["straw_codes"]) == (made["batch"]["id"], 4, [])
    picks = [{name: pick[name] for name in ("goblet_id", "batch_id", "straws")}]
    taken = vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=picks))
    assert [straw["code"] for straw in taken["straws"]] == [None] * 4
    assert batch_of(vet, made)["straws_stored"] == 2
    assert sound(vet)


def test_a_batch_that_came_in_moves_is_held_and_is_exported(
    technician: Client, vet: Client, bank: Bank
) -> None:
    made = receive(technician, bank, 6, marks_as_read="LF 98")
    batch_id = made["batch"]["id"]
    picks = [{"goblet_id": bank.goblets[1]["id"], "batch_id": batch_id, "straws": 2}]
    move = {"picks": picks, "goblet_id": bank.goblets[3]["id"]}
    technician.ok("POST", "/api/moves", move, status=201)
    technician.ok("POST", f"/api/batches/{batch_id}/hold", {"reason": "papers"}, status=201)
    vet.refused("POST", "/api/withdrawals", bank.withdrawal(picks=picks), 409, "on-hold")
    release = {"reason": "papers are here", "override_reason": "old stock"}
    vet.ok("POST", f"/api/batches/{batch_id}/release", release, status=201)
    table = technician.get("/api/exports/stock.csv").text
    rows = [line for line in table.splitlines() if made["batch"]["code"] in line]
    assert ["LF 98" in row for row in rows] == [True] * 2, rows
    assert sound(technician)


def test_a_receipt_years_back_keeps_the_time_it_is_said_to_be_of(
    technician: Client, bank: Bank
) -> None:
    made = receive(technician, bank, occurred_at="2009-05-04T10:00:00Z", coded=True)
    straw = technician.ok("GET", f"/api/straws/{made['straws'][0]['code']}")
    assert straw["history"][0]["occurred_at"] == "2009-05-04T10:00:00Z"
    assert sound(technician)


@pytest.mark.parametrize(
    ("more", "reason", "until"),
    [
        ({"hold_reason": "papers are missing"}, "papers are missing", None),
        ({"hold_until": "2099-01-02"}, "as set when the straws came in", "2099-01-02"),
        ({"hold_until": "2099-01-02", "hold_reason": "CEM"}, "CEM", "2099-01-02"),
    ],
)
def test_a_receipt_can_put_its_batch_on_hold(
    technician: Client, vet: Client, bank: Bank, more: Any, reason: str, until: str | None
) -> None:
    made = receive(technician, bank, **more)
    batch = batch_of(technician, made)
    assert (batch["on_hold"], batch["hold_reason"], batch["hold_until"]) == (True, reason, until)
    plan = {"stallion_id": bank.stallion["id"], "doses": 10}
    assert vet.ok("POST", "/api/withdrawals/plan", plan)["straws"] == 40
    plan["doses"] = 11
    vet.refused("POST", "/api/withdrawals/plan", plan, 409, "not-enough-straws")


def test_a_hold_that_is_over_is_told_and_not_placed(technician: Client, bank: Bank) -> None:
    made = receive(technician, bank, hold_until="2020-01-01")
    assert "hold-over" in codes(made)
    assert batch_of(technician, made)["on_hold"] is False


def test_neighbours_that_thaw_otherwise_are_told(technician: Client, bank: Bank) -> None:
    beside = receive(technician, bank, goblet=0)
    assert {"another-thaw"} <= codes(beside)
    assert [w["field"] for w in beside["warnings"] if w["code"] == "another-thaw"] == ["placements"]


def test_a_second_click_books_nothing_more(technician: Client, bank: Bank) -> None:
    body = receipt(bank)
    first = technician.request("POST", "/api/receipts", json=body)
    again = technician.request("POST", "/api/receipts", json=body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.headers["Replayed"] == "true"
    assert again.json() == first.json()
    assert technician.ok("GET", "/api/stock")["straws"] == 46
    technician.refused("POST", "/api/receipts", {**body, "coded": True}, 409, "id-reused")


def test_a_receipt_is_taken_back_and_leaves_a_batch_that_is_void(
    technician: Client, bank: Bank
) -> None:
    made = receive(technician, bank, **KNOWN)
    back = {"reason": "counted in the wrong book"}
    technician.ok("POST", f"/api/ledger/{made['id']}/correct", back, status=201)
    batch = batch_of(technician, made)
    assert (batch["state"], batch["straws_stored"], batch["doses"]) == ("void", 0, None)
    assert {straw["state"] for straw in batch["straws"]} == {"void"}
    assert technician.ok("GET", "/api/stock")["straws"] == 40
    path = f"/api/batches/{batch['id']}/post-thaw"
    result = {"progressive_motility_percent": 30}
    refused = technician.refused("POST", path, result, 409, "not-frozen")
    assert "taken back" in refused["detail"]
    again = building.freeze(bank.stallion["id"], [(bank.goblets[1]["id"], 6)])
    again["batch_id"] = batch["id"]
    technician.refused("POST", "/api/freezes", again, 422, "placements-do-not-add-up")
    assert sound(technician)


def test_a_receipt_whose_straws_left_their_place_stays(technician: Client, bank: Bank) -> None:
    made = receive(technician, bank)
    picks = [{"goblet_id": bank.goblets[1]["id"], "batch_id": made["batch"]["id"], "straws": 1}]
    discard = {"picks": picks, "reason": "broken"}
    gone = technician.ok("POST", "/api/discards", discard)
    path, back = f"/api/ledger/{made['id']}/correct", {"reason": "a mistake"}
    technician.refused("POST", path, back, 409, "moved-on")
    technician.ok("POST", f"/api/ledger/{gone['id']}/correct", back)
    technician.ok("POST", path, back)
    assert sound(technician)


@pytest.mark.parametrize(
    ("column", "value", "what"),
    [
        ("origin", "'opening'", "origin"),
        ("collected_on", "'2001-01-01'", "day of collection"),
        ("straw_volume_ml", "'0.25'", "straw volume"),
        ("straw_concentration_million_per_ml", "'99'", "concentration"),
        ("post_thaw_percent", "'80'", "post-thaw result"),
        ("receipt_id", "NULL", "receipt"),
    ],
)
@pytest.mark.sqlite_only
def test_the_check_finds_a_received_batch_that_was_changed_beside_the_book(
    technician: Client, bank: Bank, data: Path, column: str, value: str, what: str
) -> None:
    made = receive(technician, bank, kind="received", **KNOWN)
    assert sound(technician)
    with sqlite3.connect(data / "rimebook.db") as book:
        book.execute(
            f"UPDATE batches SET {column} = {value} WHERE code = ?",
            [made["batch"]["code"]],
        )
    book.close()
    receive(technician, bank, 1)
    problems = technician.ok("GET", "/api/ledger/check")["problems"]
    assert [what in problem for problem in problems] == [True], problems


def test_words_of_a_sender_do_not_confuse_the_check_of_owners(
    technician: Client, bank: Bank
) -> None:
    receive(technician, bank, kind="received", **{"from": 'the "owner" of it'})
    assert sound(technician)


def test_labels_of_another_book_are_received_under_their_own_codes(
    technician: Client, bank: Bank
) -> None:
    """Codes that this bank never issued; the others get new ones."""
    theirs = "S1234567"
    code = theirs + check_symbol(theirs)
    place = {"goblet_id": bank.goblets[1]["id"], "straws": 3, "straw_codes": [code]}
    made = receive(technician, bank, 3, kind="received", coded=True, placements=[place])
    assert len({straw["code"] for straw in made["straws"]} - {code}) == 2
    assert technician.ok("GET", f"/api/straws/{code}")["batch_id"] == made["batch"]["id"]
    assert sound(technician)
