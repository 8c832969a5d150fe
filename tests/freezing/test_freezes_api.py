"""Logging a freeze over HTTP: what is booked, what is refused, and what a refusal leaves behind."""

import json
from collections import Counter
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest

from tests import building
from tests.conftest import Client
from tests.freezing.conftest import Bench, codes_of, head, in_days

FREEZES = "/api/freezes"


def whole_body(bench: Bench) -> Any:
    """A freeze with every field there is."""
    return {
        **bench.body(24, 24),
        "occurred_at": datetime.now(UTC).isoformat(),
        "collected_where": "Fernhollow Stud",
        "approval_number": "IE-EQ-042",
        "extender": "skim milk and egg yolk",
        "straw_colour": "green",
        "hold_until": in_days(30),
        "straws_spoiled": 1,
        "straws_tested": 1,
        "note": "second jump",
    }


def test_a_freeze_with_every_field_goes_into_two_goblets(bench: Bench) -> None:
    body = whole_body(bench)
    made = bench.technician.ok("POST", FREEZES, body, status=201)
    assert made["id"] == body["id"]
    assert made["progressive_million_per_straw"] == 40
    assert (made["straws_per_dose"], made["doses"]) == (8, 6)
    assert Counter(straw["goblet_id"] for straw in made["straws"]) == {
        bench.goblets[0]: 24,
        bench.goblets[1]: 24,
    }
    assert len({straw["code"] for straw in made["straws"]}) == 48
    assert made["warnings"] == []

    batch = bench.batch(made["batch"]["id"])
    assert (batch["state"], batch["code"]) == ("frozen", made["batch"]["code"])
    assert batch["freeze_id"] == made["id"]
    assert (batch["collected_where"], batch["approval_number"]) == ("Fernhollow Stud", "IE-EQ-042")
    assert (batch["extender"], batch["note"]) == ("skim milk and egg yolk", "second jump")
    assert (batch["straw_colour"], batch["recovery_percent"]) == ("green", 85)
    assert batch["collection"] == {
        "volume_ml": 60,
        "concentration_million_per_ml": 200,
        "progressive_motility_percent": 70,
    }
    assert batch["post_thaw"] == {"progressive_motility_percent": 40, "minutes": 10}
    assert batch["thaw"] == {"steps": [{"water_c": 37, "seconds": 30}]}
    assert (batch["straws_stored"], batch["doses"]) == (48, 6)
    assert bench.states(batch["id"]) == {"stored": 48, "discarded": 1, "tested": 1}
    assert (batch["on_hold"], batch["hold_until"]) == (True, in_days(30))
    assert "as set at the freeze" in batch["hold_reason"]


def test_straws_are_found_where_they_were_put(bench: Bench) -> None:
    made = bench.freeze(10)
    straw = bench.technician.ok("GET", f"/api/straws/{made['straws'][0]['code']}")
    address = straw["address"]
    assert (straw["state"], straw["goblet_id"]) == ("stored", bench.goblets[0])
    assert [(step["kind"], step["from"], step["to"]) for step in straw["history"]] == [
        ("prepare", "made", "prepared"),
        ("freeze", "prepared", address),
    ]
    assert straw["history"][1]["entry_id"] == made["id"]
    stock = bench.technician.ok("GET", "/api/stock")
    assert (stock["straws"], stock["doses"]) == (10, 1)
    head(bench.technician)


def test_doses_under_a_sperm_rule_are_exact(bench: Bench) -> None:
    """350 million from 0.4 mL at 625 million/mL and 35 %: floats would make 5 straws of the 4."""
    rule = {"kind": "sperm", "progressive_million": 350, "minimum_post_thaw_percent": 35}
    made = bench.freeze(
        8,
        stallion_id=bench.other_stallion(dose_rule=rule),
        straw={"volume_ml": "0.4", "concentration_million_per_ml": "625"},
        post_thaw={"progressive_motility_percent": "35"},
    )
    assert made["progressive_million_per_straw"] == 87.5
    assert (made["straws_per_dose"], made["doses"]) == (4, 2)


@pytest.mark.parametrize(
    ("post_thaw", "code"),
    [(None, "no-post-thaw"), ({"progressive_motility_percent": 34.9}, "below-dose-rule")],
)
def test_a_batch_that_makes_no_dose_says_so_and_is_not_planned(
    bench: Bench, post_thaw: Any, code: str
) -> None:
    rule = {"kind": "sperm", "progressive_million": 250, "minimum_post_thaw_percent": 35}
    stallion_id = bench.other_stallion(dose_rule=rule)
    made = bench.freeze(20, stallion_id=stallion_id, post_thaw=post_thaw)
    assert (made["straws_per_dose"], made["doses"]) == (None, None)
    assert code in codes_of(made)
    plan = {"stallion_id": stallion_id}
    bench.technician.refused("POST", "/api/withdrawals/plan", plan, 409, "not-enough-straws")


def test_an_amount_keeps_every_digit(bench: Bench) -> None:
    digits = "0.123456789012345678901234567"
    bench.freeze(1, straw={"volume_ml": digits, "concentration_million_per_ml": 200})
    database = bench.technician.app.state.wiring.database  # type: ignore[attr-defined]
    with database.reading() as db:
        kept = db.connection().exec_driver_sql("SELECT straw_volume_ml FROM batches").scalar()
        facts = (
            db.connection()
            .exec_driver_sql("SELECT facts FROM entries WHERE kind = 'freeze'")
            .scalar()
        )
    assert kept == digits
    assert json.loads(facts)["straw_volume_ml"] == digits


# Which straw is where


def provisional(bench: Bench, batch_id: str) -> set[bool]:
    return {straw["provisional"] for straw in bench.batch(batch_id)["straws"]}


def test_one_goblet_for_all_straws_leaves_no_doubt(bench: Bench) -> None:
    assert provisional(bench, bench.freeze(20)["batch"]["id"]) == {False}


@pytest.mark.parametrize("more", [{}, {"straws_spoiled": 1}, {"straws_tested": 1}])
def test_several_ends_leave_open_which_straw_went_where(bench: Bench, more: Any) -> None:
    straws = (10,) if more else (10, 10)
    assert provisional(bench, bench.freeze(*straws, **more)["batch"]["id"]) == {True}


def test_codes_fill_the_goblets_in_their_order(bench: Bench) -> None:
    batch = bench.prepare(20)
    made = bench.freeze(12, 8, batch_id=batch["id"])
    codes = sorted(straw["code"] for straw in batch["straws"])
    assert [straw["code"] for straw in made["straws"]] == codes
    assert [straw["goblet_id"] for straw in made["straws"]] == (
        [bench.goblets[0]] * 12 + [bench.goblets[1]] * 8
    )


def placed_by_code(bench: Bench, batch: Any, *counts: int) -> Any:
    """Placements that name their straws, the last codes first."""
    codes = sorted((straw["code"] for straw in batch["straws"]), reverse=True)
    placements = []
    for goblet_id, count in zip(bench.goblets, counts, strict=False):
        named, codes = codes[:count], codes[count:]
        placements.append({"goblet_id": goblet_id, "straws": count, "straw_codes": named})
    return placements


def test_named_straws_are_certain(bench: Bench) -> None:
    batch = bench.prepare(5)
    placements = placed_by_code(bench, batch, 3, 2)
    made = bench.freeze(3, 2, batch_id=batch["id"], placements=placements)
    where = {straw["code"]: straw["goblet_id"] for straw in made["straws"]}
    for placement in placements:
        assert {where[code] for code in placement["straw_codes"]} == {placement["goblet_id"]}
    assert provisional(bench, batch["id"]) == {False}


def test_a_goblet_may_be_named_twice(bench: Bench) -> None:
    batch = bench.prepare(7)
    first, second = placed_by_code(bench, batch, 2, 2)
    second["goblet_id"] = first["goblet_id"]
    rest = {"goblet_id": first["goblet_id"], "straws": 3}
    made = bench.freeze(7, batch_id=batch["id"], placements=[first, rest, second])
    assert {straw["goblet_id"] for straw in made["straws"]} == {first["goblet_id"]}
    assert len({straw["code"] for straw in made["straws"]}) == 7
    head(bench.technician)


def test_a_straw_booked_as_left_over_may_turn_out_to_be_the_stored_one(
    bench: Bench, vet: Client
) -> None:
    """Ten marked, eight stored by count: nobody knows which two marks were not used."""
    batch = bench.prepare(10)
    bench.freeze(8, batch_id=batch["id"])
    straws = bench.batch(batch["id"])["straws"]
    void = [straw["code"] for straw in straws if straw["state"] == "void"]
    stored = [straw["code"] for straw in straws if straw["state"] == "stored"]
    assert len(void) == 2
    codes = [*void, *stored[:6]]
    taken = vet.ok(
        "POST", "/api/withdrawals", building.withdrawal(bench.stallion["id"], straw_codes=codes)
    )
    assert {straw["code"] for straw in taken["straws"]} == set(codes)
    assert {one["in"] for one in taken["exchanged"]} == set(void)
    assert bench.states(batch["id"]) == {"lifted": 8, "void": 2}
    head(vet)


# A prepared batch


def test_a_prepared_batch_is_frozen_and_its_unused_codes_are_void(bench: Bench) -> None:
    batch = bench.prepare(54)
    made = bench.freeze(24, 24, batch_id=batch["id"], straws_spoiled=1, straws_tested=2)
    assert made["batch"] == {"id": batch["id"], "code": batch["code"]}
    marked = {straw["code"] for straw in batch["straws"]}
    assert {straw["code"] for straw in made["straws"]} <= marked
    assert bench.states(batch["id"]) == {"stored": 48, "discarded": 1, "tested": 2, "void": 3}


def test_a_batch_is_frozen_once(bench: Bench) -> None:
    batch = bench.prepare(10)
    made = bench.freeze(10, batch_id=batch["id"])
    before = head(bench.technician)
    body = bench.body(10, batch_id=batch["id"])
    problem = bench.technician.refused("POST", FREEZES, body, 409, "already-frozen")
    assert (problem["batch_code"], problem["freeze_id"]) == (batch["code"], made["id"])
    assert head(bench.technician) == before


def test_another_stallion_s_batch_is_refused(bench: Bench) -> None:
    batch = bench.prepare(10)
    body = bench.body(10, batch_id=batch["id"], stallion_id=bench.other_stallion())
    problem = bench.technician.refused("POST", FREEZES, body, 422, "wrong-stallion")
    assert problem["stallion_id"] == bench.stallion["id"]
    assert bench.states(batch["id"]) == {"prepared": 10}


def test_more_straws_than_were_marked_are_refused(bench: Bench) -> None:
    batch = bench.prepare(10)
    body = bench.body(10, batch_id=batch["id"], straws_tested=1)
    problem = bench.technician.refused("POST", FREEZES, body, 422, "placements-do-not-add-up")
    assert (problem["straws_made"], problem["straws_prepared"]) == (11, 10)


def test_a_batch_that_is_not_there_is_unknown(bench: Bench) -> None:
    body = bench.body(10, batch_id=str(uuid4()))
    bench.technician.refused("POST", FREEZES, body, 404, "unknown-batch")


def test_a_freeze_is_not_booked_before_its_straws_were_marked(bench: Bench) -> None:
    batch = bench.prepare(10)
    body = bench.body(10, batch_id=batch["id"])
    body["occurred_at"] = (datetime.now(UTC) - timedelta(hours=1)).isoformat()
    bench.technician.refused("POST", FREEZES, body, 422, "before-what-it-follows")


@pytest.mark.parametrize(
    ("named", "code"),
    [
        (lambda own, others: [own[0], own[0]], "same-code-twice"),
        (lambda own, others: [own[0], others[0]], "wrong-straws"),
        (lambda own, others: own[:3], "placements-do-not-add-up"),
        (lambda own, others: ["S12345678"], "misread-code"),
    ],
)
def test_names_of_straws_that_cannot_be_right_are_refused(
    bench: Bench, named: Any, code: str
) -> None:
    own, others = bench.prepare(2), bench.prepare(1)
    body = bench.body(2, batch_id=own["id"])
    codes = [[straw["code"] for straw in batch["straws"]] for batch in (own, others)]
    body["placements"][0]["straw_codes"] = named(codes[0] + codes[1][:1], codes[1])
    before = head(bench.technician)
    bench.technician.refused("POST", FREEZES, body, 422, code)
    assert head(bench.technician) == before


def test_what_the_marks_say_otherwise_is_remarked_on(bench: Bench) -> None:
    batch = bench.prepare(10, collected_on="2026-03-02", straw_volume_ml="0.25")
    warnings = bench.freeze(10, batch_id=batch["id"])["warnings"]
    otherwise = [w["field"] for w in warnings if w["code"] == "marked-otherwise"]
    assert otherwise == ["collected_at", "straw.volume_ml"]


# Where and when it was collected


def test_the_station_stands_for_what_is_not_said(bench: Bench) -> None:
    station = bench.manager.get("/api/station")
    bench.manager.headers["If-Match"] = station.headers["ETag"]
    change = {"name": "Quillhaven", "approval_number": "IE-EQ-001", "time_zone": "Pacific/Auckland"}
    bench.manager.ok("PATCH", "/api/station", change)
    made = bench.freeze(5, collected_at="2026-03-03T20:15:00Z")
    batch = bench.batch(made["batch"]["id"])
    assert (batch["collected_where"], batch["approval_number"]) == ("Quillhaven", "IE-EQ-001")
    assert batch["collected_on"] == "2026-03-04"
    assert batch["collected_at"] == "2026-03-03T20:15:00Z"


def test_the_station_s_number_is_not_put_on_what_was_collected_elsewhere(bench: Bench) -> None:
    made = bench.freeze(5, collected_where="Fernhollow Stud")
    assert "approval-number-missing" in codes_of(made)
    assert bench.batch(made["batch"]["id"])["approval_number"] is None


def test_the_stallion_s_colour_stands_for_one_that_is_not_said(bench: Bench) -> None:
    stallion_id = bench.other_stallion(straw_colour="yellow")
    made = bench.freeze(5, stallion_id=stallion_id)
    assert bench.batch(made["batch"]["id"])["straw_colour"] == "yellow"


# Beside what stands there


def test_straws_free_to_use_do_not_go_into_quarantine(bench: Bench) -> None:
    apart = bench.quarantine()
    body = building.freeze(bench.stallion["id"], [(apart, 5)])
    problem = bench.technician.refused("POST", FREEZES, body, 409, "quarantined-tank")
    assert problem["goblet_id"] == apart
    held = {**body, "hold_until": in_days(30)}
    made = bench.technician.ok("POST", FREEZES, held, status=201)
    assert bench.batch(made["batch"]["id"])["on_hold"]


def test_a_hold_that_is_over_is_remarked_on(bench: Bench) -> None:
    made = bench.freeze(5, hold_until=in_days(0))
    assert "hold-over" in codes_of(made)
    assert not bench.batch(made["batch"]["id"])["on_hold"]


def test_neighbours_that_may_mislead_are_remarked_on(bench: Bench) -> None:
    bench.freeze(5)
    thaw = {"steps": [{"water_c": 75, "seconds": 7}, {"water_c": 37, "seconds": 10}]}
    made = bench.freeze(8, stallion_id=bench.other_stallion(), thaw=thaw, hold_until=in_days(30))
    assert codes_of(made) == {"another-stallion", "another-thaw", "held-beside-free"}


def test_more_straws_than_the_sperm_fill_are_kept_and_questioned(bench: Bench) -> None:
    made = bench.freeze(
        5,
        collection={
            "volume_ml": 10,
            "concentration_million_per_ml": 40,
            "progressive_motility_percent": 70,
        },
    )
    assert "more-straws-than-possible" in codes_of(made)
    assert len(made["straws"]) == 5


def test_all_straws_may_be_spoiled(bench: Bench) -> None:
    made = bench.freeze(straws=0, straws_spoiled=3)
    assert (made["straws"], made["doses"]) == ([], 0)
    assert bench.states(made["batch"]["id"]) == {"discarded": 3}
