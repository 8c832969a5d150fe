"""Receipts that are refused: a clear word, and nothing half done."""

from typing import Any
from uuid import uuid4

import pytest

from tests import building
from tests.banks import Bank
from tests.conftest import Client
from tests.transfers.receiving import codes, entries, receipt, receive, sound


def bad(bank: Bank, what: str) -> tuple[dict[str, Any], int, str]:
    goblet = bank.goblets[1]["id"]
    ours = bank.codes_in(0)[0]
    body = receipt(bank, kind="received")

    def placed(straws: int, **more: Any) -> Any:
        return {"placements": [{"goblet_id": goblet, "straws": straws, **more}]}

    cases: dict[str, tuple[dict[str, Any], int, str]] = {
        "no straws": ({"straws": 0}, 422, "invalid"),
        "no places": ({"placements": []}, 422, "placements-do-not-add-up"),
        "too few placed": (placed(5), 422, "placements-do-not-add-up"),
        "an empty place": (
            {"placements": [*placed(6)["placements"], *placed(0)["placements"]]},
            *(422, "placements-do-not-add-up"),
        ),
        "more codes than straws": (
            {"coded": True, **placed(6, straw_codes=["S"] * 7)},
            *(422, "placements-do-not-add-up"),
        ),
        "no such goblet": (
            {"placements": [{"goblet_id": str(uuid4()), "straws": 6}]}, 404, "unknown-goblet",
        ),
        "no such stallion": ({"stallion_id": str(uuid4())}, 404, "unknown-stallion"),
        "collected tomorrow": ({"collected_on": "2099-01-01"}, 422, "implausible"),
        "collected after it came": (
            {"collected_on": "2020-01-02", "occurred_at": "2020-01-01T10:00:00Z"},
            *(422, "implausible"),
        ),
        "no motility can be 101": (
            {"post_thaw": {"progressive_motility_percent": 101}}, 422, "invalid",
        ),
        "sperm per mL for million per mL": (
            {"straw": {"concentration_million_per_ml": 250_000_000}}, 422, "implausible",
        ),
        "codes without labels": (placed(6, straw_codes=[ours]), 422, "codes-without-labels"),
        "a code that is in store": (
            {"coded": True, **placed(6, straw_codes=[ours])}, 409, "code-taken",
        ),
        "a code twice": (
            {"coded": True, **placed(6, straw_codes=[ours, ours.lower()])}, 422, "same-code-twice",
        ),
        "a code of a goblet": (
            {"coded": True, **placed(6, straw_codes=[bank.goblets[0]["code"]])},
            *(422, "not-a-straw"),
        ),
        "an unknown field": ({"breed": "x"}, 422, "invalid"),
        "frozen here": ({"kind": "frozen"}, 422, "invalid"),
    }  # fmt: skip
    more, status, code = cases[what]
    return {**body, **more}, status, code


@pytest.mark.parametrize(
    "what",
    [
        *("no straws", "no places", "too few placed", "an empty place", "more codes than straws"),
        *("no such goblet", "no such stallion", "collected tomorrow", "collected after it came"),
        *("no motility can be 101", "sperm per mL for million per mL", "codes without labels"),
        *("a code that is in store", "a code twice", "a code of a goblet", "an unknown field"),
        "frozen here",
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_booked(
    technician: Client, bank: Bank, what: str
) -> None:
    before = entries(technician)
    body, status, code = bad(bank, what)
    technician.refused("POST", "/api/receipts", body, status, code)
    assert technician.ok("GET", "/api/batches")["items"][1:] == []
    assert entries(technician) == before
    assert sound(technician)


def test_a_full_goblet_books_nothing_and_the_id_is_free_for_another_try(
    technician: Client, bank: Bank
) -> None:
    before = entries(technician)
    body = receipt(bank, 31, goblet=0)
    refused = technician.refused("POST", "/api/receipts", body, 409, "goblet-full")
    assert (refused["free_straws"], refused["address"]) == (30, bank.goblets[0]["address"])
    assert entries(technician) == before
    body["placements"][0]["goblet_id"] = bank.goblets[1]["id"]
    technician.ok("POST", "/api/receipts", body, status=201)


def test_a_goblet_that_is_out_of_use_takes_nothing(
    technician: Client, manager: Client, bank: Bank
) -> None:
    retire = {"reason": "cracked"}
    manager.ok("POST", f"/api/goblets/{bank.goblets[1]['id']}/retire", retire)
    technician.refused("POST", "/api/receipts", receipt(bank), 409, "goblet-retired")


def test_a_quarantined_tank_takes_only_what_is_on_hold(
    technician: Client, manager: Client, bank: Bank
) -> None:
    tank = manager.ok("POST", "/api/tanks", {**building.tank("Apart"), "quarantine": True})
    place = {"goblet_id": building.goblets_of(tank)[0]["id"], "straws": 6}
    body = receipt(bank, placements=[place])
    technician.refused("POST", "/api/receipts", body, 409, "quarantined-tank")
    body["hold_reason"] = "tests are on their way"
    technician.ok("POST", "/api/receipts", body, status=201)


def test_a_collection_before_he_was_a_year_old_is_refused(
    technician: Client, vet: Client, bank: Bank
) -> None:
    young = vet.ok("POST", "/api/stallions", building.stallion("Young", foaled_on="2020-04-01"))
    body = receipt(bank, stallion_id=young["id"], collected_on="2019-06-01")
    refused = technician.refused("POST", "/api/receipts", body, 422, "implausible")
    assert [error["field"] for error in refused["errors"]] == ["collected_on"]
    dead = vet.ok("POST", "/api/stallions", building.stallion("Old", died_on="2020-04-01"))
    late = receive(technician, bank, stallion_id=dead["id"], collected_on="2021-06-01")
    assert "collected-after-death" in codes(late)
