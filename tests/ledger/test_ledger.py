"""Which straws an act takes: by count, by scan, and twins that change places; the book's rules."""

import sqlite3
from collections import Counter
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from service.ledger.check import check
from tests import building
from tests.banks import Bank
from tests.conftest import Client


def straw(client: Client, code: str) -> Any:
    return client.ok("GET", f"/api/straws/{code}")


def stock(client: Client) -> dict[str, int]:
    items = client.ok("GET", "/api/stock")["items"]
    return {item["address"]: item["straws"] for item in items}


def move(client: Client, bank: Bank, to: int, **straws: Any) -> Any:
    return client.ok("POST", "/api/moves", {"goblet_id": bank.goblets[to]["id"], **straws})


def book(client: Client) -> list[Any]:
    items: list[Any] = client.ok("GET", "/api/ledger")["items"]
    return items


def chosen_by(client: Client, entry_id: str) -> list[str]:
    """The codes that an entry names."""
    entry = next(entry for entry in book(client) if entry["id"] == entry_id)
    return [line["straw_code"] for line in entry["lines"]]


def sound(client: Client) -> bool:
    """Whether every hash, every straw's way and the stock agree, read from the file now."""
    with client.app.state.wiring.database.reading() as db:  # type: ignore[attr-defined]
        return check(db).sound


def ago(**time: float) -> str:
    return (datetime.now(UTC) - timedelta(**time)).isoformat()


@pytest.fixture
def sure(technician: Client, bank: Bank) -> Bank:
    """Ten straws of a batch that went into goblet 1 as a whole: the book is sure of each.

    The twenty and twenty of `bank` were loaded into two goblets in any order: it is sure of none.
    """
    body = building.freeze(bank.stallion["id"], [(bank.goblets[1]["id"], 10)])
    made = technician.ok("POST", "/api/freezes", body)
    codes = {bank.goblets[1]["id"]: [one["code"] for one in made["straws"]]}
    return Bank(bank.stallion, bank.goblets, made["batch"]["id"], made["batch"]["code"], codes)


# --- by count ------------------------------------------------------------------------------------


def test_a_count_that_leaves_twins_behind_leaves_open_which_went(
    technician: Client, bank: Bank
) -> None:
    done = move(technician, bank, 1, picks=[bank.pick(0, 5)])
    codes = chosen_by(technician, done["id"])
    assert [straw(technician, code)["provisional"] for code in codes] == [True] * 5


def test_a_move_of_all_certain_twins_stays_certain(technician: Client, sure: Bank) -> None:
    move(technician, sure, 3, picks=[sure.pick(1, 10)])
    found = [straw(technician, code) for code in sure.codes_in(1)]
    assert {(one["address"], one["provisional"]) for one in found} == {("NORTH-2-U1", False)}


def test_straws_loaded_into_two_goblets_by_count_are_in_doubt(
    technician: Client, bank: Bank
) -> None:
    found = [straw(technician, code) for code in bank.codes_in(0) + bank.codes_in(2)]
    assert {one["provisional"] for one in found} == {True}


def test_the_last_twins_stay_in_doubt_while_one_that_left_by_count_may_be_among_them(
    technician: Client, sure: Bank
) -> None:
    technician.ok("POST", "/api/discards", {"picks": [sure.pick(1, 3)], "reason": "leaked"})
    done = move(technician, sure, 3, picks=[sure.pick(1, 7)])
    codes = chosen_by(technician, done["id"])
    assert [straw(technician, code)["provisional"] for code in codes] == [True] * 7


def test_two_picks_of_the_same_straws_are_one(technician: Client, bank: Bank) -> None:
    picks = [bank.pick(0, 15), bank.pick(0, 6)]
    body = {"picks": picks, "goblet_id": bank.goblets[1]["id"]}
    problem = technician.refused("POST", "/api/moves", body, 409, "not-enough-straws")
    assert problem["available_straws"] == 20


def test_a_late_count_takes_a_twin_that_was_there_at_that_time(
    technician: Client, manager: Client, bank: Bank
) -> None:
    """Straws that came into the goblet only afterwards cannot be the ones that left."""
    earlier = building.freeze(
        bank.stallion["id"], [(bank.goblets[1]["id"], 3)], occurred_at=ago(hours=3)
    )
    made = technician.ok("POST", "/api/freezes", earlier)
    batch = made["batch"]["id"]
    low = min(one["code"] for one in made["straws"])
    to = {"goblet_id": bank.goblets[3]["id"]}
    technician.ok("POST", "/api/moves", {**to, "straw_codes": [low], "occurred_at": ago(hours=2)})
    home = {"goblet_id": bank.goblets[1]["id"], "straw_codes": [low]}
    technician.ok("POST", "/api/moves", {**home, "occurred_at": ago(minutes=30)})
    pick = {"goblet_id": bank.goblets[1]["id"], "batch_id": batch, "straws": 2}
    late = {"picks": [pick], "reason": "split", "occurred_at": ago(hours=1)}
    done = technician.ok("POST", "/api/discards", late)
    assert low not in chosen_by(technician, done["id"])
    all_three = {"picks": [{**pick, "straws": 1}], "reason": "split", "occurred_at": ago(hours=1)}
    technician.refused("POST", "/api/discards", all_three, 422, "before-what-it-follows")


# --- by scan -------------------------------------------------------------------------------------


def test_a_scanned_straw_that_a_count_booked_out_changes_places_with_a_twin(
    technician: Client, bank: Bank
) -> None:
    done = move(technician, bank, 1, picks=[bank.pick(0, 5)])
    away = chosen_by(technician, done["id"])[0]
    seen = {"picks": [bank.pick(0, 1, seen_straw_codes=[away])]}
    moved = move(technician, bank, 3, **seen)
    (exchange,) = moved["exchanged"]
    assert exchange["in"] == away
    assert exchange["out"] in bank.codes_in(0)
    assert straw(technician, away)["address"] == "NORTH-2-U1"
    assert not straw(technician, away)["provisional"]
    twin = straw(technician, exchange["out"])
    assert (twin["address"], twin["provisional"]) == ("NORTH-1-U1", True)
    assert stock(technician) == {
        "NORTH-1-L1": 14,
        "NORTH-1-U1": 5,
        "NORTH-2-L1": 20,
        "NORTH-2-U1": 1,
    }


def test_an_exchange_is_an_entry_of_its_own_before_the_act(technician: Client, bank: Bank) -> None:
    body = {"picks": [bank.pick(0, 5)], "reason": "leaked"}
    gone = chosen_by(technician, technician.ok("POST", "/api/discards", body)["id"])[0]
    move(technician, bank, 1, straw_codes=[gone])
    kinds = [entry["kind"] for entry in book(technician)]
    assert kinds == ["prepare", "freeze", "discard", "exchange", "move"]
    steps = [(step["kind"], step["to"]) for step in straw(technician, gone)["history"]]
    assert steps[-3:] == [
        ("discard", "discarded"),
        ("exchange", "NORTH-1-L1"),
        ("move", "NORTH-1-U1"),
    ]


def test_codes_seen_in_a_pick_are_certain_and_the_rest_is_open(vet: Client, bank: Bank) -> None:
    seen = bank.codes_in(0)[:2]
    body = bank.withdrawal(picks=[bank.pick(0, 4, seen_straw_codes=seen)])
    taken = vet.ok("POST", "/api/withdrawals", body)
    provisional = {one["code"]: one["provisional"] for one in taken["straws"]}
    assert len(provisional) == 4
    assert [code for code, open_which in provisional.items() if not open_which] == sorted(seen)


def test_when_all_but_one_were_scanned_the_last_is_certain_too(
    technician: Client, sure: Bank
) -> None:
    picks = [sure.pick(1, 10, seen_straw_codes=sure.codes_in(1)[:9])]
    move(technician, sure, 3, picks=picks)
    assert not any(straw(technician, code)["provisional"] for code in sure.codes_in(1))


def test_a_straw_that_the_book_is_sure_of_is_not_taken_elsewhere(
    technician: Client, sure: Bank
) -> None:
    away = sure.codes_in(1)[0]
    move(technician, sure, 3, straw_codes=sure.codes_in(1)[1:3])
    body = {"picks": [sure.pick(3, 1, seen_straw_codes=[away])], "reason": "leaked"}
    problem = technician.refused("POST", "/api/discards", body, 409, "straw-elsewhere")
    assert problem["goblet_id"] == sure.goblets[1]["id"]


def test_a_straw_seen_where_the_book_has_no_twin_is_told_so(technician: Client, bank: Bank) -> None:
    stored = bank.codes_in(0)[0]
    body = {"picks": [bank.pick(1, 1, seen_straw_codes=[stored])], "reason": "leaked"}
    problem = technician.refused("POST", "/api/discards", body, 409, "straw-elsewhere")
    assert problem["straw_code"] == stored


def test_a_straw_of_another_batch_is_refused_in_a_pick(
    technician: Client, manager: Client, bank: Bank
) -> None:
    other = manager.ok("POST", "/api/stallions", building.stallion("Quietwater"))
    frozen = building.freeze(other["id"], [(bank.goblets[0]["id"], 3)])
    code = technician.ok("POST", "/api/freezes", frozen)["straws"][0]["code"]
    body = {"picks": [bank.pick(0, 1, seen_straw_codes=[code])], "reason": "leaked"}
    technician.refused("POST", "/api/discards", body, 409, "straw-elsewhere")


def test_no_more_codes_are_scanned_than_straws_are_taken(technician: Client, bank: Bank) -> None:
    seen = bank.codes_in(0)[:2]
    body = {"picks": [bank.pick(0, 1, seen_straw_codes=seen)], "reason": "leaked"}
    technician.refused("POST", "/api/discards", body, 422, "name-the-straws")


def test_a_count_does_not_choose_what_a_scan_of_the_same_act_names_elsewhere(
    technician: Client, bank: Bank
) -> None:
    """Three of goblet 0 by count: the book would choose the very straw seen in goblet 2."""
    low = min(bank.codes_in(0))
    picks = [bank.pick(0, 3), bank.pick(2, 1, seen_straw_codes=[low])]
    done = move(technician, bank, 1, picks=picks)
    assert (done["straws"], len(done["exchanged"])) == (4, 1)
    assert not straw(technician, low)["provisional"]
    assert stock(technician) == {"NORTH-1-L1": 17, "NORTH-1-U1": 4, "NORTH-2-L1": 19}
    assert sound(technician)


def test_two_straws_seen_in_each_others_goblets_change_places(
    technician: Client, bank: Bank
) -> None:
    """All of both goblets scanned: no twin is left over but the other one that is misplaced."""
    first, second = bank.codes_in(0), bank.codes_in(2)
    here, there = [*first[1:], second[0]], [*second[1:], first[0]]
    picks = [bank.pick(0, 20, seen_straw_codes=here), bank.pick(2, 20, seen_straw_codes=there)]
    done = move(technician, bank, 1, picks=picks)
    assert done["exchanged"] == [{"in": second[0], "out": first[0]}]
    assert not any(straw(technician, code)["provisional"] for code in here + there)
    assert stock(technician) == {"NORTH-1-U1": 40}


def test_identifying_exchanges_what_the_hand_really_took(vet: Client, bank: Bank) -> None:
    taken = vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    booked = [one["code"] for one in taken["straws"]]
    really = sorted(set(bank.codes_in(0)) - set(booked))[:1]
    path = f"/api/withdrawals/{taken['id']}/identify"
    found = vet.ok("POST", path, {"straw_codes": really})
    (exchange,) = found["exchanged"]
    assert (exchange["out"], exchange["in"] in booked) == (really[0], True)
    assert straw(vet, really[0])["state"] == "lifted"
    assert straw(vet, exchange["in"])["address"] == "NORTH-1-L1"


# --- taking back ---------------------------------------------------------------------------------


def take_back(client: Client, entry_id: str) -> Any:
    return client.ok("POST", f"/api/ledger/{entry_id}/correct", {"reason": "mistake"}, status=201)


def test_a_discard_is_taken_back_though_twins_changed_places_since(
    technician: Client, bank: Bank
) -> None:
    """Five twins are still where the discard put five: which of them, a scan has shown since."""
    body = {"picks": [bank.pick(0, 5)], "reason": "leaked"}
    done = technician.ok("POST", "/api/discards", body)
    move(technician, bank, 1, straw_codes=chosen_by(technician, done["id"])[:2])
    take_back(technician, done["id"])
    assert stock(technician) == {"NORTH-1-L1": 18, "NORTH-1-U1": 2, "NORTH-2-L1": 20}
    assert sound(technician)


def test_a_withdrawal_is_taken_back_though_its_codes_were_read_since(
    vet: Client, bank: Bank
) -> None:
    taken = vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    really = sorted(bank.codes_in(0))[2:6]
    vet.ok("POST", f"/api/withdrawals/{taken['id']}/identify", {"straw_codes": really})
    take_back(vet, taken["id"])
    assert stock(vet) == {"NORTH-1-L1": 20, "NORTH-2-L1": 20}
    assert [straw(vet, code)["provisional"] for code in really] == [False] * 4


def test_a_return_is_taken_back(vet: Client, bank: Bank) -> None:
    taken = vet.ok("POST", "/api/withdrawals", bank.withdrawal(straw_codes=bank.codes_in(0)[:4]))
    back = {"straws": 4, "goblet_id": bank.goblets[1]["id"], "kept_in_nitrogen": True}
    vet.ok("POST", f"/api/withdrawals/{taken['id']}/return", back)
    take_back(vet, book(vet)[-1]["id"])
    found = vet.ok("GET", f"/api/withdrawals/{taken['id']}")
    assert {one["state"] for one in found["straws"]} == {"lifted"}
    assert stock(vet) == {"NORTH-1-L1": 16, "NORTH-2-L1": 20}


def test_marks_that_were_made_by_mistake_become_void(technician: Client, bank: Bank) -> None:
    body = {"stallion_id": bank.stallion["id"], "straws_planned": 3}
    made = technician.ok("POST", "/api/batches", body)
    take_back(technician, made["id"])
    assert {straw(technician, one["code"])["state"] for one in made["straws"]} == {"void"}


def test_what_has_no_room_any_more_is_not_taken_back(
    technician: Client, manager: Client, bank: Bank
) -> None:
    small = manager.ok("POST", "/api/tanks", building.tank("South", straws=5))
    first, second = building.goblets_of(small)[:2]
    technician.ok("POST", "/api/moves", {"picks": [bank.pick(0, 5)], "goblet_id": first["id"]})
    pick = {"goblet_id": first["id"], "batch_id": bank.batch_id, "straws": 5}
    moved = technician.ok("POST", "/api/moves", {"picks": [pick], "goblet_id": second["id"]})
    technician.ok("POST", "/api/moves", {"picks": [bank.pick(0, 5)], "goblet_id": first["id"]})
    path = f"/api/ledger/{moved['id']}/correct"
    problem = technician.refused("POST", path, {"reason": "mistake"}, 409, "goblet-full")
    assert problem["free_straws"] == 0


@pytest.mark.parametrize("kind", ["exchange", "identify", "use"])
def test_entries_of_other_kinds_are_not_taken_back_here(vet: Client, bank: Bank, kind: str) -> None:
    taken = vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    path = f"/api/withdrawals/{taken['id']}"
    vet.ok("POST", f"{path}/identify", {"straw_codes": sorted(bank.codes_in(0))[4:8]})
    used = {"inseminated_at": datetime.now(UTC).isoformat(), "straws_used": 4}
    vet.ok("POST", f"{path}/insemination", used)
    entry = next(entry for entry in book(vet) if entry["kind"] == kind)
    correction = f"/api/ledger/{entry['id']}/correct"
    problem = vet.refused("POST", correction, {"reason": "mistake"}, 409, "not-correctable")
    assert problem["kind"] == kind


# --- double entry --------------------------------------------------------------------------------


def test_what_was_made_is_here_or_gone_at_every_entry(vet: Client, bank: Bank) -> None:
    """Replayed line by line: each takes a straw from where the one before it put it."""
    move(vet, bank, 1, picks=[bank.pick(0, 5)])
    taken = vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(2, 4)]))
    vet.ok("POST", f"/api/withdrawals/{taken['id']}/discard", {"reason": "the mare went home"})
    vet.ok("POST", "/api/discards", {"picks": [bank.pick(0, 1)], "reason": "leaked"})
    places: dict[str, str] = {}
    for entry in book(vet):
        for line in entry["lines"]:
            assert places.get(line["straw_code"], "made") == line["from"]
            places[line["straw_code"]] = line["to"]
        assert len(places) == 40
    totals = Counter(places.values())
    assert totals == {"discarded": 5, "NORTH-1-L1": 14, "NORTH-1-U1": 5, "NORTH-2-L1": 16}
    assert stock(vet) == {place: n for place, n in totals.items() if place != "discarded"}


# --- added to, never changed ---------------------------------------------------------------------


@pytest.mark.sqlite_only
@pytest.mark.parametrize("recursive", ["ON", "OFF"])
@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE entries SET reason = 'other' WHERE seq = 1",
        "DELETE FROM entries WHERE seq = 2",
        "INSERT OR REPLACE INTO entries SELECT * FROM entries WHERE seq = 1",
        "REPLACE INTO entries SELECT 3, id, kind, by_id, by_name, occurred_at, recorded_at, reason,"
        " withdrawal_id, batch_id, facts, hash FROM entries WHERE seq = 1",
        "UPDATE lines SET to_state = 'void', to_goblet_id = NULL WHERE entry_seq = 2",
        "DELETE FROM lines",
        "INSERT OR REPLACE INTO lines SELECT * FROM lines WHERE entry_seq = 2 AND number = 1",
        "REPLACE INTO lines SELECT entry_seq, number + 1000, straw_code, from_state,"
        " from_goblet_id, to_state, to_goblet_id, withdrawal_id, 1 FROM lines WHERE entry_seq = 2",
    ],
)
def test_the_database_itself_refuses_to_change_the_book(
    data: Path, bank: Bank, sql: str, recursive: str
) -> None:
    """Through a connection that is not the service's, with keys and recursion unguarded."""
    with closing(sqlite3.connect(data / "rimebook.db", isolation_level=None)) as file:
        file.execute(f"PRAGMA recursive_triggers = {recursive}")
        before = file.execute("SELECT * FROM entries, lines").fetchall()
        with pytest.raises(sqlite3.IntegrityError, match="append-only"):
            file.execute(sql)
        assert file.execute("SELECT * FROM entries, lines").fetchall() == before


def test_refused_acts_leave_the_head_where_it_was(technician: Client, bank: Bank) -> None:
    head = technician.ok("GET", "/api/ledger/check")["head"]
    technician.ok("POST", "/api/discards", {"picks": [bank.pick(0, 1)], "reason": "leaked"})
    later = technician.ok("GET", "/api/ledger/check")["head"]
    assert later != head
    gone = {"straw_codes": ["S12345678"], "reason": "leaked"}
    technician.refused("POST", "/api/discards", gone, 422, "misread-code")
    many = {"picks": [bank.pick(0, 20)], "reason": "leaked"}
    technician.refused("POST", "/api/discards", many, 409, "not-enough-straws")
    assert technician.ok("GET", "/api/ledger/check")["head"] == later
