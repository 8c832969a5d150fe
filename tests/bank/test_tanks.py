"""Tanks: laid out in one call, with a table that can be right and addresses for plates."""

import json
import math
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.bank import search, tanks_rules
from service.bank.store import Tank
from service.bank.tanks_rules import goblet_address, in_tiers, short_name
from service.kernel import codes
from service.kernel.database import Database
from service.settings import Settings
from tests import building
from tests.bank.changing import change, refused_change
from tests.conftest import Client

TANKS = "/api/tanks"
NOBODY = "/api/tanks/01890000-0000-7000-8000-000000000000"


def add(client: Client, name: str = "North", **more: Any) -> Any:
    return client.ok("POST", TANKS, building.tank(name) | more, status=201)


def addresses(tank: Any) -> list[str]:
    return [goblet["address"] for goblet in building.goblets_of(tank)]


def warned(tank: Any) -> set[str]:
    return {warning["code"] for warning in tank["warnings"]}


def test_an_even_layout_hangs_half_of_the_goblets_in_each_tier(manager: Client) -> None:
    layout = {"canisters": 3, "goblets_per_canister": 5, "straws_per_goblet": 85}
    tank = add(manager, layout=layout)
    assert [canister["number"] for canister in tank["canisters"]] == [1, 2, 3]
    for canister in tank["canisters"]:
        tiers = [goblet["tier"] for goblet in canister["goblets"]]
        assert tiers == ["lower", "lower", "lower", "upper", "upper"]
        assert {goblet["capacity_straws"] for goblet in canister["goblets"]} == {85}
    assert addresses(tank)[:5] == [
        "NORTH-1-L1",
        "NORTH-1-L2",
        "NORTH-1-L3",
        "NORTH-1-U1",
        "NORTH-1-U2",
    ]
    assert warned(tank) == set()


def test_a_mixed_layout_is_hung_as_listed(manager: Client) -> None:
    layout = {
        "canisters": [
            {"goblets": [{"capacity_straws": 85}]},
            {
                "goblets": [
                    {"tier": "upper", "capacity_straws": 10},
                    {"tier": "upper", "capacity_straws": 12},
                    {"tier": "lower", "capacity_straws": 300},
                ]
            },
        ]
    }
    tank = add(manager, layout=layout)
    assert [(g["address"], g["capacity_straws"]) for g in building.goblets_of(tank)] == [
        ("NORTH-1-L1", 85),
        ("NORTH-2-L1", 300),
        ("NORTH-2-U1", 10),
        ("NORTH-2-U2", 12),
    ]


def test_everything_has_a_code_of_its_kind(manager: Client) -> None:
    tank = add(manager)
    assert codes.read(tank["code"]).kind is codes.Kind.TANK
    assert {codes.read(c["code"]).kind for c in tank["canisters"]} == {codes.Kind.CANISTER}
    goblets = [goblet["code"] for goblet in building.goblets_of(tank)]
    assert {codes.read(code).kind for code in goblets} == {codes.Kind.GOBLET}
    assert len(set(goblets)) == len(goblets) == 4


def test_a_code_that_was_issued_before_is_drawn_again(data: Any) -> None:
    """Three tanks, drawn from one number said three times and then others."""
    database = Database(Settings(data=data).book_url)
    draws = iter([7, 7, 8, 7, 8, 7, 9])
    with database.writing() as db:
        made = []
        for number in range(3):
            [code] = search.fresh_codes(
                db, Tank.__table__.c.code, codes.Kind.TANK, 1, lambda _bits: next(draws)
            )
            made.append(code)
            db.add(_bare_tank(number, code))
            db.flush()
        with pytest.raises(RuntimeError, match="issued before"):
            search.fresh_codes(db, Tank.__table__.c.code, codes.Kind.TANK, 1, lambda _bits: 7)
    database.close()
    assert made == [codes.make(codes.Kind.TANK, lambda _bits, n=n: n) for n in (7, 8, 9)]


def _bare_tank(number: int, code: str) -> Tank:
    return Tank(
        id=uuid4(),
        code=code,
        name=f"Tank {number}",
        short_name=f"T{number}",
        capacity_litres=Decimal(35),
        rated_loss_litres_per_day=Decimal("0.18"),
        minimum_level_cm=Decimal(12),
        calibration=[["0", "0"], ["50", "35"]],
        created_at=datetime.now(UTC),
    )


def test_a_tank_reads_as_it_was_set_up(manager: Client, auditor: Client) -> None:
    made = add(manager, empty_weight_kg="18.25", quarantine=True)
    assert auditor.ok("GET", f"{TANKS}/{made['id']}") == made
    assert auditor.ok("GET", TANKS) == {"items": [made], "next": None}
    assert (made["empty_weight_kg"], made["quarantine"]) == (18.25, True)
    assert made["rated_loss_litres_per_day"] == 0.18
    assert made["calibration"][1] == {"level_cm": 25, "litres": 16.5}


def test_the_list_comes_in_pages_by_name(manager: Client) -> None:
    for name in ("Öst", "West", "North", "南"):
        add(manager, name)
    seen, after = [], ""
    while after is not None:
        page = manager.ok("GET", f"{TANKS}?limit=1{after and f'&after={after}'}")
        seen += [tank["name"] for tank in page["items"]]
        after = page["next"]
    assert sorted(seen) == ["North", "West", "Öst", "南"]
    # Engines sort letters beyond A to Z each in its own way.
    assert [name for name in seen if name.isascii()] == ["North", "West"]


@pytest.mark.parametrize(
    "after",
    # ["a"], ["a", "no id"], [1, id], ["\0", id], ["\ud800", id]
    [
        "WyJhIl0",
        "WyJhIiwibm8gaWQiXQ",
        "WzEsIjAxODkwMDAwLTAwMDAtNzAwMC04MDAwLTAwMDAwMDAwMDAwMCJd",
        "WyJcdTAwMDAiLCIwMTg5MDAwMC0wMDAwLTcwMDAtODAwMC0wMDAwMDAwMDAwMDAiXQ",
        "WyJcdWQ4MDAiLCIwMTg5MDAwMC0wMDAwLTcwMDAtODAwMC0wMDAwMDAwMDAwMDAiXQ",
    ],
)
def test_a_page_marker_of_someone_elses_is_refused(manager: Client, after: str) -> None:
    answer = manager.get(f"{TANKS}?after={after}")
    assert (answer.status_code, answer.json()["code"]) == (422, "bad-cursor")


def test_a_retry_sets_up_one_tank(manager: Client) -> None:
    body = building.tank() | {"id": str(uuid4())}
    first = manager.post(TANKS, json=body)
    again = manager.post(TANKS, json=body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.headers["replayed"] == "true"
    assert again.content == first.content
    assert first.json()["id"] == body["id"]
    manager.refused("POST", TANKS, body | {"name": "South"}, 409, "id-reused")
    assert len(manager.ok("GET", TANKS)["items"]) == 1


@pytest.mark.parametrize(
    ("name", "begins"),
    [
        ("T1", "T1"),
        ("north tank", "NORTHTAN"),
        ("Großer Tank", "GROSSERT"),
        ("Ærø 2", "AERO2"),
        ("🐎", "T"),
        ("خزان", "T"),
        ("冷蔵庫 3", "3"),
    ],
)
def test_addresses_can_be_typed_on_any_keyboard(manager: Client, name: str, begins: str) -> None:
    tank = add(manager, name)
    assert tank["name"] == name
    assert tank["short_name"] == begins
    assert addresses(tank)[0] == f"{begins}-1-L1"


def test_names_that_shorten_alike_get_addresses_that_differ(manager: Client) -> None:
    tanks = [add(manager, name) for name in ("🐎", "🦄", "خزان", "North tank A", "North tank B")]
    assert [tank["short_name"] for tank in tanks] == ["T", "T2", "T3", "NORTHTAN", "NORTHTA2"]
    everywhere = [address for tank in tanks for address in addresses(tank)]
    assert len(set(everywhere)) == len(everywhere)


@given(
    st.lists(st.text(max_size=30), min_size=1, max_size=12),
    st.lists(
        st.lists(st.tuples(st.sampled_from([None, "upper", "lower"]), st.just(1)), max_size=6),
        max_size=12,
    ),
)
def test_no_two_goblets_of_the_bank_share_an_address(
    names: list[str], canisters: list[list[tuple[Any, int]]]
) -> None:
    """Whatever the tanks are called and however they are laid out."""
    taken: list[str] = []
    for name in names:
        taken.append(short_name(name, taken))
    everywhere = [
        goblet_address(short, number, goblet.tier, goblet.position)
        for short in taken
        for number, goblets in enumerate(canisters, start=1)
        for goblet in in_tiers(goblets)
    ]
    assert len(set(everywhere)) == len(everywhere)
    assert all(tanks_rules.read_address(address) == address for address in everywhere)


@pytest.mark.parametrize("name", ["North", "NORTH", " north ", "Nörth"])
def test_a_name_that_people_would_confuse_is_refused(manager: Client, name: str) -> None:
    first = add(manager)
    problem = manager.refused("POST", TANKS, building.tank(name), 409, "name-taken")
    assert problem["tank_id"] == first["id"]


def test_a_short_name_may_be_chosen(manager: Client) -> None:
    first = add(manager, short_name="A")
    assert addresses(first)[0] == "A-1-L1"
    problem = manager.refused(
        "POST", TANKS, building.tank("South") | {"short_name": "A"}, 409, "name-taken"
    )
    assert problem["tank_id"] == first["id"]
    for unfit in ("a", "A-B", "NINESIGNS", "", 1, "Ä"):
        body = building.tank("South") | {"short_name": unfit}
        manager.refused("POST", TANKS, body, 422, "invalid")


def test_an_address_that_was_chosen_by_hand_is_never_given_twice(manager: Client) -> None:
    goblet = building.goblets_of(add(manager))[0]
    change(manager, f"/api/goblets/{goblet['id']}", {"address": "south-1-l1"})
    problem = manager.refused("POST", TANKS, building.tank("South"), 409, "address-taken")
    assert problem["address"] == "SOUTH-1-L1"
    assert problem["goblet_id"] == goblet["id"]
    assert len(manager.ok("GET", TANKS)["items"]) == 1
    assert addresses(add(manager, "South", short_name="S"))[0] == "S-1-L1"


@pytest.mark.parametrize("address", ["north 1", "A--B", "-A", "Ä1", "A" * 25, "A\u20281"])
def test_an_address_that_cannot_stand_on_a_plate_is_refused(manager: Client, address: str) -> None:
    path = f"/api/goblets/{building.goblets_of(add(manager))[0]['id']}"
    refused_change(manager, path, {"address": address}, 422, "bad-address")


# --- bad input ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"name": ""}, "name"),
        ({"name": "x" * 121}, "name"),
        ({"name": "a\u0000b"}, "name"),
        ({"name": 7}, "name"),
        ({"capacity_litres": 0}, "capacity_litres"),
        ({"capacity_litres": -35}, "capacity_litres"),
        ({"capacity_litres": "35,5"}, "capacity_litres"),
        ({"capacity_litres": True}, "capacity_litres"),
        ({"rated_loss_litres_per_day": 0}, "rated_loss_litres_per_day"),
        ({"minimum_level_cm": None}, "minimum_level_cm"),
        ({"colour": "grey"}, "colour"),
        ({"quarantine": "yes"}, "quarantine"),
        ({"id": "North"}, "id"),
        ({"occurred_at": "yesterday"}, "occurred_at"),
        ({"calibration": [[0, 0], [50, 35]]}, "calibration[0]"),
        ({"calibration": [{"level_cm": 0}]}, "calibration[0].litres"),
        ({"layout": None}, "layout"),
        ({"layout": {}}, "layout.canisters"),
        ({"layout": {"canisters": []}}, "layout.canisters"),
        ({"layout": {"canisters": [{"goblets": []}]}}, "layout.canisters[0].goblets"),
        (
            {"layout": {"canisters": [{"goblets": [{"capacity_straws": 0}]}]}},
            "layout.canisters[0].goblets[0].capacity_straws",
        ),
        (
            {"layout": {"canisters": [{"goblets": [{"capacity_straws": 5, "tier": "middle"}]}]}},
            "layout.canisters[0].goblets[0].tier",
        ),
        (
            {"layout": {"canisters": 1.5, "goblets_per_canister": 2, "straws_per_goblet": 9}},
            "layout.canisters",
        ),
        (
            {"layout": {"canisters": 1, "goblets_per_canister": 0, "straws_per_goblet": 9}},
            "layout.goblets_per_canister",
        ),
    ],
)
def test_what_can_never_work_is_refused_with_its_field(
    manager: Client, more: dict[str, Any], field: str
) -> None:
    problem = manager.refused("POST", TANKS, building.tank() | more, 422, "invalid")
    assert field in {error["field"] for error in problem["errors"]}
    assert manager.ok("GET", TANKS)["items"] == []


@pytest.mark.parametrize("amount", [math.nan, math.inf])
def test_a_number_that_is_none_is_refused(manager: Client, amount: float) -> None:
    """JSON has no NaN, but Python's own writer sends it."""
    body = json.dumps(building.tank() | {"capacity_litres": amount})
    answer = manager.post(TANKS, content=body, headers={"Content-Type": "application/json"})
    assert (answer.status_code, answer.json()["code"]) == (422, "invalid")
    assert answer.json()["errors"][0]["field"] == "capacity_litres"


def test_a_body_of_ten_megabytes_is_refused(manager: Client) -> None:
    body = building.tank("x" * 10_000_000)
    manager.refused("POST", TANKS, body, 413, "too-large")


def test_a_layout_beyond_any_tank_is_refused(manager: Client) -> None:
    layout = {"canisters": 101, "goblets_per_canister": 100, "straws_per_goblet": 1}
    body = building.tank() | {"layout": layout}
    problem = manager.refused("POST", TANKS, body, 422, "bad-layout")
    assert "10100" in problem["detail"]


def test_a_room_that_does_not_exist_is_refused(manager: Client) -> None:
    body = building.tank() | {"room_id": str(uuid4())}
    problem = manager.refused("POST", TANKS, body, 404, "unknown-room")
    assert problem["room_id"] == body["room_id"]


def test_a_tank_that_does_not_exist_is_unknown(manager: Client) -> None:
    for path in (NOBODY, f"{NOBODY}/changes"):
        answer = manager.get(path)
        assert (answer.status_code, answer.json()["code"]) == (404, "unknown-tank")
    manager.refused("PATCH", NOBODY, {}, 404, "unknown-tank")


@pytest.mark.parametrize("role", ["technician", "vet", "auditor"])
def test_only_a_manager_sets_up_and_changes_tanks(person: Any, manager: Client, role: str) -> None:
    tank = add(manager)
    other = person(role)
    other.refused("POST", TANKS, building.tank("South"), 403, "forbidden")
    other.refused("PATCH", f"{TANKS}/{tank['id']}", {"name": "South"}, 403, "forbidden")
    assert other.ok("GET", TANKS)["items"] == [tank]
