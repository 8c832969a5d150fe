"""What a scanned or typed code is."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event

from service.app import make_app
from service.kernel.codes import Kind, make
from service.settings import Settings
from tests import building
from tests.banks import Bank
from tests.conftest import Client


def test_a_straw_says_whose_it_is_and_where(auditor: Client, bank: Bank) -> None:
    code = bank.codes_in(0)[0]
    found = auditor.ok("GET", f"/api/scan/{code}")
    expected = {
        "kind": "straw",
        "code": code,
        "state": "stored",
        "stallion_name": "Lanternfield",
        "batch_id": bank.batch_id,
        "batch_code": bank.batch_code,
        "goblet_id": bank.goblets[0]["id"],
        "address": "NORTH-1-L1",
    }
    assert expected.items() <= found.items()


@pytest.mark.parametrize(
    "typed",
    [
        str.lower,
        lambda code: f" {code[:3]}-{code[3:6]} {code[6:]} ",
        lambda code: code.replace("1", "i").replace("0", "o"),
        lambda code: code.replace("1", "L").replace("0", "O"),
    ],
)
def test_codes_are_read_as_people_type_them(vet: Client, bank: Bank, typed: Any) -> None:
    for code in bank.codes_in(0):
        assert vet.ok("GET", f"/api/scan/{typed(code)}")["code"] == code


def test_a_lifted_straw_says_for_which_withdrawal_it_is_out(vet: Client, bank: Bank) -> None:
    code = bank.codes_in(0)[0]
    body = bank.withdrawal(straw_codes=bank.codes_in(0)[:4])
    taken = vet.ok("POST", "/api/withdrawals", body)
    found = vet.ok("GET", f"/api/scan/{code}")
    assert (found["state"], found["withdrawal_id"]) == ("lifted", taken["id"])
    assert (found["goblet_id"], found["address"]) == (None, None)
    assert found["since"] == taken["occurred_at"]


def held(client: Client, bank: Bank) -> set[tuple[bool, str | None]]:
    codes = (bank.codes_in(0)[0], bank.batch_code)
    found = [client.ok("GET", f"/api/scan/{code}") for code in codes]
    return {(one["on_hold"], one["hold_until"]) for one in found}


def test_a_straw_and_a_batch_say_that_they_are_on_hold(
    technician: Client, vet: Client, bank: Bank
) -> None:
    path = f"/api/batches/{bank.batch_id}"
    assert held(vet, bank) == {(False, None)}
    later = (datetime.now(UTC) + timedelta(days=9)).date().isoformat()
    technician.ok("POST", f"{path}/hold", {"reason": "swab", "until": later})
    assert held(vet, bank) == {(True, later)}
    technician.ok("POST", f"{path}/hold", {"reason": "swab, no end in sight"})
    assert held(vet, bank) == {(True, None)}
    vet.ok("POST", f"{path}/release", {"reason": "negative"})
    assert held(vet, bank) == {(False, None)}


def test_a_hold_ends_on_its_day_by_the_stations_clock(
    data: Path, manager: Client, bank: Bank, founded: tuple[Path, dict[str, str]]
) -> None:
    """At 23:30 in London and half past midnight in Paris it is another day."""
    version = manager.get("/api/station").headers["ETag"]
    zone = {"time_zone": "Europe/Paris"}
    manager.patch("/api/station", json=zone, headers={"If-Match": version})
    day = (datetime.now(UTC) + timedelta(days=9)).date()
    hold = {"reason": "swab", "until": day.isoformat()}
    manager.ok("POST", f"/api/batches/{bank.batch_id}/hold", hold)
    headers = {"Authorization": f"Bearer {founded[1]['vet']}"}
    for hour, on_hold in ((21, True), (23, False)):
        at = datetime(day.year, day.month, day.day, hour, 30, tzinfo=UTC) - timedelta(days=1)
        with TestClient(make_app(Settings(data=data), clock=lambda at=at: at)) as then:  # type: ignore[misc]
            found = then.get(f"/api/scan/{bank.codes_in(0)[0]}", headers=headers).json()
        assert found["on_hold"] is on_hold


def test_straws_in_a_quarantined_tank_are_on_hold(
    technician: Client, manager: Client, vet: Client, bank: Bank
) -> None:
    tank = manager.ok("POST", "/api/tanks", {**building.tank("Apart"), "quarantine": True})
    technician.ok("POST", f"/api/batches/{bank.batch_id}/hold", {"reason": "swab"})
    codes = bank.codes_in(0)[:2]
    to = building.goblets_of(tank)[0]["id"]
    technician.ok("POST", "/api/moves", {"straw_codes": codes, "goblet_id": to})
    vet.ok("POST", f"/api/batches/{bank.batch_id}/release", {"reason": "negative"})
    assert vet.ok("GET", f"/api/scan/{codes[0]}")["on_hold"] is True
    assert vet.ok("GET", f"/api/scan/{bank.codes_in(0)[2]}")["on_hold"] is False


def test_a_prepared_straw_is_known_before_it_is_filled(technician: Client, bank: Bank) -> None:
    body = {"stallion_id": bank.stallion["id"], "straws_planned": 2}
    made = technician.ok("POST", "/api/batches", body)
    found = technician.ok("GET", f"/api/scan/{made['straws'][0]['code']}")
    assert (found["state"], found["batch_id"], found["address"]) == ("prepared", made["id"], None)


@pytest.mark.sqlite_only
def test_a_straw_is_looked_up_by_one_query_and_by_keys_alone(vet: Client, bank: Bank) -> None:
    """So that the answer takes as long with a million straws as with ten."""
    engine = vet.app.state.wiring.database.engine  # type: ignore[attr-defined]
    asked: list[tuple[str, Any]] = []
    code = bank.codes_in(0)[0]

    def note(_c: Any, _cursor: Any, sql: str, values: Any, *_: Any) -> None:
        # Those of this look-up: the check of the whole book reads straws meanwhile.
        if "FROM straws" in sql and code in values:
            asked.append((sql, values))

    event.listen(engine, "before_cursor_execute", note)
    try:
        vet.ok("GET", f"/api/scan/{code}")
    finally:
        event.remove(engine, "before_cursor_execute", note)
    ((sql, values),) = asked
    with engine.connect() as connection:
        plan = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {sql}", values).all()
    assert plan
    assert not [row.detail for row in plan if row.detail.startswith("SCAN")]


def test_every_kind_of_code_is_known(vet: Client, bank: Bank) -> None:
    (tank,) = vet.ok("GET", "/api/tanks")["items"]
    canister = tank["canisters"][0]
    goblet = canister["goblets"][0]
    for kind, thing, straws in (
        ("tank", tank, 40),
        ("canister", canister, 20),
        ("goblet", goblet, 20),
        ("batch", {"id": bank.batch_id, "code": bank.batch_code}, 40),
    ):
        found = vet.ok("GET", f"/api/scan/{thing['code']}")
        assert (found["kind"], found["id"], found["straws"]) == (kind, thing["id"], straws)
    assert vet.ok("GET", f"/api/scan/{goblet['code']}")["free_straws"] == 30


def test_a_wrong_symbol_is_told_from_a_code_of_another_bank(vet: Client, bank: Bank) -> None:
    code = bank.codes_in(0)[0]
    wrong = code[:-1] + ("0" if code[-1] != "0" else "1")
    vet.refused("GET", f"/api/scan/{wrong}", None, 422, "misread-code")
    for kind in Kind:
        foreign = make(kind, lambda bits: (1 << bits) - 7)
        vet.refused("GET", f"/api/scan/{foreign}", None, 404, "unknown-code")
