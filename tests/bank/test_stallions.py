"""Stallions: who he is, how many straws make his dose, and what his record said before."""

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest

from service.bank.rules import folded
from tests import building
from tests.bank.changing import change, refused_change
from tests.conftest import Client

STALLIONS = "/api/stallions"
UELN = "372414001234567"
CHIP = "826274877906943"
SPERM = {"kind": "sperm", "progressive_million": 250, "minimum_post_thaw_percent": 35}


def add(client: Client, name: str = "Lanternfield", **more: Any) -> Any:
    return client.ok("POST", STALLIONS, building.stallion(name, **more), status=201)


def refused(client: Client, more: dict[str, Any], status: int, code: str) -> dict[str, Any]:
    return client.refused("POST", STALLIONS, building.stallion() | more, status, code)


def names(client: Client, query: str) -> list[str]:
    answer = client.get(STALLIONS, params={"q": query})
    assert answer.status_code == 200, answer.text
    return [stallion["name"] for stallion in answer.json()["items"]]


def warned(stallion: Any) -> set[str]:
    return {warning["code"] for warning in stallion["warnings"]}


def day(*, from_today: int) -> str:
    """A day of the station, whose zone is UTC until someone changes it."""
    return (datetime.now(UTC).date() + timedelta(days=from_today)).isoformat()


def test_a_stallion_reads_as_he_was_entered(vet: Client, auditor: Client) -> None:
    given = {
        "name": "Lanternfield",
        "breed": "Riding horse",
        "foaled_on": "2004-04-17",
        "died_on": "2019-11-02",
        "owner": "Tove Aldersyde",
        "straw_colour": "yellow",
        "low_stock_doses": 5,
        "reserve_doses": 3,
        "dose_rule": {"kind": "straws", "straws": 8},
    }
    numbers = {"ueln": "372-414-001234567", "microchip": "826 274877906943"}
    made = vet.ok("POST", STALLIONS, given | numbers, status=201)
    expected = given | {"ueln": UELN, "microchip": CHIP, "id": made["id"], "warnings": []}
    assert made == expected
    assert auditor.ok("GET", f"{STALLIONS}/{made['id']}") == expected
    assert auditor.ok("GET", STALLIONS) == {"items": [expected], "next": None}


def test_little_need_be_known(vet: Client) -> None:
    made = vet.ok("POST", STALLIONS, {"name": "Old Tom", "dose_rule": SPERM}, status=201)
    unknown = {name for name, value in made.items() if value is None}
    assert unknown == {
        "ueln",
        "microchip",
        "breed",
        "foaled_on",
        "died_on",
        "owner",
        "straw_colour",
        "low_stock_doses",
    }
    assert made["reserve_doses"] == 0
    assert made["dose_rule"] == SPERM
    assert warned(made) == {"ueln-missing"}


@pytest.mark.parametrize(
    "name",
    [
        "🐎 Blitz ⚡",
        "👨‍👩‍👧 Family",
        "عنتر",
        "סוס לבן",
        "\u200fعنتر\u200e II",
        "海风",
        'O\'Malley "The Grey"; DROP TABLE stallions;--',
        "Žižkův Úsvit",
        "<b>Bold</b>",
        "100% _Sure_",
    ],
)
def test_every_name_comes_back_as_it_went_in(vet: Client, name: str) -> None:
    made = add(vet, name)
    assert made["name"] == name
    assert vet.ok("GET", f"{STALLIONS}/{made['id']}")["name"] == name
    assert names(vet, name) == [name]


def test_a_retry_enters_one_stallion(vet: Client) -> None:
    body = building.stallion(ueln=UELN) | {"id": str(uuid4())}
    first = vet.post(STALLIONS, json=body)
    again = vet.post(STALLIONS, json=body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert (again.content, again.headers["replayed"]) == (first.content, "true")
    vet.refused("POST", STALLIONS, body | {"name": "Other"}, 409, "id-reused")


def test_a_refusal_does_not_use_the_id_up(vet: Client) -> None:
    body = building.stallion() | {"id": str(uuid4())}
    vet.refused("POST", STALLIONS, body | {"ueln": "nonsense"}, 422, "bad-ueln")
    assert vet.ok("POST", STALLIONS, body, status=201)["id"] == body["id"]


# --- identity ----------------------------------------------------------------------------------


def test_two_spellings_of_one_number_are_one_stallion(vet: Client) -> None:
    first = add(vet, ueln=UELN)
    for spelled in (UELN, "372 414 001234567", "372.414.001234567"):
        problem = refused(vet, {"name": "Other", "ueln": spelled}, 409, "already-known")
        assert problem["stallion_id"] == first["id"]
        assert problem["stallion_name"] == "Lanternfield"
    assert names(vet, "") == ["Lanternfield"]


def test_a_microchip_is_one_stallions(vet: Client) -> None:
    first = add(vet, microchip=CHIP)
    other = add(vet, "Other", ueln=UELN)
    assert refused(vet, {"microchip": CHIP}, 409, "already-known")["stallion_id"] == first["id"]
    path = f"{STALLIONS}/{other['id']}"
    problem = refused_change(vet, path, {"microchip": f"826-{CHIP[3:]}"}, 409, "already-known")
    assert problem["stallion_id"] == first["id"]
    assert vet.ok("GET", path) == other
    assert change(vet, path, {"ueln": UELN, "owner": "A"})["ueln"] == UELN


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"ueln": "37241400123456"}, "bad-ueln"),
        ({"ueln": "000414001234567"}, "bad-ueln"),
        ({"ueln": "372414001234🐎67"}, "bad-ueln"),
        ({"microchip": "999000000000001"}, "bad-microchip"),
        ({"microchip": "82627487790694"}, "bad-microchip"),
        ({"microchip": "826274877906944"}, "bad-microchip"),
    ],
)
def test_an_impossible_number_is_refused(vet: Client, more: dict[str, Any], code: str) -> None:
    """What is possible is tested with `identity`; here, that it is asked."""
    refused(vet, more, 422, code)
    path = f"{STALLIONS}/{add(vet)['id']}"
    refused_change(vet, path, more, 422, code)


def test_equal_names_are_allowed_and_pointed_out(vet: Client) -> None:
    first = add(vet, ueln=UELN)
    assert warned(first) == set()
    second = add(vet, "LANTERNFIELD")
    assert "same-name" in warned(second)
    assert warned(vet.ok("GET", f"{STALLIONS}/{first['id']}")) == {"same-name"}
    change(vet, f"{STALLIONS}/{second['id']}", {"name": "Lampfield"})
    assert warned(vet.ok("GET", f"{STALLIONS}/{first['id']}")) == set()


def test_a_namesake_does_not_make_a_version_stale(vet: Client) -> None:
    """Warnings are no part of the record."""
    path = f"{STALLIONS}/{add(vet)['id']}"
    version = vet.get(path).headers["etag"]
    add(vet)
    assert vet.get(path).headers["etag"] == version
    answer = vet.patch(path, json={"owner": "A"}, headers={"If-Match": version})
    assert answer.status_code == 200


# --- days --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"foaled_on": day(from_today=2)}, "foaled_on"),
        ({"died_on": day(from_today=2)}, "died_on"),
        ({"foaled_on": "2004-04-17", "died_on": "2004-04-16"}, "died_on"),
    ],
)
def test_a_life_that_cannot_be_is_refused(vet: Client, more: dict[str, Any], field: str) -> None:
    problem = refused(vet, more, 422, "bad-dates")
    assert field in {error["field"] for error in problem["errors"]}
    refused_change(vet, f"{STALLIONS}/{add(vet)['id']}", more, 422, "bad-dates")


def test_he_may_have_died_today_or_on_the_day_he_was_foaled(vet: Client) -> None:
    today = day(from_today=0)
    assert add(vet, foaled_on=today, died_on=today)["died_on"] == today


def test_a_death_is_weighed_against_the_birth_that_is_known(vet: Client) -> None:
    path = f"{STALLIONS}/{add(vet, foaled_on='2004-04-17')['id']}"
    refused_change(vet, path, {"died_on": "2004-04-16"}, 422, "bad-dates")
    assert change(vet, path, {"died_on": "2004-04-17"})["died_on"] == "2004-04-17"


@pytest.mark.parametrize(
    ("life", "questioned"),
    [
        ({"foaled_on": "1950-01-01", "died_on": "1995-01-01"}, False),
        ({"foaled_on": "1950-01-01", "died_on": "1996-01-01"}, True),
        ({"foaled_on": "1950-01-01"}, True),
        ({"foaled_on": "2015-01-01"}, False),
    ],
)
def test_an_age_that_few_horses_reach_is_questioned(
    vet: Client, life: dict[str, str], *, questioned: bool
) -> None:
    assert ("unusual-age" in warned(add(vet, **life))) is questioned


# --- changing him ------------------------------------------------------------------------------


def test_only_a_manager_lowers_a_reserve(vet: Client, manager: Client) -> None:
    """To lower it gives up the doses that only a manager may give up."""
    path = f"{STALLIONS}/{add(vet, reserve_doses=3)['id']}"
    problem = refused_change(vet, path, {"reserve_doses": 2}, 403, "reserve-reached")
    assert problem["reserve_doses"] == 3
    assert change(vet, path, {"reserve_doses": 3, "owner": "A"})["reserve_doses"] == 3
    assert change(vet, path, {"reserve_doses": 4})["reserve_doses"] == 4
    assert change(manager, path, {"reserve_doses": 0})["reserve_doses"] == 0


@pytest.mark.parametrize(
    "changes",
    [
        {"name": None},
        {"dose_rule": None},
        {"reserve_doses": None},
        {"reserve_doses": -1},
        {"low_stock_doses": -1},
        {"low_stock_doses": 10_001},
        {"foaled_on": "17.04.2004"},
        {"foaled_on": "2004-02-30"},
        {"foaled_on": 20040417},
        {"colour": "bay"},
        {"id": "x"},
    ],
)
def test_a_record_cannot_be_made_wrong(vet: Client, changes: dict[str, Any]) -> None:
    made = add(vet)
    path = f"{STALLIONS}/{made['id']}"
    refused_change(vet, path, changes, 422, "invalid")
    assert vet.ok("GET", path) == made


def test_of_two_who_change_him_at_once_the_second_is_told(vet: Client, manager: Client) -> None:
    path = f"{STALLIONS}/{add(vet)['id']}"
    version = vet.get(path).headers["etag"]
    change(manager, path, {"dose_rule": {"kind": "straws", "straws": 2}})
    answer = vet.patch(
        path,
        json={"dose_rule": {"kind": "straws", "straws": 3}},
        headers={"If-Match": version},
    )
    assert (answer.status_code, answer.json()["code"]) == (412, "stale")
    assert answer.json()["current"]["dose_rule"] == {"kind": "straws", "straws": 2}
    assert len(vet.ok("GET", f"{path}/dose-rules")["items"]) == 2
    vet.refused("PATCH", path, {}, 428, "if-match-required")


def test_his_history_says_who_changed_what(vet: Client) -> None:
    path = f"{STALLIONS}/{add(vet, owner='A')['id']}"
    change(vet, path, {"name": "Lampfield", "owner": None})
    [kept] = vet.ok("GET", f"{path}/changes")["items"]
    assert kept["before"] == {"name": "Lanternfield", "owner": "A"}
    assert kept["after"] == {"name": "Lampfield", "owner": None}
    assert kept["changed_by"] == "The vet"
    assert names(vet, "lampfield") == ["Lampfield"]
    assert names(vet, "lanternfield") == []


def test_a_stallion_that_does_not_exist_is_unknown(vet: Client) -> None:
    path = f"{STALLIONS}/{uuid4()}"
    for tail in ("", "/dose-rules", "/changes"):
        answer = vet.get(path + tail)
        assert (answer.status_code, answer.json()["code"]) == (404, "unknown-stallion")
    vet.refused("PATCH", path, {}, 404, "unknown-stallion")


# --- finding him -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("zizkuv", ["Žižkův Úsvit"]),
        ("ŽIŽK", ["Žižkův Úsvit"]),
        ("úsvit žižkův", ["Žižkův Úsvit"]),
        ("soren", ["Søren Strand"]),
        ("strasse", ["Straße"]),
        ("STRASSE", ["Straße"]),
        ("عنتر", ["عَنْتَر"]),
        ("🐎", ["🐎 Blitz"]),
        ("%", ["100% Sure"]),
        ("_", []),
        ("\\", []),
        ("  ", ["100% Sure", "Straße", "Søren Strand", "Žižkův Úsvit", "عَنْتَر", "🐎 Blitz"]),
        ("372414", ["Straße"]),
        ("372-414-0012", ["Straße"]),
        ("tr0ng", []),
        ("826 2748", ["Søren Strand"]),
        ("100", ["100% Sure"]),
        ("\0", ["100% Sure", "Straße", "Søren Strand", "Žižkův Úsvit", "عَنْتَر", "🐎 Blitz"]),
    ],
)
def test_he_is_found_by_words_of_his_name_or_part_of_a_number(
    vet: Client, query: str, found: list[str]
) -> None:
    add(vet, "Žižkův Úsvit")
    add(vet, "Søren Strand", microchip=CHIP)
    add(vet, "Straße", ueln=UELN)
    add(vet, "عَنْتَر")
    add(vet, "🐎 Blitz")
    add(vet, "100% Sure")
    assert sorted(names(vet, query)) == sorted(found)


def test_the_list_comes_in_pages_whatever_the_names(vet: Client) -> None:
    entered = ["Same", "Same", "same", "Äpfel", "Zebra", "עברי", "🐎"]
    for name in entered:
        add(vet, name)
    seen: list[str] = []
    after: str | None = ""
    while after is not None:
        page = vet.ok("GET", f"{STALLIONS}?limit=2{after and f'&after={after}'}")
        assert len(page["items"]) <= 2
        seen += [stallion["name"] for stallion in page["items"]]
        after = page["next"]
    assert sorted(seen) == sorted(entered)
    # Engines sort letters beyond A to Z each in its own way.
    assert [folded(name) for name in seen if name.isascii()] == ["same", "same", "same", "zebra"]


def test_case_accents_and_spacing_do_not_count_in_a_folded_name() -> None:
    assert folded(" Žižkův \u00a0 ÚSVIT\u200b ") == "zizkuv usvit"
    assert folded("İstanbul ıŞık") == "istanbul isik"
    assert folded("Ærø Łódź") == "aero lodz"
    assert folded("🐎") == "🐎"


def test_only_a_vet_or_manager_enters_and_changes_stallions(
    vet: Client, technician: Client, auditor: Client
) -> None:
    made = add(vet)
    for other in (technician, auditor):
        other.refused("POST", STALLIONS, building.stallion(), 403, "forbidden")
        other.refused("PATCH", f"{STALLIONS}/{made['id']}", {"name": "A"}, 403, "forbidden")
        assert other.ok("GET", STALLIONS)["items"] == [made]


def test_text_that_is_none_is_refused(vet: Client) -> None:
    """Half a sign (a lone surrogate) is JSON, but no text that a database can keep."""
    body = b'{"name": "\\ud800", "dose_rule": {"kind": "straws", "straws": 8}}'
    answer = vet.post(STALLIONS, content=body, headers={"Content-Type": "application/json"})
    assert (answer.status_code, answer.json()["code"]) == (422, "invalid")
    refused(vet, {"owner": "A\u0007"}, 422, "invalid")
