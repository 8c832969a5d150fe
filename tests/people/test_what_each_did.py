"""What each person did: in the book, and to accounts."""

from collections.abc import Callable
from typing import Any

import pytest

from tests.bank.changing import change
from tests.banks import Bank
from tests.conftest import Client

EVENTS = "/api/security-events"


def people(client: Client) -> dict[str, str]:
    """Everybody's id by user name."""
    return {one["username"]: one["id"] for one in client.ok("GET", "/api/people")["items"]}


@pytest.mark.parametrize("by_name", [False, True])
def test_the_book_tells_what_one_person_did(
    auditor: Client, technician: Client, vet: Client, bank: Bank, by_name: bool
) -> None:
    technician.ok("POST", f"/api/batches/{bank.batch_id}/hold", {"reason": "swab"})
    vet.ok("POST", f"/api/batches/{bank.batch_id}/release", {"reason": "clear"})
    ids = people(auditor)
    for name, kinds in (("technician", ["hold"]), ("vet", ["release"]), ("auditor", [])):
        person = name.upper() if by_name else ids[name]
        found = auditor.ok("GET", f"/api/ledger?person={person}&newest_first=true")["items"]
        assert [one["kind"] for one in found] == kinds
        assert {one["by_id"] for one in found} <= {ids[name]}


def test_accounts_are_told_of_whoever_acted_and_whoever_it_was_about(
    manager: Client, auditor: Client
) -> None:
    new = {"username": "oda", "display_name": "Oda", "role": "vet"}
    oda = manager.ok("POST", "/api/people", new)["id"]
    manager.ok("POST", f"/api/people/{oda}/reset")
    auditor.ok("POST", "/api/tokens", {"name": "printer"})
    assert kinds(auditor, "oda") == ["user-reset", "user-added"]
    assert kinds(auditor, oda) == kinds(auditor, "ODA")
    # Founding made each of them a token, without anybody signed in, before.
    assert kinds(auditor, "manager")[:2] == ["user-reset", "user-added"]
    assert kinds(auditor, "auditor")[0] == "token-made"
    assert "user-reset" not in kinds(auditor, "auditor")


def kinds(client: Client, person: str) -> list[str]:
    return [event["kind"] for event in client.ok("GET", f"{EVENTS}?person={person}")["items"]]


def test_a_persons_events_come_in_pages(manager: Client) -> None:
    for name in ("one", "two", "three"):
        manager.ok("POST", "/api/tokens", {"name": name})
    first = manager.ok("GET", f"{EVENTS}?person=manager&limit=2")
    rest = manager.ok("GET", f"{EVENTS}?person=manager&limit=2&after={first['next']}")
    seqs = [event["seq"] for event in first["items"] + rest["items"]]
    assert seqs == sorted(seqs, reverse=True)
    assert len(set(seqs)) == 4
    assert {event["about"] or event["by"] for event in first["items"]} == {"manager"}


@pytest.mark.parametrize(
    "called", ["nobody", "%00", "0190f000-0000-7000-8000-000000000001", "%C3%A9%0A", "x" * 120]
)
def test_somebody_unknown_is_told(manager: Client, called: str) -> None:
    manager.refused("GET", f"{EVENTS}?person={called}", None, 404, "unknown-person")
    manager.refused("GET", f"/api/ledger?person={called}", None, 404, "unknown-person")


@pytest.mark.parametrize("role", ["technician", "vet"])
def test_others_read_the_book_of_a_person_but_not_their_account(
    role: str, person: Callable[[str], Client]
) -> None:
    asking = person(role)
    assert asking.ok("GET", "/api/ledger?person=manager")["items"] == []
    asking.refused("GET", f"{EVENTS}?person={role}", None, 403, "forbidden")


def test_changes_of_records_are_told_of_whoever_made_them(
    manager: Client, vet: Client, auditor: Client, bank: Bank
) -> None:
    ids = people(auditor)
    change(manager, "/api/station", {"days_in_store": 14})
    path = f"/api/stallions/{bank.stallion['id']}"
    change(vet, path, {"owner": "Fellgate Stud"})
    change(manager, path, {"reserve_doses": 2})
    change(manager, f"/api/people/{ids['technician']}", {"display_name": "Ilva"})
    made = {name: record_changes(auditor, ids[name]) for name in ids}
    assert {name: [one["kind"] for one in found] for name, found in made.items()} == {
        "auditor": [],
        "manager": ["person", "stallion", "station"],
        "technician": [],
        "vet": ["stallion"],
    }
    [owner] = made["vet"]
    assert (owner["record_id"], owner["after"]) == (bank.stallion["id"], {"owner": "Fellgate Stud"})
    assert record_changes(auditor, ids["manager"], limit=1) == made["manager"]
    auditor.refused(
        "GET", f"/api/people/{bank.batch_id}/record-changes", None, 404, "unknown-person"
    )


def record_changes(client: Client, person_id: str, limit: int = 100) -> list[Any]:
    """All of them, page by page."""
    found, path = [], f"/api/people/{person_id}/record-changes?limit={limit}"
    page = client.ok("GET", path)
    while page["next"] is not None:
        found += page["items"]
        page = client.ok("GET", f"{path}&after={page['next']}")
    return [*found, *page["items"]]
