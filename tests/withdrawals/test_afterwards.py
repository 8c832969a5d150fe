"""What becomes of lifted straws, over HTTP."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tests.banks import Bank
from tests.conftest import Client


def now(**later: Any) -> str:
    return (datetime.now(UTC) + timedelta(**later)).isoformat()


@pytest.fixture
def lifted(vet: Client, bank: Bank) -> Any:
    """Two doses, eight straws, taken by count out of goblet 0."""
    body = bank.withdrawal(doses=2, picks=[bank.pick(0, 8)])
    return vet.ok("POST", "/api/withdrawals", body)


def states(client: Client, withdrawal: Any) -> dict[str, int]:
    found = client.ok("GET", f"/api/withdrawals/{withdrawal['id']}")
    counted: dict[str, int] = {}
    for straw in found["straws"]:
        counted[straw["state"]] = counted.get(straw["state"], 0) + 1
    return counted


def test_used_thawed_unused_and_still_frozen_are_told_apart(vet: Client, lifted: Any) -> None:
    body = {"inseminated_at": now(), "straws_used": 4, "straws_thawed_unused": 1}
    record = vet.ok("POST", f"/api/withdrawals/{lifted['id']}/insemination", body, status=201)
    assert (record["straws_used"], record["straws_thawed_unused"]) == (4, 1)
    assert states(vet, lifted) == {"used": 4, "discarded": 1, "lifted": 3}
    waiting = vet.ok("GET", "/api/withdrawals?state=lifted")["items"]
    assert [one["id"] for one in waiting] == [lifted["id"]]


def test_an_insemination_takes_at_least_a_straw(vet: Client, lifted: Any) -> None:
    path = f"/api/withdrawals/{lifted['id']}/insemination"
    body = {"inseminated_at": now(), "straws_used": 0, "straws_thawed_unused": 0}
    vet.refused("POST", path, body, 422, "nothing-used")


def test_a_return_by_scan_of_one_that_the_book_chose_as_used(
    vet: Client, bank: Bank, lifted: Any
) -> None:
    """By number the book chose which were used; a scan shows that this one was not."""
    used = {"inseminated_at": now(), "straws_used": 7}
    vet.ok("POST", f"/api/withdrawals/{lifted['id']}/insemination", used)
    found = vet.ok("GET", f"/api/withdrawals/{lifted['id']}")
    chosen = next(straw["code"] for straw in found["straws"] if straw["state"] == "used")
    back = {"goblet_id": bank.goblets[0]["id"], "kept_in_nitrogen": True, "straw_codes": [chosen]}
    answer = vet.ok("POST", f"/api/withdrawals/{lifted['id']}/return", back, status=201)
    assert len(answer["exchanged"]) == 1
    assert vet.ok("GET", f"/api/straws/{chosen}")["state"] == "stored"
    assert states(vet, lifted) == {"used": 7, "stored": 1}
    path = f"/api/withdrawals/{lifted['id']}/return"
    assert "put back already" in vet.refused("POST", path, back, 409, "not-enough-straws")["detail"]


def test_more_than_is_out_cannot_be_used(vet: Client, lifted: Any) -> None:
    body = {"inseminated_at": now(), "straws_used": 9}
    problem = vet.refused(
        "POST",
        f"/api/withdrawals/{lifted['id']}/insemination",
        body,
        409,
        "not-enough-straws",
    )
    assert problem["available_straws"] == 8


def test_an_insemination_cannot_come_before_its_straws(vet: Client, lifted: Any) -> None:
    body = {"inseminated_at": now(hours=-3), "straws_used": 4}
    path = f"/api/withdrawals/{lifted['id']}/insemination"
    vet.refused("POST", path, body, 422, "before-what-it-follows")
    ahead = {**body, "inseminated_at": now(hours=1)}
    vet.refused("POST", path, ahead, 422, "in-the-future")
    vet.ok("POST", path, {**body, "inseminated_at": now(minutes=-2)})  # another clock


def test_only_what_stayed_in_nitrogen_goes_back(vet: Client, bank: Bank, lifted: Any) -> None:
    path = f"/api/withdrawals/{lifted['id']}/return"
    body = {"straws": 3, "goblet_id": bank.goblets[0]["id"], "kept_in_nitrogen": False}
    vet.refused("POST", path, body, 422, "may-have-thawed")
    vet.ok("POST", path, {**body, "kept_in_nitrogen": True}, status=201)
    assert vet.ok("GET", f"/api/goblets/{bank.goblets[0]['id']}")["free_straws"] == 50 - 15
    assert states(vet, lifted) == {"lifted": 5, "stored": 3}


def test_what_was_used_never_goes_back(vet: Client, bank: Bank, lifted: Any) -> None:
    used = {"inseminated_at": now(), "straws_used": 8}
    vet.ok("POST", f"/api/withdrawals/{lifted['id']}/insemination", used)
    path = f"/api/withdrawals/{lifted['id']}/return"
    back = {"goblet_id": bank.goblets[0]["id"], "kept_in_nitrogen": True}
    vet.refused("POST", path, {**back, "straws": 1}, 409, "already-used")
    code = lifted["straws"][0]["code"]
    vet.refused("POST", path, {**back, "straw_codes": [code]}, 409, "already-used")


def test_a_return_by_scan_exchanges_the_twin_that_was_really_taken(
    vet: Client, bank: Bank, lifted: Any
) -> None:
    booked = {straw["code"] for straw in lifted["straws"]}
    really = next(code for code in bank.codes_in(0) if code not in booked)
    body = {
        "straw_codes": [really],
        "goblet_id": bank.goblets[0]["id"],
        "kept_in_nitrogen": True,
    }
    answer = vet.ok("POST", f"/api/withdrawals/{lifted['id']}/return", body)
    (exchanged,) = answer["exchanged"]
    assert exchanged["out"] == really
    assert exchanged["in"] in booked
    assert vet.ok("GET", f"/api/straws/{really}")["state"] == "stored"
    assert vet.ok("GET", "/api/ledger/check")["sound"] is True


def test_the_rest_is_discarded_with_a_reason(vet: Client, lifted: Any) -> None:
    path = f"/api/withdrawals/{lifted['id']}/discard"
    vet.refused("POST", path, {}, 422, "invalid")
    answer = vet.ok("POST", path, {"reason": "the mare had ovulated"}, status=201)
    assert answer["state"] == "discarded"
    vet.refused("POST", path, {"reason": "again"}, 409, "not-enough-straws")


def test_codes_are_identified_after_the_act(vet: Client, bank: Bank, lifted: Any) -> None:
    booked = [straw["code"] for straw in lifted["straws"]]
    really = [*booked[:7], next(code for code in bank.codes_in(0) if code not in booked)]
    path = f"/api/withdrawals/{lifted['id']}/identify"
    answer = vet.ok("POST", path, {"straw_codes": really}, status=201)
    assert {straw["code"] for straw in answer["straws"]} == set(really)
    assert not any(straw["provisional"] for straw in answer["straws"])
    assert len(answer["exchanged"]) == 1
    stock = vet.ok("GET", "/api/stock")
    assert stock["straws"] == 32
    assert vet.ok("GET", "/api/ledger/check")["sound"] is True


def test_a_straw_that_another_scan_took_cannot_be_identified_here(
    vet: Client, bank: Bank, lifted: Any
) -> None:
    booked = {straw["code"] for straw in lifted["straws"]}
    others = [code for code in bank.codes_in(0) if code not in booked][:4]
    vet.ok("POST", "/api/withdrawals", bank.withdrawal(straw_codes=others))
    path = f"/api/withdrawals/{lifted['id']}/identify"
    vet.refused("POST", path, {"straw_codes": [others[0]]}, 409, "straw-gone")


def test_an_outcome_is_recorded_and_a_later_check_replaces_it(vet: Client, lifted: Any) -> None:
    used = {"inseminated_at": now(), "straws_used": 8}
    record = vet.ok("POST", f"/api/withdrawals/{lifted['id']}/insemination", used)
    path = f"/api/inseminations/{record['id']}/outcome"
    today = datetime.now(UTC).date().isoformat()
    vet.refused("POST", path, {"checked_on": "2020-01-01", "pregnant": True}, 422, "wrong-day")
    vet.ok("POST", path, {"checked_on": today, "pregnant": True}, status=201)
    vet.ok("POST", path, {"checked_on": today, "pregnant": False}, status=201)
    found = vet.ok("GET", f"/api/withdrawals/{lifted['id']}")
    assert found["insemination"]["outcome"]["pregnant"] is False


def test_an_insemination_recorded_by_mistake_is_taken_back(vet: Client, lifted: Any) -> None:
    used = {"inseminated_at": now(), "straws_used": 8}
    record = vet.ok("POST", f"/api/withdrawals/{lifted['id']}/insemination", used)
    path = f"/api/inseminations/{record['id']}/correct"
    found = vet.ok("POST", path, {"reason": "the other mare"}, status=201)
    assert (found["state"], found["insemination"]) == ("lifted", None)
    assert states(vet, lifted) == {"lifted": 8}
    vet.refused("POST", path, {"reason": "again"}, 409, "moved-on")


def test_a_withdrawal_booked_by_mistake_is_taken_back(vet: Client, lifted: Any) -> None:
    path = f"/api/ledger/{lifted['id']}/correct"
    vet.ok("POST", path, {"reason": "never lifted"}, status=201)
    assert vet.ok("GET", "/api/stock")["straws"] == 40
    code = lifted["straws"][0]["code"]
    kinds = [step["kind"] for step in vet.ok("GET", f"/api/straws/{code}")["history"]]
    assert kinds == ["prepare", "freeze", "withdraw", "correct"]
