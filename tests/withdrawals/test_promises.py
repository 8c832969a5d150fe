"""Doses promised to a mare or an owner: kept back from others, given to whom they are meant."""

from typing import Any
from uuid import uuid4

from tests.banks import Bank
from tests.conftest import Client


def promise(vet: Client, bank: Bank, **more: Any) -> Any:
    body = {"id": str(uuid4()), "stallion_id": bank.stallion["id"], **more}
    return vet.ok("POST", "/api/promises", body, status=201)


def plan(bank: Bank, doses: int, **more: Any) -> Any:
    return {"stallion_id": bank.stallion["id"], "doses": doses, **more}


def left(client: Client) -> list[int]:
    return [one["doses_left"] for one in client.ok("GET", "/api/promises")["items"]]


def test_promised_doses_are_not_planned_for_others(vet: Client, bank: Bank) -> None:
    promise(vet, bank, owner="Marrow Farm", doses=3, until="2999-01-31")
    vet.ok("POST", "/api/withdrawals/plan", plan(bank, 7))
    refused = vet.refused("POST", "/api/withdrawals/plan", plan(bank, 8), 409, "promised")
    assert (refused["available_doses"], refused["doses_left"]) == (7, 10)
    assert "3 to Marrow Farm until 31 Jan 2999" in refused["detail"]


def test_they_are_not_taken_by_others_either(vet: Client, manager: Client, bank: Bank) -> None:
    promise(vet, bank, owner="Marrow Farm", doses=6)
    body = bank.withdrawal(doses=5, picks=[bank.pick(0, 20)])
    vet.refused("POST", "/api/withdrawals", body, 409, "promised")
    manager.ok("POST", "/api/withdrawals", {**body, "release_reserve": "the owner agreed"})


def test_the_mare_they_are_promised_to_gets_them(vet: Client, bank: Bank) -> None:
    mare = vet.ok("POST", "/api/mares", {"name": "Sorrel Lane"})
    promise(vet, bank, mare_id=mare["id"], doses=8)
    vet.refused("POST", "/api/withdrawals/plan", plan(bank, 3), 409, "promised")
    vet.ok("POST", "/api/withdrawals/plan", plan(bank, 3, mare_id=mare["id"]))
    body = bank.withdrawal(mare=None, mare_id=mare["id"], doses=3, picks=[bank.pick(0, 12)])
    taken = vet.ok("POST", "/api/withdrawals", body)
    assert taken["promise_id"] is not None
    assert left(vet) == [5]


def test_a_mare_of_the_owner_keeps_the_owners_promise(vet: Client, bank: Bank) -> None:
    promise(vet, bank, owner="Marrow Farm", doses=10)
    mare = {"name": "Hazel Tarn", "owner": "marrow  farm"}
    vet.ok("POST", "/api/withdrawals", bank.withdrawal(mare=mare, picks=[bank.pick(0, 4)]))
    assert left(vet) == [9]


def test_what_is_put_back_is_promised_again(vet: Client, bank: Bank) -> None:
    mare = vet.ok("POST", "/api/mares", {"name": "Sorrel Lane"})
    promise(vet, bank, mare_id=mare["id"], doses=2)
    body = bank.withdrawal(mare=None, mare_id=mare["id"], picks=[bank.pick(0, 4)])
    taken = vet.ok("POST", "/api/withdrawals", body)
    assert left(vet) == [1]
    back = {"goblet_id": bank.goblets[0]["id"], "straws": 4, "kept_in_nitrogen": True}
    vet.ok("POST", f"/api/withdrawals/{taken['id']}/return", back)
    assert left(vet) == [2]


def test_an_ended_promise_keeps_nothing_back(vet: Client, auditor: Client, bank: Bank) -> None:
    made = promise(vet, bank, owner="Marrow Farm", doses=9)
    end = {"id": str(uuid4()), "reason": "the mare was sold"}
    vet.ok("POST", f"/api/promises/{made['id']}/end", end)
    vet.ok("POST", "/api/withdrawals/plan", plan(bank, 10))
    again = {"id": str(uuid4()), "reason": "once more"}
    vet.refused("POST", f"/api/promises/{made['id']}/end", again, 409, "promise-ended")
    kinds = [entry["kind"] for entry in auditor.ok("GET", "/api/ledger")["items"]]
    assert kinds[-2:] == ["promise", "promise-end"]


def test_a_promise_is_to_one_and_for_a_day_to_come(vet: Client, bank: Bank) -> None:
    body = {"stallion_id": bank.stallion["id"], "doses": 1}
    vet.refused("POST", "/api/promises", body, 422, "promised-to-whom")
    past = {**body, "owner": "Marrow Farm", "until": "2020-01-01"}
    vet.refused("POST", "/api/promises", past, 422, "promise-over")
