"""Straws that leave for another place, over HTTP: what goes, what is refused, what is asked."""

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest

from tests import building
from tests.bank.changing import change
from tests.banks import Bank
from tests.conftest import Client


def ago(**time: Any) -> str:
    return (datetime.now(UTC) - timedelta(**time)).isoformat()


def dispatch(client: Client, **more: Any) -> Any:
    body = {"id": str(uuid4()), "to": "Tarn Stud", **more}
    return client.ok("POST", "/api/dispatches", body, status=201)


def read(client: Client, sent: Any) -> Any:
    return client.ok("GET", f"/api/dispatches/{sent['id']}")


def warned(sent: Any) -> set[str]:
    return {one["code"] for one in sent["warnings"]}


def sound(client: Client) -> bool:
    return bool(client.ok("GET", "/api/ledger/check")["sound"])


def frozen(client: Client, bank: Bank, *, days_ago: int, goblet: int = 1, **more: Any) -> str:
    """A batch of ten straws that were collected so many days ago; its id."""
    body = building.freeze(
        bank.stallion["id"],
        [(bank.goblets[goblet]["id"], 10)],
        occurred_at=ago(days=days_ago),
        collected_at=ago(days=days_ago),  # half an hour before would be the day before, at midnight
        **more,
    )
    batch_id: str = client.ok("POST", "/api/freezes", body)["batch"]["id"]
    return batch_id


def pick(bank: Bank, batch_id: str, straws: int, goblet: int = 1) -> Any:
    return {"goblet_id": bank.goblets[goblet]["id"], "batch_id": batch_id, "straws": straws}


def test_what_the_contract_names_is_enough(technician: Client, bank: Bank) -> None:
    sent = dispatch(
        technician, picks=[bank.pick(0, 4)], container="Dry shipper 2", seal_number="A 417"
    )
    assert (len(sent["straws"]), sent["exchanged"], sent["holding"]) == (4, [], None)
    assert [seal["number"] for seal in sent["seals"]] == ["A 417"]
    assert technician.ok("GET", "/api/stock")["straws"] == 36
    straw = technician.ok("GET", f"/api/straws/{sent['straws'][0]['code']}")
    assert (straw["state"], straw["history"][-1]["kind"]) == ("dispatched", "dispatch")
    assert sound(technician)


def test_it_is_one_entry_that_says_where_to(technician: Client, bank: Bank) -> None:
    sent = dispatch(technician, picks=[bank.pick(0, 4), bank.pick(2, 3)])
    entry = technician.ok("GET", "/api/ledger?newest_first=true")["items"][0]
    assert (entry["id"], entry["kind"], entry["straws"]) == (sent["id"], "dispatch", 7)
    assert {line["to"] for line in entry["lines"]} == {"dispatched"}


def test_codes_go_for_certain_and_twins_are_exchanged(technician: Client, bank: Bank) -> None:
    technician.ok("POST", "/api/discards", {"picks": [bank.pick(0, 3)], "reason": "leaked"})
    gone = sorted(bank.codes_in(0))[0]
    sent = dispatch(technician, straw_codes=[gone])
    assert [one["in"] for one in sent["exchanged"]] == [gone]
    assert [(one["code"], one["provisional"]) for one in sent["straws"]] == [(gone, False)]
    assert sound(technician)


def test_a_twin_that_turns_out_to_have_gone_stands_on_the_dispatch(
    technician: Client, bank: Bank
) -> None:
    """By count the book chose; a scan in the goblet shows that it was another one."""
    sent = dispatch(technician, picks=[bank.pick(0, 4)])
    chosen = sent["straws"][0]["code"]
    move = {"straw_codes": [chosen], "goblet_id": bank.goblets[1]["id"]}
    [exchange] = technician.ok("POST", "/api/moves", move)["exchanged"]
    assert {straw["state"] for straw in read(technician, sent)["straws"]} == {"dispatched"}
    now = {straw["code"] for straw in read(technician, sent)["straws"]}
    assert (len(now), chosen in now, exchange["out"] in now) == (4, False, True)
    assert read(technician, sent)["packing_list"]["straws"] == 4


def test_a_replay_answers_the_same_and_sends_nothing_twice(technician: Client, bank: Bank) -> None:
    body = {"id": str(uuid4()), "to": "Tarn Stud", "picks": [bank.pick(0, 4)]}
    first = technician.post("/api/dispatches", json=body)
    again = technician.post("/api/dispatches", json=body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json() == first.json()
    assert technician.ok("GET", "/api/stock")["straws"] == 36


@pytest.mark.parametrize(
    ("change_", "code"),
    [
        ({"to": None}, "invalid"),
        ({"to": " "}, "invalid"),
        ({"picks": None}, "name-the-straws"),
        ({"picks": []}, "name-the-straws"),
        ({"holding_days_rated": 0}, "invalid"),
        ({"holding_days_rated": 1001}, "invalid"),
        ({"holding_days_rated": "NaN"}, "invalid"),
        ({"holding_days_rated": "1e3"}, "invalid"),
        ({"filled_at": "2999-01-01T00:00:00Z"}, "in-the-future"),
        ({"filled_at": "yesterday"}, "invalid"),
        ({"seal_number": "a\u0000b"}, "invalid"),
        ({"colour": "red"}, "invalid"),
    ],
)
def test_what_cannot_be_is_refused(technician: Client, bank: Bank, change_: Any, code: str) -> None:
    body = {"to": "Tarn Stud", "picks": [bank.pick(0, 4)], **change_}
    technician.refused("POST", "/api/dispatches", body, 422, code)
    assert technician.ok("GET", "/api/stock")["straws"] == 40


def test_a_batch_on_hold_does_not_leave(technician: Client, bank: Bank) -> None:
    technician.ok("POST", f"/api/batches/{bank.batch_id}/hold", {"reason": "swab not answered"})
    body = {"to": "Tarn Stud", "picks": [bank.pick(0, 4)]}
    problem = technician.refused("POST", "/api/dispatches", body, 409, "on-hold")
    assert problem["reason"] == "swab not answered"
    assert technician.ok("GET", "/api/stock")["straws"] == 40
    assert technician.ok("GET", "/api/dispatches")["items"] == []


def test_it_leaves_on_the_day_its_hold_ends_and_not_before(technician: Client, bank: Bank) -> None:
    today = datetime.now(UTC).date()
    hold = {"reason": "thirty days", "until": str(today + timedelta(days=2))}
    technician.ok("POST", f"/api/batches/{bank.batch_id}/hold", hold)
    body = {"to": "Tarn Stud", "picks": [bank.pick(0, 4)]}
    assert technician.refused("POST", "/api/dispatches", body, 409, "on-hold")["until"]
    batch_id = frozen(technician, bank, days_ago=40, hold_until=str(today - timedelta(days=10)))
    assert len(dispatch(technician, picks=[pick(bank, batch_id, 2)])["straws"]) == 2


def test_nothing_leaves_a_quarantined_tank(technician: Client, manager: Client, bank: Bank) -> None:
    tank = manager.ok("POST", "/api/tanks", {**building.tank("Apart"), "quarantine": True})
    to = building.goblets_of(tank)[0]
    technician.ok("POST", f"/api/batches/{bank.batch_id}/hold", {"reason": "swab"})
    technician.ok("POST", "/api/moves", {"picks": [bank.pick(0, 5)], "goblet_id": to["id"]})
    manager.ok("POST", f"/api/batches/{bank.batch_id}/release", {"reason": "negative"})
    pick_there = {"goblet_id": to["id"], "batch_id": bank.batch_id, "straws": 2}
    body = {"to": "Tarn Stud", "picks": [pick_there]}
    problem = technician.refused("POST", "/api/dispatches", body, 409, "on-hold")
    assert problem["address"] == to["address"]


def test_the_reserve_leaves_by_a_managers_word_only(
    vet: Client, manager: Client, bank: Bank
) -> None:
    change(manager, f"/api/stallions/{bank.stallion['id']}", {"reserve_doses": 9})
    body = {"id": str(uuid4()), "to": "Tarn Stud", "picks": [bank.pick(0, 8)]}
    problem = vet.refused("POST", "/api/dispatches", body, 409, "reserve-reached")
    assert (problem["doses_left"], problem["reserve_doses"]) == (10, 9)
    manager.refused("POST", "/api/dispatches", body, 409, "reserve-reached")
    released = {**body, "release_reserve": "sold with the stallion"}
    vet.refused("POST", "/api/dispatches", released, 403, "forbidden")
    assert vet.ok("GET", "/api/stock")["straws"] == 40
    manager.ok("POST", "/api/dispatches", released, status=201)
    entry = vet.ok("GET", "/api/ledger?newest_first=true")["items"][0]
    assert (entry["kind"], entry["reason"]) == ("dispatch", "sold with the stallion")


def test_straws_that_are_gone_or_too_few_stay_where_they_are(
    technician: Client, bank: Bank
) -> None:
    code = bank.codes_in(0)[0]
    technician.ok("POST", "/api/discards", {"straw_codes": [code], "reason": "leaked"})
    body = {"to": "Tarn Stud", "straw_codes": [code, bank.codes_in(0)[1]]}
    technician.refused("POST", "/api/dispatches", body, 409, "straw-gone")
    body = {"to": "Tarn Stud", "picks": [bank.pick(0, 4), bank.pick(2, 21)]}
    problem = technician.refused("POST", "/api/dispatches", body, 409, "not-enough-straws")
    assert problem["available_straws"] == 20
    assert technician.ok("GET", "/api/stock")["straws"] == 39


def test_what_left_is_gone_for_a_withdrawal(vet: Client, bank: Bank) -> None:
    codes = bank.codes_in(0)[:4]
    dispatch(vet, straw_codes=codes)
    body = bank.withdrawal(straw_codes=codes)
    problem = vet.refused("POST", "/api/withdrawals", body, 409, "straw-gone")
    assert problem["state"] == "dispatched"


@pytest.mark.parametrize(("days", "lacking"), [(0, True), (29, True), (30, False), (31, False)])
def test_days_in_store_are_asked_about_and_day_thirty_is_enough(
    technician: Client, bank: Bank, days: int, lacking: bool
) -> None:
    """Directive 92/65/EEC Annex D as amended by Regulation (EU) 176/2010, from memory."""
    batch_id = frozen(technician, bank, days_ago=days)
    sent = dispatch(technician, picks=[pick(bank, batch_id, 2)])
    assert ("days-in-store" in warned(sent)) is lacking


def test_the_stations_own_number_of_days_counts(
    technician: Client, manager: Client, bank: Bank
) -> None:
    batch_id = frozen(technician, bank, days_ago=40)
    change(manager, "/api/station", {"days_in_store": 60})
    sent = dispatch(technician, picks=[pick(bank, batch_id, 2)])
    [told] = [one["message"] for one in sent["warnings"] if one["code"] == "days-in-store"]
    assert "40 of 60 days" in told


def test_tests_that_are_asked_for_and_not_negative_are_told(
    technician: Client, manager: Client, bank: Bank
) -> None:
    batch_id = frozen(technician, bank, days_ago=40)
    change(manager, "/api/station", {"required_tests": ["EIA", "EVA", "CEM"]})
    for test, result in (("EIA", "negative"), ("EVA", "pending")):
        body = {"test": test, "sampled_on": ago(days=20)[:10], "result": result}
        technician.ok("POST", f"/api/batches/{batch_id}/tests", body)
    sent = dispatch(technician, picks=[pick(bank, batch_id, 2)])
    told = {one["code"]: one["message"] for one in sent["warnings"]}
    assert "EVA" in told["test-pending"]
    assert "CEM" in told["test-missing"]
    assert not any("EIA" in told[code] for code in ("test-pending", "test-missing"))
    assert [test["result"] for test in sent["packing_list"]["rows"][0]["tests"]] == [
        "negative", "pending", None,
    ]  # fmt: skip


def test_marks_that_nobody_knows_are_told(technician: Client, bank: Bank) -> None:
    sent = dispatch(technician, picks=[bank.pick(0, 2)])
    [told] = [one["message"] for one in sent["warnings"] if one["code"] == "marks-missing"]
    assert "identity number of the donor" in told
    assert "approval number" in told
    assert "day of collection" not in told


def test_with_papers_in_order_nothing_is_asked(
    technician: Client, manager: Client, bank: Bank
) -> None:
    change(manager, "/api/station", {"approval_number": "IE-DEMO-1", "required_tests": []})
    ueln = {"ueln": "372QHVDEMO00077"}
    change(manager, f"/api/stallions/{bank.stallion['id']}", ueln)
    batch_id = frozen(technician, bank, days_ago=40)
    sent = dispatch(technician, picks=[pick(bank, batch_id, 2)], seal_number="A 1")
    assert sent["warnings"] == []


def test_several_stallions_share_a_container_without_a_word(
    technician: Client, manager: Client, bank: Bank
) -> None:
    other = manager.ok("POST", "/api/stallions", building.stallion("Quietwater"))
    there = bank.goblets[1]["id"]
    made = technician.ok("POST", "/api/freezes", building.freeze(other["id"], [(there, 10)]))
    picks = [bank.pick(0, 2), pick(bank, made["batch"]["id"], 3)]
    sent = dispatch(technician, picks=picks)
    assert sent["packing_list"]["donors"] == 2
    assert [row["straws"] for row in sent["packing_list"]["rows"]] == [2, 3]
    assert "another-stallion" not in warned(sent)


def test_somebodys_straws_go_when_he_is_named_and_are_told_of_when_not(
    technician: Client, manager: Client, bank: Bank
) -> None:
    given = {"owner": "Marrow Farm", "reason": "bought", "picks": [bank.pick(0, 18)]}
    manager.ok("POST", "/api/owner-changes", given)
    theirs = dispatch(technician, picks=[bank.pick(0, 4)], owner="MARROW farm")
    assert "owned-by-another" not in warned(theirs)
    [owned] = technician.ok("GET", "/api/owners")["items"]
    assert owned["straws"] == 14
    # Two of the common stock are left in this goblet: the third is Marrow Farm's.
    mixed = dispatch(technician, picks=[bank.pick(0, 3)])
    [told] = [one["message"] for one in mixed["warnings"] if one["code"] == "owned-by-another"]
    assert told.startswith("1 of these straws belong to Marrow Farm")


def test_a_dispatch_is_taken_back_and_says_so_everywhere(technician: Client, bank: Bank) -> None:
    sent = dispatch(technician, picks=[bank.pick(0, 4)], seal_number="A 1")
    assert (sent["state"], sent["taken_back"]) == ("dispatched", None)
    path = f"/api/ledger/{sent['id']}/correct"
    technician.ok("POST", path, {"reason": "the carrier never came"}, status=201)
    assert technician.ok("GET", "/api/stock")["straws"] == 40
    now = read(technician, sent)
    assert {(one["state"], one["address"]) for one in now["straws"]} == {("stored", "NORTH-1-L1")}
    assert (now["state"], now["taken_back"]["reason"]) == ("taken-back", "the carrier never came")
    assert now["packing_list"]["straws"] == 4
    [listed] = technician.ok("GET", "/api/dispatches")["items"]
    assert listed["state"] == "taken-back"
    seal = {"number": "A 2", "reason": "torn"}
    technician.refused("POST", f"/api/dispatches/{sent['id']}/seals", seal, 409, "taken-back")
    technician.refused("POST", path, {"reason": "again"}, 409, "moved-on")
    assert sound(technician)


def test_a_dispatch_whose_straws_came_back_otherwise_stays(technician: Client, bank: Bank) -> None:
    """Taken back, sent again: the first entry's straws have moved on."""
    sent = dispatch(technician, straw_codes=bank.codes_in(0)[:4])
    path = f"/api/ledger/{sent['id']}/correct"
    technician.ok("POST", path, {"reason": "not yet"})
    dispatch(technician, straw_codes=bank.codes_in(0)[:4])
    technician.refused("POST", path, {"reason": "again"}, 409, "moved-on")


def test_dispatches_are_listed_by_pages_newest_first(technician: Client, bank: Bank) -> None:
    sent = [dispatch(technician, picks=[bank.pick(0, 1)], to=f"Stud {n}")["id"] for n in range(5)]
    listed, after = [], ""
    while True:
        page = technician.ok("GET", f"/api/dispatches?limit=2{after}")
        listed += [one["id"] for one in page["items"]]
        if page["next"] is None:
            break
        after = f"&after={page['next']}"
    assert listed == sent[::-1]


def test_an_unknown_dispatch_is_unknown(auditor: Client) -> None:
    path = "/api/dispatches/0199b1f0-0000-7000-8000-000000000001"
    answer = auditor.get(path)
    assert (answer.status_code, answer.json()["code"]) == (404, "unknown-dispatch")


def test_an_auditor_reads_and_sends_nothing(
    auditor: Client, technician: Client, bank: Bank
) -> None:
    sent = dispatch(technician, picks=[bank.pick(0, 4)])
    assert read(auditor, sent)["to"] == "Tarn Stud"
    body = {"to": "Tarn Stud", "picks": [bank.pick(0, 4)]}
    auditor.refused("POST", "/api/dispatches", body, 403, "forbidden")
    seal = {"number": "A 2", "reason": "torn"}
    auditor.refused("POST", f"/api/dispatches/{sent['id']}/seals", seal, 403, "forbidden")
