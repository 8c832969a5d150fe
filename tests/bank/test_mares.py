"""Mares: entered by anyone who works here, two of a name or not."""

from typing import Any
from uuid import uuid4

import pytest

from tests import building
from tests.bank.changing import change, refused_change
from tests.conftest import Client

MARES = "/api/mares"
UELN = "372414001234567"


def add(client: Client, name: str = "Bramblewick", **more: Any) -> Any:
    return client.ok("POST", MARES, {"name": name, **more}, status=201)


def names(client: Client, query: str) -> list[str]:
    answer = client.get(MARES, params={"q": query})
    assert answer.status_code == 200, answer.text
    return [mare["name"] for mare in answer.json()["items"]]


def warned(mare: Any) -> set[str]:
    return {warning["code"] for warning in mare["warnings"]}


def test_a_mare_reads_as_she_was_entered(technician: Client, auditor: Client) -> None:
    made = add(technician, "مهرة 🌙", ueln="372-414-001234567", owner="Tove Aldersyde")
    assert made == {
        "id": made["id"],
        "name": "مهرة 🌙",
        "ueln": UELN,
        "owner": "Tove Aldersyde",
        "warnings": [],
    }
    assert auditor.ok("GET", f"{MARES}/{made['id']}") == made
    assert auditor.ok("GET", MARES) == {"items": [made], "next": None}


def test_two_mares_may_have_one_name(technician: Client) -> None:
    first, second = add(technician), add(technician)
    assert first["id"] != second["id"]
    assert names(technician, "bramble") == ["Bramblewick", "Bramblewick"]


def test_a_retry_enters_one_mare(technician: Client) -> None:
    body = {"id": str(uuid4()), "name": "Bramblewick"}
    first = technician.post(MARES, json=body)
    again = technician.post(MARES, json=body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert (again.content, again.headers["replayed"]) == (first.content, "true")
    technician.refused("POST", MARES, body | {"owner": "A"}, 409, "id-reused")
    assert names(technician, "") == ["Bramblewick"]


def test_a_number_that_another_mare_has_is_pointed_out(technician: Client) -> None:
    """Not refused: the mare is waiting, and which of the two records is wrong is not known."""
    first = add(technician, ueln=UELN)
    second = add(technician, "Other", ueln=UELN)
    assert "Bramblewick" in second["warnings"][0]["message"]
    listed = technician.ok("GET", MARES)["items"]
    assert [warned(mare) for mare in listed] == [{"same-ueln"}, {"same-ueln"}]
    change(technician, f"{MARES}/{second['id']}", {"ueln": None})
    assert warned(technician.ok("GET", f"{MARES}/{first['id']}")) == set()


def test_a_mare_that_came_with_a_withdrawal_is_in_the_book(
    manager: Client, technician: Client
) -> None:
    goblets = building.goblets_of(manager.ok("POST", "/api/tanks", building.tank()))
    stallion = manager.ok("POST", "/api/stallions", building.stallion(straws=4))
    freeze = building.freeze(stallion["id"], [(goblets[0]["id"], 4)])
    batch = manager.ok("POST", "/api/freezes", freeze)["batch"]
    pick = {"goblet_id": goblets[0]["id"], "batch_id": batch["id"], "straws": 4}
    body = building.withdrawal(
        stallion["id"], picks=[pick], mare={"name": "Nightjar", "ueln": UELN}
    )
    taken = technician.ok("POST", "/api/withdrawals", body, status=201)
    [mare] = technician.ok("GET", f"{MARES}?q=nightjar")["items"]
    assert mare["ueln"] == UELN
    assert mare["id"] != taken["id"]
    assert taken["mare_id"] == mare["id"]


def test_her_record_can_be_put_right_and_says_what_it_said(technician: Client) -> None:
    made = add(technician, owner="A")
    path = f"{MARES}/{made['id']}"
    changes = {"name": "Bramblewick II", "ueln": "372 414 001234567", "owner": None}
    after = change(technician, path, changes)
    assert after == made | changes | {"ueln": UELN}
    [kept] = technician.ok("GET", f"{path}/changes")["items"]
    assert kept["before"] == {"name": "Bramblewick", "ueln": None, "owner": "A"}
    assert kept["changed_by"] == "The technician"
    assert names(technician, "ii") == ["Bramblewick II"]


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"name": ""}, "invalid"),
        ({"name": None}, "invalid"),
        ({"name": ["Bramblewick"]}, "invalid"),
        ({"ueln": "37241400123456"}, "bad-ueln"),
        ({"ueln": 372414001234567}, "invalid"),
        ({"microchip": "826274877906943"}, "invalid"),
    ],
)
def test_what_can_never_work_is_refused(
    technician: Client, more: dict[str, Any], code: str
) -> None:
    technician.refused("POST", MARES, {"name": "Bramblewick"} | more, 422, code)
    assert technician.ok("GET", MARES)["items"] == []
    made = add(technician)
    path = f"{MARES}/{made['id']}"
    refused_change(technician, path, more, 422, code)
    assert technician.ok("GET", path) == made


def test_a_change_says_what_it_starts_from(technician: Client) -> None:
    path = f"{MARES}/{add(technician)['id']}"
    stale = technician.get(path).headers["etag"]
    technician.refused("PATCH", path, {"owner": "A"}, 428, "if-match-required")
    change(technician, path, {"owner": "A"})
    answer = technician.patch(path, json={"owner": "B"}, headers={"If-Match": stale})
    assert (answer.status_code, answer.json()["code"]) == (412, "stale")


def test_she_is_found_by_words_of_her_name_or_part_of_her_number(technician: Client) -> None:
    add(technician, "Ålborg Star", ueln=UELN)
    add(technician, "Starlight")
    assert names(technician, "star") == ["Ålborg Star", "Starlight"]
    assert names(technician, "STAR alb") == ["Ålborg Star"]
    assert names(technician, "414-0012") == ["Ålborg Star"]
    assert names(technician, "414-0013") == []


def test_the_list_comes_in_pages(technician: Client) -> None:
    for name in ("C", "a", "B", "b", "Ä"):
        add(technician, name)
    seen: list[str] = []
    after: str | None = ""
    while after is not None:
        page = technician.ok("GET", f"{MARES}?limit=2{after and f'&after={after}'}")
        seen += [mare["name"].casefold() for mare in page["items"]]
        after = page["next"]
    assert sorted(seen[:2]) == ["a", "ä"]
    assert seen[2:] == ["b", "b", "c"]


def test_a_mare_that_does_not_exist_is_unknown(technician: Client) -> None:
    path = f"{MARES}/{uuid4()}"
    for tail in ("", "/changes"):
        answer = technician.get(path + tail)
        assert (answer.status_code, answer.json()["code"]) == (404, "unknown-mare")
    technician.refused("PATCH", path, {}, 404, "unknown-mare")


def test_an_auditor_only_reads_mares(technician: Client, auditor: Client) -> None:
    made = add(technician)
    auditor.refused("POST", MARES, {"name": "A"}, 403, "forbidden")
    auditor.refused("PATCH", f"{MARES}/{made['id']}", {"name": "A"}, 403, "forbidden")
    assert auditor.ok("GET", f"{MARES}/{made['id']}") == made
