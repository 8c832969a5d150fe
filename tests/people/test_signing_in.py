"""Signing in and out, the cookie, and how long a session lasts."""

import json
import time
from datetime import timedelta

import pytest

from service.kernel.ids import new_id
from service.people import rules, signing_in
from service.people.events import Occasion

PASSWORD = "seven grey geese over the fjord"


def test_a_signed_in_person_is_known(house):
    person_id = house.add("ilva", "vet")
    client = house.signed_in("ilva")
    answer = client.get("/api/session")
    assert answer.status_code == 200
    assert answer.json() == {
        "id": person_id, "username": "ilva", "display_name": "Ilva", "role": "vet",
    }  # fmt: skip


def test_signing_in_answers_nothing_but_the_cookie(house):
    house.add("ilva")
    answer = house.sign_in(house.browser(), "ilva")
    assert (answer.status_code, answer.content) == (204, b"")
    parts = [part.strip().lower() for part in answer.headers["set-cookie"].split(";")]
    assert parts[0].startswith("rimebook_session=")
    assert {"httponly", "samesite=strict", "path=/", "max-age=43200"} <= set(parts)
    assert "secure" not in parts
    assert not any(part.startswith("domain") for part in parts)


def test_under_https_the_cookie_is_pinned_to_this_host(house):
    house.add("ilva")
    client = house.browser()
    client.headers.update({"X-Forwarded-Proto": "https", "Origin": f"https://{house.host}"})
    answer = house.sign_in(client, "ilva")
    name, _, rest = answer.headers["set-cookie"].partition("=")
    assert name == "__Host-rimebook_session"
    assert "secure" in [part.strip().lower() for part in rest.split(";")]
    assert "max-age=31536000" in answer.headers["strict-transport-security"]
    token = rest.split(";")[0]
    secure = {"X-Forwarded-Proto": "https", "Cookie": f"__Host-rimebook_session={token}"}
    plain = {"X-Forwarded-Proto": "https", "Cookie": f"rimebook_session={token}"}
    bare = house.client({})
    assert bare.get("/api/session", headers=secure).status_code == 200
    assert bare.get("/api/session", headers=plain).status_code == 401


@pytest.mark.parametrize("typed", ["ILVA", " ilva ", "ｉｌｖａ"])
def test_a_name_is_the_same_however_it_is_typed(house, typed):
    house.add("Ilva")
    assert house.sign_in(house.browser(), typed).status_code == 204


def test_a_password_is_the_same_however_its_letters_are_composed(house):
    house.add("ilva", password="fünf graue Gänse am Fjord")
    decomposed = "fu\u0308nf graue Ga\u0308nse am Fjord"
    assert house.sign_in(house.browser(), "ilva", decomposed).status_code == 204


def test_every_sign_of_a_long_password_counts(house):
    long = "grey geese over the fjord " * 5
    assert len(long) > 128
    house.add("ilva", password=long)
    assert house.sign_in(house.browser(), "ilva", long[:-1]).status_code == 401
    assert house.sign_in(house.browser(), "ilva", long[:-1] + "x").status_code == 401
    assert house.sign_in(house.browser(), "ilva", long).status_code == 204


def test_a_wrong_name_and_a_wrong_password_get_the_same_answer(house):
    person_id = house.add("ilva")
    house.add("rurik", "manager")
    manager = house.signed_in("rurik")
    wrong_password = house.sign_in(house.browser(), "ilva", "not that one, surely")
    wrong_name = house.sign_in(house.browser(), "nobody", "not that one, surely")
    etag = manager.get(f"/api/people/{person_id}").headers["etag"]
    closed = manager.patch(
        f"/api/people/{person_id}", json={"disabled": True}, headers={"If-Match": etag}
    )
    assert closed.status_code == 200
    disabled = house.sign_in(house.browser(), "ilva")
    assert wrong_password.status_code == 401
    assert wrong_password.json()["code"] == "wrong-sign-in"
    for other in (wrong_name, disabled):
        assert (other.status_code, other.content) == (401, wrong_password.content)
        assert {*other.headers} == {*wrong_password.headers}


def test_an_unknown_name_costs_as_much_work_as_a_known_one(house):
    """Processor time of this thread, so that a busy machine changes nothing."""
    house.add("ilva")

    def work_of(username: str) -> float:
        started = time.thread_time()
        with pytest.raises(rules.WrongSignIn):
            signing_in.sign_in(
                house.database, username=username, password="not that one, surely",
                occasion=Occasion(at=house.clock(), new_id=new_id, address="192.0.2.7"),
            )  # fmt: skip
        house.clock.forward(days=2)
        return time.thread_time() - started

    known = min(work_of("ilva") for _ in range(5))
    unknown = min(work_of("nobody") for _ in range(5))
    assert unknown > known / 2


def test_nobody_is_signed_in_without_a_cookie_or_with_an_invented_one(house):
    house.add("ilva")
    assert house.browser().get("/api/session").status_code == 401
    client = house.client({})
    assert client.get("/api/session", headers={"Cookie": "rimebook_session="}).status_code == 401
    for invented in ("x", "é", "a" * 5_000):
        cookie = {b"Cookie": f"rimebook_session={invented}".encode()}
        assert client.get("/api/session", headers=cookie).status_code == 401
        token = {b"Authorization": f"Bearer {invented}".encode()}
        assert client.get("/api/session", headers=token).status_code == 401


def test_after_signing_out_the_old_cookie_opens_nothing(house):
    house.add("ilva")
    client = house.signed_in("ilva")
    cookie = client.cookies["rimebook_session"]
    assert client.delete("/api/session").status_code == 204
    assert "rimebook_session" not in client.cookies
    assert client.get("/api/session").status_code == 401
    again = house.browser()
    again.headers["Cookie"] = f"rimebook_session={cookie}"
    assert again.get("/api/session").status_code == 401


def test_each_sign_in_is_a_session_of_its_own(house):
    house.add("ilva")
    one, other = house.signed_in("ilva"), house.signed_in("ilva")
    assert one.cookies["rimebook_session"] != other.cookies["rimebook_session"]
    assert one.delete("/api/session").status_code == 204
    assert other.get("/api/session").status_code == 200


@pytest.mark.parametrize(
    ("role", "minutes"), [("technician", 60), ("vet", 60), ("manager", 30), ("auditor", 30)]
)
def test_an_idle_session_ends(house, role, minutes):
    house.add("ilva", role)
    client = house.signed_in("ilva")
    house.clock.forward(minutes=minutes, seconds=-1)
    assert client.get("/api/session").status_code == 200
    house.restart()  # what was to be noted is written
    house.clock.forward(minutes=minutes, seconds=-1)
    assert client.get("/api/session").status_code == 200
    house.restart()
    house.clock.forward(minutes=minutes)
    assert client.get("/api/session").status_code == 401


def test_a_session_ends_after_twelve_hours_however_busy_it_is(house):
    house.add("ilva")
    client = house.signed_in("ilva")
    for _ in range(24 - 1):
        house.clock.forward(minutes=30)
        assert client.get("/api/session").status_code == 200
        _wait_until_noted(house)
    house.clock.forward(minutes=30)
    assert client.get("/api/session").status_code == 401


def test_reading_does_not_write_more_than_once_a_minute(house):
    house.add("ilva")
    client = house.signed_in("ilva")
    seen = house.rows("sessions")[0]["last_seen_at"]
    for _ in range(5):
        house.clock.forward(seconds=11)
        assert client.get("/api/session").status_code == 200
    house.restart()
    assert house.rows("sessions")[0]["last_seen_at"] == seen


def test_reading_goes_on_while_another_holds_the_write_lock(house):
    house.add("ilva")
    client = house.signed_in("ilva")
    seen = house.rows("sessions")[0]["last_seen_at"]
    house.clock.forward(minutes=5)
    with house.database.writing():
        assert client.get("/api/session", timeout=2).status_code == 200
        assert client.get("/api/session", timeout=2).status_code == 200
        assert house.rows("sessions")[0]["last_seen_at"] == seen
    _wait_until_noted(house)
    assert house.rows("sessions")[0]["last_seen_at"] > seen


def _wait_until_noted(house, seconds: float = 5) -> None:
    """Until the last use, noted beside the requests, is in the file."""
    wanted = (house.clock() - timedelta(minutes=1)).strftime("%Y-%m-%dT%H:%M")
    deadline = time.monotonic() + seconds
    while house.rows("sessions")[0]["last_seen_at"] < wanted:
        assert time.monotonic() < deadline
        time.sleep(0.005)


def test_a_new_role_counts_at_once(house):
    person_id = house.add("ilva")
    house.add("rurik", "manager")
    ilva, rurik = house.signed_in("ilva"), house.signed_in("rurik")
    etag = rurik.get(f"/api/people/{person_id}").headers["etag"]
    changed = rurik.patch(
        f"/api/people/{person_id}", json={"role": "auditor"}, headers={"If-Match": etag}
    )
    assert changed.status_code == 200
    assert ilva.get("/api/session").json()["role"] == "auditor"


def test_a_disabled_person_is_out_at_once(house):
    person_id = house.add("ilva")
    house.add("rurik", "manager")
    ilva, rurik = house.signed_in("ilva"), house.signed_in("rurik")
    token = ilva.post("/api/tokens", json={"name": "printer"}).json()["token"]
    etag = rurik.get(f"/api/people/{person_id}").headers["etag"]
    rurik.patch(f"/api/people/{person_id}", json={"disabled": True}, headers={"If-Match": etag})
    assert ilva.get("/api/session").status_code == 401
    assert house.program(token).get("/api/session").status_code == 401
    assert house.sign_in(house.browser(), "ilva").status_code == 401


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"username": "ilva"},
        {"username": "ilva", "password": 5},
        {"username": "ilva", "password": None},
        {"username": "ilva", "password": "x" * 1_001},
        {"username": "x" * 201, "password": "x"},
        {"username": "ilva", "password": "x", "role": "manager"},
        [],
        "ilva",
    ],
)
def test_a_sign_in_that_cannot_be_right_is_refused_before_it_counts(house, body):
    answer = house.browser().post("/api/session", json=body)
    assert answer.status_code == 422
    assert answer.json()["errors"]
    assert house.rows("sign_in_tries") == []


@pytest.mark.parametrize("sign", ["\\ud800", "\\u0000", "\\u202e", "\\ud83d\\ude00"])
def test_strange_signs_in_names_and_passwords_do_no_harm(house, sign):
    text = f'{{"username": "a{sign}b", "password": "c{sign}d"}}'
    answer = house.browser().post(
        "/api/session", content=text, headers={"Content-Type": "application/json"}
    )
    assert answer.status_code in (401, 422), json.loads(answer.text)
