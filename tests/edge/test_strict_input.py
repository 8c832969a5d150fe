"""Input that refuses instead of guessing, seen from outside."""

import base64
import json
from typing import Any
from uuid import UUID

import pytest

from tests import building
from tests.conftest import Client


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("low_stock_doses", 1.5),
        ("low_stock_doses", "3"),
        ("low_stock_doses", True),
        ("low_stock_doses", 10**30),
        ("low_stock_doses", -1),
        ("name", 7),
        ("name", ""),
        ("name", "   "),
        ("name", "nul\x00byte"),
        ("name", "bell\x07"),
        ("name", "x" * 121),
        ("foaled_on", "2015-02-30"),
        ("foaled_on", "3 March 2015"),
        ("foaled_on", "2015-03-03T00:00:00Z"),
        ("foaled_on", 20150303),
        ("surprise", 1),
        ("dose_rule", {"kind": "straws", "straws": 8, "progressive_million": 250}),
        ("dose_rule", {"kind": "guess"}),
        ("dose_rule", {"kind": "sperm", "progressive_million": "1e3"}),
        ("dose_rule", {"kind": "sperm", "progressive_million": "NaN"}),
        ("occurred_at", "2026-03-03T14:05:00"),
        ("occurred_at", 1772546700),
        ("id", 7),
        ("id", "not-a-uuid"),
    ],
)
def test_what_cannot_be_right_is_named(manager: Client, field: str, value: Any) -> None:
    body = building.stallion(**{field: value}) if field != "name" else building.stallion(value)
    body |= {field: value}
    problem = manager.refused("POST", "/api/stallions", body, 422, "invalid")
    assert any(one["field"].startswith(field) for one in problem["errors"]), problem
    assert manager.ok("GET", "/api/stallions")["items"] == []


@pytest.mark.parametrize(
    "raw",
    [
        b'{"name": "A", "dose_rule": {"kind": "sperm", "progressive_million": NaN}}',
        b'{"name": "A", "dose_rule": {"kind": "straws", "straws": Infinity}}',
        b'{"name": "\\ud800", "dose_rule": {"kind": "straws", "straws": 8}}',
        b'{"name": ' + b"9" * 5_000 + b"}",
        b"[" * 50_000,
        b'{"name": "\xff\xfe"}',
        b"",
        b"null",
        b"[]",
        b'"text"',
        b"{",
    ],
)
def test_json_that_is_none_is_refused_and_never_a_failure(manager: Client, raw: bytes) -> None:
    answer = manager.post(
        "/api/stallions", content=raw, headers={"Content-Type": "application/json"}
    )
    assert answer.status_code in (400, 422), answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    assert manager.ok("GET", "/api/stallions")["items"] == []


def test_ten_megabytes_are_refused_before_they_are_read(manager: Client) -> None:
    body = {**building.stallion("x" * 10_000_000)}
    problem = manager.refused("POST", "/api/stallions", body, 413, "too-large")
    assert problem["detail"]


@pytest.mark.parametrize(
    "name", ["Žofie 🐴", "فَرَس", "סוס הרוח", "馬", "Ünïcødé d'Été", "<b>Bold</b> & Co"]
)
def test_names_of_every_script_come_back_as_they_went_in(manager: Client, name: str) -> None:
    made = manager.ok("POST", "/api/stallions", building.stallion(name))
    assert manager.ok("GET", f"/api/stallions/{made['id']}")["name"] == name


@pytest.mark.parametrize("amount", [60, 60.0, "60", "60.00"])
def test_amounts_come_as_numbers_or_decimal_text(manager: Client, amount: Any) -> None:
    body = {**building.tank(), "capacity_litres": amount}
    assert manager.ok("POST", "/api/tanks", body)["capacity_litres"] == 60


def test_a_default_spelt_out_is_the_same_content(manager: Client) -> None:
    id = "0199b1f0-0000-7000-8000-000000000001"
    manager.ok("POST", "/api/stallions", building.stallion(id=id), status=201)
    same = building.stallion(id=id, reserve_doses=0, breed=None)
    manager.ok("POST", "/api/stallions", same, status=200)
    manager.refused("POST", "/api/stallions", building.stallion(id=id, breed="K"), 409, "id-reused")


LISTS = ("stock", "ledger", "stallions", "withdrawals", "batches", "mares", "tanks", "people")


@pytest.mark.parametrize("after", ["x", "bnVsbA", "WzFd", "🐎", "WyJcdTAwMDAiLCAiYSJd", "W10"])
@pytest.mark.parametrize(
    "path", ["/api/stock", "/api/ledger", "/api/stallions", "/api/withdrawals"]
)
def test_a_forged_page_marker_is_refused(manager: Client, path: str, after: str) -> None:
    answer = manager.get(path, params={"after": after})
    # "WzFd" is [1]: a marker the ledger itself gives.
    assert answer.status_code == (200 if (path, after) == ("/api/ledger", "WzFd") else 422)


@pytest.mark.parametrize(
    "when", ["2026-01-01", "2026-01-01T00:00:00Z", "0001-01-01T00:00:00+23:59", "yesterday"]
)
@pytest.mark.parametrize("path", ["/api/withdrawals", "/api/batches"])
def test_a_moment_in_a_marker_is_read_as_it_is_kept_or_not_at_all(
    manager: Client, path: str, when: str
) -> None:
    marker = base64.urlsafe_b64encode(json.dumps([when, str(UUID(int=1))]).encode()).decode()
    manager.refused("GET", f"{path}?after={marker}", None, 422, "bad-cursor")
