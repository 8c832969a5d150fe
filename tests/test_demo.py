"""The invented station: alive on any day, the same on every machine, and sound."""

from collections.abc import Iterator
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError
from sqlmodel import col, select

from seed_data import quillhaven
from seed_data.batches import FREEZES
from seed_data.bringing import BROUGHT
from seed_data.people import PEOPLE
from service.app import make_app, open_book
from service.freezing.calculation import calculate
from service.kernel.clock import utc_now
from service.kernel.database import Database
from service.ledger.check import check
from service.ledger.store import Entry, Straw
from service.settings import Settings

#: What each stallion has: straws, doses that may be used, doses in reserve, straws on hold.
STOCK = {
    "Blåvinge Nattsøn": (46, 7, 0, 0),
    "Corvane Tidewright": (120, 15, 0, 0),
    "Gannet’s Ledger": (29, 1, 2, 0),
    "Merrow Sandglass": (40, 0, 0, 40),
    "Ninefold Lantern": (52, 5, 0, 32),
    "Pewter Almanac": (92, 41, 0, 10),
    "Quorum of Larks": (89, 10, 0, 0),
    "Saltmarsh Cadence": (118, 17, 0, 0),
    "Thistledown Ferrier": (84, 6, 0, 0),
    "Umber Halyard": (24, 3, 0, 0),
}

#: Straws of the next dose by the plan, all of one batch and out of one canister.
NEXT_DOSE = {
    "Blåvinge Nattsøn": 6,
    "Corvane Tidewright": 8,
    "Gannet’s Ledger": 8,
    "Ninefold Lantern": 4,
    "Pewter Almanac": 2,
    "Quorum of Larks": 8,
    "Saltmarsh Cadence": 8,
    "Thistledown Ferrier": 14,
    "Umber Halyard": 8,
}


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's bank, filled now."""
    folder = tmp_path_factory.mktemp("demo")
    database = open_book(Settings(data=folder))
    assert quillhaven.is_empty(database)
    quillhaven.fill(database, now=utc_now())
    assert not quillhaven.is_empty(database)
    database.close()
    return folder


@pytest.fixture
def demo(filled: Path) -> Iterator[TestClient]:
    """The running demo, signed in as the vet; only for what changes nothing."""
    with TestClient(make_app(Settings(data=filled))) as service:
        service.headers["Sec-Fetch-Site"] = "same-origin"
        vet = next(person for person in PEOPLE if person.role == "vet")
        service.post("/api/session", json={"username": vet.username, "password": vet.password})
        yield service


def items(service: TestClient, path: str) -> list[dict[str, Any]]:
    """The whole list."""
    answer = service.get(path).json()
    assert answer["next"] is None
    found: list[dict[str, Any]] = answer["items"]
    return found


def codes_in(database: Database) -> list[tuple[str, str]]:
    """Every straw's code and state."""
    with database.reading() as db:
        return sorted((straw.code, straw.state) for straw in db.exec(select(Straw)))


@pytest.mark.parametrize("person", PEOPLE, ids=lambda person: person.role)
def test_each_of_the_four_can_sign_in_as_the_welcome_says(person: Any, filled: Path) -> None:
    told = quillhaven.welcome("http://localhost:8000")
    [row] = [line for line in told.splitlines() if line.split()[:1] == [person.role]]
    _, username, password = row.split()
    with TestClient(make_app(Settings(data=filled))) as service:
        sign_in = {"username": username, "password": password}
        assert service.post("/api/session", json=sign_in).status_code == 204
        assert service.get("/api/session").json()["role"] == person.role


def test_every_stallion_has_the_stock_that_the_story_left(demo: TestClient) -> None:
    stock = items(demo, "/api/stock/stallions")
    names = ("straws", "doses", "doses_in_reserve", "straws_on_hold")
    assert {one["stallion_name"]: tuple(one[name] for name in names) for one in stock} == STOCK
    assert [one["stallion_name"] for one in stock if one["low"]] == ["Umber Halyard"]


def test_the_next_dose_of_every_stallion_is_planned_as_intended(demo: TestClient) -> None:
    planned = {}
    for stallion in items(demo, "/api/stallions"):
        answer = demo.post(
            "/api/withdrawals/plan", json={"stallion_id": stallion["id"], "doses": 1}
        )
        plan = answer.json()
        if answer.status_code == 409:
            assert (stallion["name"], plan["code"]) == ("Merrow Sandglass", "not-enough-straws")
            continue
        assert plan["canister_lifts"] == 1
        assert len({pick["batch_id"] for pick in plan["picks"]}) == 1
        planned[stallion["name"]] = plan["straws"]
    assert planned == NEXT_DOSE


def test_the_dead_stallions_second_dose_is_the_managers_to_release(demo: TestClient) -> None:
    [gannet] = items(demo, "/api/stallions?q=gannet")
    assert gannet["died_on"] is not None
    answer = demo.post("/api/withdrawals/plan", json={"stallion_id": gannet["id"], "doses": 2})
    assert (answer.status_code, answer.json()["code"]) == (409, "reserve-reached")


def test_the_dead_stallions_canister_hangs_in_another_tank_by_now(demo: TestClient) -> None:
    [gannet] = items(demo, "/api/stallions?q=gannet")
    stock = items(demo, f"/api/stock?stallion_id={gannet['id']}")
    assert {one["address"] for one in stock} == {"HERON-7-L1", "HERON-7-L2", "HERON-7-U1"}
    [moved] = [one for one in items(demo, "/api/ledger?limit=1000") if one["kind"] == "relocate"]
    assert ("KESTREL-4-L1", "HERON-7-L1") in {(line["from"], line["to"]) for line in moved["lines"]}
    tanks = {one["name"]: one["canisters"] for one in items(demo, "/api/tanks")}
    assert [one["number"] for one in tanks["Kestrel"]] == [1, 2, 3, 5, 6]


def test_the_demo_has_something_of_everything(demo: TestClient) -> None:
    [waiting, away] = items(demo, "/api/withdrawals?state=lifted")
    assert (away["stallion_name"], away["state"]) == ("Blåvinge Nattsøn", "lifted")
    assert away["taken_by"] is not None
    assert (waiting["stallion_name"], waiting["insemination"]) == ("Corvane Tidewright", None)
    [prepared] = items(demo, "/api/batches?state=prepared")
    assert prepared["stallion_name"] == "Merrow Sandglass"
    held = [one for one in items(demo, "/api/batches?state=frozen") if one["on_hold"]]
    assert {one["stallion_name"]: one["hold_until"] is None for one in held} == {
        "Merrow Sandglass": False,
        "Ninefold Lantern": True,
        "Pewter Almanac": True,
    }
    kinds = {one["kind"] for one in items(demo, "/api/ledger?limit=1000")}
    assert {"exchange", "correct", "hold", "release", "return", "test", "move"} <= kinds
    outcomes = [
        made["outcome"]["pregnant"]
        for one in items(demo, "/api/withdrawals?limit=1000")
        for made in one["inseminations"]
        if made["outcome"] is not None
    ]
    assert {True, False} == set(outcomes)


def test_one_batch_waits_for_its_tests_and_one_was_released_with_all_of_them(
    demo: TestClient,
) -> None:
    found = {}
    for batch in items(demo, "/api/batches?state=frozen"):
        read = demo.get(f"/api/batches/{batch['id']}").json()
        results = [one["result"] for one in read["clearance"]["tests"]]
        if any(results):
            found[read["stallion_name"]] = (read["on_hold"], read["clearance"]["clear"], results)
    assert found == {
        "Blåvinge Nattsøn": (False, True, ["negative"] * 3),
        "Merrow Sandglass": (True, False, ["negative", None, "pending"]),
    }


def test_a_dispatch_of_the_demo_went_under_a_second_seal(demo: TestClient) -> None:
    [sent] = items(demo, "/api/dispatches")
    found = demo.get(f"/api/dispatches/{sent['id']}").json()
    assert [seal["number"] for seal in found["seals"]] == ["QH 0412", "OV 7731"]
    rows = {row["donor_name"]: row["straws"] for row in found["packing_list"]["rows"]}
    assert rows == {"Pewter Almanac": 8, "Saltmarsh Cadence": 6}
    assert found["holding"]["holds_until"] > found["occurred_at"]


def test_of_straws_that_came_in_the_demo_says_what_nobody_knows(demo: TestClient) -> None:
    batches = items(demo, "/api/batches?state=frozen&limit=1000")
    old, sent = sorted((b for b in batches if b["origin"] != "frozen"), key=lambda b: b["origin"])
    assert (old["stallion_name"], old["marks_as_read"]) == ("Gannet’s Ledger", "GANNET 3 II")
    unknown = ("collected_on", "straw_colour", "straw_volume_ml", "post_thaw", "thaw")
    assert [old[name] for name in unknown] == [None] * 5
    assert (sent["received_from"], sent["on_hold"]) == ("Oxbow Water Stud", True)
    assert sent["progressive_million_per_straw"] == 88
    straws = demo.get(f"/api/batches/{old['id']}").json()["straws"]
    assert [straw["code"] for straw in straws] == [None] * 5


def test_the_tank_that_is_losing_its_vacuum_stands_first(demo: TestClient) -> None:
    first, *others = items(demo, "/api/nitrogen")
    assert (first["tank_name"], first["state"], first["signs"]) == ("Kestrel", "failing", ["frost"])
    assert {one["tank_name"]: one["state"] for one in others} == {
        "Heron": "steady",
        "Plover": "steady",
        "Wren": "steady",
    }
    assert not any(one["reading_overdue"] for one in (first, *others))
    found = demo.get(f"/api/tanks/{first['tank_id']}/nitrogen").json()
    assert found["loss_litres_per_day"] > 3 * found["settled_loss_litres_per_day"]
    changed_days_ago = (utc_now() - datetime.fromisoformat(found["changed_at"])).days
    assert 7 <= changed_days_ago <= 11


def test_the_rooms_and_the_round_of_the_demo_can_be_looked_at(demo: TestClient) -> None:
    rooms = {room["name"]: room["id"] for room in items(demo, "/api/rooms")}
    oxygen = {
        name: demo.get(f"/api/rooms/{id}/oxygen").json()["steady_percent"]
        for name, id in rooms.items()
    }
    assert oxygen["Cold store"] > 20
    assert oxygen["Quarantine closet"] is None
    schedule = demo.get("/api/nitrogen/schedule?days=60").json()
    first, *others = schedule["items"]
    assert first["tank_name"] == "Kestrel"
    assert {one["tank_name"] for one in others} >= {"Heron", "Plover", "Wren"}


def test_a_year_of_every_tank_can_be_looked_at(demo: TestClient) -> None:
    for tank in items(demo, "/api/nitrogen"):
        past = demo.get(f"/api/tanks/{tank['tank_id']}/nitrogen/history?days=400").json()
        assert len(past["readings"]) > 120
        assert len(past["top_ups"]) >= 5
        assert sum(one["questioned"] for one in past["readings"]) <= 2
        assert past["losses"]
        assert past["forecast"]
        struck = [one for one in past["readings"] if one["struck"]]
        assert len(struck) == (1 if tank["tank_name"] == "Heron" else 0)


@pytest.mark.parametrize("freeze", FREEZES, ids=lambda freeze: freeze.batch)
def test_no_collection_fills_more_straws_than_its_sperm_are_enough_for(freeze: Any) -> None:
    made = calculate(
        collection=freeze.collection,
        straw=freeze.filling,
        recovery_percent=Fraction(freeze.recovery_percent),
    )
    assert freeze.counts.made <= made.straws_possible


@pytest.mark.parametrize(
    "now",
    [
        datetime(2026, 3, 29, 0, 30, tzinfo=UTC),  # the night the clocks go forward
        datetime(2026, 10, 25, 1, 30, tzinfo=UTC),  # the night they go back
        datetime(2028, 2, 29, 23, 59, tzinfo=UTC),
        datetime(2031, 1, 1, 0, 0, tzinfo=UTC),
    ],
)
def test_it_is_sound_and_its_codes_are_the_same_on_any_day(
    now: datetime, filled: Path, tmp_path: Path
) -> None:
    """The check also says whether a goblet holds more than it can."""
    today, that_day = open_book(Settings(data=filled)), open_book(Settings(data=tmp_path))
    quillhaven.fill(that_day, now=now)
    with that_day.reading() as db:
        assert check(db).problems == []
        newest = db.exec(select(Entry).order_by(col(Entry.recorded_at).desc())).first()
        assert newest is not None
        assert newest.recorded_at <= now
    assert codes_in(that_day) == codes_in(today)
    today.close()
    that_day.close()


def test_a_fill_that_breaks_off_leaves_an_empty_bank_that_is_filled_next_time(
    tmp_path: Path,
) -> None:
    database = open_book(Settings(data=tmp_path))
    break_off = (
        "CREATE TRIGGER break_off BEFORE INSERT ON entries WHEN NEW.seq = 100 "
        "BEGIN SELECT RAISE(ABORT, 'broken off'); END"
    )
    with database.writing() as db:
        db.connection().execute(text(break_off))
    with pytest.raises(IntegrityError, match="broken off"):
        quillhaven.fill(database, now=utc_now())
    assert quillhaven.is_empty(database)
    assert codes_in(database) == []
    with database.writing() as db:
        db.connection().execute(text("DROP TRIGGER break_off"))
    quillhaven.fill(database, now=utc_now())
    marked = sum(freeze.marked or freeze.counts.made for freeze in FREEZES)
    waiting_to_be_frozen = 48
    brought = sum(one.straws for one in BROUGHT)
    assert len(codes_in(database)) == marked + waiting_to_be_frozen + brought
    database.close()
