"""Days in store as a batch tells them: by the calendar on the station's own wall."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from tests.bank.changing import change
from tests.freezing.conftest import Bench


def at(bench: Bench, moment: str) -> None:
    """Turn the service's clock."""
    state = bench.technician.app.state  # type: ignore[attr-defined]
    now = datetime.fromisoformat(moment).replace(tzinfo=UTC)
    state.wiring = replace(state.wiring, clock=lambda: now)


def clearance(bench: Bench, batch_id: str, moment: str) -> Any:
    at(bench, moment)
    return bench.batch(batch_id)["clearance"]


@pytest.mark.parametrize(
    ("zone", "collected_at", "last_lacking", "first_full", "full_on"),
    [
        ("UTC", "2026-03-03T08:15:00Z", "2026-04-01T23:59:59", "2026-04-02T00:00:00", "2026-04-02"),
        # Berlin: collected after midnight there, and the clocks go forward in between.
        ("Europe/Berlin", "2026-03-03T23:30:00Z", "2026-04-02T21:59:59", "2026-04-02T22:00:00",
         "2026-04-03"),
        # Denver: still the day before by its own clock.
        ("America/Denver", "2026-03-03T05:00:00Z", "2026-04-01T05:59:59", "2026-04-01T06:00:00",
         "2026-04-01"),
    ],
)  # fmt: skip
def test_day_thirty_begins_at_midnight_of_the_station(
    bench: Bench, zone: str, collected_at: str, last_lacking: str, first_full: str, full_on: str
) -> None:
    change(bench.manager, "/api/station", {"time_zone": zone, "required_tests": []})
    batch_id = bench.freeze(8, collected_at=collected_at)["batch"]["id"]
    before = clearance(bench, batch_id, last_lacking)
    assert (before["days_in_store"], before["clear"]) == (29, False)
    full = clearance(bench, batch_id, first_full)
    assert (full["days_in_store"], full["clear"]) == (30, True)
    assert before["full_on"] == full["full_on"] == full_on


def test_a_batch_without_a_day_of_collection_says_so_and_is_not_clear(bench: Bench) -> None:
    found = bench.batch(bench.prepare(8)["id"])["clearance"]
    assert (found["days_in_store"], found["full_on"], found["clear"]) == (None, None, False)
    assert "is not known" in found["said"]


def test_a_release_is_weighed_on_the_day_it_is_said_to_have_happened(bench: Bench) -> None:
    """Entered on day 30, decided on day 29."""
    change(bench.manager, "/api/station", {"required_tests": []})
    made = bench.freeze(8, collected_at="2026-03-03T08:15:00Z")
    path = f"/api/batches/{made['batch']['id']}"
    at(bench, "2026-03-20T09:00:00")
    bench.technician.ok("POST", f"{path}/hold", {"reason": "owner asked"})
    at(bench, "2026-04-02T06:00:00")
    late = {"reason": "owner agrees", "occurred_at": "2026-04-01T20:00:00Z"}
    released = bench.manager.ok("POST", f"{path}/release", late, status=201)
    assert [one["code"] for one in released["warnings"]] == ["days-in-store-lacking"]
    assert released["clearance"]["days_in_store"] == 29
