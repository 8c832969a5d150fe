"""The book as it is read: filters, pages, a straw's way, corrections of each kind."""

from typing import Any

from tests import building
from tests.banks import Bank
from tests.conftest import Client


def kinds(client: Client, query: str = "") -> list[str]:
    return [entry["kind"] for entry in client.ok("GET", f"/api/ledger{query}")["items"]]


def test_the_book_is_read_from_either_end_in_pages(
    auditor: Client, technician: Client, bank: Bank
) -> None:
    for _ in range(3):
        technician.ok("POST", "/api/discards", {"picks": [bank.pick(0, 1)], "reason": "leaked"})
    all_kinds = ["prepare", "freeze", "discard", "discard", "discard"]
    assert kinds(auditor) == all_kinds
    assert kinds(auditor, "?newest_first=true") == all_kinds[::-1]
    seen, after = [], ""
    while True:
        page = auditor.ok("GET", f"/api/ledger?limit=2{after}")
        seen += [entry["seq"] for entry in page["items"]]
        if page["next"] is None:
            break
        after = f"&after={page['next']}"
    assert seen == [1, 2, 3, 4, 5]


def test_the_book_is_filtered_by_straw_stallion_and_person(
    auditor: Client, technician: Client, manager: Client, bank: Bank
) -> None:
    code = bank.codes_in(2)[0]
    technician.ok("POST", "/api/withdrawals", bank.withdrawal(straw_codes=bank.codes_in(2)[:4]))
    technician.ok("POST", f"/api/batches/{bank.batch_id}/hold", {"reason": "swab"})
    other = manager.ok("POST", "/api/stallions", building.stallion("Quietwater"))
    placed = [(bank.goblets[1]["id"], 3)]
    manager.ok("POST", "/api/freezes", building.freeze(other["id"], placed))
    assert kinds(auditor, f"?straw={code}") == ["prepare", "freeze", "withdraw"]
    his = kinds(auditor, f"?stallion_id={bank.stallion['id']}")
    assert his == ["prepare", "freeze", "withdraw", "hold"]
    assert kinds(auditor, f"?stallion_id={other['id']}") == ["prepare", "freeze"]
    assert kinds(auditor, "?person=technician") == ["withdraw", "hold"]
    auditor.refused("GET", "/api/ledger?person=nobody", None, 404, "unknown-person")


def test_a_straws_history_tells_its_whole_way(technician: Client, bank: Bank) -> None:
    code = bank.codes_in(0)[0]
    to = bank.goblets[1]["id"]
    technician.ok("POST", "/api/moves", {"straw_codes": [code], "goblet_id": to, "reason": "room"})
    history = technician.ok("GET", f"/api/straws/{code}")["history"]
    assert [(step["kind"], step["from"], step["to"]) for step in history] == [
        ("prepare", "made", "prepared"),
        ("freeze", "prepared", "NORTH-1-L1"),
        ("move", "NORTH-1-L1", "NORTH-1-U1"),
    ]
    assert (history[2]["by"], history[2]["reason"]) == ("The technician", "room")


def correct(client: Client, entry_id: str, **expected: Any) -> Any:
    return client.ok("POST", f"/api/ledger/{entry_id}/correct", {"reason": "mistake"}, **expected)


def test_a_move_is_taken_back(technician: Client, bank: Bank) -> None:
    body = {"picks": [bank.pick(0, 5)], "goblet_id": bank.goblets[1]["id"]}
    done = technician.ok("POST", "/api/moves", body)
    correct(technician, done["id"], status=201)
    items = technician.ok("GET", "/api/stock")["items"]
    assert {item["address"]: item["straws"] for item in items} == {
        "NORTH-1-L1": 20,
        "NORTH-2-L1": 20,
    }


def test_a_freeze_is_taken_back_and_logged_again(technician: Client, bank: Bank) -> None:
    freeze_id = technician.ok("GET", f"/api/batches/{bank.batch_id}")["freeze_id"]
    correct(technician, freeze_id, status=201)
    batch = technician.ok("GET", f"/api/batches/{bank.batch_id}")
    assert (batch["state"], batch["straws_stored"]) == ("prepared", 0)
    body = building.freeze(bank.stallion["id"], [(bank.goblets[3]["id"], 38)])
    again = technician.ok("POST", "/api/freezes", {**body, "batch_id": bank.batch_id})
    assert len(again["straws"]) == 38
    assert technician.ok("GET", "/api/ledger/check")["sound"] is True


def test_what_moved_on_is_not_taken_back(technician: Client, bank: Bank) -> None:
    freeze_id = technician.ok("GET", f"/api/batches/{bank.batch_id}")["freeze_id"]
    technician.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    path = f"/api/ledger/{freeze_id}/correct"
    problem = technician.refused("POST", path, {"reason": "mistake"}, 409, "moved-on")
    assert problem["state"] == "lifted"


def test_a_correction_itself_is_not_taken_back(technician: Client, bank: Bank) -> None:
    body = {"picks": [bank.pick(0, 5)], "reason": "leaked"}
    done = correct(technician, technician.ok("POST", "/api/discards", body)["id"])
    path = f"/api/ledger/{done['id']}/correct"
    technician.refused("POST", path, {"reason": "no"}, 409, "not-correctable")
