"""Health tests of batches: recorded, counted, listed; and what they do to holds and goblets."""

from typing import Any
from uuid import uuid4

import pytest

from tests import building
from tests.bank.changing import change
from tests.conftest import Client
from tests.freezing.conftest import Bench, codes_of, head, in_days

BATCHES = "/api/batches"


def body(test: str = "EIA", result: str = "negative", days: int = -3, **more: Any) -> Any:
    """A test sampled so many days from today."""
    event = {"id": str(uuid4()), "test": test, "sampled_on": in_days(days), "result": result}
    return event | more


def record(client: Client, batch_id: str, *test: Any, **more: Any) -> Any:
    return client.ok("POST", f"{BATCHES}/{batch_id}/tests", body(*test, **more), status=201)


def record_all(client: Client, batch_id: str, result: str = "negative") -> None:
    for test in ("EIA", "EVA", "CEM"):
        record(client, batch_id, test, result)


def results(bench: Bench, batch_id: str) -> dict[str, str | None]:
    """What counts of each test."""
    tests = bench.batch(batch_id)["clearance"]["tests"]
    return {one["test"]: one["result"] for one in tests}


@pytest.fixture
def batch_id(bench: Bench) -> str:
    """Eight straws, collected long enough ago."""
    return str(bench.freeze(8)["batch"]["id"])


# Recorded


def test_a_test_is_recorded_with_what_is_known_of_it(
    bench: Bench, auditor: Client, batch_id: str
) -> None:
    asked = body("EVA", "pending", -2, laboratory="Fellgate Laboratory", note="swab\nblue tube")
    made = bench.technician.ok("POST", f"{BATCHES}/{batch_id}/tests", asked, status=201)
    assert {name: made[name] for name in asked} == asked
    assert (made["by"], made["batch"]["id"], made["warnings"]) == ("The technician", batch_id, [])
    [listed] = auditor.ok("GET", f"{BATCHES}/{batch_id}/tests")["items"]
    assert listed == {name: made[name] for name in listed}
    assert results(bench, batch_id) == {"EIA": None, "EVA": "pending", "CEM": None}
    assert made["clearance"] == bench.batch(batch_id)["clearance"]


def test_it_stands_in_the_book_and_moves_no_straw(bench: Bench, batch_id: str) -> None:
    before = head(bench.technician)
    record(bench.technician, batch_id)
    assert head(bench.technician) != before
    [newest] = bench.technician.ok("GET", "/api/ledger?newest_first=true&limit=1")["items"]
    assert (newest["kind"], newest["batch_id"], newest["lines"]) == ("health", batch_id, [])
    assert bench.states(batch_id) == {"stored": 8}


def test_sent_twice_it_is_recorded_once(bench: Bench, batch_id: str) -> None:
    asked, path = body(), f"{BATCHES}/{batch_id}/tests"
    first, again = (bench.technician.post(path, json=asked) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert len(bench.technician.ok("GET", path)["items"]) == 1
    bench.technician.refused("POST", path, asked | {"result": "positive"}, 409, "id-reused")


def test_a_sample_may_be_taken_before_the_collection_or_today(bench: Bench, batch_id: str) -> None:
    record(bench.technician, batch_id, "EIA", "negative", -4_000)
    record(bench.technician, batch_id, "EVA", "negative", 0)
    assert results(bench, batch_id) == {"EIA": "negative", "EVA": "negative", "CEM": None}


def test_a_sample_of_tomorrow_is_refused(bench: Bench, batch_id: str) -> None:
    before = head(bench.technician)
    path = f"{BATCHES}/{batch_id}/tests"
    problem = bench.technician.refused("POST", path, body(days=1), 422, "sampled-in-future")
    assert problem["errors"][0]["field"] == "sampled_on"
    assert head(bench.technician) == before
    assert bench.technician.ok("GET", path)["items"] == []


@pytest.mark.parametrize(
    "change",
    [
        {"test": ""}, {"test": "x" * 61}, {"test": None}, {"test": "E\0A"}, {"result": "maybe"},
        {"result": None}, {"sampled_on": "03.03.2026"}, {"sampled_on": 20260303},
        {"sampled_on": None}, {"laboratory": ""}, {"note": "x" * 4_001}, {"colour": "red"},
    ],
)  # fmt: skip
def test_what_is_no_test_is_refused(bench: Bench, batch_id: str, change: Any) -> None:
    path = f"{BATCHES}/{batch_id}/tests"
    bench.technician.refused("POST", path, body() | change, 422, "invalid")
    assert bench.technician.ok("GET", path)["items"] == []


def test_an_unknown_batch_has_no_tests(vet: Client) -> None:
    path = f"{BATCHES}/{uuid4()}/tests"
    vet.refused("POST", path, body(), 404, "unknown-batch")
    vet.refused("GET", path, None, 404, "unknown-batch")


def test_the_list_comes_in_pages_the_one_recorded_last_first(bench: Bench, batch_id: str) -> None:
    for days in (-5, -1, -3):
        record(bench.technician, batch_id, "EIA", "negative", days)
    path = f"{BATCHES}/{batch_id}/tests"
    first = bench.technician.ok("GET", f"{path}?limit=2")
    rest = bench.technician.ok("GET", f"{path}?limit=2&after={first['next']}")
    days = [one["sampled_on"] for one in first["items"] + rest["items"]]
    assert days == [in_days(-3), in_days(-1), in_days(-5)]
    assert rest["next"] is None


# Which counts


def test_a_late_entry_of_an_older_sample_does_not_count(bench: Bench, batch_id: str) -> None:
    record(bench.technician, batch_id, "EIA", "negative", -2)
    late = record(bench.technician, batch_id, "eia", "positive", -9)
    assert codes_of(late) == {"later-sample-counts"}
    assert results(bench, batch_id)["EIA"] == "negative"


def test_of_one_day_the_one_recorded_last_counts(bench: Bench, batch_id: str) -> None:
    record(bench.technician, batch_id, "EIA", "pending")
    record(bench.technician, batch_id, "EIA", "positive")
    assert results(bench, batch_id)["EIA"] == "positive"
    record(bench.technician, batch_id, "EIA", "negative")
    assert results(bench, batch_id)["EIA"] == "negative"


def test_a_test_nobody_asks_for_is_listed_after_those_that_are(bench: Bench, batch_id: str) -> None:
    record(bench.technician, batch_id, "Dourine", "negative")
    assert list(results(bench, batch_id)) == ["EIA", "EVA", "CEM", "Dourine"]


def test_the_station_says_which_tests_are_needed(bench: Bench, batch_id: str) -> None:
    change(bench.manager, "/api/station", {"required_tests": ["EVA"], "days_in_store": 14})
    record(bench.technician, batch_id, "EVA")
    clearance = bench.batch(batch_id)["clearance"]
    assert (clearance["days_needed"], clearance["missing_tests"]) == (14, [])
    assert clearance["clear"] is True
    assert "176/2010, from memory" in clearance["source"]


# Holds and releases


def test_a_positive_test_asks_for_a_hold_that_only_a_release_ends(
    bench: Bench, batch_id: str
) -> None:
    assert codes_of(record(bench.technician, batch_id, "EVA", "positive")) == {"positive-not-held"}
    hold = {"reason": "EVA", "until": in_days(10)}
    bench.technician.ok("POST", f"{BATCHES}/{batch_id}/hold", hold)
    assert codes_of(record(bench.technician, batch_id, "EVA", "positive")) == {"positive-hold-ends"}
    bench.technician.ok("POST", f"{BATCHES}/{batch_id}/hold", {"reason": "EVA"})
    assert codes_of(record(bench.technician, batch_id, "EVA", "positive")) == set()


def test_a_release_tells_what_is_lacking_and_goes_on(bench: Bench, vet: Client) -> None:
    made = bench.freeze(8, collected_at=f"{in_days(-3)}T00:00:00Z", hold_until=in_days(27))
    batch_id = made["batch"]["id"]
    record(bench.technician, batch_id, "EIA")
    record(bench.technician, batch_id, "EVA", "pending")
    released = vet.ok("POST", f"{BATCHES}/{batch_id}/release", {"reason": "goes to our own mares"})
    assert codes_of(released) == {"days-in-store-lacking", "test-pending", "test-missing"}
    assert (released["on_hold"], released["clearance"]["days_in_store"]) == (False, 3)
    assert not bench.batch(batch_id)["on_hold"]


def test_a_release_of_a_batch_that_is_clear_warns_of_nothing(
    bench: Bench, vet: Client, batch_id: str
) -> None:
    bench.technician.ok("POST", f"{BATCHES}/{batch_id}/hold", {"reason": "tests to come"})
    record_all(bench.technician, batch_id)
    released = vet.ok("POST", f"{BATCHES}/{batch_id}/release", {"reason": "all negative"})
    assert (released["warnings"], released["clearance"]["clear"]) == ([], True)


def test_a_positive_batch_is_released_only_with_a_reason_of_its_own(
    bench: Bench, vet: Client, batch_id: str
) -> None:
    bench.technician.ok("POST", f"{BATCHES}/{batch_id}/hold", {"reason": "tests to come"})
    record_all(bench.technician, batch_id)
    record(bench.technician, batch_id, "EVA", "positive", 0)
    path, before = f"{BATCHES}/{batch_id}/release", head(vet)
    problem = vet.refused("POST", path, {"reason": "time is up"}, 422, "positive-test")
    assert problem["positive_tests"] == ["EVA"]
    assert problem["errors"][0]["field"] == "override_reason"
    assert (head(vet), bench.batch(batch_id)["on_hold"]) == (before, True)
    why = {"reason": "time is up", "override_reason": "vaccinated; titre falling"}
    bench.technician.refused("POST", path, why, 403, "forbidden")
    assert codes_of(vet.ok("POST", path, why)) == {"test-positive"}
    assert not bench.batch(batch_id)["on_hold"]


# Neighbours in a goblet


def test_two_health_states_in_one_goblet_are_warned_of(bench: Bench) -> None:
    known = bench.freeze(8)["batch"]["id"]
    assert codes_of(bench.freeze(8)) == set()
    record_all(bench.technician, known)
    made = bench.freeze(8)
    assert codes_of(made) == {"another-health"}
    record_all(bench.technician, made["batch"]["id"])
    moved = {"straw_codes": [made["straws"][0]["code"]], "goblet_id": bench.goblets[1]}
    assert bench.technician.ok("POST", "/api/moves", moved)["warnings"] == []
    record(bench.technician, known, "CEM", "positive", 0)
    back = {"straw_codes": moved["straw_codes"], "goblet_id": bench.goblets[0]}
    warned = bench.technician.ok("POST", "/api/moves", back)["warnings"]
    told = [one["message"] for one in warned if one["code"] == "another-health"]
    assert any("whose tests are positive; those of this batch are negative" in one for one in told)


def test_a_quarantined_tank_gives_nothing_until_it_is_one_no_more(
    bench: Bench, vet: Client
) -> None:
    tank = bench.manager.ok("POST", "/api/tanks", building.tank("Apart") | {"quarantine": True})
    goblet = building.goblets_of(tank)[0]["id"]
    asked = building.freeze(bench.stallion["id"], [(goblet, 8)], hold_until=in_days(30))
    made = bench.technician.ok("POST", "/api/freezes", asked)
    released = vet.ok("POST", f"{BATCHES}/{made['batch']['id']}/release", {"reason": "clear"})
    assert released["straws_in_quarantine"] == 8
    plan = {"stallion_id": bench.stallion["id"]}
    vet.refused("POST", "/api/withdrawals/plan", plan, 409, "not-enough-straws")
    change(bench.manager, f"/api/tanks/{tank['id']}", {"quarantine": False})
    assert vet.ok("POST", "/api/withdrawals/plan", plan)["straws"] == 8
