"""Straws that belong to somebody: given by a manager, planned and taken for their owner only."""

import sqlite3
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

from tests.banks import Bank
from tests.conftest import Client


def give(manager: Client, owner: str | None, **more: Any) -> Any:
    body = {"id": str(uuid4()), "owner": owner, "reason": "bought", **more}
    return manager.ok("POST", "/api/owner-changes", body, status=201)


def plan(vet: Client, bank: Bank, doses: int, owner: str | None = None) -> Any:
    body = {"stallion_id": bank.stallion["id"], "doses": doses, "owner": owner}
    return vet.ok("POST", "/api/withdrawals/plan", body)


def owners(client: Client) -> dict[str, tuple[int, int]]:
    found = client.ok("GET", "/api/owners")["items"]
    return {one["owner"]: (one["straws"], one["doses"]) for one in found}


def sound(client: Client) -> bool:
    return bool(client.ok("GET", "/api/ledger/check")["sound"])


def test_a_number_of_twins_is_given_and_counted(manager: Client, bank: Bank) -> None:
    assert give(manager, "Marrow Farm", picks=[bank.pick(0, 9)])["straws"] == 9
    assert owners(manager) == {"Marrow Farm": (9, 2)}
    stock = manager.ok("GET", "/api/stock")
    assert (stock["straws"], stock["doses"]) == (40, 7)
    assert [row["owners"] for row in stock["items"]] == [
        [{"owner": "Marrow Farm", "straws": 9}], [],
    ]  # fmt: skip
    assert sound(manager)


def test_the_plan_takes_nobody_elses(vet: Client, manager: Client, bank: Bank) -> None:
    give(manager, "Marrow Farm", picks=[bank.pick(0, 20)])
    common = plan(vet, bank, 5)
    assert [pick["goblet_id"] for pick in common["picks"]] == [bank.goblets[2]["id"]]
    theirs = plan(vet, bank, 5, "Marrow Farm")
    assert [pick["goblet_id"] for pick in theirs["picks"]] == [bank.goblets[0]["id"]]
    body = {"stallion_id": bank.stallion["id"], "doses": 6}
    refused = vet.refused("POST", "/api/withdrawals/plan", body, 409, "not-enough-straws")
    assert (refused["available_straws"], refused["available_doses"]) == (20, 5)


def test_a_withdrawal_by_count_takes_the_owners_twins(
    vet: Client, manager: Client, bank: Bank
) -> None:
    give(manager, "Marrow Farm", picks=[bank.pick(0, 18)])
    body = bank.withdrawal(picks=[bank.pick(0, 4)])
    refused = vet.refused("POST", "/api/withdrawals", body, 409, "not-enough-straws")
    assert refused["available_straws"] == 2
    taken = vet.ok("POST", "/api/withdrawals", {**body, "owner": "Marrow Farm"})
    assert taken["owner"] == "Marrow Farm"
    assert owners(vet) == {"Marrow Farm": (14, 3)}


def test_a_scanned_twin_of_another_owner_changes_owners(
    vet: Client, manager: Client, bank: Bank
) -> None:
    codes = bank.codes_in(0)
    give(manager, "Marrow Farm", straw_codes=codes[:10])
    taken = vet.ok("POST", "/api/withdrawals", bank.withdrawal(straw_codes=codes[:4]))
    assert taken["owner"] is None
    assert owners(vet) == {"Marrow Farm": (10, 2)}, "numbers never move by a scan"
    assert sound(vet)


def test_without_a_twin_of_theirs_it_is_refused(vet: Client, manager: Client, bank: Bank) -> None:
    codes = bank.codes_in(0)
    give(manager, "Marrow Farm", picks=[bank.pick(0, 20)])
    body = bank.withdrawal(straw_codes=codes[:4])
    refused = vet.refused("POST", "/api/withdrawals", body, 409, "owned-by-another")
    assert refused["owner"] == "Marrow Farm"
    assert owners(vet) == {"Marrow Farm": (20, 5)}


def test_a_twin_that_went_instead_keeps_the_numbers(
    vet: Client, manager: Client, bank: Bank
) -> None:
    """By count the book chose common twins; the scan shows that the hand took an owner's code."""
    codes = bank.codes_in(0)
    give(manager, "Marrow Farm", straw_codes=codes[:10])
    taken = vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    read = {"id": str(uuid4()), "straw_codes": codes[:4]}
    vet.ok("POST", f"/api/withdrawals/{taken['id']}/identify", read)
    assert owners(vet) == {"Marrow Farm": (10, 2)}
    assert sound(vet)


def test_one_owner_is_one_whatever_the_spelling(manager: Client, bank: Bank) -> None:
    give(manager, "Marrow Farm", picks=[bank.pick(0, 4)])
    assert give(manager, "MARROW  farm", picks=[bank.pick(0, 4)])["owner"] == "Marrow Farm"
    assert owners(manager) == {"Marrow Farm": (8, 2)}


def test_straws_go_from_one_owner_to_another_and_back(manager: Client, bank: Bank) -> None:
    give(manager, "Marrow Farm", picks=[bank.pick(0, 20)])
    give(manager, "Tarn Stud", from_owner="Marrow Farm", picks=[bank.pick(0, 8)])
    assert owners(manager) == {"Marrow Farm": (12, 3), "Tarn Stud": (8, 2)}
    give(manager, None, from_owner="Tarn Stud", picks=[bank.pick(0, 8)])
    assert owners(manager) == {"Marrow Farm": (12, 3)}
    body = {"owner": None, "reason": "x", "picks": [bank.pick(2, 4)]}
    manager.refused("POST", "/api/owner-changes", body, 422, "owned-already")
    assert sound(manager)


def test_the_straw_tells_whose_it_is_and_its_history_how(manager: Client, bank: Bank) -> None:
    code = bank.codes_in(0)[0]
    give(manager, "Marrow Farm", straw_codes=[code])
    straw = manager.ok("GET", f"/api/straws/{code}")
    assert straw["owner"] == "Marrow Farm"
    assert [step["kind"] for step in straw["history"]][-1] == "owner"


def test_what_moved_before_can_still_be_taken_back(manager: Client, bank: Bank) -> None:
    move = {"id": str(uuid4()), "picks": [bank.pick(0, 4)], "goblet_id": bank.goblets[1]["id"]}
    manager.ok("POST", "/api/moves", move)
    pick = {**bank.pick(1, 4)}
    give(manager, "Marrow Farm", picks=[pick])
    manager.ok("POST", f"/api/ledger/{move['id']}/correct", {"reason": "wrong goblet"})
    assert owners(manager) == {"Marrow Farm": (4, 1)}
    assert sound(manager)


@pytest.mark.sqlite_only
def test_an_owner_changed_past_the_book_is_found(data: Path, manager: Client, bank: Bank) -> None:
    give(manager, "Marrow Farm", picks=[bank.pick(0, 4)])
    with sqlite3.connect(data / "rimebook.db") as file:
        file.execute("UPDATE straws SET owner = 'Somebody' WHERE owner IS NOT NULL")
    file.close()
    give(manager, "Marrow Farm", picks=[bank.pick(2, 1)])
    problems = manager.ok("GET", "/api/ledger/check")["problems"]
    assert len(problems) == 4
    assert all("belongs to somebody else" in problem for problem in problems)
