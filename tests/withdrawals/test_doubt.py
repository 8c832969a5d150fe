"""Straws that were scanned at the tank and only counted afterwards: which went is open again."""

from datetime import UTC, datetime
from typing import Any

import pytest

from tests.banks import Bank
from tests.conftest import Client


@pytest.fixture
def scanned(vet: Client, bank: Bank) -> Any:
    """Eight straws out of goblet 0, each scanned: the book is sure of them."""
    codes = sorted(bank.codes_in(0))[:8]
    taken = vet.ok("POST", "/api/withdrawals", bank.withdrawal(doses=2, straw_codes=codes))
    assert not any(straw["provisional"] for straw in taken["straws"])
    return taken


def codes_of(taken: Any) -> list[str]:
    return sorted(straw["code"] for straw in taken["straws"])


def inseminate(client: Client, taken: Any, **used: Any) -> Any:
    body = {"inseminated_at": datetime.now(UTC).isoformat(), **used}
    return client.ok("POST", f"/api/withdrawals/{taken['id']}/insemination", body)


def back(bank: Bank, **straws: Any) -> Any:
    return {"goblet_id": bank.goblets[0]["id"], "kept_in_nitrogen": True, **straws}


def states(client: Client, taken: Any) -> dict[str, str]:
    found = client.ok("GET", f"/api/withdrawals/{taken['id']}")
    return {straw["code"]: straw["state"] for straw in found["straws"]}


@pytest.mark.parametrize("first", [0, 2, 4])
def test_after_a_dose_by_number_any_four_in_the_hand_go_back_by_scan(
    vet: Client, bank: Bank, scanned: Any, first: int
) -> None:
    """The book chose which four were used; the hand knows better, whichever they are."""
    inseminate(vet, scanned, straws_used=4)
    in_hand = codes_of(scanned)[first : first + 4]
    path = f"/api/withdrawals/{scanned['id']}/return"
    vet.ok("POST", path, back(bank, straw_codes=in_hand), status=201)
    found = [vet.ok("GET", f"/api/straws/{code}") for code in in_hand]
    assert {(one["address"], one["provisional"]) for one in found} == {("NORTH-1-L1", False)}
    used = set(codes_of(scanned)) - set(in_hand)
    assert {states(vet, scanned)[code] for code in used} == {"used"}
    assert vet.ok("GET", "/api/stock")["straws"] == 36


@pytest.mark.parametrize("first", [0, 2, 4])
def test_after_a_return_by_number_any_four_in_the_hand_go_back_by_scan(
    vet: Client, bank: Bank, scanned: Any, first: int
) -> None:
    path = f"/api/withdrawals/{scanned['id']}/return"
    vet.ok("POST", path, back(bank, straws=4))
    in_hand = codes_of(scanned)[first : first + 4]
    vet.ok("POST", path, back(bank, straw_codes=in_hand), status=201)
    assert set(states(vet, scanned).values()) == {"stored"}
    assert vet.ok("GET", "/api/stock")["straws"] == 40


def test_straws_used_and_straws_wasted_by_number_are_not_told_apart(
    vet: Client, bank: Bank, scanned: Any
) -> None:
    inseminate(vet, scanned, straws_used=6, straws_thawed_unused=2)
    found = vet.ok("GET", f"/api/withdrawals/{scanned['id']}")
    assert {straw["provisional"] for straw in found["straws"]} == {True}


def test_straws_named_as_used_leave_the_others_certain(
    vet: Client, bank: Bank, scanned: Any
) -> None:
    codes = codes_of(scanned)
    inseminate(vet, scanned, straws_used=4, used_straw_codes=codes[2:6])
    found = vet.ok("GET", f"/api/withdrawals/{scanned['id']}")
    assert not any(straw["provisional"] for straw in found["straws"])
    path = f"/api/withdrawals/{scanned['id']}/return"
    body = back(bank, straw_codes=codes[5:7])
    problem = vet.refused("POST", path, body, 409, "already-used")
    assert problem["straw_code"] == codes[5]


def test_some_named_and_some_counted_leaves_only_the_counted_open(
    vet: Client, bank: Bank, scanned: Any
) -> None:
    """The codes named are used for certain; of the other seven, three are the book's choice."""
    codes = codes_of(scanned)
    inseminate(vet, scanned, straws_used=4, used_straw_codes=codes[:1])
    found = vet.ok("GET", f"/api/withdrawals/{scanned['id']}")
    certain = [straw["code"] for straw in found["straws"] if not straw["provisional"]]
    assert certain == codes[:1]
    path = f"/api/withdrawals/{scanned['id']}/return"
    vet.refused("POST", path, back(bank, straw_codes=codes[:1]), 409, "already-used")
    vet.ok("POST", path, back(bank, straw_codes=codes[1:5]), status=201)


def test_when_all_went_the_same_way_nothing_is_open(vet: Client, bank: Bank, scanned: Any) -> None:
    inseminate(vet, scanned, straws_used=8)
    found = vet.ok("GET", f"/api/withdrawals/{scanned['id']}")
    assert {(straw["state"], straw["provisional"]) for straw in found["straws"]} == {
        ("used", False)
    }
    kinds = [entry["kind"] for entry in vet.ok("GET", "/api/ledger")["items"]]
    assert kinds == ["prepare", "freeze", "withdraw", "use"]


def test_the_doubt_is_an_entry_of_its_own_and_leaves_the_act_correctable(
    vet: Client, scanned: Any
) -> None:
    record = inseminate(vet, scanned, straws_used=4)
    entries = vet.ok("GET", "/api/ledger")["items"]
    assert [(entry["kind"], entry["straws"]) for entry in entries[-2:]] == [
        ("use", 4),
        ("doubt", 4),
    ]
    path = f"/api/inseminations/{record['id']}/correct"
    vet.ok("POST", path, {"reason": "another mare"})
    assert set(states(vet, scanned).values()) == {"lifted"}
    vet.ok("POST", f"/api/ledger/{scanned['id']}/correct", {"reason": "another mare"})
    assert vet.ok("GET", "/api/stock")["straws"] == 40
