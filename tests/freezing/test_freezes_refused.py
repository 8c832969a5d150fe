"""Freezes that are refused or sent twice: the book stays as it was, the id stays free."""

import json
from typing import Any
from uuid import uuid4

import pytest

from tests import building
from tests.conftest import Client
from tests.freezing.conftest import Bench, head

FREEZES = "/api/freezes"


def nothing_there(client: Client) -> bool:
    lists = ("/api/batches", "/api/stock", "/api/ledger")
    return all(client.ok("GET", path)["items"] == [] for path in lists)


def test_a_retry_is_answered_again_and_books_nothing(bench: Bench) -> None:
    body = bench.body(24, 24)
    first = bench.technician.post(FREEZES, json=body)
    before = head(bench.technician)
    again = bench.technician.post(FREEZES, json=body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.headers["Replayed"] == "true"
    assert "Replayed" not in first.headers
    assert again.json() == first.json()
    assert head(bench.technician) == before


def test_the_same_id_for_something_else_is_refused(bench: Bench) -> None:
    made = bench.freeze(10)
    other = {**bench.body(11), "id": made["id"]}
    before = head(bench.technician)
    bench.technician.refused("POST", FREEZES, other, 409, "id-reused")
    assert head(bench.technician) == before


def test_a_full_goblet_is_refused_and_leaves_nothing_behind(bench: Bench) -> None:
    body = bench.body(20, 31)
    before = head(bench.technician)
    problem = bench.technician.refused("POST", FREEZES, body, 409, "goblet-full")
    assert (problem["goblet_id"], problem["free_straws"]) == (bench.goblets[1], 30)
    assert problem["address"] in problem["detail"]
    assert head(bench.technician) == before
    assert nothing_there(bench.technician)
    fits = {**bench.body(20, 30), "id": body["id"]}
    assert bench.technician.ok("POST", FREEZES, fits, status=201)["id"] == body["id"]


def test_room_counts_what_stands_there(bench: Bench) -> None:
    bench.freeze(25)
    problem = bench.technician.refused("POST", FREEZES, bench.body(6), 409, "goblet-full")
    assert problem["free_straws"] == 5


@pytest.mark.parametrize(
    ("change", "status", "code"),
    [
        ({"straws": 21}, 422, "placements-do-not-add-up"),
        ({"straws": 0, "placements": []}, 422, "placements-do-not-add-up"),
        ({"stallion_id": str(uuid4())}, 404, "unknown-stallion"),
        ({"placements": [{"goblet_id": str(uuid4()), "straws": 20}]}, 404, "unknown-goblet"),
        ({"collected_at": "2999-01-01T00:00:00Z"}, 422, "implausible"),
        ({"occurred_at": "2026-03-03T07:00:00Z"}, 422, "implausible"),
        ({"occurred_at": "2999-01-01T00:00:00Z"}, 422, "in-the-future"),
        ({"straw": {"volume_ml": 0.5, "concentration_million_per_ml": 2001}}, 422, "implausible"),
        ({"straw": {"volume_ml": 0, "concentration_million_per_ml": 200}}, 422, "invalid"),
        ({"straws": 20.5}, 422, "invalid"),
        ({"straws": "20"}, 422, "invalid"),
        ({"straws": True}, 422, "invalid"),
        ({"straws": -1}, 422, "invalid"),
        ({"straws": 10**30}, 422, "invalid"),
        ({"straws_spoiled": 1.0}, 422, "invalid"),
        ({"post_thaw": {"progressive_motility_percent": 100.1}}, 422, "invalid"),
        ({"thaw": {"steps": []}}, 422, "invalid"),
        ({"thaw": {"steps": [{"water_c": 101, "seconds": 5}]}}, 422, "invalid"),
        ({"hold_until": "2026-02-30"}, 422, "invalid"),
        ({"collected_at": "2026-03-03"}, 422, "invalid"),
        ({"collected_at": "2026-03-03T08:15:00"}, 422, "invalid"),
        ({"id": "not-an-id"}, 422, "invalid"),
        ({"note": "nul \x00"}, 422, "invalid"),
        ({"straws_wasted": 1}, 422, "invalid"),
        ({"collection": {"volume_ml": 60}}, 422, "invalid"),
    ],
)
def test_bad_input_is_refused_and_changes_nothing(
    bench: Bench, change: dict[str, Any], status: int, code: str
) -> None:
    body = {**bench.body(20), **change}
    before = head(bench.technician)
    problem = bench.technician.refused("POST", FREEZES, body, status, code)
    assert problem["detail"]
    if code in ("invalid", "implausible"):
        assert problem["errors"][0]["field"]
        assert problem["errors"][0]["message"]
    assert head(bench.technician) == before
    assert nothing_there(bench.technician)


@pytest.mark.parametrize("word", ["NaN", "Infinity", "-Infinity", "1e999"])
def test_what_is_no_number_is_refused(bench: Bench, word: str) -> None:
    sent = json.dumps({**bench.body(20), "recovery_percent": "HERE"}).replace('"HERE"', word)
    answer = bench.technician.post(
        FREEZES, content=sent, headers={"Content-Type": "application/json"}
    )
    assert (answer.status_code, answer.json()["code"]) == (422, "invalid")
    assert nothing_there(bench.technician)


def test_impossible_figures_are_all_named_at_once(bench: Bench) -> None:
    collection = {
        "volume_ml": 301,
        "concentration_million_per_ml": 2001,
        "progressive_motility_percent": 101,
    }
    body = bench.body(20, collection=collection)
    problem = bench.technician.refused("POST", FREEZES, body, 422, "implausible")
    assert {error["field"] for error in problem["errors"]} == {
        f"collection.{name}" for name in collection
    }


def test_a_stallion_not_yet_a_year_old_gave_nothing(bench: Bench) -> None:
    foal = bench.other_stallion(foaled_on="2025-03-04")
    body = bench.body(20, stallion_id=foal)
    problem = bench.technician.refused("POST", FREEZES, body, 422, "implausible")
    assert problem["errors"][0]["field"] == "collected_at"


def test_a_body_too_large_is_not_read(bench: Bench) -> None:
    bench.technician.refused("POST", FREEZES, bench.body(20, note="x" * 10**7), 413, "too-large")


@pytest.mark.parametrize("note", ["🐎 fast as ever", "שלום", "الحصان الأبيض", "line\nbreak"])
def test_any_script_is_welcome(bench: Bench, note: str) -> None:
    made = bench.freeze(5, note=note, extender=note.replace("\n", " "))
    batch = bench.batch(made["batch"]["id"])
    assert (batch["note"], batch["extender"]) == (note, note.replace("\n", " "))
    head(bench.technician)


def test_a_post_thaw_motility_above_the_fresh_one_is_kept_and_questioned(bench: Bench) -> None:
    made = bench.freeze(5, post_thaw={"progressive_motility_percent": 71})
    assert [(w["code"], w["field"]) for w in made["warnings"] if "thaw" in w["code"]] == [
        ("post-thaw-above-fresh", "post_thaw.progressive_motility_percent")
    ]


def test_an_auditor_logs_nothing(bench: Bench, auditor: Client) -> None:
    auditor.refused("POST", FREEZES, bench.body(20), 403, "forbidden")
    assert nothing_there(bench.technician)


# Taken back


def test_a_freeze_that_was_taken_back_is_logged_again(bench: Bench) -> None:
    wrong = bench.freeze(20, straws_tested=1)
    batch_id = wrong["batch"]["id"]
    bench.take_back(wrong["id"])
    assert bench.states(batch_id) == {"prepared": 21}
    assert bench.batch(batch_id)["state"] == "prepared"
    assert bench.technician.ok("GET", "/api/stock")["straws"] == 0
    placements = [(bench.goblets[3], 20)]
    body = building.freeze(bench.stallion["id"], placements, batch_id=batch_id, straws_tested=1)
    again = bench.technician.ok("POST", FREEZES, body, status=201)
    assert again["batch"] == wrong["batch"]
    assert {straw["goblet_id"] for straw in again["straws"]} == {bench.goblets[3]}
    assert bench.states(batch_id) == {"stored": 20, "tested": 1}
    assert bench.batch(batch_id)["freeze_id"] == body["id"]
    head(bench.technician)


def test_the_result_of_a_freeze_taken_back_goes_with_it(bench: Bench) -> None:
    wrong = bench.freeze(20, post_thaw={"progressive_motility_percent": 66})
    bench.take_back(wrong["id"])
    bench.freeze(20, batch_id=wrong["batch"]["id"], post_thaw=None)
    assert bench.batch(wrong["batch"]["id"])["post_thaw"] is None


def test_a_result_of_its_own_stays_when_the_freeze_is_logged_again(bench: Bench) -> None:
    made = bench.freeze(20, post_thaw=None)
    batch_id = made["batch"]["id"]
    result = {"progressive_motility_percent": 44}
    bench.technician.ok("POST", f"/api/batches/{batch_id}/post-thaw", result, status=201)
    bench.take_back(made["id"])
    bench.freeze(0, 20, batch_id=batch_id, post_thaw=None)
    assert bench.batch(batch_id)["post_thaw"]["progressive_motility_percent"] == 44


def test_a_freeze_logged_again_does_not_end_the_hold_of_the_first(bench: Bench) -> None:
    """Whoever may log a freeze may not therefore release what is held."""
    made = bench.freeze(20, hold_until="2999-01-01")
    bench.take_back(made["id"])
    bench.freeze(20, batch_id=made["batch"]["id"])
    assert bench.batch(made["batch"]["id"])["on_hold"]
