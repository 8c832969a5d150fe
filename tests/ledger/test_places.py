"""Goblets and what is in them; retiring what is empty."""

from uuid import uuid4

import pytest

from tests import building
from tests.banks import Bank
from tests.conftest import Client


def test_a_goblet_shows_what_is_in_it(auditor: Client, bank: Bank) -> None:
    found = auditor.ok("GET", f"/api/goblets/{bank.goblets[0]['id']}")
    assert (found["address"], found["capacity_straws"], found["free_straws"]) == (
        "NORTH-1-L1",
        50,
        30,
    )
    (content,) = found["contents"]
    assert (content["batch_code"], content["stallion_name"], content["straws"]) == (
        bank.batch_code,
        "Lanternfield",
        20,
    )


def test_only_what_is_empty_is_retired(manager: Client, bank: Bank) -> None:
    (tank,) = manager.ok("GET", "/api/tanks")["items"]
    full, empty = bank.goblets[0]["id"], bank.goblets[1]["id"]
    reason = {"reason": "cracked"}
    for path in (
        f"/api/goblets/{full}",
        f"/api/canisters/{tank['canisters'][0]['id']}",
        f"/api/tanks/{tank['id']}",
    ):
        problem = manager.refused("POST", f"{path}/retire", reason, 409, "not-empty")
        assert problem["straws"] >= 20
    manager.ok("POST", f"/api/goblets/{empty}/retire", reason, status=201)
    manager.refused("POST", f"/api/goblets/{empty}/retire", reason, 409, "already-retired")
    body = {"picks": [bank.pick(0, 1)], "goblet_id": empty}
    manager.refused("POST", "/api/moves", body, 409, "goblet-retired")
    left = [
        goblet["id"] for goblet in building.goblets_of(manager.ok("GET", "/api/tanks")["items"][0])
    ]
    assert empty not in left
    assert manager.ok("GET", "/api/ledger?newest_first=true")["items"][0]["kind"] == "retire"


def test_an_empty_tank_is_retired_with_all_that_hangs_in_it(manager: Client) -> None:
    tank = manager.ok("POST", "/api/tanks", building.tank())
    path = f"/api/tanks/{tank['id']}/retire"
    manager.ok("POST", path, {"reason": "lost its vacuum"}, status=201)
    assert manager.ok("GET", "/api/goblets/free?straws=1")["missing_straws"] == 1
    # Its name and addresses are free again.
    manager.ok("POST", "/api/tanks", building.tank(), status=201)


def test_an_empty_canister_is_retired_with_its_goblets(manager: Client, bank: Bank) -> None:
    (tank,) = manager.ok("GET", "/api/tanks")["items"]
    first = tank["canisters"][0]
    to = bank.goblets[3]["id"]
    manager.ok("POST", "/api/moves", {"picks": [bank.pick(0, 20)], "goblet_id": to})
    lost = first["goblets"][1]["id"]
    cracked = manager.ok("POST", f"/api/goblets/{lost}/retire", {"reason": "cracked"})
    gone = manager.ok("POST", f"/api/canisters/{first['id']}/retire", {"reason": "bent"})
    (tank,) = manager.ok("GET", "/api/tanks")["items"]
    assert [canister["number"] for canister in tank["canisters"]] == [2]
    retired = [
        manager.ok("GET", f"/api/goblets/{goblet['id']}")["retired_at"]
        for goblet in first["goblets"]
    ]
    assert retired == [gone["retired_at"], cracked["retired_at"]]


def test_retiring_is_booked_once_whoever_retries(manager: Client, bank: Bank) -> None:
    path = f"/api/goblets/{bank.goblets[1]['id']}/retire"
    body = {"id": str(uuid4()), "reason": "cracked"}
    first = manager.post(path, json=body)
    again = manager.post(path, json=body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json() == first.json()
    entry = manager.ok("GET", "/api/ledger?newest_first=true")["items"][0]
    assert (entry["id"], entry["kind"], entry["reason"]) == (body["id"], "retire", "cracked")
    assert (entry["straws"], entry["by"]) == (0, "The manager")
    kinds = [one["kind"] for one in manager.ok("GET", "/api/ledger")["items"]]
    assert kinds.count("retire") == 1


def test_a_place_that_is_not_there_is_not_retired(manager: Client) -> None:
    for kind in ("goblets", "canisters", "tanks"):
        path = f"/api/{kind}/{uuid4()}/retire"
        manager.refused("POST", path, {"reason": "lost"}, 404, "unknown-place")
    manager.refused("GET", f"/api/goblets/{uuid4()}", None, 404, "unknown-place")


def test_what_was_retired_is_not_changed(manager: Client, bank: Bank) -> None:
    path = f"/api/goblets/{bank.goblets[1]['id']}"
    manager.ok("POST", f"{path}/retire", {"reason": "cracked"})
    headers = {"If-Match": manager.get(path).headers["ETag"]}
    answer = manager.patch(path, json={"capacity_straws": 5}, headers=headers)
    assert (answer.status_code, answer.json()["code"]) == (409, "goblet-retired")


def test_what_a_goblets_record_said_before_stays_readable(
    manager: Client, auditor: Client, bank: Bank
) -> None:
    path = f"/api/goblets/{bank.goblets[0]['id']}"
    headers = {"If-Match": manager.get(path).headers["ETag"]}
    manager.patch(path, json={"address": "north-1-a", "capacity_straws": 25}, headers=headers)
    (change,) = auditor.ok("GET", f"{path}/changes")["items"]
    assert change["before"] == {"address": "NORTH-1-L1", "capacity_straws": 50}
    assert change["after"] == {"address": "NORTH-1-A", "capacity_straws": 25}
    assert change["changed_by"] == "The manager"


def test_straws_that_come_and_go_do_not_make_a_goblets_version_stale(
    manager: Client, technician: Client, bank: Bank
) -> None:
    path = f"/api/goblets/{bank.goblets[0]['id']}"
    headers = {"If-Match": manager.get(path).headers["ETag"]}
    technician.ok("POST", "/api/discards", {"picks": [bank.pick(0, 5)], "reason": "leaked"})
    answer = manager.patch(path, json={"capacity_straws": 15}, headers=headers)
    assert (answer.status_code, answer.json()["free_straws"]) == (200, 0)


@pytest.mark.parametrize("address", ["NORTH 1", "Ä-1", "-1", "A" * 25, "", "NORTH-1-\u202eA"])
def test_an_address_that_no_plate_can_carry_is_refused(
    manager: Client, bank: Bank, address: str
) -> None:
    path = f"/api/goblets/{bank.goblets[0]['id']}"
    headers = {"If-Match": manager.get(path).headers["ETag"]}
    answer = manager.patch(path, json={"address": address}, headers=headers)
    assert answer.status_code == 422
    assert manager.ok("GET", path)["address"] == "NORTH-1-L1"


def test_a_goblet_is_changed_by_the_version_that_was_read(manager: Client, bank: Bank) -> None:
    path = f"/api/goblets/{bank.goblets[0]['id']}"
    change = {"capacity_straws": 25, "address": "NORTH-1-A"}
    assert manager.patch(path, json=change).status_code == 428
    version = manager.get(path).headers["ETag"]
    headers = {"If-Match": version}
    small = manager.patch(path, json={"capacity_straws": 19}, headers=headers)
    assert (small.status_code, small.json()["code"]) == (409, "holds-more")
    taken = manager.patch(path, json={"address": "NORTH-2-L1"}, headers=headers)
    assert (taken.status_code, taken.json()["code"]) == (409, "address-taken")
    changed = manager.patch(path, json=change, headers=headers)
    assert (changed.status_code, changed.json()["free_straws"]) == (200, 5)
    assert manager.patch(path, json=change, headers=headers).status_code == 412
