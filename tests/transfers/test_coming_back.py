"""Straws that this bank sent away come back to their own batch, by the codes on them."""

from typing import Any

from tests import building
from tests.banks import Bank
from tests.conftest import Client
from tests.transfers.receiving import entries, receipt, sound


def dispatched(client: Client, bank: Bank, **which: Any) -> Any:
    return client.ok("POST", "/api/dispatches", {"to": "Fernhollow Stud", **which}, status=201)


def coming_back(bank: Bank, straw_codes: list[str], *, goblet: int = 1, **more: Any) -> Any:
    place = {"goblet_id": bank.goblets[goblet]["id"], "straws": len(straw_codes)}
    more = {"kind": "received", "coded": True, **more}
    body = receipt(bank, len(straw_codes), **more)
    return {**body, "placements": [{**place, "straw_codes": straw_codes}]}


def test_straws_that_were_sent_away_come_back_as_themselves(technician: Client, bank: Bank) -> None:
    some = bank.codes_in(0)[:4]
    dispatched(technician, bank, straw_codes=some)
    body = coming_back(bank, some, **{"from": "Fernhollow Stud"})
    back = technician.ok("POST", "/api/receipts", body, status=201)
    assert (back["came_back"], back["batch"]["id"]) == (True, bank.batch_id)
    assert (back["doses"], len(back["straws"])) == (10, 4)
    straw = technician.ok("GET", f"/api/straws/{some[0]}")
    assert (straw["state"], straw["goblet_id"]) == ("stored", bank.goblets[1]["id"])
    assert [step["kind"] for step in straw["history"]] == [
        *("prepare", "freeze", "dispatch", "receive"),
    ]
    assert technician.ok("GET", "/api/batches")["items"][1:] == []
    assert sound(technician)
    correct = {"reason": "they did not come"}
    technician.ok("POST", f"/api/ledger/{back['id']}/correct", correct, status=201)
    assert technician.ok("GET", f"/api/straws/{some[0]}")["state"] == "dispatched"
    assert technician.ok("GET", f"/api/batches/{bank.batch_id}")["state"] == "frozen"
    assert sound(technician)


def test_a_twin_that_went_instead_comes_back_by_its_own_code(
    technician: Client, bank: Bank
) -> None:
    """Sent by count: the book chose the first codes, the hand took the last one."""
    dispatched(technician, bank, picks=[bank.pick(0, 2)])
    taken = bank.codes_in(0)[-1]
    assert technician.ok("GET", f"/api/straws/{taken}")["state"] == "stored"
    back = technician.ok("POST", "/api/receipts", coming_back(bank, [taken]), status=201)
    assert [one["out"] for one in back["exchanged"]] == [taken]
    straw = technician.ok("GET", f"/api/straws/{taken}")
    assert (straw["state"], straw["goblet_id"], straw["provisional"]) == (
        *("stored", bank.goblets[1]["id"], False),
    )
    assert technician.ok("GET", f"/api/batches/{bank.batch_id}")["straws_stored"] == 39
    assert sound(technician)


def test_straws_come_back_by_code_all_of_them_to_one_batch_of_theirs(
    technician: Client, vet: Client, bank: Bank
) -> None:
    some = bank.codes_in(0)[:2]
    dispatched(technician, bank, straw_codes=some)
    before = entries(technician)

    def refused(body: Any, status: int, code: str) -> None:
        technician.refused("POST", "/api/receipts", body, status, code)

    counted = coming_back(bank, some)
    counted["straws"] = counted["placements"][0]["straws"] = 3
    refused(counted, 422, "placements-do-not-add-up")
    refused(coming_back(bank, [*some, bank.codes_in(0)[5]]), 409, "code-taken")
    refused(coming_back(bank, some, kind="opening"), 409, "code-taken")
    refused(coming_back(bank, some, collected_on="2020-01-01"), 422, "known-already")
    refused(coming_back(bank, some, hold_reason="papers"), 422, "known-already")
    other = vet.ok("POST", "/api/stallions", building.stallion("Another"))
    refused(coming_back(bank, some, stallion_id=other["id"]), 422, "wrong-stallion")
    early = coming_back(bank, some, occurred_at="2026-03-03T09:00:00Z")
    refused(early, 422, "before-what-it-follows")
    assert entries(technician) == before
