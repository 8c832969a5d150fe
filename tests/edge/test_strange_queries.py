"""What stands in an address is text from anywhere: found, not found or refused, never a fault.

Each engine has values of its own that it cannot even be asked for.
"""

import base64
import json
from typing import Any
from urllib.parse import quote

import pytest

from tests.banks import Bank
from tests.conftest import Client

STRANGE = (
    *("a\x00b", "%", "_\\", "'\"", "9" * 30, "-1", "NaN", "ℵ" * 200, "\n", " "),
    *(2**31, 2**63 - 1),
)
NOT_UTF_8 = "%FF%FE"


def marker(*key: Any) -> str:
    """A page marker with this key, as the service writes them."""
    return base64.urlsafe_b64encode(json.dumps(key).encode()).decode().rstrip("=")


MARKERS = [
    marker(*key)
    for key in (
        *((2**31,), (2**62,), (-(2**62),), (0,), ("a",), ("%",)),
        *(("a", "0190f000-0000-7000-8000-000000000001"), ("2026-03-03T14:05:00.000000Z", "x")),
        ("2026-03-03T14:05:00.000000Z", "0190f000-0000-7000-8000-000000000001"),
    )
]


def written(value: Any) -> str:
    return quote(str(value), safe="")


def test_no_strange_value_in_an_address_is_a_fault(manager: Client, bank: Bank) -> None:
    described = manager.ok("GET", "/api/openapi.json")
    known = {"id": bank.batch_id, "code": next(iter(bank.codes.values()))[0]}
    asked = 0
    for path, methods in described["paths"].items():
        if "get" not in methods:
            continue
        parameters = methods["get"].get("parameters", [])
        names = [one["name"] for one in parameters if one["in"] == "query"]
        inside = [one["name"] for one in parameters if one["in"] == "path"]
        plain = path
        for name in inside:
            plain = plain.replace(f"{{{name}}}", known["code" if name == "code" else "id"])
        addresses = [
            f"{plain}?{name}={value}"
            for name in names
            for value in (*map(written, STRANGE), NOT_UTF_8, *(MARKERS if name == "after" else ()))
        ]
        addresses += [
            path.replace(f"{{{name}}}", value)
            for name in inside
            for value in (*map(written, STRANGE), NOT_UTF_8)
            if "/" not in value and len(inside) == 1
        ]
        for address in addresses:
            answer = manager.get(address)
            assert answer.status_code < 500, (address, answer.text)
            asked += 1
    assert asked > 500, "the description names no parameters: nothing was asked"


@pytest.mark.parametrize("username", ["a\x00b", "\x00", "％", "\ud800"])
def test_a_strange_name_signs_nobody_in(manager: Client, username: str) -> None:
    body = json.dumps({"username": username, "password": "whatever it may be"})
    answer = manager.post(
        "/api/session", content=body, headers={"Content-Type": "application/json"}
    )
    assert answer.status_code in (401, 422), answer.text
