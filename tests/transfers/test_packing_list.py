"""What the paper that travels with the straws says, field by field, and how long a shipper holds.

The fields are those that law and advice ask for: Delegated Regulation (EU) 2020/686, Articles 8 and
10 (OJ L 174, 2020); the table of the certificate of Implementing Regulation (EU) 2021/403, from
memory; Regulation (EU) 2016/429, Article 103; advice of the World Breeding Federation for Sport
Horses, second-hand.
"""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any
from uuid import uuid4

import pytest

from service.bank.marks import written_day
from service.bank.rules import MarkDateFormat
from service.transfers import rules
from tests import building
from tests.bank.changing import change
from tests.banks import Bank
from tests.conftest import Client

UELN = "372QHVDEMO00077"


def ago(**time: Any) -> str:
    return (datetime.now(UTC) - timedelta(**time)).isoformat()


def send(client: Client, picks: list[Any], **more: Any) -> Any:
    body = {"id": str(uuid4()), "to": "Tarn Stud", "picks": picks, **more}
    return client.ok("POST", "/api/dispatches", body, status=201)


@pytest.fixture
def papers(manager: Client, bank: Bank) -> Any:
    """Four straws of a stallion with papers, frozen and tested here: the answer of the dispatch."""
    station = {
        "name": "Fellgate Stud",
        "country": "IE",
        "approval_number": "IE-DEMO-1",
        "processing_approval_number": "IE-DEMO-2",
        "mark_date_format": "yy/mm/dd",
        "required_tests": ["EIA"],
    }
    change(manager, "/api/station", station)
    change(manager, f"/api/stallions/{bank.stallion['id']}", {"ueln": UELN, "breed": "Fen Cob"})
    placed = [(bank.goblets[1]["id"], 10)]
    body = building.freeze(
        bank.stallion["id"],
        placed,
        occurred_at=ago(days=40),
        collected_at=ago(days=40, minutes=5),
        thaw={"steps": [{"water_c": 75, "seconds": 7}, {"water_c": 37, "seconds": 10}]},
    )
    made = manager.ok("POST", "/api/freezes", body)["batch"]
    test = {"test": "EIA", "sampled_on": ago(days=20)[:10], "result": "negative"}
    manager.ok("POST", f"/api/batches/{made['id']}/tests", test)
    pick = {"goblet_id": placed[0][0], "batch_id": made["id"], "straws": 4}
    return send(manager, [pick], to_approval_number="DE-DEMO-9") | {"batch": made}


def row(sent: Any) -> Any:
    [only] = sent["packing_list"]["rows"]
    return only


def test_the_species(papers: Any) -> None:
    assert row(papers)["species"] == "Equus caballus"


def test_the_identity_and_name_of_the_donor(papers: Any) -> None:
    assert (row(papers)["donor_name"], row(papers)["donor_identity"]) == ("Lanternfield", UELN)


def test_the_breed_of_the_donor(papers: Any) -> None:
    assert row(papers)["breed"] == "Fen Cob"


def test_the_mark_on_the_straws(papers: Any) -> None:
    assert row(papers)["straw_mark"] == papers["batch"]["code"]
    assert row(papers)["batch_codes"] == [papers["batch"]["code"]]


def test_the_type_of_product(papers: Any) -> None:
    assert row(papers)["type"] == "semen, frozen"


def test_the_day_of_collection_as_the_station_writes_it(papers: Any) -> None:
    day = ago(days=40, minutes=5)[:10]
    assert row(papers)["collected_on"] == day
    assert row(papers)["collected_on_as_marked"] == day[2:].replace("-", "/")


def test_the_approval_numbers_of_collection_and_processing(papers: Any) -> None:
    """Who processes elsewhere adds a number of his own, so a straw may carry two."""
    found = row(papers)
    assert (found["approval_number"], found["processing_approval_number"]) == (
        "IE-DEMO-1", "IE-DEMO-2",
    )  # fmt: skip


def test_the_quantity_and_its_total(papers: Any) -> None:
    assert (row(papers)["straws"], papers["packing_list"]["straws"]) == (4, 4)


def test_the_tests_and_their_results(papers: Any) -> None:
    [one] = row(papers)["tests"]
    assert (one["test"], one["result"], one["sampled_on"]) == ("EIA", "negative", ago(days=20)[:10])


def test_what_the_receiving_vet_needs_straws_per_dose_concentration_and_thaw(papers: Any) -> None:
    found = row(papers)
    assert found["straws_per_dose"] == 4
    assert (found["straw_volume_ml"], found["concentration_million_per_ml"]) == (0.5, 200)
    assert found["thaw"] == [{"water_c": 75, "seconds": 7}, {"water_c": 37, "seconds": 10}]


def test_where_from_and_where_to_with_the_numbers_of_both(papers: Any) -> None:
    """Exact destination and origin: 2020/686, Article 8(1)(a); 2016/429, Article 103."""
    found = papers["packing_list"]
    assert (found["from_name"], found["from_country"]) == ("Fellgate Stud", "IE")
    assert found["from_approval_number"] == "IE-DEMO-1"
    assert (papers["to"], papers["to_approval_number"]) == ("Tarn Stud", "DE-DEMO-9")


def test_that_its_columns_are_from_memory(papers: Any) -> None:
    assert "2021/403, from memory" in papers["packing_list"]["columns_after"]


def test_with_all_of_it_known_no_mark_is_missing(papers: Any) -> None:
    assert {one["code"] for one in papers["warnings"]} == {"seal-missing"}


def test_what_is_unknown_stays_unknown(technician: Client, bank: Bank) -> None:
    found = row(send(technician, [bank.pick(0, 2)]))
    unknown = ("donor_identity", "breed", "approval_number", "processing_approval_number")
    assert [found[name] for name in unknown] == [None] * 4


def test_one_row_for_each_donor_mark_and_day(manager: Client, bank: Bank) -> None:
    other = manager.ok("POST", "/api/stallions", building.stallion("Quietwater"))
    there = bank.goblets[1]["id"]
    made = manager.ok("POST", "/api/freezes", building.freeze(other["id"], [(there, 10)]))["batch"]
    again = manager.ok("POST", "/api/freezes", building.freeze(other["id"], [(there, 10)]))["batch"]
    picks = [{"goblet_id": there, "batch_id": b["id"], "straws": 3} for b in (made, again)]
    sent = send(manager, [bank.pick(0, 1), bank.pick(2, 2), *picks])
    rows = [(one["donor_name"], one["straws"]) for one in sent["packing_list"]["rows"]]
    assert rows == [("Lanternfield", 3), ("Quietwater", 3), ("Quietwater", 3)]
    assert (sent["packing_list"]["straws"], sent["packing_list"]["donors"]) == (9, 2)


@pytest.mark.parametrize(
    ("mark_date_format", "written"),
    [
        ("ddmmyy", "030226"),
        ("yymmdd", "260203"),
        ("dd/mm/yy", "03/02/26"),
        ("yy/mm/dd", "26/02/03"),
        ("dd.mm.yy", "03.02.26"),
        ("yy.mm.dd", "26.02.03"),
    ],
)
def test_every_form_of_a_date_that_a_mark_may_have(
    mark_date_format: MarkDateFormat, written: str
) -> None:
    """Implementing Regulation (EU) 2020/999, Annex (OJ L 221, 2020)."""
    day = datetime(2026, 2, 3, tzinfo=UTC).date()
    assert written_day(day, mark_date_format) == written


# --- seals ----------------------------------------------------------------------------------------


def reseal(client: Client, sent: Any, number: str, **more: Any) -> Any:
    body = {"id": str(uuid4()), "number": number, "reason": "opened by the official vet", **more}
    return client.ok("POST", f"/api/dispatches/{sent['id']}/seals", body, status=201)


def test_a_replaced_seal_stays_readable_and_the_newest_is_on(
    technician: Client, bank: Bank
) -> None:
    """An official vet may replace a seal: 2020/686, Articles 27 and 28."""
    sent = send(technician, [bank.pick(0, 4)], seal_number="A 1")
    now = reseal(technician, sent, "B 2")
    assert [(seal["number"], seal["reason"]) for seal in now["seals"]] == [
        ("A 1", None), ("B 2", "opened by the official vet"),
    ]  # fmt: skip
    [listed] = technician.ok("GET", "/api/dispatches")["items"]
    assert listed["seal_number"] == "B 2"
    entry = technician.ok("GET", "/api/ledger?newest_first=true")["items"][0]
    assert (entry["kind"], entry["straws"]) == ("seal", 0)
    assert technician.ok("GET", "/api/ledger/check")["sound"] is True


def test_a_container_without_a_seal_gets_its_first(technician: Client, bank: Bank) -> None:
    sent = send(technician, [bank.pick(0, 4)])
    assert sent["seals"] == []
    assert [seal["number"] for seal in reseal(technician, sent, "A 1")["seals"]] == ["A 1"]


def test_a_seal_that_cannot_be_is_refused(technician: Client, bank: Bank) -> None:
    sent = send(technician, [bank.pick(0, 4)], seal_number="A 1")
    path = f"/api/dispatches/{sent['id']}/seals"
    for body, status, code in (
        ({"number": "A 1", "reason": "torn"}, 409, "same-seal"),
        ({"number": "B 2"}, 422, "invalid"),
        (
            {"number": "B 2", "reason": "torn", "applied_at": ago(hours=2)},
            422,
            "before-what-it-follows",
        ),
        ({"number": "B 2", "reason": "torn", "applied_at": ago(hours=-2)}, 422, "in-the-future"),
    ):
        technician.refused("POST", path, body, status, code)
    unknown = "/api/dispatches/0199b1f0-0000-7000-8000-000000000001/seals"
    body = {"number": "B 2", "reason": "torn"}
    technician.refused("POST", unknown, body, 404, "unknown-dispatch")
    found = technician.ok("GET", f"/api/dispatches/{sent['id']}")
    assert [seal["number"] for seal in found["seals"]] == ["A 1"]


def test_a_minute_without_its_seconds_is_no_time_before(technician: Client, bank: Bank) -> None:
    sent = send(technician, [bank.pick(0, 4)], seal_number="A 1")
    on_the_minute = datetime.now(UTC).replace(second=0, microsecond=0).isoformat()
    now = reseal(technician, sent, "B 2", applied_at=on_the_minute)
    assert [seal["number"] for seal in now["seals"]] == ["A 1", "B 2"]


# --- how long a shipper holds ---------------------------------------------------------------------

FILLED = datetime(2026, 3, 3, 8, tzinfo=UTC)


def test_a_shipper_holds_the_makers_days_and_cautiously_half_of_them() -> None:
    held = rules.holding(days_rated=Fraction(9), filled_at=FILLED)
    assert held.holds_until == datetime(2026, 3, 12, 8, tzinfo=UTC)
    assert held.cautious_until == datetime(2026, 3, 7, 20, tzinfo=UTC)


def test_days_are_never_rounded_up() -> None:
    held = rules.holding(days_rated=Fraction(1, 7), filled_at=FILLED)
    assert held.holds_until - FILLED == timedelta(seconds=12_342)


def test_holding_days_are_what_it_took_up_by_what_it_loses() -> None:
    """Practice guidance: 3.6 kg at 0.3 kg a day are exactly 12 days, in exact numbers."""
    days = rules.holding_days(absorbed_kg=Decimal("3.6"), loss_kg_per_day=Decimal("0.3"))
    assert days == 12


def test_the_reckoning_says_what_it_rests_on_and_that_nobody_measured_it(
    technician: Client, bank: Bank
) -> None:
    sent = send(
        technician, [bank.pick(0, 2)], holding_days_rated="12.5", filled_at=ago(days=1)
    )  # fmt: skip
    held = sent["holding"]
    assert held["holding_days"] == 12.5
    assert "static holding time" in held["assumption"]
    said = " ".join(held["cautions"])
    for caution in ("no measurement", "Weigh", "upright", "aired", "without free liquid"):
        assert caution in said


def test_without_either_figure_no_time_is_invented(technician: Client, bank: Bank) -> None:
    assert send(technician, [bank.pick(0, 2)], holding_days_rated=12)["holding"] is None
    assert send(technician, [bank.pick(0, 2)], filled_at=ago(days=1))["holding"] is None


def warned(sent: Any) -> set[str]:
    return {one["code"] for one in sent["warnings"]}


def test_a_shipper_that_is_empty_by_the_cautious_reckoning_is_asked_about(
    technician: Client, bank: Bank
) -> None:
    late = send(technician, [bank.pick(0, 2)], holding_days_rated=10, filled_at=ago(days=6))
    assert "holding-over" in warned(late)
    fresh = send(technician, [bank.pick(0, 2)], holding_days_rated=10, filled_at=ago(days=4))
    assert "holding-over" not in warned(fresh)


def test_a_holding_time_that_no_shipper_has_is_asked_about(technician: Client, bank: Bank) -> None:
    long = send(technician, [bank.pick(0, 2)], holding_days_rated=31, filled_at=ago(days=1))
    assert "unusual-holding" in warned(long)


def test_it_is_reckoned_without_booking_anything(auditor: Client) -> None:
    filled = {"filled_at": ago(days=1)}
    path = "/api/dispatches/holding"
    by_days = auditor.ok("POST", path, {**filled, "holding_days_rated": 12}, status=200)
    weights = {**filled, "absorbed_kg": "3.6", "loss_kg_per_day": "0.3"}
    assert auditor.ok("POST", path, weights, status=200) == by_days
    assert auditor.ok("GET", "/api/ledger")["items"] == []


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ({}, "which-holding"),
        ({"absorbed_kg": 3}, "which-holding"),
        ({"holding_days_rated": 12, "absorbed_kg": 3, "loss_kg_per_day": 1}, "which-holding"),
        ({"absorbed_kg": 1_000_000_000, "loss_kg_per_day": "0.000001"}, "which-holding"),
        ({"absorbed_kg": 3, "loss_kg_per_day": 0}, "invalid"),
        ({"holding_days_rated": 12, "filled_at": "9999-12-31T00:00:00Z"}, "in-the-future"),
    ],
)
def test_a_reckoning_from_what_cannot_be_is_refused(
    auditor: Client, body: dict[str, Any], code: str
) -> None:
    asked = {"filled_at": ago(days=1), **body}
    auditor.refused("POST", "/api/dispatches/holding", asked, 422, code)
