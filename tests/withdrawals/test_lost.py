"""Straws that leave with another vet: they come back as used, returned or lost."""

from collections import Counter
from datetime import UTC, datetime
from typing import Any
from uuid import uuid4

import pytest

from tests.banks import Bank
from tests.conftest import Client


@pytest.fixture
def away(vet: Client, bank: Bank) -> Any:
    """Two doses, eight straws, that went with somebody from outside."""
    body = bank.withdrawal(doses=2, picks=[bank.pick(0, 8)], taken_by="Imke Sandvoort, vet")
    return vet.ok("POST", "/api/withdrawals", body, status=201)


def lose(client: Client, withdrawal: Any, **which: Any) -> Any:
    body = {"id": str(uuid4()), "reason": "not in the flask that came back", **which}
    return client.ok("POST", f"/api/withdrawals/{withdrawal['id']}/lost", body, status=201)


def states(withdrawal: Any) -> Counter[str]:
    return Counter(straw["state"] for straw in withdrawal["straws"])


def read(client: Client, withdrawal: Any) -> Any:
    return client.ok("GET", f"/api/withdrawals/{withdrawal['id']}")


def test_who_took_them_along_stands_on_the_withdrawal_and_in_the_book(
    vet: Client, away: Any
) -> None:
    assert away["taken_by"] == "Imke Sandvoort, vet"
    [listed] = vet.ok("GET", "/api/withdrawals?state=lifted")["items"]
    assert (listed["id"], listed["taken_by"]) == (away["id"], "Imke Sandvoort, vet")


def test_a_withdrawal_that_nobody_took_along_says_so(vet: Client, bank: Bank) -> None:
    taken = vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    assert taken["taken_by"] is None


def test_it_comes_back_as_used_returned_and_lost(vet: Client, bank: Bank, away: Any) -> None:
    path = f"/api/withdrawals/{away['id']}"
    used = {"inseminated_at": datetime.now(UTC).isoformat(), "straws_used": 4}
    vet.ok("POST", f"{path}/insemination", used)
    back = {"straws": 3, "goblet_id": bank.goblets[0]["id"], "kept_in_nitrogen": True}
    vet.ok("POST", f"{path}/return", back)
    told = lose(vet, away)
    assert states(told) == {"used": 4, "stored": 3, "missing": 1}
    assert told["state"] == "inseminated"
    assert vet.ok("GET", "/api/withdrawals?state=lifted")["items"] == []
    assert vet.ok("GET", "/api/ledger/check")["sound"] is True


def test_all_that_are_out_are_lost_when_nobody_says_which(vet: Client, away: Any) -> None:
    told = lose(vet, away)
    assert (told["state"], states(told)) == ("lost", {"missing": 8})


def test_a_number_is_lost_and_which_of_them_stays_open(vet: Client, away: Any) -> None:
    told = lose(vet, away, straws=3)
    assert (told["state"], states(told)) == ("lifted", {"missing": 3, "lifted": 5})
    assert all(straw["provisional"] for straw in told["straws"])


def test_codes_say_for_certain_which_are_lost(vet: Client, bank: Bank) -> None:
    codes = bank.codes_in(0)[:4]
    away = vet.ok("POST", "/api/withdrawals", bank.withdrawal(straw_codes=codes))
    told = lose(vet, away, straw_codes=codes[:1])
    [gone] = [straw for straw in told["straws"] if straw["state"] == "missing"]
    assert (gone["code"], gone["provisional"]) == (codes[0], False)
    assert vet.ok("GET", f"/api/straws/{codes[0]}")["state"] == "missing"


def test_a_twin_that_the_book_had_in_its_goblet_can_be_the_lost_one(
    vet: Client, bank: Bank, away: Any
) -> None:
    """By count the book chose eight; the label on the empty sleeve is of a ninth."""
    booked = {straw["code"] for straw in away["straws"]}
    ninth = next(code for code in bank.codes_in(0) if code not in booked)
    told = lose(vet, away, straw_codes=[ninth])
    assert [one["out"] for one in told["exchanged"]] == [ninth]
    assert states(told) == {"missing": 1, "lifted": 7}
    assert vet.ok("GET", "/api/stock")["straws"] == 32
    assert vet.ok("GET", "/api/ledger/check")["sound"] is True


def test_a_lost_straw_that_turns_up_is_out_again_by_a_counter_entry(
    vet: Client, bank: Bank, away: Any
) -> None:
    entry = {"id": str(uuid4()), "straws": 2, "reason": "not in the flask"}
    vet.ok("POST", f"/api/withdrawals/{away['id']}/lost", entry)
    found = {"reason": "under the foam of the flask"}
    vet.ok("POST", f"/api/ledger/{entry['id']}/correct", found, status=201)
    assert states(read(vet, away)) == {"lifted": 8}
    back = {"straws": 8, "goblet_id": bank.goblets[0]["id"], "kept_in_nitrogen": True}
    vet.ok("POST", f"/api/withdrawals/{away['id']}/return", back)
    assert vet.ok("GET", "/api/stock")["straws"] == 40
    vet.refused("POST", f"/api/ledger/{entry['id']}/correct", found, 409, "moved-on")


def test_why_they_are_lost_is_said_and_stays_in_the_book(vet: Client, away: Any) -> None:
    path = f"/api/withdrawals/{away['id']}/lost"
    vet.refused("POST", path, {"straws": 1}, 422, "invalid")
    lose(vet, away, straws=1)
    newest = vet.ok("GET", "/api/ledger?newest_first=true&limit=5")["items"]
    [entry] = [one for one in newest if one["kind"] == "lose"]
    assert (entry["reason"], entry["straws"]) == ("not in the flask that came back", 1)


def test_no_more_is_lost_than_is_out(vet: Client, away: Any) -> None:
    path = f"/api/withdrawals/{away['id']}/lost"
    body = {"straws": 9, "reason": "gone"}
    problem = vet.refused("POST", path, body, 409, "not-enough-straws")
    assert problem["available_straws"] == 8
    lose(vet, away)
    vet.refused("POST", path, {"reason": "gone"}, 409, "not-enough-straws")


def test_what_was_used_is_not_lost(vet: Client, bank: Bank) -> None:
    codes = bank.codes_in(0)[:4]
    away = vet.ok("POST", "/api/withdrawals", bank.withdrawal(straw_codes=codes))
    used = {"inseminated_at": datetime.now(UTC).isoformat(), "straws_used": 4}
    vet.ok("POST", f"/api/withdrawals/{away['id']}/insemination", used)
    body = {"straw_codes": codes[:1], "reason": "gone"}
    vet.refused("POST", f"/api/withdrawals/{away['id']}/lost", body, 409, "already-used")


def test_what_is_lost_does_not_go_back_into_a_goblet(vet: Client, bank: Bank, away: Any) -> None:
    lose(vet, away)
    path = f"/api/withdrawals/{away['id']}/return"
    back = {"straws": 1, "goblet_id": bank.goblets[0]["id"], "kept_in_nitrogen": True}
    vet.refused("POST", path, back, 409, "not-enough-straws")


def test_an_auditor_loses_nothing(auditor: Client, vet: Client, away: Any) -> None:
    path = f"/api/withdrawals/{away['id']}/lost"
    auditor.refused("POST", path, {"reason": "gone"}, 403, "forbidden")
    assert states(read(vet, away)) == {"lifted": 8}
