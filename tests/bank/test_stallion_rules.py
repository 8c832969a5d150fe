"""A stallion's dose rules: kept with their dates, questioned when unusual, refused when void."""

from datetime import UTC, datetime
from typing import Any

import pytest

from tests import building
from tests.bank.changing import change, refused_change
from tests.conftest import Client

STALLIONS = "/api/stallions"
UELN = "372414001234567"
SPERM = {"kind": "sperm", "progressive_million": 250, "minimum_post_thaw_percent": 35}


def add(client: Client, name: str = "Lanternfield", **more: Any) -> Any:
    return client.ok("POST", STALLIONS, building.stallion(name, **more), status=201)


def refused(client: Client, more: dict[str, Any], status: int, code: str) -> dict[str, Any]:
    return client.refused("POST", STALLIONS, building.stallion() | more, status, code)


def warned(stallion: Any) -> set[str]:
    return {warning["code"] for warning in stallion["warnings"]}


def test_every_dose_rule_stays_readable_with_its_date(vet: Client, manager: Client) -> None:
    path = f"{STALLIONS}/{add(vet, straws=8)['id']}"
    before = datetime.now(UTC)
    assert change(manager, path, {"dose_rule": SPERM})["dose_rule"] == SPERM
    change(vet, path, {"dose_rule": {"kind": "straws", "straws": 14}})
    history = vet.ok("GET", f"{path}/dose-rules")["items"]
    assert [rule["dose_rule"] for rule in history] == [
        {"kind": "straws", "straws": 14},
        SPERM,
        {"kind": "straws", "straws": 8},
    ]
    assert [rule["by"] for rule in history] == ["The vet", "The manager", "The vet"]
    since = [datetime.fromisoformat(rule["since"]) for rule in history]
    assert since[0] >= since[1] >= before >= since[2]
    changes = vet.ok("GET", f"{path}/changes")["items"]
    assert changes[0]["before"]["dose_rule"]["progressive_million"] == "250"
    assert changes[0]["after"]["dose_rule"] == {"kind": "straws", "straws": 14}


def test_the_same_rule_again_is_no_new_rule(vet: Client) -> None:
    path = f"{STALLIONS}/{add(vet)['id']}"
    change(vet, path, {"dose_rule": SPERM})
    again = SPERM | {"progressive_million": "250.00", "minimum_post_thaw_percent": "35.0"}
    change(vet, path, {"dose_rule": again})
    assert len(vet.ok("GET", f"{path}/dose-rules")["items"]) == 2
    assert len(vet.ok("GET", f"{path}/changes")["items"]) == 1


def test_the_rules_come_in_pages(vet: Client) -> None:
    path = f"{STALLIONS}/{add(vet, straws=1)['id']}"
    for straws in (2, 3, 4):
        change(vet, path, {"dose_rule": {"kind": "straws", "straws": straws}})
    first = vet.ok("GET", f"{path}/dose-rules?limit=3")
    rest = vet.ok("GET", f"{path}/dose-rules?limit=3&after={first['next']}")
    seen = first["items"] + rest["items"]
    assert [rule["dose_rule"]["straws"] for rule in seen] == [4, 3, 2, 1]
    assert rest["next"] is None


@pytest.mark.parametrize(
    ("rule", "questioned"),
    [
        # Common practice, no source: 1 to 12 straws make a dose.
        ({"kind": "straws", "straws": 1}, False),
        ({"kind": "straws", "straws": 12}, False),
        ({"kind": "straws", "straws": 13}, True),
        ({"kind": "straws", "straws": 17}, True),
        # 250 million at 35 %: WBFSH, cited in a thesis of Ghent University, table 4. 200 at 30 %:
        # Colorado State University, "Freezing stallion semen", 2022.
        (SPERM, False),
        (SPERM | {"progressive_million": 200, "minimum_post_thaw_percent": 30}, False),
        (SPERM | {"progressive_million": 250_000_000}, True),
        (SPERM | {"minimum_post_thaw_percent": 0}, True),
    ],
)
def test_an_unusual_rule_is_kept_and_questioned(
    vet: Client, rule: dict[str, Any], *, questioned: bool
) -> None:
    made = add(vet, dose_rule=rule, ueln=UELN)
    assert made["dose_rule"] == rule
    assert warned(made) == ({"unusual-dose-rule"} if questioned else set())


@pytest.mark.parametrize(
    ("rule", "field"),
    [
        (None, "dose_rule"),
        (8, "dose_rule"),
        ({}, "dose_rule"),
        ({"kind": "feeling"}, "dose_rule"),
        ({"kind": "straws"}, "dose_rule.straws"),
        ({"kind": "straws", "straws": 0}, "dose_rule.straws"),
        ({"kind": "straws", "straws": 1.5}, "dose_rule.straws"),
        ({"kind": "straws", "straws": "8"}, "dose_rule.straws"),
        ({"kind": "straws", "straws": True}, "dose_rule.straws"),
        (SPERM | {"straws": 8}, "dose_rule.straws"),
        (SPERM | {"progressive_million": 0}, "dose_rule.progressive_million"),
        (SPERM | {"progressive_million": "NaN"}, "dose_rule.progressive_million"),
        (SPERM | {"minimum_post_thaw_percent": 100.5}, "dose_rule.minimum_post_thaw_percent"),
        ({"kind": "sperm", "progressive_million": 250}, "dose_rule.minimum_post_thaw_percent"),
    ],
)
def test_a_rule_that_can_never_work_is_refused_with_its_field(
    vet: Client, rule: Any, field: str
) -> None:
    problem = refused(vet, {"dose_rule": rule}, 422, "invalid")
    assert field in {error["field"] for error in problem["errors"]}
    path = f"{STALLIONS}/{add(vet)['id']}"
    refused_change(vet, path, {"dose_rule": rule}, 422, "invalid")
    assert len(vet.ok("GET", f"{path}/dose-rules")["items"]) == 1
