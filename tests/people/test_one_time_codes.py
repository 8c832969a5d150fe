"""One-time codes: they open an account once, for a while, and only to set a password."""

import pytest

from service.people import actions, hashing

PASSWORD = "seven grey geese over the fjord"
NEXT = "eleven brown hares under a hedge"


def added(house, username: str = "ilva", role: str = "technician") -> dict:
    """A new person, added by a manager, with their code."""
    house.add("rurik", "manager")
    manager = house.signed_in("rurik")
    answer = manager.post(
        "/api/people", json={"username": username, "display_name": "Ilva Thornby", "role": role}
    )
    assert answer.status_code == 201, answer.text
    return answer.json()


def test_a_new_person_signs_in_with_the_code_and_sets_a_password(house):
    code = added(house)["one_time_code"]
    client = house.browser()
    assert house.sign_in(client, "ilva", code).status_code == 204
    before = client.cookies["rimebook_session"]
    assert client.post("/api/session/password", json={"password": NEXT}).status_code == 204
    assert client.cookies["rimebook_session"] != before
    assert client.get("/api/session").json()["username"] == "ilva"
    stale = house.client({"Cookie": f"rimebook_session={before}"})
    assert stale.get("/api/session").status_code == 401
    assert house.sign_in(house.browser(), "ilva", NEXT).status_code == 204


@pytest.mark.parametrize("typed", [str.lower, lambda code: code.replace("-", " ")])
def test_a_code_may_be_typed_carelessly(house, typed):
    code = typed(added(house)["one_time_code"])
    assert house.sign_in(house.browser(), "ilva", code).status_code == 204


def test_only_setting_a_password_is_open_after_a_code(house):
    client = house.browser()
    assert house.sign_in(client, "ilva", added(house)["one_time_code"]).status_code == 204
    for method, path in [
        ("GET", "/api/session"), ("GET", "/api/people"), ("GET", "/api/stallions"),
        ("POST", "/api/tokens"), ("GET", "/api/ledger"),
    ]:  # fmt: skip
        answer = client.request(method, path, **({"json": {}} if method == "POST" else {}))
        assert (answer.status_code, answer.json()["code"]) == (403, "password-needed"), path


def test_a_code_works_once(house):
    code = added(house)["one_time_code"]
    assert house.sign_in(house.browser(), "ilva", code).status_code == 204
    assert house.sign_in(house.browser(), "ilva", code).status_code == 401


def test_a_set_up_code_is_good_for_a_day(house):
    person = added(house)
    assert person["one_time_code_expires_at"] == "2026-03-04T14:05:00Z"
    house.clock.forward(hours=24, seconds=-1)
    assert house.sign_in(house.browser(), "ilva", person["one_time_code"]).status_code == 204


def test_a_set_up_code_ends_after_a_day(house):
    code = added(house)["one_time_code"]
    house.clock.forward(hours=24)
    assert house.sign_in(house.browser(), "ilva", code).status_code == 401


def test_a_session_of_a_code_does_not_last(house):
    code = added(house)["one_time_code"]
    client = house.browser()
    assert house.sign_in(client, "ilva", code).status_code == 204
    house.clock.forward(minutes=30)
    assert client.post("/api/session/password", json={"password": NEXT}).status_code == 401


def test_a_reset_ends_password_and_sessions_at_once_and_leaves_tokens(house):
    person_id = house.add("ilva")
    house.add("rurik", "manager")
    ilva, rurik = house.signed_in("ilva"), house.signed_in("rurik")
    token = ilva.post("/api/tokens", json={"name": "printer"}).json()["token"]
    answer = rurik.post(f"/api/people/{person_id}/reset")
    assert answer.status_code == 200, answer.text
    assert answer.json()["one_time_code_expires_at"] == "2026-03-03T14:20:00Z"
    assert ilva.get("/api/session").status_code == 401
    assert house.program(token).get("/api/session").status_code == 200
    assert house.sign_in(house.browser(), "ilva").status_code == 401
    client = house.browser()
    code = answer.json()["one_time_code"]
    assert house.sign_in(client, "ilva", code).status_code == 204
    assert client.post("/api/session/password", json={"password": NEXT}).status_code == 204


def test_a_reset_code_ends_after_a_quarter_of_an_hour(house):
    person_id = house.add("ilva")
    house.add("rurik", "manager")
    rurik = house.signed_in("rurik")
    code = rurik.post(f"/api/people/{person_id}/reset").json()["one_time_code"]
    house.clock.forward(minutes=15)
    assert house.sign_in(house.browser(), "ilva", code).status_code == 401


def test_a_second_reset_makes_the_first_code_worthless(house):
    person_id = house.add("ilva")
    house.add("rurik", "manager")
    rurik = house.signed_in("rurik")
    codes = [rurik.post(f"/api/people/{person_id}/reset").json()["one_time_code"] for _ in range(2)]
    assert house.sign_in(house.browser(), "ilva", codes[0]).status_code == 401
    assert house.sign_in(house.browser(), "ilva", codes[1]).status_code == 204


def test_a_reset_that_cannot_be_right_is_refused(house):
    person_id, own_id = house.add("ilva"), house.add("rurik", "manager")
    rurik = house.signed_in("rurik")
    own = rurik.post(f"/api/people/{own_id}/reset")
    assert (own.status_code, own.json()["code"]) == (409, "own-reset")
    nobody = rurik.post("/api/people/01937c5e-8a00-7000-8000-000000000001/reset")
    assert (nobody.status_code, nobody.json()["code"]) == (404, "unknown-person")
    etag = rurik.get(f"/api/people/{person_id}").headers["etag"]
    rurik.patch(f"/api/people/{person_id}", json={"disabled": True}, headers={"If-Match": etag})
    closed = rurik.post(f"/api/people/{person_id}/reset")
    assert (closed.status_code, closed.json()["code"]) == (409, "person-disabled")


def test_a_weak_password_is_refused_and_the_session_stays(house):
    code = added(house)["one_time_code"]
    client = house.browser()
    assert house.sign_in(client, "ilva", code).status_code == 204
    refused = client.post("/api/session/password", json={"password": "ilva thornby ilva"})
    assert (refused.status_code, refused.json()["code"]) == (422, "weak-password")
    assert refused.json()["errors"][0]["field"] == "password"
    assert client.post("/api/session/password", json={"password": NEXT}).status_code == 204


def test_a_new_password_ends_every_other_session(house):
    house.add("ilva")
    here, elsewhere = house.signed_in("ilva"), house.signed_in("ilva")
    assert here.post("/api/session/password", json={"password": NEXT}).status_code == 204
    assert here.get("/api/session").status_code == 200
    assert elsewhere.get("/api/session").status_code == 401
    assert house.sign_in(house.browser(), "ilva").status_code == 401


def test_some_time_after_signing_in_the_present_password_is_asked_for(house):
    house.add("ilva")
    client = house.signed_in("ilva")
    house.clock.forward(minutes=16)
    for body in ({"password": NEXT}, {"password": NEXT, "current_password": "another one"}):
        refused = client.post("/api/session/password", json=body)
        assert (refused.status_code, refused.json()["code"]) == (403, "wrong-password")
    right = {"password": NEXT, "current_password": PASSWORD}
    assert client.post("/api/session/password", json=right).status_code == 204


def test_a_present_password_that_is_sent_is_checked_at_any_time(house):
    house.add("ilva")
    client = house.signed_in("ilva")
    wrong = {"password": NEXT, "current_password": "another one"}
    assert client.post("/api/session/password", json=wrong).status_code == 403
    right = {"password": NEXT, "current_password": PASSWORD}
    assert client.post("/api/session/password", json=right).status_code == 204


def test_guesses_at_the_present_password_wait_too(house):
    house.add("ilva")
    client = house.signed_in("ilva")
    house.clock.forward(minutes=16)
    guess = {"password": NEXT, "current_password": "another one"}
    statuses = [client.post("/api/session/password", json=guess).status_code for _ in range(6)]
    assert statuses == [403] * 5 + [429]


def test_a_token_cannot_set_a_password_or_sign_out(house):
    house.add("ilva")
    token = house.signed_in("ilva").post("/api/tokens", json={"name": "printer"}).json()["token"]
    program = house.program(token)
    for answer in (
        program.post("/api/session/password", json={"password": NEXT}),
        program.delete("/api/session"),
    ):
        assert (answer.status_code, answer.json()["code"]) == (403, "session-needed")


def test_the_first_manager_gets_a_code_until_somebody_can_manage(database, clock):
    from service.kernel.ids import new_id
    from service.people.events import Occasion
    from service.people.store import User

    def code():
        with database.writing() as db:
            return actions.first_manager_code(db, occasion=Occasion(at=clock(), new_id=new_id))

    first = code()
    assert first is not None
    assert first.username == "first-manager"
    assert (first.expires_at - clock()).total_seconds() == 24 * 3600
    assert code() is None, "a code that is still good is not replaced"
    clock.forward(hours=24)
    second = code()
    assert second is not None
    assert (second.username, second.code != first.code) == ("first-manager", True)
    with database.writing() as db:
        user = db.exec(User.__table__.select()).one()
        db.get(User, user.id).password_hash = hashing.hashed_password(PASSWORD)
    clock.forward(hours=24)
    assert code() is None


def test_the_first_manager_takes_nobodys_name(database, clock):
    from service.kernel.ids import new_id
    from service.people.events import Occasion

    occasion = Occasion(at=clock(), new_id=new_id)
    with database.writing() as db:
        for name in ("first-manager", "First-Manager2"):
            actions.add_user(db, username=name, display_name=name, role="vet", occasion=occasion)
        assert actions.first_manager_code(db, occasion=occasion).username == "first-manager3"
