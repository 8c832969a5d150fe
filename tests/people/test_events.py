"""The record of security events: one for each act, chained, and refused to be changed."""

import sqlite3

import pytest
from sqlalchemy.exc import IntegrityError

from service.kernel import chain
from service.people import events

NEXT = "eleven brown hares under a hedge"


def kinds(house) -> list[str]:
    return [row["kind"] for row in sorted(house.rows("security_events"), key=lambda r: r["seq"])]


def test_each_act_leaves_exactly_one_event(house):
    house.add("rurik", "manager")
    rurik = house.signed_in("rurik")
    added = rurik.post(
        "/api/people", json={"username": "ilva", "display_name": "Ilva", "role": "vet"}
    ).json()
    path = f"/api/people/{added['id']}"
    ilva = house.browser()
    house.sign_in(ilva, "ilva", "not that one, surely")
    house.sign_in(ilva, "ilva", added["one_time_code"])
    ilva.post("/api/session/password", json={"password": NEXT})
    token = ilva.post("/api/tokens", json={"name": "printer"}).json()
    ilva.delete(f"/api/tokens/{token['id']}")
    ilva.delete("/api/session")
    for changes in ({"role": "auditor"}, {"disabled": True}, {"disabled": False}):
        etag = rurik.get(path).headers["etag"]
        rurik.patch(path, json=changes, headers={"If-Match": etag})
    rurik.post(f"{path}/reset")
    assert kinds(house) == [
        "user-added", "signed-in", "user-added", "sign-in-failed", "signed-in", "password-set",
        "token-made", "token-revoked", "signed-out", "user-changed", "user-disabled",
        "user-enabled", "user-reset",
    ]  # fmt: skip


def test_reading_and_refused_acts_leave_no_event(house):
    house.add("ilva")
    ilva = house.signed_in("ilva")
    before = kinds(house)
    ilva.get("/api/people")
    ilva.post("/api/people", json={"username": "x", "display_name": "x", "role": "manager"})
    ilva.post("/api/tokens", json={"name": "printer", "expires_on": "2020-01-01"})
    assert kinds(house) == before


@pytest.mark.parametrize(("role", "status"), [
    ("technician", 403), ("vet", 403), ("manager", 200), ("auditor", 200),
])  # fmt: skip
def test_managers_and_auditors_read_the_record(house, role, status):
    house.add("oda", role)
    oda = house.browser(address="192.0.2.5")
    house.sign_in(oda, "nobody", "not that one, surely")
    assert house.sign_in(oda, "oda").status_code == 204
    answer = oda.get("/api/security-events")
    assert answer.status_code == status
    if status == 200:
        newest, failed, added = answer.json()["items"]
        assert newest["seq"] == 3
        assert (newest["kind"], newest["about"], newest["address"]) == (
            "signed-in", "oda", "192.0.2.5",
        )  # fmt: skip
        assert newest["facts"] == {"with_one_time_code": False}
        assert (failed["kind"], failed["about"], failed["by"]) == ("sign-in-failed", None, None)
        assert (added["kind"], added["facts"]) == ("user-added", {"role": role})
        page = oda.get("/api/security-events", params={"limit": 2}).json()
        rest = oda.get("/api/security-events", params={"after": page["next"]}).json()
        assert [event["seq"] for event in page["items"] + rest["items"]] == [3, 2, 1]


def test_the_record_is_sound_and_its_head_is_the_last_hash(house):
    house.add("ilva")
    house.signed_in("ilva")
    with house.database.reading() as db:
        found = events.check(db)
    assert found.problems == []
    assert found.events == 2
    assert found.head == house.rows("security_events")[-1]["hash"]


def test_an_empty_record_is_sound(database):
    with database.reading() as db:
        assert events.check(db) == events.Soundness(events=0, head=chain.GENESIS, problems=[])


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE security_events SET text = replace(text, 'ilva', 'oda')",
        "UPDATE security_events SET kind = 'signed-out' WHERE seq = 2",
        "UPDATE security_events SET at = '2026-03-03T14:06:00.000000Z' WHERE seq = 2",
        "UPDATE security_events SET about_id = NULL WHERE seq = 2",
        "UPDATE security_events SET hash = lower(hex(zeroblob(32))) WHERE seq = 3",
        "DELETE FROM security_events WHERE seq = 1",
        "DELETE FROM security_events WHERE seq = 2",
    ],
)
def test_a_record_rewritten_behind_the_databases_back_is_not_sound(house, statement):
    house.add("ilva")
    house.signed_in("ilva").delete("/api/session")
    house.stop()
    with sqlite3.connect(house.book.data / "rimebook.db") as raw:
        for (trigger,) in raw.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = 'security_events'"
        ).fetchall():
            raw.execute(f"DROP TRIGGER {trigger}")
        raw.execute(statement)
    raw.close()
    house.start()
    with house.database.reading() as db:
        assert events.check(db).problems != []


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE security_events SET text = ''",
        "DELETE FROM security_events",
        "INSERT OR REPLACE INTO security_events SELECT * FROM security_events",
    ],
)
def test_the_database_refuses_to_change_the_record(house, statement):
    house.add("ilva")
    before = house.rows("security_events")
    with pytest.raises(IntegrityError, match="append-only"), house.database.writing() as db:
        db.connection().exec_driver_sql(statement)
    assert house.rows("security_events") == before
