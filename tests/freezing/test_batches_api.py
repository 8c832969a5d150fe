"""Batches over HTTP: prepared, listed, examined after thawing, held and released."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest

from service.kernel import codes
from tests import building
from tests.conftest import Client
from tests.freezing.conftest import Bench, codes_of, head, in_days

BATCHES = "/api/batches"


def ago(**time: float) -> str:
    return (datetime.now(UTC) - timedelta(**time)).isoformat()


# Prepared


def test_a_batch_is_prepared_with_a_code_for_every_straw(bench: Bench) -> None:
    made = bench.prepare(50, collected_on=in_days(1), straw_volume_ml=0.5, straw_colour="green")
    assert made["state"] == "prepared"
    assert codes.read(made["code"]).kind is codes.Kind.BATCH
    straws = [straw["code"] for straw in made["straws"]]
    assert len(set(straws)) == 50
    assert {codes.read(code).kind for code in straws} == {codes.Kind.STRAW}
    assert made["warnings"] == []
    batch = bench.batch(made["id"])
    assert (batch["straws_planned"], batch["straws_prepared"], batch["straws_stored"]) == (
        50,
        50,
        0,
    )
    assert (batch["collected_on"], batch["straw_volume_ml"]) == (in_days(1), 0.5)
    assert (batch["straw_colour"], batch["doses"]) == ("green", None)
    assert batch["stallion_name"] == "Lanternfield"


def test_preparing_twice_with_one_id_prepares_once(bench: Bench) -> None:
    body = {"id": str(uuid4()), "stallion_id": bench.stallion["id"], "straws_planned": 5}
    first = bench.technician.post(BATCHES, json=body)
    again = bench.technician.post(BATCHES, json=body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json() == first.json()
    assert len(bench.technician.ok("GET", BATCHES)["items"]) == 1
    bench.technician.refused("POST", BATCHES, {**body, "straws_planned": 6}, 409, "id-reused")


def test_codes_that_were_issued_are_drawn_again(bench: Bench) -> None:
    """A draw that repeats itself: the second batch meets the first one's codes."""
    state = bench.technician.app.state  # type: ignore[attr-defined]
    issued = iter([*range(100, 104), *range(100, 104), *range(200, 204)])
    state.wiring = replace(state.wiring, draw=lambda _bits: next(issued))
    first, second = bench.prepare(3), bench.prepare(3)
    straws = [straw["code"] for batch in (first, second) for straw in batch["straws"]]
    assert len(set(straws)) == 6
    assert first["code"] != second["code"]


@pytest.mark.parametrize(
    ("change", "status", "code"),
    [
        ({"straws_planned": 0}, 422, "invalid"),
        ({"straws_planned": 2001}, 422, "invalid"),
        ({"straws_planned": 5.0}, 422, "invalid"),
        ({"straw_volume_ml": "NaN"}, 422, "invalid"),
        ({"straws": 5}, 422, "invalid"),
        ({"stallion_id": str(uuid4())}, 404, "unknown-stallion"),
        ({"collected_on": "2999-01-01"}, 422, "implausible"),
        ({"collected_on": "2000-01-01"}, 422, "implausible"),
    ],
)
def test_marks_that_cannot_be_right_are_refused(
    bench: Bench, change: Any, status: int, code: str
) -> None:
    young = bench.other_stallion(foaled_on="2012-05-04")
    body = {"stallion_id": young, "straws_planned": 5, **change}
    before = head(bench.technician)
    bench.technician.refused("POST", BATCHES, body, status, code)
    assert head(bench.technician) == before
    assert bench.technician.ok("GET", BATCHES)["items"] == []


def test_marks_that_are_unusual_are_questioned(bench: Bench) -> None:
    stallion_id = bench.other_stallion(foaled_on="2000-05-04", died_on="2020-05-04")
    made = bench.prepare(
        5, stallion_id=stallion_id, straw_volume_ml="0.3", collected_on="2020-05-06"
    )
    assert [(w["code"], w["field"]) for w in made["warnings"]] == [
        ("unusual", "straw_volume_ml"),
        ("collected-after-death", "collected_on"),
    ]


def test_a_batch_whose_marks_were_taken_back_waits_for_nothing(bench: Bench) -> None:
    wanted, mistaken = bench.prepare(5), bench.prepare(5)
    bench.take_back(mistaken["id"])
    waiting = bench.technician.ok("GET", f"{BATCHES}?state=prepared")["items"]
    assert [batch["id"] for batch in waiting] == [wanted["id"]]
    assert bench.batch(mistaken["id"])["state"] == "void"
    body = bench.body(5, batch_id=mistaken["id"])
    bench.technician.refused("POST", "/api/freezes", body, 422, "placements-do-not-add-up")


# Listed


def test_batches_are_listed_newest_first_whatever_their_ids(bench: Bench) -> None:
    ids = [str(UUID(int=number)) for number in (3, 9, 1, 7, 5)]
    for id in ids:
        bench.prepare(1, id=id)
    found, after = [], ""
    while True:
        page = bench.technician.ok("GET", f"{BATCHES}?limit=2{after}")
        found += [batch["id"] for batch in page["items"]]
        if page["next"] is None:
            break
        after = f"&after={page['next']}"
    assert found == ids[::-1]


def test_batches_are_found_by_stallion_and_state(bench: Bench) -> None:
    mine, frozen = bench.prepare(1), bench.freeze(5)["batch"]
    theirs = bench.prepare(1, stallion_id=bench.other_stallion())

    def found(query: str) -> set[str]:
        return {batch["id"] for batch in bench.technician.ok("GET", f"{BATCHES}?{query}")["items"]}

    assert found("state=prepared") == {mine["id"], theirs["id"]}
    assert found("state=frozen") == {frozen["id"]}
    assert found(f"stallion_id={bench.stallion['id']}") == {mine["id"], frozen["id"]}
    assert found(f"stallion_id={bench.stallion['id']}&state=prepared") == {mine["id"]}


@pytest.mark.parametrize("marker", ["x", "W10", "WyIyMDI2LTAzLTAzIiwgIngiXQ", "WzEsIDJd"])
def test_a_page_marker_that_is_not_ours_is_refused(bench: Bench, marker: str) -> None:
    answer = bench.technician.get(f"{BATCHES}?after={marker}")
    assert (answer.status_code, answer.json()["code"]) == (422, "bad-cursor")


def test_a_batch_that_is_not_there_is_unknown(bench: Bench) -> None:
    answer = bench.technician.get(f"{BATCHES}/{uuid4()}")
    assert (answer.status_code, answer.json()["code"]) == (404, "unknown-batch")


# Examined after thawing

SPERM = {"kind": "sperm", "progressive_million": 250, "minimum_post_thaw_percent": 35}


@pytest.fixture
def frozen(bench: Bench) -> Any:
    """Forty straws without a result, of a stallion with a rule by sperm."""
    stallion_id = bench.other_stallion(dose_rule=SPERM)
    return bench.freeze(20, 20, stallion_id=stallion_id, post_thaw=None)


def examined(bench: Bench, made: Any, percent: Any, **more: Any) -> Any:
    body = {"id": str(uuid4()), "progressive_motility_percent": percent, **more}
    path = f"{BATCHES}/{made['batch']['id']}/post-thaw"
    return bench.technician.ok("POST", path, body, status=201)


def test_a_result_consumes_its_straws_and_changes_the_doses(bench: Bench, frozen: Any) -> None:
    """250 million at 200 M/mL, 0.5 mL and 35 %: 8 straws (ceil of target by conc × mL × PM)."""
    batch_id = frozen["batch"]["id"]
    pick = {"goblet_id": bench.goblets[0], "batch_id": batch_id, "straws": 2}
    result = examined(bench, frozen, 35, minutes=10, picks=[pick])
    assert result["before"] == {
        "straws_stored": 40,
        "progressive_million_per_straw": None,
        "straws_per_dose": None,
        "doses": None,
    }
    assert result["after"] == {
        "straws_stored": 38,
        "progressive_million_per_straw": 35,
        "straws_per_dose": 8,
        "doses": 4,
    }
    assert result["straws_tested"] == 2
    assert result["said"] == (
        "2 straws thawed for it are gone. It was no dose before and is 4 doses of 8 straws now."
    )
    assert result["warnings"] == []
    assert bench.states(batch_id) == {"stored": 38, "tested": 2}
    assert bench.batch(batch_id)["post_thaw"] == {"progressive_motility_percent": 35, "minutes": 10}
    stock = bench.technician.ok("GET", f"/api/stock?batch_id={batch_id}")
    assert (stock["straws"], stock["doses"]) == (38, 4)


def test_a_scanned_test_straw_is_certain(bench: Bench, frozen: Any) -> None:
    code = frozen["straws"][0]["code"]
    result = examined(bench, frozen, 40, straw_codes=[code])
    assert result["said"].startswith("1 straw thawed for it is gone.")
    straw = bench.technician.ok("GET", f"/api/straws/{code}")
    assert (straw["state"], straw["provisional"]) == ("tested", False)


def test_a_result_without_straws_stands_in_the_book_too(bench: Bench, frozen: Any) -> None:
    result = examined(bench, frozen, 40)
    newest = bench.technician.ok("GET", "/api/ledger?newest_first=true")["items"][0]
    assert (newest["kind"], newest["id"], newest["lines"]) == ("test", result["id"], [])
    assert result["straws_tested"] == 0
    head(bench.technician)


def test_a_result_below_the_rule_takes_the_doses_away_and_says_so(
    bench: Bench, frozen: Any
) -> None:
    examined(bench, frozen, 40)
    result = examined(bench, frozen, "34.9")
    assert (result["before"]["doses"], result["after"]["doses"]) == (5, None)
    assert result["said"] == "It was 5 doses of 7 straws before and is no dose now."
    assert codes_of(result) == {"below-dose-rule"}


def test_a_result_above_the_fresh_motility_is_questioned(bench: Bench, frozen: Any) -> None:
    result = examined(bench, frozen, 71)
    assert [(w["code"], w["field"]) for w in result["warnings"]] == [
        ("post-thaw-above-fresh", "progressive_motility_percent")
    ]


def test_a_late_entry_of_an_older_result_does_not_count(bench: Bench) -> None:
    made = bench.freeze(16, occurred_at=ago(days=3), post_thaw=None)
    examined(bench, made, 45, occurred_at=ago(days=1))
    result = examined(bench, made, 60, occurred_at=ago(days=2))
    assert "later-result-counts" in codes_of(result)
    assert bench.batch(made["batch"]["id"])["post_thaw"]["progressive_motility_percent"] == 45
    examined(bench, made, 50)
    assert bench.batch(made["batch"]["id"])["post_thaw"]["progressive_motility_percent"] == 50


@pytest.mark.parametrize(
    ("change", "status", "code"),
    [
        ({"progressive_motility_percent": 101}, 422, "invalid"),
        ({"progressive_motility_percent": None}, 422, "invalid"),
        ({"minutes": -1}, 422, "invalid"),
        ({"straw_codes": ["S12345678"]}, 422, "misread-code"),
        ({"occurred_at": "2020-01-01T00:00:00Z"}, 422, "before-what-it-follows"),
    ],
)
def test_a_result_that_cannot_be_right_is_refused(
    bench: Bench, frozen: Any, change: Any, status: int, code: str
) -> None:
    before = head(bench.technician)
    body = {"progressive_motility_percent": 40, **change}
    path = f"{BATCHES}/{frozen['batch']['id']}/post-thaw"
    bench.technician.refused("POST", path, body, status, code)
    assert head(bench.technician) == before
    assert bench.batch(frozen["batch"]["id"])["post_thaw"] is None


def test_straws_of_another_batch_are_no_part_of_a_result(bench: Bench, frozen: Any) -> None:
    other = bench.freeze(5)
    code = other["straws"][0]["code"]
    path = f"{BATCHES}/{frozen['batch']['id']}/post-thaw"
    body = {"progressive_motility_percent": 40, "straw_codes": [code]}
    problem = bench.technician.refused("POST", path, body, 422, "wrong-straws")
    assert problem["straw_code"] == code
    assert bench.states(other["batch"]["id"]) == {"stored": 5}


def test_more_test_straws_than_there_are_are_refused(bench: Bench, frozen: Any) -> None:
    pick = {"goblet_id": bench.goblets[0], "batch_id": frozen["batch"]["id"], "straws": 21}
    path = f"{BATCHES}/{frozen['batch']['id']}/post-thaw"
    body = {"progressive_motility_percent": 40, "picks": [pick]}
    problem = bench.technician.refused("POST", path, body, 409, "not-enough-straws")
    assert problem["available_straws"] == 20


def test_a_batch_that_is_only_prepared_has_no_result(bench: Bench) -> None:
    path = f"{BATCHES}/{bench.prepare(5)['id']}/post-thaw"
    body = {"progressive_motility_percent": 40}
    bench.technician.refused("POST", path, body, 409, "not-frozen")


# Held and released


def test_a_held_batch_is_not_planned_until_it_is_released(bench: Bench, vet: Client) -> None:
    batch_id = bench.freeze(16)["batch"]["id"]
    hold = {"id": str(uuid4()), "reason": "swab pending", "until": in_days(20)}
    held = bench.technician.ok("POST", f"{BATCHES}/{batch_id}/hold", hold, status=201)
    assert (held["id"], held["until"], held["by"]) == (hold["id"], in_days(20), "The technician")
    batch = bench.batch(batch_id)
    assert (batch["on_hold"], batch["hold_reason"]) == (True, "swab pending")
    plan = {"stallion_id": bench.stallion["id"]}
    vet.refused("POST", "/api/withdrawals/plan", plan, 409, "not-enough-straws")
    release = {"reason": "swab clear"}
    bench.technician.refused("POST", f"{BATCHES}/{batch_id}/release", release, 403, "forbidden")
    assert bench.batch(batch_id)["on_hold"]
    released = vet.ok("POST", f"{BATCHES}/{batch_id}/release", release, status=201)
    assert (released["on_hold"], released["straws_in_quarantine"]) == (False, 0)
    assert not bench.batch(batch_id)["on_hold"]
    assert vet.ok("POST", "/api/withdrawals/plan", plan)["straws"] == 8
    newest = vet.ok("GET", "/api/ledger?newest_first=true&limit=2")["items"]
    assert [(entry["kind"], entry["reason"]) for entry in newest] == [
        ("release", "swab clear"),
        ("hold", "swab pending"),
    ]
    vet.refused("POST", f"{BATCHES}/{batch_id}/release", release, 409, "not-on-hold")


def test_a_release_ends_every_hold(bench: Bench, vet: Client) -> None:
    batch_id = bench.freeze(5, hold_until=in_days(30))["batch"]["id"]
    bench.technician.ok("POST", f"{BATCHES}/{batch_id}/hold", {"reason": "owner asked"})
    vet.ok("POST", f"{BATCHES}/{batch_id}/release", {"reason": "both settled"})
    assert not bench.batch(batch_id)["on_hold"]


def test_a_hold_ends_by_itself_on_its_day(bench: Bench, vet: Client) -> None:
    batch_id = bench.freeze(5, hold_until=in_days(2))["batch"]["id"]
    state = bench.technician.app.state  # type: ignore[attr-defined]
    state.wiring = replace(state.wiring, clock=lambda: datetime.now(UTC) + timedelta(days=1))
    assert bench.batch(batch_id)["on_hold"]
    state.wiring = replace(state.wiring, clock=lambda: datetime.now(UTC) + timedelta(days=2))
    assert not bench.batch(batch_id)["on_hold"]
    release = {"reason": "late"}
    vet.refused("POST", f"{BATCHES}/{batch_id}/release", release, 409, "not-on-hold")


def test_a_hold_that_would_be_over_is_refused(bench: Bench) -> None:
    batch_id = bench.freeze(5)["batch"]["id"]
    hold = {"reason": "swab pending", "until": in_days(0)}
    problem = bench.technician.refused("POST", f"{BATCHES}/{batch_id}/hold", hold, 422, "hold-over")
    assert problem["errors"][0]["field"] == "until"


def test_a_release_does_not_come_before_its_hold(bench: Bench, vet: Client) -> None:
    batch_id = bench.freeze(5)["batch"]["id"]
    bench.technician.ok("POST", f"{BATCHES}/{batch_id}/hold", {"reason": "swab pending"})
    release = {"reason": "swab clear", "occurred_at": ago(hours=1)}
    path = f"{BATCHES}/{batch_id}/release"
    vet.refused("POST", path, release, 422, "before-what-it-follows")
    assert bench.batch(batch_id)["on_hold"]


def test_a_release_tells_what_still_stands_in_quarantine(bench: Bench, vet: Client) -> None:
    body = building.freeze(bench.stallion["id"], [(bench.quarantine(), 8)], hold_until=in_days(30))
    made = bench.technician.ok("POST", "/api/freezes", body)
    path = f"{BATCHES}/{made['batch']['id']}/release"
    released = vet.ok("POST", path, {"reason": "swab clear"})
    assert (released["on_hold"], released["straws_in_quarantine"]) == (False, 8)


@pytest.mark.parametrize("act", ["hold", "release", "post-thaw"])
def test_an_unknown_batch_is_told(vet: Client, act: str) -> None:
    more = {"progressive_motility_percent": 40} if act == "post-thaw" else {"reason": "x"}
    vet.refused("POST", f"{BATCHES}/{uuid4()}/{act}", more, 404, "unknown-batch")


@pytest.mark.parametrize("act", ["hold", "release", "post-thaw"])
def test_an_auditor_changes_nothing_about_a_batch(bench: Bench, auditor: Client, act: str) -> None:
    batch_id = bench.freeze(5)["batch"]["id"]
    before = head(auditor)
    more = {"progressive_motility_percent": 40} if act == "post-thaw" else {"reason": "x"}
    auditor.refused("POST", f"{BATCHES}/{batch_id}/{act}", more, 403, "forbidden")
    auditor.refused(
        "POST",
        BATCHES,
        {"stallion_id": bench.stallion["id"], "straws_planned": 1},
        403,
        "forbidden",
    )
    assert head(auditor) == before
