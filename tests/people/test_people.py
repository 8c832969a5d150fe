"""People as managers keep them: added, changed by version, disabled, and always one manager."""

import pytest


@pytest.fixture
def rurik(house):
    house.add("rurik", "manager")
    return house.signed_in("rurik")


def change(client, person_id, **changes):
    """A change of the version that stands now."""
    etag = client.get(f"/api/people/{person_id}").headers["etag"]
    return client.patch(f"/api/people/{person_id}", json=changes, headers={"If-Match": etag})


def test_everybody_reads_people_and_nothing_secret(house, rurik):
    ids = {name: house.add(name, role) for name, role in [("oda", "auditor"), ("ilva", "vet")]}
    for name in ("oda", "ilva"):
        listed = house.signed_in(name).get("/api/people")
        assert listed.status_code == 200
        assert [person["username"] for person in listed.json()["items"]] == ["ilva", "oda", "rurik"]
    one = house.signed_in("ilva").get(f"/api/people/{ids['oda']}").json()
    assert one == {
        "id": ids["oda"], "username": "oda", "display_name": "Oda", "role": "auditor",
        "disabled": False,
    }  # fmt: skip


def test_people_come_in_pages(house, rurik):
    for name in ("ada", "bo", "cia"):
        house.add(name)
    first = rurik.get("/api/people", params={"limit": 3}).json()
    rest = rurik.get("/api/people", params={"limit": 3, "after": first["next"]}).json()
    names = [person["username"] for person in first["items"] + rest["items"]]
    assert names == ["ada", "bo", "cia", "rurik"]
    assert rest["next"] is None


@pytest.mark.parametrize("name", ["Åse Ødegård", "יעל", "ياسمين", "Tuğçe 🐎", "李娜"])
def test_any_name_is_welcome(rurik, name):
    body = {"username": "newcomer", "display_name": name, "role": "vet"}
    assert rurik.post("/api/people", json=body).json()["display_name"] == name


def test_a_name_is_given_once_however_it_is_written(house, rurik):
    body = {"username": "Strasse", "display_name": "One", "role": "vet"}
    assert rurik.post("/api/people", json=body).json()["username"] == "strasse"
    for same in ("strasse", "STRASSE", "straße", "ｓｔｒａｓｓｅ"):
        refused = rurik.post("/api/people", json={**body, "username": same})
        assert (refused.status_code, refused.json()["code"]) == (409, "username-taken")


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("username", "a b"),
        ("username", ""),
        ("username", 7),
        ("display_name", " "),
        ("display_name", None),
        ("role", "owner"),
        ("role", None),
        ("password", "seven grey geese over the fjord"),
        ("disabled", False),
    ],
)
def test_a_person_that_cannot_be_right_is_refused(house, rurik, field, value):
    body = {"username": "ilva", "display_name": "Ilva", "role": "vet", field: value}
    refused = rurik.post("/api/people", json=body)
    assert refused.status_code == 422
    assert refused.json()["errors"][0]["field"] == field
    assert len(house.rows("users")) == 1


def test_a_change_needs_the_version_it_starts_from(house, rurik):
    person_id = house.add("ilva")
    path = f"/api/people/{person_id}"
    without = rurik.patch(path, json={"role": "vet"})
    assert (without.status_code, without.json()["code"]) == (428, "if-match-required")
    etag = rurik.get(path).headers["etag"]
    changed = rurik.patch(path, json={"role": "vet"}, headers={"If-Match": etag})
    assert (changed.status_code, changed.json()["role"]) == (200, "vet")
    stale = rurik.patch(path, json={"role": "auditor"}, headers={"If-Match": etag})
    assert (stale.status_code, stale.json()["code"]) == (412, "stale")
    fresh = {"If-Match": changed.headers["etag"]}
    assert rurik.patch(path, json={"role": "auditor"}, headers=fresh).status_code == 200


def test_what_was_changed_stays_readable(house, rurik):
    person_id = house.add("ilva")
    change(rurik, person_id, display_name="Ilva Thornby", role="vet")
    house.clock.forward(minutes=1)
    change(rurik, person_id, disabled=True)
    changes = rurik.get(f"/api/people/{person_id}/changes").json()["items"]
    assert changes == [
        {
            "changed_at": "2026-03-03T14:06:00Z", "changed_by": "Rurik",
            "before": {"disabled": False}, "after": {"disabled": True},
        },
        {
            "changed_at": "2026-03-03T14:05:00Z", "changed_by": "Rurik",
            "before": {"display_name": "Ilva", "role": "technician"},
            "after": {"display_name": "Ilva Thornby", "role": "vet"},
        },
    ]  # fmt: skip


def test_a_change_of_nothing_is_no_change(house, rurik):
    person_id = house.add("ilva")
    events = len(house.rows("security_events"))
    for same in ({}, {"role": "technician"}, {"disabled": False}):
        assert change(rurik, person_id, **same).status_code == 200
    assert rurik.get(f"/api/people/{person_id}/changes").json()["items"] == []
    assert len(house.rows("security_events")) == events


@pytest.mark.parametrize(
    "body",
    [
        {"role": None},
        {"disabled": None},
        {"disabled": "yes"},
        {"disabled": 1},
        {"display_name": None},
        {"display_name": ""},
        {"username": "other"},
        {"password_hash": "x"},
        {"id": "01937c5e-8a00-7000-8000-000000000001"},
    ],
)
def test_a_change_that_cannot_be_right_is_refused(house, rurik, body):
    person_id = house.add("ilva")
    before = house.rows("users")
    assert change(rurik, person_id, **body).status_code == 422
    assert house.rows("users") == before


def test_an_enabled_account_opens_with_the_same_password(house, rurik):
    person_id = house.add("ilva")
    assert change(rurik, person_id, disabled=True).json()["disabled"] is True
    assert house.sign_in(house.browser(), "ilva").status_code == 401
    assert change(rurik, person_id, disabled=False).json()["disabled"] is False
    assert house.sign_in(house.browser(), "ilva").status_code == 204


@pytest.mark.parametrize("changes", [{"role": "vet"}, {"disabled": True}])
def test_the_last_manager_stays(house, rurik, changes):
    own_id = house.rows("users")[0]["id"]
    refused = change(rurik, own_id, **changes)
    assert (refused.status_code, refused.json()["code"]) == (409, "last-manager")
    assert rurik.get("/api/session").json()["role"] == "manager"
    assert change(rurik, own_id, display_name="Rurik Alder").status_code == 200


def test_a_manager_who_cannot_sign_in_yet_does_not_count(house, rurik):
    own_id = house.rows("users")[0]["id"]
    body = {"username": "oda", "display_name": "Oda", "role": "manager"}
    code = rurik.post("/api/people", json=body).json()["one_time_code"]
    assert change(rurik, own_id, role="vet").json()["code"] == "last-manager"
    oda = house.browser()
    assert house.sign_in(oda, "oda", code).status_code == 204
    next_password = {"password": "eleven brown hares under a hedge"}
    assert oda.post("/api/session/password", json=next_password).status_code == 204
    assert change(rurik, own_id, role="vet").status_code == 200


def test_a_disabled_manager_does_not_count(house, rurik):
    own_id, other_id = house.rows("users")[0]["id"], house.add("oda", "manager")
    assert change(rurik, other_id, disabled=True).status_code == 200
    assert change(rurik, own_id, role="vet").json()["code"] == "last-manager"


@pytest.mark.parametrize("tail", ["", "/changes"])
def test_a_person_that_does_not_exist_is_unknown(rurik, tail):
    answer = rurik.get(f"/api/people/01937c5e-8a00-7000-8000-000000000001{tail}")
    assert (answer.status_code, answer.json()["code"]) == (404, "unknown-person")
    assert rurik.get(f"/api/people/rurik{tail}").status_code == 422


def test_the_database_refuses_roles_and_codes_that_cannot_be(database):
    from sqlalchemy.exc import IntegrityError

    wrong = {
        "user_role": "'a', 'A', 'owner', NULL, NULL",
        "user_name_filled": "'', 'A', 'vet', NULL, NULL",
        "user_code_expires": "'a', 'A', 'vet', 'x', NULL",
    }
    for constraint, values in wrong.items():
        with pytest.raises(IntegrityError, match=constraint), database.writing() as db:
            db.connection().exec_driver_sql(
                "INSERT INTO users (id, username, display_name, role, one_time_code_hash,"
                " one_time_code_expires_at, created_at)"
                f" VALUES ('{'0' * 32}', {values}, '2026-03-03')"
            )  # fmt: skip
