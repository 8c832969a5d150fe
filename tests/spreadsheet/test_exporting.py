"""What goes out as CSV: whole, streamed, and nothing in it that a program would run."""

import csv
import io
import re
from pathlib import Path
from uuid import uuid4

import pytest

from service.kernel.clock import utc_now
from tests import building
from tests.banks import Bank
from tests.conftest import Client
from tests.spreadsheet.conftest import Desk

OLD_STOCK = Path(__file__).parents[2] / "seed_data" / "old_stock.csv"


def exported(who: Client, what: str, query: str = "") -> list[dict[str, str]]:
    """The rows of an export; it has a byte order mark and CR LF."""
    answer = who.request("GET", f"/api/exports/{what}.csv{query}")
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    assert f'filename="{what}.csv"' in answer.headers["content-disposition"]
    content: bytes = answer.content
    assert content.startswith(b"\xef\xbb\xbf")
    assert content.endswith(b"\r\n")
    delimiter = ";" if "semicolon" in query else ","
    text = io.StringIO(content.decode("utf-8-sig"), newline="")
    return list(csv.DictReader(text, delimiter=delimiter, strict=True))


def test_the_stock_names_every_straw_once(bank: Bank, manager: Client) -> None:
    rows = exported(manager, "stock")
    assert [int(row["straws"]) for row in rows] == [20, 20]
    codes = [code for row in rows for code in row["straw_codes"].split()]
    assert sorted(codes) == sorted([*bank.codes_in(0), *bank.codes_in(2)])
    assert {row["batch_code"] for row in rows} == {bank.batch_code}
    assert {row["thaw"] for row in rows} == {"37 C 30 s"}


def test_the_ledger_has_a_row_for_each_straw_of_each_entry(bank: Bank, auditor: Client) -> None:
    rows = exported(auditor, "ledger")
    assert [row["kind"] for row in rows] == ["prepare"] * 40 + ["freeze"] * 40
    assert {row["to"] for row in rows[:40]} == {"prepared"}
    assert {row["to"] for row in rows[40:]} == {g["address"] for g in bank.goblets[::2]}
    head = auditor.ok("GET", "/api/ledger/check")["head"]
    assert rows[-1]["hash"] == head


def test_freezes_and_withdrawals_say_what_was_done(bank: Bank, technician: Client) -> None:
    [freeze] = exported(technician, "freezes", "?delimiter=semicolon&decimal=comma")
    assert freeze["straws_stored"] == "40"
    assert freeze["straw_volume_ml"] == "0,5"
    taken = technician.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    [lifted] = exported(technician, "withdrawals")
    assert (lifted["straws_lifted"], lifted["inseminated_at"]) == ("4", "")
    assert lifted["mare"] == "Bramblewick"
    done = {"id": str(uuid4()), "inseminated_at": utc_now().isoformat(), "straws_used": 4}
    technician.ok("POST", f"/api/withdrawals/{taken['id']}/insemination", done)
    [used] = exported(technician, "withdrawals")
    assert used["straws_used"] == "4"


@pytest.mark.parametrize("name", ["=cmd|' /C calc'!A0", "@SUM(1)", "+1", "-1", "'quoted"])
def test_no_cell_can_be_run_and_numbers_stay_numbers(manager: Client, name: str) -> None:
    """OWASP, "CSV Injection", owasp.org; ASVS 5.0.0 (OWASP, 2025), 1.2.10."""
    tank = building.goblets_of(manager.ok("POST", "/api/tanks", building.tank()))
    stallion = manager.ok("POST", "/api/stallions", building.stallion(name))
    body = building.freeze(stallion["id"], [(tank[0]["id"], 8)], note=f'\t{name}\r\n"x";,')
    manager.ok("POST", "/api/freezes", body)
    for what in ("stock", "freezes", "ledger"):
        for row in exported(manager, what):
            assert row["stallion"] == f"'{name}"
            for cell in row.values():
                assert not re.match(r"[=+\-@\t\r\n]", cell)
    [row] = exported(manager, "freezes")
    assert row["straw_volume_ml"] == "0.5"
    assert row["note"] == f'\'\t{name}\r\n"x";,'


def test_another_export_than_the_four_is_refused(manager: Client) -> None:
    manager.refused("GET", "/api/exports/people.csv", None, 422, "invalid")


def test_an_export_that_goes_back_into_its_own_bank_is_refused(bank: Bank, manager: Client) -> None:
    content = manager.request("GET", "/api/exports/stock.csv").content
    fates = Desk(manager).fates(content)
    assert all("is in the book already" in fate for fate in fates.values())


def test_the_demos_old_stock_is_read_without_a_question(manager: Client) -> None:
    desk = Desk(manager)
    looked = desk.look(OLD_STOCK.read_bytes(), make_stallions={"straws": 8})
    assert looked["questions"] == []
    assert looked["delimiter"] == "semicolon"
    assert (looked["decimal"], looked["date_order"]) == ("comma", "day-first")
    assert all(column["field"] for column in looked["columns"])
    refused = [row["message"] for row in looked["rows"] if not row["booked"]]
    assert all("There is no goblet" in message for message in refused)
