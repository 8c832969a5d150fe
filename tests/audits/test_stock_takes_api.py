"""A stock-take over HTTP: opened, counted while work goes on, compared, adjusted, closed."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest

from service.audits.store import Adjustment, Approval
from tests.banks import Bank
from tests.conftest import Client

TAKES = "/api/stock-takes"


def now(**later: float) -> str:
    return (datetime.now(UTC) + timedelta(**later)).isoformat()


class Take:
    """A stock-take at the API."""

    def __init__(self, auditor: Client, scope: Any, **more: Any) -> None:
        self.auditor = auditor
        self.made = auditor.ok("POST", TAKES, {"id": str(uuid4()), "scope": scope, **more})
        self.path = f"{TAKES}/{self.made['id']}"

    def count(self, who: Client, goblet: Any, batches: Any = None, **more: Any) -> Any:
        body = {"id": str(uuid4()), "goblet_id": goblet["id"], **more}
        if batches is not None:
            body["batches"] = batches
        return who.ok("POST", f"{self.path}/counts", body, status=201)

    def compare(self) -> Any:
        return self.auditor.ok("POST", f"{self.path}/compare", {})

    def now(self, who: Client | None = None) -> Any:
        return (who or self.auditor).ok("GET", self.path)


@pytest.fixture
def take(auditor: Client, bank: Bank) -> Take:
    """Of the whole bank: four goblets, twenty straws in the first and in the third."""
    return Take(auditor, {})


def of(bank: Bank, straws: int) -> list[Any]:
    return [{"batch_code": bank.batch_code, "straws": straws}]


def count_all(take: Take, who: Client, bank: Bank, numbers: tuple[int, ...]) -> None:
    for goblet, straws in zip(bank.goblets, numbers, strict=True):
        take.count(who, goblet, of(bank, straws) if straws else [])


def test_all_that_is_counted_right_agrees(
    take: Take, technician: Client, bank: Bank, auditor: Client
) -> None:
    assert take.made["state"] == "counting"
    assert len(take.made["goblets"]) == 4
    count_all(take, technician, bank, (20, 0, 20, 0))
    compared = take.compare()
    assert (compared["state"], compared["differences"]) == ("compared", [])
    closed = auditor.ok("POST", f"{take.path}/close", {})
    assert closed["state"] == "closed"
    report = auditor.ok("GET", f"{take.path}/report.json")
    assert report["sha256"] == closed["report_sha256"]
    auditor.refused("POST", f"{take.path}/compare", {}, 409, "stock-take-closed")


def test_no_answer_tells_a_counter_what_is_expected(
    take: Take, technician: Client, bank: Bank
) -> None:
    told = take.count(technician, bank.goblets[0], of(bank, 19))
    assert "expected" not in str(told)
    assert take.now(technician)["differences"] == []
    assert "expected" not in str({k: v for k, v in take.now(technician).items() if k != "scope"})


def test_what_is_missing_is_told_with_the_last_acts_and_stories(
    take: Take, technician: Client, bank: Bank
) -> None:
    count_all(take, technician, bank, (18, 0, 20, 0))
    [found] = take.compare()["differences"]
    assert (found["class"], found["difference"], found["expected"]) == ("missing", -2, 20)
    assert found["address"] == bank.goblets[0]["address"]
    assert found["recent_entries"][0]["kind"] == "freeze"
    assert found["stories"]


def test_overs_and_unders_are_two_differences_and_proposed_as_a_move(
    take: Take, technician: Client, bank: Bank
) -> None:
    count_all(take, technician, bank, (18, 2, 20, 0))
    found = take.compare()["differences"]
    assert [(one["class"], one["difference"]) for one in found] == [
        ("wrong-place", -2),
        ("wrong-place", 2),
    ]
    assert found[0]["move"]["to_goblet_id"] == bank.goblets[1]["id"]


def test_work_goes_on_and_is_known_at_each_goblets_cut_off(
    take: Take, technician: Client, vet: Client, bank: Bank
) -> None:
    take.count(technician, bank.goblets[0], of(bank, 20))
    vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(2, 4)]))
    take.count(technician, bank.goblets[2], of(bank, 16))
    for empty in (1, 3):
        take.count(technician, bank.goblets[empty], [])
    assert take.compare()["differences"] == []


def test_a_goblet_touched_while_it_was_counted_is_counted_again(
    take: Take, technician: Client, vet: Client, bank: Bank
) -> None:
    began = now()
    vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    take.count(technician, bank.goblets[0], of(bank, 20), started_at=began)
    [found] = take.compare()["differences"]
    assert found["class"] == "disturbed"
    take.auditor.ok("POST", f"{take.path}/recounts", {"goblet_ids": [bank.goblets[0]["id"]]})
    take.count(vet, bank.goblets[0], of(bank, 16), started_at=now())
    assert take.compare()["differences"] == []


def test_codes_settle_which_twin_it_is(
    take: Take, technician: Client, vet: Client, bank: Bank
) -> None:
    """Four left by count; the hand took others than the book chose."""
    left = bank.codes_in(0)[:4]
    vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    still = left + bank.codes_in(0)[8:]
    take.count(technician, bank.goblets[0], straw_codes=still, started_at=now())
    assert take.compare()["differences"] == []
    straw = vet.ok("GET", f"/api/straws/{left[0]}")
    assert (straw["state"], straw["goblet_id"]) == ("stored", bank.goblets[0]["id"])
    assert take.auditor.ok("GET", "/api/ledger/check")["problems"] == []


def test_a_scan_names_what_is_missing_foreign_and_unreadable(
    take: Take, technician: Client, bank: Bank
) -> None:
    seen = [*bank.codes_in(0)[1:], "NOT-ONE-OF-OURS"]
    take.count(technician, bank.goblets[0], straw_codes=seen)
    found = {one["class"]: one for one in take.compare()["differences"]}
    assert found["missing"]["codes"] == [bank.codes_in(0)[0]]
    assert found["unknown"]["foreign"] == ["NOT-ONE-OF-OURS"]


def adjustment(bank: Bank, goblet: int, difference: int, **more: Any) -> Any:
    return {
        "id": str(uuid4()),
        "goblet_id": bank.goblets[goblet]["id"],
        "batch_id": bank.batch_id,
        "difference": difference,
        "reason_code": "unrecorded-use",
        "note": "Taken on Saturday night",
        **more,
    }


def test_an_adjustment_is_approved_by_somebody_else_and_booked_for_ever(
    take: Take, technician: Client, manager: Client, auditor: Client, bank: Bank
) -> None:
    count_all(take, technician, bank, (18, 0, 20, 0))
    take.compare()
    path = f"{take.path}/adjustments"
    auditor.refused("POST", path, adjustment(bank, 0, -3), 422, "no-such-difference")
    auditor.refused("POST", path, adjustment(bank, 0, 2), 422, "no-such-difference")
    made = auditor.ok("POST", path, adjustment(bank, 0, -2))
    assert made["state"] == "proposed"
    approve = f"{path}/{made['id']}/approve"
    auditor.refused("POST", approve, {}, 403, "forbidden")
    done = manager.ok("POST", approve, {})
    assert (done["state"], done["approved_by"]) == ("approved", "The manager")
    manager.refused("POST", approve, {}, 409, "already-approved")
    stock = manager.ok("GET", f"/api/goblets/{bank.goblets[0]['id']}")
    assert stock["contents"][0]["straws"] == 18
    entries = manager.ok("GET", "/api/ledger?limit=1000")["items"]
    [entry] = [one for one in entries if one["seq"] == done["entry_seq"]]
    assert (entry["kind"], entry["straws"]) == ("adjust", 2)
    assert manager.ok("GET", "/api/ledger/check")["problems"] == []
    assert take.now()["differences"][0]["open"] == 0


def test_whoever_proposed_or_counted_does_not_approve(
    take: Take, manager: Client, auditor: Client, bank: Bank
) -> None:
    count_all(take, manager, bank, (18, 0, 19, 0))
    take.compare()
    path = f"{take.path}/adjustments"
    made = auditor.ok("POST", path, adjustment(bank, 0, -2))
    manager.refused("POST", f"{path}/{made['id']}/approve", {}, 403, "same-person")
    take.auditor.ok("POST", f"{take.path}/recounts", {"goblet_ids": [bank.goblets[2]["id"]]})
    take.count(auditor, bank.goblets[2], of(bank, 19))
    take.compare()
    own = manager.ok("POST", path, adjustment(bank, 2, -1))
    manager.refused("POST", f"{path}/{own['id']}/approve", {}, 403, "same-person")


def test_the_database_itself_refuses_the_same_person(
    take: Take, technician: Client, auditor: Client, bank: Bank, service: Any
) -> None:
    count_all(take, technician, bank, (18, 0, 20, 0))
    take.compare()
    made = auditor.ok("POST", f"{take.path}/adjustments", adjustment(bank, 0, -2))
    database = service.app.state.wiring.database
    with pytest.raises(Exception, match="does not approve"), database.writing() as db:
        one = db.get_one(Adjustment, UUID(made["id"]))
        db.add(
            Approval(
                adjustment_id=one.id,
                approved_by_id=one.proposed_by_id,
                approved_by="x",
                approved_at=one.proposed_at,
                entry_seq=1,
                straw_codes=[],
            )
        )


def test_straws_that_stand_elsewhere_are_moved_by_one_adjustment(
    take: Take, technician: Client, manager: Client, auditor: Client, bank: Bank
) -> None:
    count_all(take, technician, bank, (18, 2, 20, 0))
    take.compare()
    body = adjustment(
        bank, 0, -2, other_goblet_id=bank.goblets[1]["id"], reason_code="found-elsewhere"
    )
    made = auditor.ok("POST", f"{take.path}/adjustments", body)
    manager.ok("POST", f"{take.path}/adjustments/{made['id']}/approve", {})
    assert {one["open"] for one in take.now()["differences"]} == {0}
    assert manager.ok("GET", f"/api/goblets/{bank.goblets[1]['id']}")["contents"][0]["straws"] == 2
    auditor.ok("POST", f"{take.path}/close", {})


def test_what_was_found_comes_back_from_the_missing_or_is_made(
    take: Take, technician: Client, manager: Client, auditor: Client, bank: Bank
) -> None:
    count_all(take, technician, bank, (21, 0, 20, 0))
    take.compare()
    body = adjustment(bank, 0, 1, reason_code="data-entry-error")
    made = auditor.ok("POST", f"{take.path}/adjustments", body)
    manager.ok("POST", f"{take.path}/adjustments/{made['id']}/approve", {})
    assert manager.ok("GET", f"/api/goblets/{bank.goblets[0]['id']}")["contents"][0]["straws"] == 21
    assert manager.ok("GET", "/api/ledger/check")["problems"] == []


def test_a_large_unexplained_loss_is_counted_again_first(
    take: Take, technician: Client, vet: Client, auditor: Client, bank: Bank
) -> None:
    count_all(take, technician, bank, (15, 0, 20, 0))
    take.compare()
    body = adjustment(bank, 0, -5, reason_code="unexplained")
    auditor.refused("POST", f"{take.path}/adjustments", body, 409, "recount-first")
    auditor.ok("POST", f"{take.path}/recounts", {"goblet_ids": [bank.goblets[0]["id"]]})
    auditor.refused("POST", f"{take.path}/adjustments", body, 409, "not-compared")
    take.count(vet, bank.goblets[0], of(bank, 15))
    take.compare()
    assert auditor.ok("POST", f"{take.path}/adjustments", body)["state"] == "proposed"


def test_a_count_by_somebody_who_read_the_goblet_is_not_blind(
    take: Take, technician: Client, vet: Client, bank: Bank
) -> None:
    vet.ok("GET", f"/api/goblets/{bank.goblets[0]['id']}")
    take.count(vet, bank.goblets[0], of(bank, 20))
    take.count(vet, bank.goblets[2], of(bank, 20))
    take.count(technician, bank.goblets[1], [])
    blind = {one["goblet_id"]: one["not_blind"] for one in take.now()["counts"]}
    assert [blind[bank.goblets[n]["id"]] for n in (0, 1, 2)] == [True, False, False]


def test_the_page_of_a_stock_take_tells_nothing_before_it_was_compared(
    take: Take, technician: Client, vet: Client, bank: Bank
) -> None:
    take.now(technician)
    count_all(take, technician, bank, (18, 0, 20, 0))
    assert not any(one["not_blind"] for one in take.now(technician)["counts"])
    take.compare()
    take.now(vet)  # reads the differences, and counts again
    take.auditor.ok("POST", f"{take.path}/recounts", {"goblet_ids": [bank.goblets[0]["id"]]})
    take.count(vet, bank.goblets[0], of(bank, 18))
    assert [one["not_blind"] for one in take.now()["counts"]][-1]


def test_a_count_that_is_sent_twice_is_kept_once(
    take: Take, technician: Client, bank: Bank
) -> None:
    body = {"id": str(uuid4()), "goblet_id": bank.goblets[0]["id"], "batches": of(bank, 20)}
    first = technician.post(f"{take.path}/counts", json=body)
    again = technician.post(f"{take.path}/counts", json=body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert len(take.now()["counts"]) == 1


def test_it_is_not_closed_before_all_is_counted_compared_and_dealt_with(
    take: Take, technician: Client, auditor: Client, bank: Bank
) -> None:
    close = f"{take.path}/close"
    auditor.refused("POST", close, {}, 409, "not-all-counted")
    count_all(take, technician, bank, (18, 0, 20, 0))
    auditor.refused("POST", close, {}, 409, "not-compared")
    take.compare()
    auditor.refused("POST", close, {}, 409, "not-explained")
    closed = auditor.ok("POST", close, {"note": "The vet looks for them until Friday"})
    assert closed["closing_note"] == "The vet looks for them until Friday"


def test_a_sample_can_be_drawn_again_from_its_seed(auditor: Client, bank: Bank) -> None:
    take = Take(auditor, {"sample": {"confidence_percent": 95, "detect_percent": 50}})
    assert len(take.made["seed"]) == 32
    assert 1 <= len(take.made["goblets"]) <= 4
    assert take.made["sample"]["confidence_percent"] == "95"
    report = auditor.ok("GET", f"{take.path}/report.json")
    assert report["sample"]["seed"] == take.made["seed"]


@pytest.mark.parametrize("scope", [{"tank_ids": [str(uuid4())]}, {"goblet_ids": [str(uuid4())]}])
def test_nothing_to_count_is_refused(auditor: Client, bank: Bank, scope: Any) -> None:
    auditor.refused("POST", TAKES, {"scope": scope}, 422, "bad-scope")


def test_an_auditor_signs(
    take: Take, auditor: Client, manager: Client, technician: Client, bank: Bank
) -> None:
    signed = auditor.ok("POST", f"{take.path}/reviews", {"meaning": "reviewed", "note": "Sound"})
    assert (signed["by"], signed["role"]) == ("The auditor", "auditor")
    manager.refused("POST", f"{take.path}/reviews", {"meaning": "reviewed"}, 403, "forbidden")


@pytest.mark.parametrize(
    "what",
    [
        *("stock", "corrections", "overrides", "exchanges", "late-entries", "adjustments"),
        *("record-changes", "goblets", "accuracy"),
    ],
)
def test_every_table_of_the_reading_room_is_read_and_exported(
    what: str, auditor: Client, bank: Bank, vet: Client, person: Callable[[str], Client]
) -> None:
    vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))
    table = auditor.ok("GET", f"/api/reading-room/{what}")
    text = auditor.get(f"/api/reading-room/{what}/table.csv").text
    assert text.lstrip("\ufeff").splitlines()[0] == ",".join(table["columns"])
    assert len(text.splitlines()) == 1 + len(table["items"])


def test_stock_is_read_as_it_was_on_any_day(auditor: Client, vet: Client, bank: Bank) -> None:
    before = now()
    vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(0, 4)]))

    def straws(query: str) -> list[int]:
        return [
            one["straws"] for one in auditor.ok("GET", f"/api/reading-room/stock{query}")["items"]
        ]

    assert straws("") == [16, 20]
    assert straws(f"?as_of={before.replace('+', '%2B')}") == [20, 20]


def test_what_was_booked_before_a_recount_is_not_taken_off_its_difference_again(
    take: Take, technician: Client, vet: Client, manager: Client, auditor: Client, bank: Bank
) -> None:
    count_all(take, technician, bank, (18, 0, 20, 0))
    take.compare()
    path = f"{take.path}/adjustments"
    made = auditor.ok("POST", path, adjustment(bank, 0, -2))
    assert take.now()["differences"][0]["open"] == 0  # proposed
    auditor.refused("POST", f"{take.path}/close", {}, 409, "not-explained")  # and not approved
    manager.ok("POST", f"{path}/{made['id']}/approve", {})
    auditor.ok("POST", f"{take.path}/recounts", {"goblet_ids": [bank.goblets[0]["id"]]})
    take.count(vet, bank.goblets[0], of(bank, 16), started_at=now())
    [found] = take.compare()["differences"]
    assert (found["expected"], found["difference"], found["open"]) == (18, -2, -2)
