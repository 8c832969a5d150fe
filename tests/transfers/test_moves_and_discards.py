"""Moving straws and throwing them away, over HTTP."""

from typing import Any
from uuid import uuid4

import pytest

from tests import building
from tests.banks import Bank
from tests.conftest import Client


def stock(client: Client) -> dict[str, int]:
    items = client.ok("GET", "/api/stock")["items"]
    return {item["address"]: item["straws"] for item in items}


def test_straws_move_by_count_and_by_code(technician: Client, bank: Bank) -> None:
    to = bank.goblets[1]["id"]
    done = technician.ok(
        "POST", "/api/moves", {"picks": [bank.pick(0, 5)], "goblet_id": to}, status=201
    )
    assert (done["straws"], done["exchanged"], done["warnings"]) == (5, [], [])
    codes = bank.codes_in(2)[:3]
    technician.ok("POST", "/api/moves", {"straw_codes": codes, "goblet_id": to}, status=201)
    assert stock(technician) == {"NORTH-1-L1": 15, "NORTH-1-U1": 8, "NORTH-2-L1": 17}
    moved = technician.ok("GET", f"/api/straws/{codes[0]}")
    assert (moved["address"], moved["provisional"]) == ("NORTH-1-U1", False)


def test_a_full_goblet_takes_nothing_and_says_how_much_it_would(
    technician: Client, manager: Client, bank: Bank
) -> None:
    small = manager.ok("POST", "/api/tanks", building.tank("South", straws=4))
    to = building.goblets_of(small)[0]["id"]
    problem = technician.refused(
        "POST", "/api/moves", {"picks": [bank.pick(0, 5)], "goblet_id": to}, 409, "goblet-full"
    )
    assert problem["free_straws"] == 4
    assert stock(technician) == {"NORTH-1-L1": 20, "NORTH-2-L1": 20}
    technician.ok("POST", "/api/moves", {"picks": [bank.pick(0, 4)], "goblet_id": to})


@pytest.mark.parametrize(
    ("change", "status", "code"),
    [
        ({"goblet_id": "0199b1f0-0000-7000-8000-000000000001"}, 404, "unknown"),
        ({"picks": None}, 422, "name-the-straws"),
        ({"picks": []}, 422, "name-the-straws"),
        ({"picks": [{"goblet_id": "x"}]}, 422, "invalid"),
        ({"reason": ""}, 422, "invalid"),
    ],
)
def test_a_move_that_cannot_be_is_refused(
    technician: Client, bank: Bank, change: Any, status: int, code: str
) -> None:
    body = {"picks": [bank.pick(0, 5)], "goblet_id": bank.goblets[1]["id"], **change}
    technician.refused("POST", "/api/moves", body, status, code)


def test_a_move_to_where_they_stand_is_refused(technician: Client, bank: Bank) -> None:
    body = {"picks": [bank.pick(0, 5)], "goblet_id": bank.goblets[0]["id"]}
    technician.refused("POST", "/api/moves", body, 422, "already-there")


def test_another_stallion_in_the_goblet_is_warned_of(
    technician: Client, manager: Client, bank: Bank
) -> None:
    other = manager.ok("POST", "/api/stallions", building.stallion("Quietwater"))
    there = bank.goblets[1]["id"]
    technician.ok("POST", "/api/freezes", building.freeze(other["id"], [(there, 10)]))
    done = technician.ok("POST", "/api/moves", {"picks": [bank.pick(0, 2)], "goblet_id": there})
    assert "another-stallion" in [one["code"] for one in done["warnings"]]


def warnings(done: Any) -> list[str]:
    return sorted(one["code"] for one in done["warnings"])


def test_another_way_to_thaw_in_the_goblet_is_warned_of(technician: Client, bank: Bank) -> None:
    """Of the same stallion: only the card for the bath would be the wrong one."""
    there = bank.goblets[1]["id"]
    slow = {"steps": [{"water_c": 38, "seconds": 60}]}
    body = building.freeze(bank.stallion["id"], [(there, 10)], thaw=slow)
    technician.ok("POST", "/api/freezes", body)
    done = technician.ok("POST", "/api/moves", {"picks": [bank.pick(0, 2)], "goblet_id": there})
    assert warnings(done) == ["another-thaw"]


def test_straws_on_hold_beside_free_ones_are_warned_of(technician: Client, bank: Bank) -> None:
    there = bank.goblets[1]["id"]
    body = building.freeze(bank.stallion["id"], [(there, 10)])
    technician.ok("POST", "/api/freezes", body)
    technician.ok("POST", f"/api/batches/{bank.batch_id}/hold", {"reason": "swab"})
    done = technician.ok("POST", "/api/moves", {"picks": [bank.pick(0, 2)], "goblet_id": there})
    assert warnings(done) == ["held-beside-free"]


def test_straws_of_the_same_batch_meet_without_a_word(technician: Client, bank: Bank) -> None:
    there = bank.goblets[2]["id"]
    done = technician.ok("POST", "/api/moves", {"picks": [bank.pick(0, 2)], "goblet_id": there})
    assert warnings(done) == []


def test_a_move_from_several_goblets_is_one_entry(technician: Client, bank: Bank) -> None:
    body = {"picks": [bank.pick(0, 3), bank.pick(2, 4)], "goblet_id": bank.goblets[1]["id"]}
    done = technician.ok("POST", "/api/moves", body)
    entry = technician.ok("GET", "/api/ledger?newest_first=true")["items"][0]
    assert (entry["id"], entry["kind"], entry["straws"]) == (done["id"], "move", 7)
    assert stock(technician) == {"NORTH-1-L1": 17, "NORTH-1-U1": 7, "NORTH-2-L1": 16}


def test_a_move_that_fails_for_one_straw_moves_none(technician: Client, bank: Bank) -> None:
    codes = bank.codes_in(0)
    technician.ok("POST", "/api/discards", {"straw_codes": codes[:1], "reason": "leaked"})
    body = {"straw_codes": codes[:3], "goblet_id": bank.goblets[1]["id"]}
    technician.refused("POST", "/api/moves", body, 409, "straw-gone")
    assert stock(technician) == {"NORTH-1-L1": 19, "NORTH-2-L1": 20}


def test_released_straws_never_go_into_a_quarantined_tank(
    technician: Client, manager: Client, bank: Bank
) -> None:
    tank = manager.ok("POST", "/api/tanks", {**building.tank("Apart"), "quarantine": True})
    to = building.goblets_of(tank)[0]["id"]
    body = {"picks": [bank.pick(0, 5)], "goblet_id": to}
    technician.refused("POST", "/api/moves", body, 409, "quarantined-tank")
    technician.ok("POST", f"/api/batches/{bank.batch_id}/hold", {"reason": "swab"})
    technician.ok("POST", "/api/moves", body, status=201)


def test_a_discard_needs_a_reason_and_is_taken_back_by_a_counter_entry(
    technician: Client, bank: Bank
) -> None:
    body = {"picks": [bank.pick(0, 5)]}
    technician.refused("POST", "/api/discards", body, 422, "invalid")
    done = technician.ok("POST", "/api/discards", {**body, "reason": "goblet split"}, status=201)
    assert stock(technician)["NORTH-1-L1"] == 15
    path = f"/api/ledger/{done['id']}/correct"
    technician.ok("POST", path, {"reason": "the other goblet"}, status=201)
    assert stock(technician)["NORTH-1-L1"] == 20
    technician.refused("POST", path, {"reason": "again"}, 409, "moved-on")


def reserve(manager: Client, bank: Bank, doses: int) -> None:
    path = f"/api/stallions/{bank.stallion['id']}"
    version = manager.get(path).headers["ETag"]
    answer = manager.patch(path, json={"reserve_doses": doses}, headers={"If-Match": version})
    assert answer.status_code == 200, answer.text


def test_the_reserve_is_a_managers_to_discard(vet: Client, manager: Client, bank: Bank) -> None:
    reserve(manager, bank, 9)
    body = {"picks": [bank.pick(0, 8)], "reason": "leaked"}
    problem = vet.refused("POST", "/api/discards", body, 409, "reserve-reached")
    assert (problem["doses_left"], problem["reserve_doses"]) == (10, 9)
    vet.ok("POST", "/api/discards", {**body, "picks": [bank.pick(0, 4)]}, status=201)
    manager.ok("POST", "/api/discards", body, status=201)


def test_a_refused_discard_books_nothing_and_does_not_use_its_id_up(
    vet: Client, manager: Client, bank: Bank
) -> None:
    reserve(manager, bank, 9)
    body = {"id": str(uuid4()), "picks": [bank.pick(0, 8)], "reason": "leaked"}
    vet.refused("POST", "/api/discards", body, 409, "reserve-reached")
    assert stock(vet) == {"NORTH-1-L1": 20, "NORTH-2-L1": 20}
    vet.ok("POST", "/api/discards", {**body, "picks": [bank.pick(0, 4)]}, status=201)


def test_straws_that_make_no_dose_are_no_part_of_the_reserve(
    technician: Client, manager: Client, bank: Bank
) -> None:
    """Held back, none of them may be used: to throw them away takes no dose from anybody."""
    reserve(manager, bank, 9)
    technician.ok("POST", f"/api/batches/{bank.batch_id}/hold", {"reason": "failed its test"})
    body = {"picks": [bank.pick(0, 20), bank.pick(2, 20)], "reason": "failed its test"}
    technician.ok("POST", "/api/discards", body, status=201)
    assert stock(technician) == {}


def test_a_straw_too_few_for_a_dose_may_go_though_the_reserve_is_all_there_is(
    technician: Client, manager: Client, bank: Bank
) -> None:
    technician.ok("POST", "/api/discards", {"picks": [bank.pick(0, 2)], "reason": "leaked"})
    reserve(manager, bank, 9)
    body = {"picks": [bank.pick(0, 2)], "reason": "leaked"}
    technician.ok("POST", "/api/discards", body, status=201)
    problem = technician.refused("POST", "/api/discards", body, 409, "reserve-reached")
    assert (problem["doses_left"], problem["reserve_doses"]) == (9, 9)


def test_an_auditor_moves_and_discards_nothing(auditor: Client, bank: Bank) -> None:
    body = {"picks": [bank.pick(0, 2)], "goblet_id": bank.goblets[1]["id"]}
    auditor.refused("POST", "/api/moves", body, 403, "forbidden")
    body = {"picks": [bank.pick(0, 2)], "reason": "leaked"}
    auditor.refused("POST", "/api/discards", body, 403, "forbidden")
    assert stock(auditor) == {"NORTH-1-L1": 20, "NORTH-2-L1": 20}


def test_a_scan_of_a_straw_that_a_count_moved_exchanges_the_twins(
    technician: Client, bank: Bank
) -> None:
    """By count the book chose which were thrown away; one of those turns up in the goblet."""
    body = {"picks": [bank.pick(0, 5)], "reason": "leaked"}
    technician.ok("POST", "/api/discards", body)
    gone = sorted(bank.codes_in(0))[0]
    assert technician.ok("GET", f"/api/straws/{gone}")["state"] == "discarded"
    to = bank.goblets[1]["id"]
    done = technician.ok("POST", "/api/moves", {"straw_codes": [gone], "goblet_id": to})
    assert [one["in"] for one in done["exchanged"]] == [gone]
    found = technician.ok("GET", f"/api/straws/{gone}")
    assert (found["state"], found["address"]) == ("stored", "NORTH-1-U1")
    assert stock(technician) == {"NORTH-1-L1": 14, "NORTH-1-U1": 1, "NORTH-2-L1": 20}
    assert technician.ok("GET", "/api/ledger/check")["sound"] is True


def test_a_straw_that_left_by_scan_is_gone_whoever_asks(technician: Client, bank: Bank) -> None:
    codes = bank.codes_in(0)[:2]
    technician.ok("POST", "/api/discards", {"straw_codes": codes, "reason": "leaked"})
    body = {"straw_codes": codes[:1], "reason": "leaked"}
    problem = technician.refused("POST", "/api/discards", body, 409, "straw-gone")
    assert (problem["straw_code"], problem["state"]) == (codes[0], "discarded")


def test_without_a_twin_left_a_code_is_gone(technician: Client, bank: Bank) -> None:
    body = {"picks": [bank.pick(0, 20)], "reason": "the goblet fell"}
    technician.ok("POST", "/api/discards", body)
    body = {"straw_codes": bank.codes_in(0)[:1], "reason": "leaked"}
    technician.refused("POST", "/api/discards", body, 409, "straw-gone")


def test_wrong_codes_are_told_apart(technician: Client, bank: Bank) -> None:
    for codes, status, code in (
        ([bank.codes_in(0)[0]] * 2, 422, "same-code-twice"),
        ([bank.goblets[0]["code"]], 422, "not-a-straw"),
        (["S12345678"], 422, "misread-code"),
    ):
        body = {"straw_codes": codes, "reason": "leaked"}
        technician.refused("POST", "/api/discards", body, status, code)
