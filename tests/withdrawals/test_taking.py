"""Taking a dose over HTTP: who gets straws, who is refused, and what is left behind."""

from typing import Any
from uuid import uuid4

import pytest

from tests import building
from tests.banks import Bank
from tests.conftest import Client


def head(client: Client) -> str:
    return str(client.ok("GET", "/api/ledger/check")["head"])


def test_a_planned_dose_is_taken_by_count(vet: Client, bank: Bank) -> None:
    plan = vet.ok("POST", "/api/withdrawals/plan", {"stallion_id": bank.stallion["id"]})
    assert (plan["straws"], plan["canister_lifts"], len(plan["picks"])) == (4, 1, 1)
    (pick,) = plan["picks"]
    assert pick["straw_codes"] == sorted(bank.codes[pick["goblet_id"]])[:4]
    taken = vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]), status=201)
    assert taken["state"] == "lifted"
    assert [straw["provisional"] for straw in taken["straws"]] == [True] * 4
    assert taken["thaw"][0]["steps"] == [{"water_c": 37, "seconds": 30}]
    stock = vet.ok("GET", f"/api/stock?stallion_id={bank.stallion['id']}")
    assert (stock["straws"], stock["doses"]) == (36, 9)


def test_planning_books_nothing(vet: Client, auditor: Client, bank: Bank) -> None:
    before = head(vet)
    auditor.ok("POST", "/api/withdrawals/plan", {"stallion_id": bank.stallion["id"], "doses": 3})
    assert head(vet) == before


def test_scanned_straws_are_certain(vet: Client, bank: Bank) -> None:
    body = bank.withdrawal(straw_codes=bank.codes_in(0)[:4])
    taken = vet.ok("POST", "/api/withdrawals", body)
    assert not any(straw["provisional"] for straw in taken["straws"])
    assert taken["exchanged"] == []


def test_a_retry_is_answered_again_and_books_nothing(vet: Client, bank: Bank) -> None:
    body = bank.withdrawal(picks=[bank.pick(0, 4)])
    first = vet.post("/api/withdrawals", json=body)
    again = vet.post("/api/withdrawals", json=body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.headers["Replayed"] == "true"
    assert again.json() == first.json()
    assert vet.ok("GET", "/api/stock")["straws"] == 36


def test_the_same_id_for_something_else_is_refused(vet: Client, bank: Bank) -> None:
    body = bank.withdrawal(picks=[bank.pick(0, 4)])
    vet.ok("POST", "/api/withdrawals", body)
    vet.refused("POST", "/api/withdrawals", {**body, "picks": [bank.pick(2, 4)]}, 409, "id-reused")


def test_a_refusal_does_not_use_the_id_up(vet: Client, bank: Bank) -> None:
    body = bank.withdrawal(picks=[bank.pick(0, 3)])
    vet.refused("POST", "/api/withdrawals", body, 422, "below-dose-rule")
    vet.ok("POST", "/api/withdrawals", {**body, "picks": [bank.pick(0, 4)]}, status=201)


def test_a_straw_taken_by_another_names_who_and_when(
    vet: Client, technician: Client, bank: Bank
) -> None:
    codes = bank.codes_in(0)[:4]
    technician.ok("POST", "/api/withdrawals", bank.withdrawal(straw_codes=codes))
    problem = vet.refused(
        "POST", "/api/withdrawals", bank.withdrawal(straw_codes=codes), 409, "straw-gone"
    )
    assert problem["straw_code"] in codes
    assert (problem["state"], problem["by"]) == ("lifted", "The technician")
    assert problem["at"].endswith("Z")


@pytest.mark.parametrize(("straws", "code"), [(3, "below-dose-rule"), (5, "above-dose-rule")])
def test_too_few_or_too_many_need_a_vets_reason(
    vet: Client, technician: Client, bank: Bank, straws: int, code: str
) -> None:
    body = bank.withdrawal(picks=[bank.pick(0, straws)])
    before = head(vet)
    vet.refused("POST", "/api/withdrawals", body, 422, code)
    with_reason = {**body, "override_reason": "split ejaculate, agreed with the owner"}
    technician.refused("POST", "/api/withdrawals", with_reason, 403, "forbidden")
    assert head(vet) == before
    taken = vet.ok("POST", "/api/withdrawals", with_reason, status=201)
    assert taken["override_reason"] == "split ejaculate, agreed with the owner"


def test_straws_of_another_stallion_are_refused(vet: Client, manager: Client, bank: Bank) -> None:
    other = manager.ok("POST", "/api/stallions", building.stallion("Quietwater", straws=4))
    body = building.withdrawal(other["id"], straw_codes=bank.codes_in(0)[:4])
    vet.refused("POST", "/api/withdrawals", body, 422, "wrong-stallion")


def test_a_held_batch_is_neither_planned_nor_taken(vet: Client, bank: Bank) -> None:
    hold = {"reason": "waiting for the swab"}
    vet.ok("POST", f"/api/batches/{bank.batch_id}/hold", hold)
    problem = vet.refused(
        "POST",
        "/api/withdrawals/plan",
        {"stallion_id": bank.stallion["id"]},
        409,
        "not-enough-straws",
    )
    assert (problem["available_straws"], problem["available_doses"]) == (0, 0)
    assert "waiting for the swab" in problem["detail"]
    body = bank.withdrawal(straw_codes=bank.codes_in(0)[:4])
    vet.refused("POST", "/api/withdrawals", body, 409, "on-hold")
    stock = vet.ok("GET", "/api/stock")
    assert (stock["straws"], stock["doses"], stock["straws_on_hold"]) == (40, 0, 40)
    vet.ok("POST", f"/api/batches/{bank.batch_id}/release", {"reason": "negative"})
    vet.ok("POST", "/api/withdrawals", body, status=201)


def test_the_last_doses_are_released_by_a_manager_only(
    vet: Client, manager: Client, bank: Bank
) -> None:
    stallion = manager.get(f"/api/stallions/{bank.stallion['id']}")
    manager.request(
        "PATCH",
        f"/api/stallions/{bank.stallion['id']}",
        json={"reserve_doses": 9},
        headers={"If-Match": stallion.headers["ETag"]},
    ).raise_for_status()
    wish = {"stallion_id": bank.stallion["id"], "doses": 1}
    assert vet.ok("POST", "/api/withdrawals/plan", wish)["straws"] == 4
    vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    problem = vet.refused("POST", "/api/withdrawals/plan", wish, 409, "reserve-reached")
    assert (problem["reserve_doses"], problem["available_doses"]) == (9, 0)
    body = bank.withdrawal(picks=[bank.pick(0, 4)])
    vet.refused("POST", "/api/withdrawals", body, 409, "reserve-reached")
    released = {"release_reserve": "his last mare of the season"}
    vet.refused("POST", "/api/withdrawals", {**body, **released}, 403, "forbidden")
    assert manager.ok("POST", "/api/withdrawals/plan", {**wish, **released})["straws"] == 4
    taken = manager.ok("POST", "/api/withdrawals", {**body, **released}, status=201)
    assert taken["release_reserve"] == "his last mare of the season"


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"doses": 1.5}, "invalid"),
        ({"doses": "1"}, "invalid"),
        ({"doses": 0}, "invalid"),
        ({"surprise": 1}, "invalid"),
        ({"mare": None}, "name-the-mare"),
        ({"mare_id": str(uuid4())}, "name-the-mare"),
        ({"picks": None}, "name-the-straws"),
        ({"straw_codes": ["S12345678"]}, "name-the-straws"),
        ({"picks": None, "straw_codes": ["S12345678"]}, "misread-code"),
        ({"occurred_at": "2999-01-01T00:00:00Z"}, "in-the-future"),
        ({"occurred_at": "2020-01-01T00:00:00Z"}, "before-what-it-follows"),
        ({"override_reason": "x" * 501}, "invalid"),
    ],
)
def test_bad_input_names_the_field_and_changes_nothing(
    vet: Client, bank: Bank, change: dict[str, Any], code: str
) -> None:
    before = head(vet)
    body = {**bank.withdrawal(picks=[bank.pick(0, 4)]), **change}
    problem = vet.refused("POST", "/api/withdrawals", body, 422, code)
    assert problem["detail"]
    assert head(vet) == before
    assert vet.ok("GET", "/api/mares")["items"] == []


def test_more_than_the_goblet_holds_is_refused_with_what_it_holds(vet: Client, bank: Bank) -> None:
    body = bank.withdrawal(doses=6, picks=[bank.pick(0, 24)])
    problem = vet.refused("POST", "/api/withdrawals", body, 409, "not-enough-straws")
    assert problem["available_straws"] == 20


@pytest.mark.parametrize("name", ["Königin 🐎", "فرس الريح", "נוצה", "O'Brannagh  the   2nd"])
def test_a_new_mare_comes_with_her_withdrawal(vet: Client, bank: Bank, name: str) -> None:
    taken = vet.ok(
        "POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)], mare={"name": name})
    )
    assert taken["mare_name"] == name
    assert [mare["name"] for mare in vet.ok("GET", "/api/mares")["items"]] == [name]


def test_a_straw_seen_in_the_other_goblet_is_exchanged_with_a_twin(vet: Client, bank: Bank) -> None:
    """Straws of a batch that was loaded into two goblets may stand in either."""
    strayed = bank.codes_in(2)[0]
    pick = bank.pick(0, 4, seen_straw_codes=[strayed, *bank.codes_in(0)[:3]])
    taken = vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[pick]))
    assert [one["in"] for one in taken["exchanged"]] == [strayed]
    assert strayed in [straw["code"] for straw in taken["straws"]]
    left = {item["goblet_id"]: item["straws"] for item in vet.ok("GET", "/api/stock")["items"]}
    assert left == {bank.goblets[0]["id"]: 16, bank.goblets[2]["id"]: 20}


def test_a_plan_without_straws_says_which_batch_is_left_out_and_why(
    vet: Client, manager: Client
) -> None:
    rule = {"kind": "sperm", "progressive_million": 250, "minimum_post_thaw_percent": 35}
    body = {"name": "Quietwater", "dose_rule": rule}
    stallion = manager.ok("POST", "/api/stallions", body)
    goblets = building.goblets_of(manager.ok("POST", "/api/tanks", building.tank()))
    frozen = building.freeze(stallion["id"], [(goblets[0]["id"], 20)])
    del frozen["post_thaw"]
    vet.ok("POST", "/api/freezes", frozen)
    wish = {"stallion_id": stallion["id"]}
    problem = vet.refused("POST", "/api/withdrawals/plan", wish, 409, "not-enough-straws")
    assert "no post-thaw result" in problem["detail"]


def test_a_hold_in_a_quarantined_tank_is_told_as_well(
    vet: Client, manager: Client, bank: Bank
) -> None:
    tank = manager.ok("POST", "/api/tanks", {**building.tank("Apart"), "quarantine": True})
    to = building.goblets_of(tank)[0]["id"]
    vet.ok("POST", f"/api/batches/{bank.batch_id}/hold", {"reason": "waiting for the swab"})
    for goblet in (0, 2):
        vet.ok("POST", "/api/moves", {"picks": [bank.pick(goblet, 20)], "goblet_id": to})
    wish = {"stallion_id": bank.stallion["id"]}
    problem = vet.refused("POST", "/api/withdrawals/plan", wish, 409, "not-enough-straws")
    assert "waiting for the swab" in problem["detail"]
