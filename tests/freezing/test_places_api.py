"""What a collection makes and where it could go: asked by anyone, booked for nobody."""

from typing import Any
from uuid import uuid4

import pytest

from tests import building
from tests.conftest import Client
from tests.freezing.conftest import Bench, codes_of, head, in_days

CALCULATION = "/api/freezes/calculation"


def figures(**more: Any) -> Any:
    return {
        "collection": {
            "volume_ml": 60,
            "concentration_million_per_ml": 200,
            "progressive_motility_percent": 60,
        },
        "straw": {"volume_ml": "0.5", "concentration_million_per_ml": 200},
        **more,
    }


def test_anyone_may_reckon_and_nothing_is_booked(bench: Bench, auditor: Client) -> None:
    """60 mL × 200 M/mL × 60 %: 12,000 M in all, 7,200 progressive (measured)."""
    before = head(auditor)
    found = auditor.ok("POST", CALCULATION, figures(recovery_percent=85), status=200)
    assert (found["total_million"], found["progressive_million"]) == (12_000, 7_200)
    assert (found["straws_possible"], found["volume_ml"]) == (102, 51)
    assert (found["straws_per_dose"], found["doses"], found["meets_rule"]) == (None, None, None)
    assert found["progressive_million_per_straw"] is None
    assert found["warnings"] == []
    assert head(auditor) == before


def test_straws_are_floored(bench: Bench) -> None:
    """7,150 million at full recovery, 100 a straw: 71 straws (measured)."""
    collection = {
        "volume_ml": "71.5",
        "concentration_million_per_ml": 100,
        "progressive_motility_percent": 60,
    }
    found = bench.technician.ok("POST", CALCULATION, figures(collection=collection))
    assert found["straws_possible"] == 71
    assert codes_of(found) == {"recovery-assumed"}


#: straws = ceil(target / (conc × mL × PM)), exact rationals (measured).
VECTORS = [
    (250, 200, "0.5", 35, 35, 8),
    (250, 400, "0.5", 35, 70, 4),
    (200, 100, "0.5", 50, 25, 8),
    (250, 100, "0.5", 35, 17.5, 15),
    (250, 250, "0.5", 40, 50, 5),
    (250, 400, "0.25", 35, 35, 8),
    (5, 100, "0.25", 40, 10, 1),
    (350, 625, "0.4", 35, 87.5, 4),
]


@pytest.mark.parametrize(("target", "per_ml", "ml", "percent", "per_straw", "straws"), VECTORS)
def test_straws_per_dose_are_exact(
    technician: Client,
    target: int,
    per_ml: int,
    ml: str,
    percent: int,
    per_straw: float,
    straws: int,
) -> None:
    asked = figures(
        straw={"volume_ml": ml, "concentration_million_per_ml": per_ml},
        post_thaw={"progressive_motility_percent": percent},
        dose_rule={
            "kind": "sperm",
            "progressive_million": target,
            "minimum_post_thaw_percent": 35,
        },
        recovery_percent=85,
    )
    found = technician.ok("POST", CALCULATION, asked)
    assert found["progressive_million_per_straw"] == per_straw
    assert (found["straws_per_dose"], found["meets_rule"]) == (straws, True)
    assert found["doses"] == found["straws_possible"] // straws


def test_a_gate_on_motility_is_not_met_by_more_straws(technician: Client) -> None:
    """At 30 % nine straws would hold 250 million, but the rule asks for 35 % (measured)."""
    rule = {"kind": "sperm", "progressive_million": 250, "minimum_post_thaw_percent": 35}
    thaw = {"progressive_motility_percent": 30}
    found = technician.ok("POST", CALCULATION, figures(post_thaw=thaw, dose_rule=rule))
    assert (found["straws_per_dose"], found["doses"], found["meets_rule"]) == (None, None, False)
    assert "below-dose-rule" in codes_of(found)
    rule["minimum_post_thaw_percent"] = 30
    found = technician.ok("POST", CALCULATION, figures(post_thaw=thaw, dose_rule=rule))
    assert found["straws_per_dose"] == 9


def test_the_stallion_s_rule_is_used_unless_another_is_tried(bench: Bench) -> None:
    asked = figures(stallion_id=bench.stallion["id"], recovery_percent=85)
    assert bench.technician.ok("POST", CALCULATION, asked)["straws_per_dose"] == 8
    asked["dose_rule"] = {"kind": "straws", "straws": 17}
    found = bench.technician.ok("POST", CALCULATION, asked)
    assert (found["straws_per_dose"], found["doses"]) == (17, 6)
    assert codes_of(found) == {"many-straws-per-dose"}


def test_diluted_semen_brings_its_own_volume_along(technician: Client) -> None:
    straw = {"volume_ml": "0.5", "concentration_million_per_ml": 100}
    found = technician.ok(
        "POST", CALCULATION, figures(straw=straw, recovery_percent=100, centrifuged=False)
    )
    assert (found["straws_possible"], found["volume_ml"], found["extender_ml"]) == (240, 120, 60)


@pytest.mark.parametrize(
    ("change", "status", "code"),
    [
        ({"stallion_id": str(uuid4())}, 404, "unknown-stallion"),
        ({"recovery_percent": 0}, 422, "implausible"),
        ({"straw": {"volume_ml": 0.5, "concentration_million_per_ml": "NaN"}}, 422, "invalid"),
        ({"dose_rule": {"kind": "straws", "straws": 1.5}}, 422, "invalid"),
        ({"dose_rule": {"kind": "guess"}}, 422, "invalid"),
        ({"straws": 48}, 422, "invalid"),
    ],
)
def test_figures_that_cannot_be_right_are_refused(
    technician: Client, change: Any, status: int, code: str
) -> None:
    technician.refused("POST", CALCULATION, figures(**change), status, code)


# Places


def free(client: Client, query: str) -> Any:
    return client.ok("GET", f"/api/goblets/free?{query}")


def test_places_are_proposed_with_their_room_and_why(bench: Bench, auditor: Client) -> None:
    found = free(auditor, f"straws=48&stallion_id={bench.stallion['id']}")
    assert [(place["straws"], place["free_straws"]) for place in found["placements"]] == [
        (30, 30),
        (18, 30),
    ]
    assert found["missing_straws"] == 0
    assert found["placements"][0]["why"] == "an empty goblet"
    made = bench.freeze(
        straws=48,
        placements=[
            {"goblet_id": place["goblet_id"], "straws": place["straws"]}
            for place in found["placements"]
        ],
    )
    assert len(made["straws"]) == 48


def test_a_batch_is_kept_near_the_stallion_s_other_straws(bench: Bench) -> None:
    bench.freeze(0, 0, 20)
    own = free(bench.technician, f"straws=5&stallion_id={bench.stallion['id']}")["placements"]
    assert [place["goblet_id"] for place in own] == [bench.goblets[2]]
    other = free(bench.technician, f"straws=5&stallion_id={bench.other_stallion()}")["placements"]
    assert other[0]["goblet_id"] != bench.goblets[2]
    beside = free(bench.technician, f"straws=20&stallion_id={bench.stallion['id']}")["placements"]
    assert [place["goblet_id"] for place in beside] == [bench.goblets[3]]
    assert beside[0]["why"] == "an empty goblet in a canister with the stallion's straws"


def test_a_prepared_batch_is_known_by_its_id_alone(bench: Bench) -> None:
    bench.freeze(0, 0, 20)
    found = free(bench.technician, f"straws=5&batch_id={bench.prepare(5)['id']}")
    assert [place["goblet_id"] for place in found["placements"]] == [bench.goblets[2]]


def test_what_has_no_room_is_counted(bench: Bench) -> None:
    bench.freeze(30, 30, 30)
    found = free(bench.technician, f"straws=40&stallion_id={bench.stallion['id']}")
    assert [place["straws"] for place in found["placements"]] == [30]
    assert found["missing_straws"] == 10


def test_held_and_released_straws_are_kept_apart(bench: Bench) -> None:
    apart = bench.quarantine()
    released = free(bench.technician, f"straws=48&stallion_id={bench.stallion['id']}")
    assert apart not in {place["goblet_id"] for place in released["placements"]}
    held = free(bench.technician, f"straws=5&stallion_id={bench.stallion['id']}&on_hold=true")
    [place] = held["placements"]
    assert place["goblet_id"] != bench.goblets[0]
    assert place["why"].startswith("in quarantine")
    batch_id = bench.prepare(5)["id"]
    bench.technician.ok("POST", f"/api/batches/{batch_id}/hold", {"reason": "swab pending"})
    known = free(bench.technician, f"straws=5&batch_id={batch_id}")
    assert known == held


def test_a_goblet_with_held_straws_is_not_proposed_for_released_ones(bench: Bench) -> None:
    bench.freeze(0, 0, 5, hold_until=in_days(30))
    found = free(bench.technician, f"straws=5&stallion_id={bench.stallion['id']}")
    assert found["placements"][0]["goblet_id"] != bench.goblets[2]


def test_retired_goblets_are_not_proposed(bench: Bench) -> None:
    for goblet_id in bench.goblets[:3]:
        bench.manager.ok("POST", f"/api/goblets/{goblet_id}/retire", {"reason": "cracked"})
    found = free(bench.technician, "straws=31")
    assert [place["goblet_id"] for place in found["placements"]] == [bench.goblets[3]]
    assert found["missing_straws"] == 1


@pytest.mark.parametrize(
    ("query", "status", "code"),
    [
        ("", 422, "invalid"),
        ("straws=0", 422, "invalid"),
        ("straws=1.5", 422, "invalid"),
        ("straws=5&stallion_id=x", 422, "invalid"),
        (f"straws=5&stallion_id={uuid4()}", 404, "unknown-stallion"),
        (f"straws=5&batch_id={uuid4()}", 404, "unknown-batch"),
    ],
)
def test_a_question_that_cannot_be_answered_is_refused(
    bench: Bench, query: str, status: int, code: str
) -> None:
    answer = bench.technician.get(f"/api/goblets/free?{query}")
    assert (answer.status_code, answer.json()["code"]) == (status, code)


def test_a_batch_and_another_stallion_do_not_go_together(bench: Bench) -> None:
    batch, other = bench.prepare(5)["id"], bench.other_stallion()
    answer = bench.technician.get(
        f"/api/goblets/free?straws=5&batch_id={batch}&stallion_id={other}"
    )
    assert (answer.status_code, answer.json()["code"]) == (422, "wrong-stallion")


def test_a_bank_without_goblets_has_no_place(manager: Client) -> None:
    assert free(manager, "straws=5") == {"placements": [], "missing_straws": 5}


def test_two_tanks_are_told_apart(bench: Bench) -> None:
    bench.manager.ok("POST", "/api/tanks", building.tank("South", straws=40))
    found = free(bench.technician, "straws=35")
    assert [place["straws"] for place in found["placements"]] == [35]
    assert found["placements"][0]["address"].startswith("SOUTH")
