"""Moving house: goblets and canisters go elsewhere as a whole, and the map is right afterwards."""

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

from service.kernel.database import Database
from service.ledger.check import check
from service.settings import Settings
from tests import building
from tests.banks import Bank
from tests.conftest import Client


@dataclass
class House:
    """Two tanks: North with Lanternfield's straws, South empty."""

    bank: Bank
    north: Any
    south: Any

    def canister(self, tank: str, number: int) -> str:
        """The id of a canister by the number it had at first."""
        found: str = getattr(self, tank)["canisters"][number - 1]["id"]
        return found


@pytest.fixture
def house(manager: Client, bank: Bank) -> House:
    (north,) = manager.ok("GET", "/api/tanks")["items"]
    return House(bank, north, manager.ok("POST", "/api/tanks", building.tank("South")))


def map_of(client: Client) -> dict[str, dict[int, list[str]]]:
    """Every tank's canisters by number, each with the addresses in it."""
    return {
        tank["name"]: {
            canister["number"]: [goblet["address"] for goblet in canister["goblets"]]
            for canister in tank["canisters"]
        }
        for tank in client.ok("GET", "/api/tanks")["items"]
    }


def findings(data: Path) -> list[str]:
    database = Database(Settings(data=data).book_url)
    try:
        with database.reading() as db:
            return check(db).problems
    finally:
        database.close()


def newest(client: Client) -> Any:
    return client.ok("GET", "/api/ledger?newest_first=true&limit=1")["items"][0]


def take_back(client: Client, done: Any) -> Any:
    return client.ok("POST", f"/api/ledger/{done['id']}/correct", {"reason": "never happened"})


AS_LAID_OUT = {
    "North": {1: ["NORTH-1-L1", "NORTH-1-U1"], 2: ["NORTH-2-L1", "NORTH-2-U1"]},
    "South": {1: ["SOUTH-1-L1", "SOUTH-1-U1"], 2: ["SOUTH-2-L1", "SOUTH-2-U1"]},
}


def test_a_goblet_goes_into_another_canister_with_its_straws(
    technician: Client, auditor: Client, house: House, data: Path
) -> None:
    goblet = house.bank.goblets[0]
    body = {"canister_id": house.canister("south", 2), "reason": "North loses nitrogen"}
    done = technician.ok("POST", f"/api/goblets/{goblet['id']}/relocate", body, status=201)
    assert done["goblets"] == [{
        "id": goblet["id"], "code": goblet["code"], "canister_id": body["canister_id"],
        "from_address": "NORTH-1-L1", "address": "SOUTH-2-L2", "tier": "lower",
    }]  # fmt: skip
    assert done["straws"] == 20
    assert [one["code"] for one in done["warnings"]] == ["plates-out-of-date"]
    assert map_of(auditor) == {
        "North": {1: ["NORTH-1-U1"], 2: ["NORTH-2-L1", "NORTH-2-U1"]},
        "South": {1: ["SOUTH-1-L1", "SOUTH-1-U1"], 2: ["SOUTH-2-L1", "SOUTH-2-L2", "SOUTH-2-U1"]},
    }
    shown = auditor.ok("GET", f"/api/goblets/{goblet['id']}")
    assert (shown["address"], shown["code"]) == ("SOUTH-2-L2", goblet["code"])
    assert [one["straws"] for one in shown["contents"]] == [20]
    scanned = auditor.ok("GET", f"/api/scan/{goblet['code']}")
    assert (scanned["address"], scanned["tank_name"]) == ("SOUTH-2-L2", "South")
    stock = auditor.ok("GET", f"/api/stock?tank_id={house.south['id']}")
    assert [(one["address"], one["straws"]) for one in stock["items"]] == [("SOUTH-2-L2", 20)]
    entry = newest(auditor)
    assert (entry["kind"], entry["id"], entry["straws"]) == ("relocate", done["id"], 20)
    assert entry["reason"] == "North loses nitrogen"
    assert findings(data) == []


def test_what_it_would_come_to_is_told_before(
    technician: Client, auditor: Client, house: House
) -> None:
    first, before = house.canister("north", 1), newest(auditor)
    south, into = house.south["id"], house.canister("south", 1)
    for path, query, body in (
        (f"canisters/{first}", f"tank_id={south}&number=4", {"tank_id": south, "number": 4}),
        (f"canisters/{first}", f"into={into}", {"canister_id": into}),
        (f"goblets/{house.bank.goblets[0]['id']}", f"canister_id={house.canister('north', 2)}",
         {"canister_id": house.canister("north", 2)}),
    ):  # fmt: skip
        foreseen = auditor.ok("GET", f"/api/{path}/relocation?{query}")
        assert (map_of(auditor)["North"], newest(auditor)) == (AS_LAID_OUT["North"], before)
        done = technician.ok("POST", f"/api/{path}/relocate", body)
        assert foreseen == {name: done[name] for name in ("goblets", "straws", "warnings")}
        take_back(technician, done)
        before = newest(auditor)
    gone = auditor.get(f"/api/canisters/{first}/relocation")
    assert (gone.status_code, gone.json()["code"]) == (422, "name-the-place")


def test_a_canister_hangs_in_another_tank_with_all_its_goblets(
    technician: Client, house: House, data: Path
) -> None:
    first = house.canister("north", 1)
    done = technician.ok("POST", f"/api/canisters/{first}/relocate", {"tank_id": house.south["id"]})
    assert [(one["from_address"], one["address"]) for one in done["goblets"]] == [
        ("NORTH-1-L1", "SOUTH-3-L1"),
        ("NORTH-1-U1", "SOUTH-3-U1"),
    ]
    assert map_of(technician) == {
        "North": {2: ["NORTH-2-L1", "NORTH-2-U1"]},
        "South": {**AS_LAID_OUT["South"], 3: ["SOUTH-3-L1", "SOUTH-3-U1"]},
    }
    code = house.north["canisters"][0]["code"]
    scanned = technician.ok("GET", f"/api/scan/{code}")
    assert (scanned["tank_name"], scanned["number"], scanned["straws"]) == ("South", 3, 20)
    plan = technician.ok(
        "POST",
        "/api/withdrawals/plan",
        {"stallion_id": house.bank.stallion["id"], "doses": 6},
    )
    assert {pick["address"] for pick in plan["picks"]} == {"SOUTH-3-L1", "NORTH-2-L1"}
    # Number 1 of North is free again, for a canister that hangs there under it.
    other = house.canister("south", 2)
    technician.ok("POST", f"/api/canisters/{other}/relocate", {"tank_id": house.north["id"]})
    assert map_of(technician)["North"][1] == ["NORTH-1-L1", "NORTH-1-U1"]
    assert findings(data) == []


def test_a_canisters_goblets_go_into_another_and_it_stays_empty(
    technician: Client, house: House, data: Path
) -> None:
    first, second = house.canister("north", 1), house.canister("north", 2)
    done = technician.ok("POST", f"/api/canisters/{first}/relocate", {"canister_id": second})
    assert [one["address"] for one in done["goblets"]] == ["NORTH-2-L2", "NORTH-2-U2"]
    assert map_of(technician)["North"] == {
        1: [],
        2: ["NORTH-2-L1", "NORTH-2-L2", "NORTH-2-U1", "NORTH-2-U2"],
    }
    technician.refused(
        "POST", f"/api/canisters/{first}/relocate", {"canister_id": second}, 422, "nothing-to-move"
    )
    assert take_back(technician, done)["corrects"] == done["id"]
    assert map_of(technician) == AS_LAID_OUT
    # An empty canister can hang elsewhere too, and come back.
    technician.ok("POST", f"/api/canisters/{first}/relocate", {"canister_id": second})
    hung = technician.ok(
        "POST", f"/api/canisters/{first}/relocate", {"tank_id": house.south["id"], "number": 7}
    )
    assert (hung["goblets"], hung["straws"]) == ([], 0)
    assert map_of(technician)["South"][7] == []
    take_back(technician, hung)
    assert map_of(technician)["North"][1] == []
    again = {"reason": "twice"}
    technician.refused("POST", f"/api/ledger/{hung['id']}/correct", again, 409, "moved-on")
    assert findings(data) == []


def test_a_goblet_changes_its_tier_and_a_canister_its_number(
    technician: Client, house: House, data: Path
) -> None:
    goblet, first = house.bank.goblets[0]["id"], house.canister("north", 1)
    lifted = technician.ok(
        "POST", f"/api/goblets/{goblet}/relocate", {"canister_id": first, "tier": "upper"}
    )
    assert lifted["goblets"][0]["address"] == "NORTH-1-U2"
    body = {"tank_id": house.north["id"], "number": 9}
    technician.ok("POST", f"/api/canisters/{first}/relocate", body)
    assert map_of(technician)["North"][9] == ["NORTH-9-U1", "NORTH-9-U2"]
    assert findings(data) == []


def test_every_straws_history_tells_the_addresses_of_its_time(
    technician: Client, vet: Client, house: House, data: Path
) -> None:
    goblet, code = house.bank.goblets[0]["id"], house.bank.codes_in(0)[0]
    vet.ok("POST", "/api/withdrawals", house.bank.withdrawal(picks=[house.bank.pick(0, 4)]))
    before = technician.ok("GET", f"/api/straws/{house.bank.codes_in(0)[-1]}")
    done = technician.ok(
        "POST", f"/api/goblets/{goblet}/relocate", {"canister_id": house.canister("south", 1)}
    )
    technician.ok(
        "POST",
        f"/api/canisters/{house.canister('south', 1)}/relocate",
        {"tank_id": house.north["id"], "number": 5},
    )
    straw = technician.ok("GET", f"/api/straws/{house.bank.codes_in(0)[-1]}")
    ways = [(step["kind"], step["from"], step["to"]) for step in straw["history"]]
    assert ways[-2:] == [
        ("relocate", "NORTH-1-L1", "SOUTH-1-L2"),
        ("relocate", "SOUTH-1-L2", "NORTH-5-L2"),
    ]
    assert ways[:-2] == [(step["kind"], step["from"], step["to"]) for step in before["history"]]
    assert ways[-3][2] == "NORTH-1-L1"
    assert (straw["address"], straw["provisional"]) == ("NORTH-5-L2", before["provisional"])
    # What was out of its goblet already knows nothing of it.
    out = technician.ok("GET", f"/api/straws/{code}")
    assert [step["kind"] for step in out["history"]] == ["prepare", "freeze", "withdraw"]
    entries = {one["id"]: one for one in technician.ok("GET", "/api/ledger")["items"]}
    assert entries[done["id"]]["goblets_moved"] == [
        {"goblet_id": goblet, "from_address": "NORTH-1-L1", "address": "SOUTH-1-L2"}
    ]
    assert {line["to"] for line in entries[done["id"]]["lines"]} == {"SOUTH-1-L2"}
    assert findings(data) == []


def test_a_withdrawal_tells_where_its_straws_came_from_and_where_they_may_go_back(
    technician: Client, vet: Client, house: House
) -> None:
    picks = [house.bank.pick(0, 4)]
    taken = vet.ok("POST", "/api/withdrawals", house.bank.withdrawal(picks=picks))
    path = f"/api/goblets/{house.bank.goblets[0]['id']}/relocate"
    technician.ok("POST", path, {"canister_id": house.canister("south", 1)})

    def addresses() -> set[str]:
        shown = vet.ok("GET", f"/api/withdrawals/{taken['id']}")
        return {straw["address"] for straw in shown["straws"]}

    assert addresses() == {"SOUTH-1-L2"}
    used = {"inseminated_at": datetime.now(UTC).isoformat(), "straws_used": 4}
    vet.ok("POST", f"/api/withdrawals/{taken['id']}/insemination", used)
    assert addresses() == {"NORTH-1-L1"}


def test_taken_back_everything_hangs_where_it_hung_with_what_is_in_it_now(
    technician: Client, vet: Client, house: House, data: Path
) -> None:
    first = house.canister("north", 1)
    done = technician.ok("POST", f"/api/canisters/{first}/relocate", {"tank_id": house.south["id"]})
    vet.ok("POST", "/api/withdrawals", house.bank.withdrawal(picks=[house.bank.pick(0, 4)]))
    seq = take_back(technician, done)["seq"]
    assert map_of(technician) == AS_LAID_OUT
    counter = newest(technician)
    assert (counter["seq"], counter["kind"], counter["straws"]) == (seq, "correct", 16)
    assert {(line["from"], line["to"]) for line in counter["lines"]} == {
        ("SOUTH-3-L1", "NORTH-1-L1")
    }
    assert findings(data) == []
    # The same may be done again, and is then its own to take back.
    again = technician.ok(
        "POST", f"/api/canisters/{first}/relocate", {"tank_id": house.south["id"]}
    )
    reason = {"reason": "twice"}
    technician.refused("POST", f"/api/ledger/{done['id']}/correct", reason, 409, "moved-on")
    take_back(technician, again)
    assert map_of(technician) == AS_LAID_OUT
    assert findings(data) == []


def test_a_move_before_it_can_still_be_taken_back(
    technician: Client, house: House, data: Path
) -> None:
    move = {"id": str(uuid4()), "picks": [house.bank.pick(0, 5)],
            "goblet_id": house.bank.goblets[1]["id"]}  # fmt: skip
    technician.ok("POST", "/api/moves", move)
    first = house.canister("north", 1)
    done = technician.ok("POST", f"/api/canisters/{first}/relocate", {"tank_id": house.south["id"]})
    take_back(technician, done)
    take_back(technician, move)
    stock = technician.ok("GET", "/api/stock")["items"]
    assert [(one["address"], one["straws"]) for one in stock] == [
        ("NORTH-1-L1", 20),
        ("NORTH-2-L1", 20),
    ]
    assert findings(data) == []


def test_what_happened_since_is_not_overridden_by_taking_back(
    manager: Client, technician: Client, house: House, data: Path
) -> None:
    first, goblet = house.canister("north", 1), house.bank.goblets[0]["id"]
    reason = {"reason": "never happened"}

    def refused(done: Any, code: str) -> None:
        technician.refused("POST", f"/api/ledger/{done['id']}/correct", reason, 409, code)

    away = technician.ok("POST", f"/api/canisters/{first}/relocate", {"tank_id": house.south["id"]})
    other = house.canister("south", 1)
    taken = technician.ok(
        "POST", f"/api/canisters/{other}/relocate", {"tank_id": house.north["id"]}
    )
    refused(away, "number-taken")
    take_back(technician, taken)
    back = technician.ok(
        "POST", f"/api/goblets/{goblet}/relocate", {"canister_id": house.canister("north", 2)}
    )
    refused(away, "moved-on")
    take_back(technician, back)
    came = house.south["canisters"][1]["goblets"][0]["id"]
    guest = technician.ok("POST", f"/api/goblets/{came}/relocate", {"canister_id": first})
    refused(away, "moved-on")
    # Where the guest came from stands another by now.
    sibling = house.south["canisters"][0]["goblets"][0]["id"]
    technician.ok(
        "POST", f"/api/goblets/{sibling}/relocate", {"canister_id": house.canister("south", 2)}
    )
    refused(guest, "place-taken")
    assert findings(data) == []
    manager.ok("POST", f"/api/goblets/{came}/retire", {"reason": "cracked"})
    refused(guest, "goblet-retired")
    assert findings(data) == []


def test_an_address_given_by_hand_is_replaced_and_comes_back(
    manager: Client, technician: Client, house: House, data: Path
) -> None:
    path = f"/api/goblets/{house.bank.goblets[0]['id']}"

    def plate(address: str, path: str = path) -> None:
        headers = {"If-Match": manager.get(path).headers["ETag"]}
        answer = manager.patch(path, json={"address": address}, headers=headers)
        assert answer.status_code == 200, answer.text

    plate("SHELF-7")
    south = house.canister("south", 1)
    done = technician.ok("POST", f"{path}/relocate", {"canister_id": south})
    assert [one["code"] for one in done["warnings"]] == ["plates-out-of-date", "address-replaced"]
    assert done["goblets"][0]["address"] == "SOUTH-1-L2"
    assert findings(data) == []
    plate("COUNTER-1")
    assert findings(data) == []
    other = f"/api/goblets/{house.bank.goblets[1]['id']}"
    plate("SHELF-7", other)
    reason = {"reason": "never happened"}
    technician.refused("POST", f"/api/ledger/{done['id']}/correct", reason, 409, "address-taken")
    plate("SHELF-8", other)
    take_back(technician, done)
    assert manager.ok("GET", path)["address"] == "SHELF-7"
    assert findings(data) == []


def test_an_address_that_another_goblet_was_given_is_passed_over(
    manager: Client, technician: Client, house: House, data: Path
) -> None:
    path = f"/api/goblets/{house.bank.goblets[2]['id']}"
    headers = {"If-Match": manager.get(path).headers["ETag"]}
    manager.patch(path, json={"address": "SOUTH-3-L1"}, headers=headers)
    first = house.canister("north", 1)
    done = technician.ok("POST", f"/api/canisters/{first}/relocate", {"tank_id": house.south["id"]})
    assert [one["address"] for one in done["goblets"]] == ["SOUTH-3-L2", "SOUTH-3-U1"]
    take_back(technician, done)
    assert map_of(technician)["North"][1] == ["NORTH-1-L1", "NORTH-1-U1"]
    assert findings(data) == []


def test_after_a_tank_got_another_name_goblets_come_back_under_it(
    manager: Client, technician: Client, house: House, data: Path
) -> None:
    path = f"/api/goblets/{house.bank.goblets[0]['id']}"
    done = technician.ok("POST", f"{path}/relocate", {"canister_id": house.canister("south", 1)})
    for name, new in (("north", "Fells"), ("south", "Dales")):
        tank = f"/api/tanks/{getattr(house, name)['id']}"
        headers = {"If-Match": manager.get(tank).headers["ETag"]}
        assert manager.patch(tank, json={"name": new}, headers=headers).status_code == 200
    assert findings(data) == []
    take_back(technician, done)
    assert manager.ok("GET", path)["address"] == "FELLS-1-L1"
    assert findings(data) == []


@pytest.mark.parametrize(
    ("path", "body", "status", "code"),
    [
        ("goblets/{goblet}", {"canister_id": "{north1}"}, 422, "already-there"),
        ("goblets/{goblet}", {"canister_id": "{north1}", "tier": "lower"}, 422, "already-there"),
        ("goblets/{goblet}", {"canister_id": "{nowhere}"}, 404, "unknown-place"),
        ("goblets/{nowhere}", {"canister_id": "{north1}"}, 404, "unknown-place"),
        ("goblets/{goblet}", {"canister_id": "{south1}", "tier": "middle"}, 422, "invalid"),
        ("goblets/{goblet}", {"canister_id": "{retired}"}, 409, "canister-retired"),
        ("goblets/{cracked}", {"canister_id": "{north2}"}, 409, "goblet-retired"),
        ("canisters/{north1}", {"tank_id": "{north}"}, 422, "already-there"),
        ("canisters/{north1}", {"tank_id": "{north}", "number": 1}, 422, "already-there"),
        ("canisters/{north1}", {"canister_id": "{north1}"}, 422, "already-there"),
        ("canisters/{north1}", {"tank_id": "{north}", "number": 2}, 409, "number-taken"),
        ("canisters/{north1}", {"tank_id": "{south}", "number": 0}, 422, "invalid"),
        ("canisters/{north1}", {}, 422, "name-the-place"),
        ("canisters/{north1}", {"tank_id": "{south}", "canister_id": "{south1}"}, 422,
         "name-the-place"),
        ("canisters/{north1}", {"canister_id": "{south1}", "number": 3}, 422, "name-the-place"),
        ("canisters/{north1}", {"tank_id": "{nowhere}"}, 404, "unknown-place"),
        ("canisters/{north1}", {"tank_id": "{old}"}, 409, "tank-retired"),
        ("canisters/{in_old}", {"tank_id": "{north}"}, 409, "tank-retired"),
        ("goblets/{goblet}", {"canister_id": "{in_old}"}, 409, "tank-retired"),
        ("canisters/{retired}", {"tank_id": "{north}"}, 409, "canister-retired"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_and_changes_nothing(
    manager: Client, house: House, path: str, body: Any, status: int, code: str
) -> None:
    old = manager.ok("POST", "/api/tanks", building.tank("Old"))
    for retired in (
        f"tanks/{old['id']}",
        f"canisters/{house.canister('south', 2)}",
        f"goblets/{house.south['canisters'][0]['goblets'][0]['id']}",
    ):
        manager.ok("POST", f"/api/{retired}/retire", {"reason": "worn"})
    ids = {
        "goblet": house.bank.goblets[0]["id"],
        "cracked": house.south["canisters"][0]["goblets"][0]["id"],
        "north": house.north["id"],
        "south": house.south["id"],
        "old": old["id"],
        "in_old": old["canisters"][0]["id"],
        "north1": house.canister("north", 1),
        "north2": house.canister("north", 2),
        "south1": house.canister("south", 1),
        "retired": house.canister("south", 2),
        "nowhere": str(uuid4()),
    }
    before, head = map_of(manager), newest(manager)
    asked = {
        name: value.format(**ids) if isinstance(value, str) else value
        for name, value in body.items()
    }
    manager.refused("POST", f"/api/{path.format(**ids)}/relocate", asked, status, code)
    assert (map_of(manager), newest(manager)) == (before, head)


def test_released_straws_do_not_go_into_quarantine_and_held_ones_come_out_noticed(
    manager: Client, technician: Client, vet: Client, house: House
) -> None:
    wren = manager.ok("POST", "/api/tanks", {**building.tank("Wren"), "quarantine": True})
    first, into = house.canister("north", 1), {"tank_id": wren["id"]}
    path = f"/api/canisters/{first}/relocate"
    technician.refused("POST", path, into, 409, "quarantined-tank")
    goblet = {"canister_id": wren["canisters"][0]["id"]}
    technician.refused(
        "POST", f"/api/goblets/{house.bank.goblets[0]['id']}/relocate", goblet, 409,
        "quarantined-tank",
    )  # fmt: skip
    # An empty goblet may hang there.
    technician.ok("POST", f"/api/goblets/{house.bank.goblets[1]['id']}/relocate", goblet)
    batch = house.bank.batch_id
    technician.ok("POST", f"/api/batches/{batch}/hold", {"reason": "a test is late"})
    technician.ok("POST", path, into)
    vet.ok("POST", f"/api/batches/{batch}/release", {"reason": "it came"})
    done = technician.ok("POST", path, {"tank_id": house.south["id"]})
    assert [one["code"] for one in done["warnings"]] == ["out-of-quarantine", "plates-out-of-date"]


def test_held_straws_that_come_beside_free_ones_are_warned_of(
    technician: Client, house: House
) -> None:
    goblet = house.south["canisters"][0]["goblets"][0]["id"]
    made = technician.ok(
        "POST", "/api/freezes", building.freeze(house.bank.stallion["id"], [(goblet, 8)])
    )
    technician.ok("POST", f"/api/batches/{made['batch']['id']}/hold", {"reason": "a test is late"})
    first, south = house.canister("north", 1), house.canister("south", 1)
    done = technician.ok("POST", f"/api/canisters/{first}/relocate", {"canister_id": south})
    assert [one["code"] for one in done["warnings"]] == ["held-beside-free", "plates-out-of-date"]
    assert "SOUTH-1-L1" in done["warnings"][0]["message"]


def test_it_is_booked_once_whoever_retries(technician: Client, house: House) -> None:
    path = f"/api/goblets/{house.bank.goblets[0]['id']}/relocate"
    body = {"id": str(uuid4()), "canister_id": house.canister("south", 1)}
    first, again = technician.post(path, json=body), technician.post(path, json=body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json() == first.json()
    other = {**body, "canister_id": house.canister("south", 2)}
    technician.refused("POST", path, other, 409, "id-reused")


def test_it_cannot_have_happened_before_what_put_things_there(
    technician: Client, house: House
) -> None:
    path = f"/api/goblets/{house.bank.goblets[0]['id']}/relocate"
    south = {"canister_id": house.canister("south", 1)}
    early = {**south, "occurred_at": "2026-03-03T08:14:00Z"}
    technician.refused("POST", path, early, 422, "before-what-it-follows")
    empty = f"/api/goblets/{house.bank.goblets[1]['id']}/relocate"
    done = technician.ok("POST", empty, south)
    before = (datetime.now(UTC) - timedelta(minutes=1)).isoformat()
    back = {"canister_id": house.canister("north", 1), "occurred_at": before}
    technician.refused("POST", empty, back, 422, "before-what-it-follows")
    reason = {"reason": "never happened", "occurred_at": before}
    technician.refused(
        "POST", f"/api/ledger/{done['id']}/correct", reason, 422, "before-what-it-follows"
    )


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("sql", "said"),
    [
        ("UPDATE goblets SET address = 'SOUTH-9-L9' WHERE address = 'SOUTH-3-L1'",
         "Goblet SOUTH-9-L9 does not hang where entry 3 hung it."),
        ("UPDATE goblets SET canister_id = (SELECT canister_id FROM goblets"
         " WHERE address = 'NORTH-2-L1') WHERE address = 'SOUTH-3-L1'",
         "Goblet SOUTH-3-L1 does not hang where entry 3 hung it."),
        ("UPDATE canisters SET number = 8 WHERE number = 3",
         "Canister 8 does not hang where the book last hung it."),
        ("UPDATE goblet_moves SET from_address = 'NORTH-1-L9' WHERE from_address = 'NORTH-1-L1'",
         "Entry 3 did not hang a goblet where it is kept beside it."),
        ("DELETE FROM goblet_moves WHERE from_address = 'NORTH-1-L1'",
         "Entry 3 hung a goblet elsewhere, and that is not kept beside it."),
        ("UPDATE goblet_moves SET entry_seq = 1", "Entry 1 did not hang a goblet"),
    ],
)  # fmt: skip
def test_a_map_that_was_changed_past_the_service_is_found_out(
    technician: Client, house: House, data: Path, sql: str, said: str
) -> None:
    first = house.canister("north", 1)
    technician.ok("POST", f"/api/canisters/{first}/relocate", {"tank_id": house.south["id"]})
    assert findings(data) == []
    with closing(sqlite3.connect(data / "rimebook.db", isolation_level=None)) as file:
        file.execute("BEGIN IMMEDIATE")
        for (name,) in file.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'"):
            file.execute(f"DROP TRIGGER {name}")
        file.execute(sql)
        file.execute("COMMIT")
    assert any(one.startswith(said) for one in findings(data)), findings(data)
