"""Tokens for programs: shown once, kept hashed, ended by day or by hand."""

import re

import pytest


@pytest.fixture
def ilva(house):
    house.add("ilva", "vet")
    return house.signed_in("ilva")


def test_a_token_acts_as_its_owner_and_needs_no_origin(house, ilva):
    made = ilva.post("/api/tokens", json={"name": "printer"})
    assert made.status_code == 201
    program = house.program(made.json()["token"])
    assert program.get("/api/session").json()["username"] == "ilva"
    assert program.post("/api/tokens", json={"name": "another"}).status_code == 201


def test_a_token_is_shown_once(ilva):
    made = ilva.post("/api/tokens", json={"name": "printer", "expires_on": "2026-06-01"}).json()
    assert set(made) == {"id", "name", "token", "created_at", "expires_on", "last_used_at"}
    listed = ilva.get("/api/tokens").json()
    assert listed == {
        "items": [{key: made[key] for key in made if key != "token"}], "next": None,
    }  # fmt: skip
    assert made["token"] not in ilva.get("/api/tokens").text


def test_a_revoked_token_opens_nothing(house, ilva):
    made = ilva.post("/api/tokens", json={"name": "printer"}).json()
    program = house.program(made["token"])
    assert program.get("/api/session").status_code == 200
    assert ilva.delete(f"/api/tokens/{made['id']}").status_code == 204
    assert program.get("/api/session").status_code == 401
    assert ilva.get("/api/tokens").json()["items"] == []
    assert ilva.delete(f"/api/tokens/{made['id']}").json()["code"] == "unknown-token"


def test_a_token_works_through_its_last_day(house, ilva):
    made = ilva.post("/api/tokens", json={"name": "printer", "expires_on": "2026-03-04"}).json()
    program = house.program(made["token"])
    house.clock.now = house.clock.now.replace(day=4, hour=23, minute=59, second=59)
    assert program.get("/api/session").status_code == 200
    house.clock.forward(seconds=1)
    assert program.get("/api/session").status_code == 401


def test_a_token_ends_after_a_year_where_nothing_is_said(ilva):
    made = ilva.post("/api/tokens", json={"name": "printer"}).json()
    assert made["expires_on"] == "2027-03-03"


@pytest.mark.parametrize("day", ["2026-03-02", "2027-03-05", "9999-12-31"])
def test_a_token_cannot_end_yesterday_or_in_years(ilva, day):
    refused = ilva.post("/api/tokens", json={"name": "printer", "expires_on": day})
    assert (refused.status_code, refused.json()["code"]) == (422, "bad-expiry")
    assert refused.json()["errors"][0]["field"] == "expires_on"


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"name": ""},
        {"name": "x" * 121},
        {"name": "printer", "expires_on": "soon"},
        {"name": "printer", "expires_on": 20260304},
        {"name": "printer", "user_id": "01937c5e-8a00-7000-8000-000000000001"},
    ],
)
def test_a_token_that_cannot_be_right_is_refused(ilva, body):
    assert ilva.post("/api/tokens", json=body).status_code == 422


def test_nobody_sees_or_revokes_the_tokens_of_another(house, ilva):
    made = ilva.post("/api/tokens", json={"name": "printer"}).json()
    house.add("rurik", "manager")
    rurik = house.signed_in("rurik")
    assert rurik.get("/api/tokens").json()["items"] == []
    assert rurik.delete(f"/api/tokens/{made['id']}").status_code == 404
    assert house.program(made["token"]).get("/api/session").status_code == 200


def test_tokens_come_in_pages(ilva):
    names = [f"printer {number}" for number in range(5)]
    for name in names:
        ilva.post("/api/tokens", json={"name": name})
    seen, after = [], None
    while True:
        query = {"limit": 2} | ({"after": after} if after else {})
        page = ilva.get("/api/tokens", params=query).json()
        seen += [item["name"] for item in page["items"]]
        after = page["next"]
        if after is None:
            break
    assert seen == names


@pytest.mark.parametrize("after", ["x", "WzVd", "WyJ4Il0", "W10", "WyJcdWQ4MDAiXQ", "bnVsbA"])
def test_a_page_marker_of_somebody_else_is_refused(ilva, after):
    refused = ilva.get("/api/tokens", params={"after": after})
    assert (refused.status_code, refused.json()["code"]) == (422, "bad-cursor")


@pytest.mark.sqlite_only
def test_a_leaked_file_opens_nothing(house, ilva):
    """Whatever stands in the file, sent as cookie, token, password or code: no way in."""
    made = ilva.post("/api/tokens", json={"name": "printer"}).json()
    house.add("rurik", "manager")
    rurik = house.signed_in("rurik")
    added = rurik.post(
        "/api/people", json={"username": "oda", "display_name": "Oda", "role": "auditor"}
    ).json()
    secrets = [
        made["token"], added["one_time_code"], added["one_time_code"].replace("-", ""),
        ilva.cookies["rimebook_session"], "seven grey geese",
    ]  # fmt: skip
    house.stop()
    raw = b"".join(
        path.read_bytes() for path in sorted(house.book.data.iterdir()) if path.is_file()
    )
    house.start()
    for secret in secrets:
        assert secret.encode() not in raw
        assert secret.removeprefix("rimebook_").encode() not in raw
    kept = set(re.findall(rb"(?<![0-9a-f])[0-9a-f]{64}", raw))
    stored = {row["token_hash"] for row in house.rows("tokens") + house.rows("sessions")}
    assert {value.encode() for value in stored} <= kept
    for value in sorted(stored):
        assert house.program(value).get("/api/session").status_code == 401
        cookie = house.client({"Cookie": f"rimebook_session={value}"})
        assert cookie.get("/api/session").status_code == 401
    for column in ("password_hash", "one_time_code_hash"):
        for user in house.rows("users"):
            if user[column]:
                tried = house.sign_in(house.browser(), user["username"], user[column])
                assert tried.status_code == 401
    assert house.program(made["token"]).get("/api/session").status_code == 200


def test_the_last_use_of_a_token_is_noted(house, ilva):
    made = ilva.post("/api/tokens", json={"name": "printer"}).json()
    house.program(made["token"]).get("/api/session")
    house.restart()
    assert house.rows("tokens")[0]["last_used_at"] == "2026-03-03T14:05:00.000000Z"
