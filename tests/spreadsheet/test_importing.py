"""A file into the bank: every row's fate by line, then all of it or nothing."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest

from service.spreadsheet import rules
from tests import building
from tests.conftest import Client
from tests.spreadsheet.conftest import Desk

HEADER = "stallion,place,straws,mark,date,volume,conc,pm,thaw,from,owner,note\n"


def row(
    place: str, straws: int, name: str = "Lanternfield", mark: str = "L 14/1", **more: str
) -> str:
    rest = {"date": "2014-03-12", "volume": "0.5", "conc": "200", "pm": "40", "thaw": "37 C 30 s"}
    rest |= {"from": "", "owner": "", "note": ""} | more
    return ",".join([name, place, str(straws), mark, *rest.values()]) + "\n"


def test_a_dry_run_says_every_rows_fate_by_line_and_changes_nothing(desk: Desk) -> None:
    first, second = (goblet["address"] for goblet in desk.goblets[:2])
    before = desk.head()
    looked = desk.look(
        HEADER
        + row(first, 30)
        + row(second, 20)
        + row(first, 21)
        + row("NOWHERE", 5)
        + row(second, 5, name="Lanternfeld")
        + row(second, 5, date="2031-01-01")
    )
    fates = {one["line"]: one["message"] for one in looked["rows"]}
    assert fates[2] == f"books 30 straws of Lanternfield into {first}"
    assert fates[3] == f"books 20 straws of Lanternfield into {second}"
    assert fates[4] == (f"Goblet {first} has room for 20 straws, not 21, counting the rows above.")
    assert "There is no goblet NOWHERE" in fates[5]
    assert "Is Lanternfield meant?" in fates[6]
    assert "lies in the future" in fates[7]
    assert not looked["ready"]
    assert looked["totals"] == {
        "rows": 6, "rows_booked": 2, "rows_refused": 4, "rows_warned": 0, "straws": 50,
        "batches": 1, "stallions_made": [],
    }  # fmt: skip
    assert [one["line"] for one in looked["rows"]] == [4, 5, 6, 7, 2, 3]
    assert desk.head() == before


def test_rows_that_say_the_same_of_their_straws_are_one_batch(desk: Desk) -> None:
    first, second, third = (goblet["address"] for goblet in desk.goblets[:3])
    text = HEADER + row(first, 30) + row(second, 20) + row(third, 7, mark="L 14/2")
    done = desk.book(text)
    assert done["totals"]["batches"] == 2
    stock = desk.who.ok("GET", "/api/stock")
    assert stock["straws"] == 57
    assert stock["doses"] == 57 // 4
    by_batch: dict[str, list[int]] = {}
    for item in stock["items"]:
        by_batch.setdefault(item["batch_code"], []).append(item["straws"])
    assert sorted(map(sorted, by_batch.values())) == [[7], [20, 30]]
    batch = desk.who.ok("GET", f"/api/batches/{stock['items'][0]['batch_id']}")
    assert batch["collected_on"] == "2014-03-12"


def test_rows_of_which_neither_mark_nor_day_is_known_are_batches_of_their_own(desk: Desk) -> None:
    first, second = (goblet["address"] for goblet in desk.goblets[:2])
    text = f"stallion,place,straws\nLanternfield,{first},3\nLanternfield,{second},4\n"
    assert desk.book(text)["totals"]["batches"] == 2


def test_one_refused_row_keeps_all_others_out(desk: Desk) -> None:
    first = desk.goblets[0]["address"]
    before = desk.head()
    text = HEADER + row(first, 30) + row("NOWHERE", 5)
    problem = desk.refused(text, 409, "import-refused")
    assert problem["rows_refused"] == 1
    assert problem["problems"][0].startswith("Line 3: There is no goblet NOWHERE")
    assert desk.head() == before
    assert desk.who.ok("GET", "/api/stock")["straws"] == 0


def test_an_open_question_keeps_the_file_out_until_it_is_answered(desk: Desk) -> None:
    text = HEADER + row(desk.goblets[0]["address"], 30, date="3/4/2014")
    assert desk.refused(text, 409, "import-refused")["questions"] == ["date-order"]
    assert [q["code"] for q in desk.look(text)["questions"]] == ["date-order"]
    desk.book(text, date_order="month-first")
    assert desk.who.ok("GET", "/api/stock")["items"][0]["collected_on"] == "2014-03-04"


def test_stallions_that_are_not_there_are_made_when_a_vet_says_so(
    desk: Desk, vet: Client, technician: Client
) -> None:
    first = desk.goblets[0]["address"]
    text = (
        HEADER + row(first, 16, name="Old Harrier") + row(first, 8, name="old  harrier", mark="x")
    )
    assert "There is no stallion Old Harrier" in desk.fates(text)[2]
    rule = {"straws": 8}
    Desk(technician).refused(text, 403, "stallions-are-a-vets", make_stallions=rule)
    looked = Desk(vet).look(text, make_stallions=rule)
    assert looked["totals"]["stallions_made"] == ["Old Harrier"]
    Desk(vet).book(text, make_stallions=rule)
    made = vet.ok("GET", "/api/stallions?q=harrier")["items"]
    assert [(one["name"], one["dose_rule"]["straws"]) for one in made] == [("Old Harrier", 8)]
    assert vet.ok("GET", f"/api/stock?stallion_id={made[0]['id']}")["straws"] == 24


def test_a_technician_imports_for_stallions_that_are_there(desk: Desk, technician: Client) -> None:
    Desk(technician).book(HEADER + row(desk.goblets[0]["address"], 3))
    assert technician.ok("GET", "/api/stock")["straws"] == 3


def test_the_same_import_sent_twice_is_booked_once(desk: Desk) -> None:
    body = desk.body(HEADER + row(desk.goblets[0]["address"], 30))
    first = desk.who.ok("POST", "/api/imports", body, status=201)
    again = desk.who.request("POST", "/api/imports", json=body)
    assert (again.status_code, again.headers["Replayed"]) == (200, "true")
    assert again.json() == first
    other = {**body, "content_base64": desk.body(HEADER)["content_base64"]}
    desk.who.refused("POST", "/api/imports", other, 409, "id-reused")
    assert desk.who.ok("GET", "/api/stock")["straws"] == 30


def test_progress_tells_how_far_an_import_is(desk: Desk) -> None:
    body = desk.body(HEADER + row(desk.goblets[0]["address"], 30))
    path = f"/api/imports/{body['id']}/progress"
    assert desk.who.ok("GET", path)["state"] == "waiting"
    desk.who.ok("POST", "/api/imports", body)
    assert desk.who.ok("GET", path) == {"state": "done", "rows_done": 1, "rows": 1}


def test_retired_goblets_and_quarantined_tanks_are_said_by_line(desk: Desk) -> None:
    retired, quarantined = desk.goblets[0], "QUARANTINE"
    reason = {"id": str(uuid4()), "reason": "bent"}
    desk.who.ok("POST", f"/api/goblets/{retired['id']}/retire", reason)
    tank = desk.who.ok("POST", "/api/tanks", building.tank(quarantined) | {"quarantine": True})
    apart = building.goblets_of(tank)[0]["address"]
    header = HEADER.rstrip("\n") + ",hold_reason\n"
    text = header + "".join(
        line.rstrip("\n") + f",{held}\n"
        for line, held in [
            (row(retired["address"], 1), ""),
            (row(apart, 2), ""),
            (row(apart, 3, mark="held"), "tests pending"),
        ]
    )
    fates = desk.fates(text)
    assert "no longer in use" in fates[2]
    assert "quarantined tank" in fates[3]
    assert fates[4].startswith("books 3 straws")
    held_row = row(apart, 3, mark="held").rstrip("\n")
    desk.book(header + held_row + ",tests pending\n")
    assert desk.who.ok("GET", "/api/stock")["items"][0]["on_hold"]


def test_straws_of_different_owners_and_a_sender_are_kept(desk: Desk) -> None:
    first, second = (goblet["address"] for goblet in desk.goblets[:2])
    more = {"from": "Station Beckmoor"}
    desk.book(HEADER + row(first, 5, owner="Ada Fernlea", **more) + row(second, 6, **more))
    exported = desk.who.request("GET", "/api/exports/stock.csv").text
    assert "Ada Fernlea" in exported
    assert exported.count("Station Beckmoor") == 2


def test_neighbours_that_mislead_are_warned_of(desk: Desk) -> None:
    first = desk.goblets[0]["address"]
    desk.who.ok("POST", "/api/stallions", building.stallion("Moorhen"))
    text = HEADER + row(first, 5) + row(first, 5, name="Moorhen", thaw="75 C 7 s + 37 C 5 s")
    looked = desk.look(text)
    warned = [one for one in looked["rows"] if one["warnings"]]
    assert [one["line"] for one in warned] == [3]
    assert "another stallion" in " ".join(warned[0]["warnings"])
    assert "thaw otherwise" in " ".join(warned[0]["warnings"])


def test_a_file_sent_again_under_another_id_is_warned_of(desk: Desk) -> None:
    text = HEADER + row(desk.goblets[0]["address"], 5)
    desk.book(text)
    assert "came in before" in " ".join(desk.look(text)["rows"][0]["warnings"])


def test_codes_and_columns_can_be_answered(desk: Desk) -> None:
    code = desk.goblets[0]["code"]
    text = f"Wer;Wo;Wie viele;Rest\nLanternfield;{code};4;=1+1\n"
    looked = desk.look(text)
    assert [q["choices"][0]["value"] for q in looked["questions"]] == [
        "stallion",
        "straws",
        "place",
    ]
    mapping = {"Wer": "stallion", "Wo": "place", "Wie viele": "straws"}
    assert desk.look(text, mapping=mapping)["ready"]
    desk.book(text, mapping=mapping)
    assert desk.who.ok("GET", "/api/stock")["items"][0]["goblet_id"] == desk.goblets[0]["id"]
    desk.refused(text, 422, "bad-answer", mapping={"Was": "note"})


@pytest.mark.parametrize("path", ["/api/imports", "/api/imports/dry-run"])
def test_a_file_that_is_no_table_is_refused_with_its_line(desk: Desk, path: str) -> None:
    body = desk.body(b"a,b\n1,\x002\n")
    assert desk.who.refused("POST", path, body, 422, "unreadable-file")["line"] == 2
    bad = body | {"content_base64": "no base 64!"}
    desk.who.refused("POST", path, bad, 422, "unreadable-file")


def test_only_imports_take_large_bodies_and_they_have_a_limit_too(desk: Desk) -> None:
    """5 MB of file are 6.7 MB of base 64; the settings' limit of 1 MB holds everywhere else."""
    wide = ("x" * 99 + "\n").encode() * 49_000
    assert desk.look(b"stallion\n" + wide)["totals"]["rows"] == 49_000
    large = {"id": str(uuid4()), "name": "x" * 1_200_000}
    desk.who.refused("POST", "/api/mares", large, 413, "too-large")
    beyond = desk.body(b"x" * rules.LARGEST_BODY_BYTES)
    desk.who.refused("POST", "/api/imports", beyond, 413, "too-large")
    too_long = desk.body(b"x" * (rules.LARGEST_FILE_BYTES + 1))
    desk.who.refused("POST", "/api/imports", too_long, 422, "file-too-large")


def test_a_large_body_without_a_length_is_cut_off_as_well(desk: Desk) -> None:
    def poured(size: int) -> Callable[[], Any]:
        def parts() -> Any:
            yield b'{"content_base64": "'
            for _ in range(size // 100_000):
                yield b"A" * 100_000
            yield b'"}'

        return parts

    send: Any = desk.who.request
    headers = {"Content-Type": "application/json"}
    small = send("POST", "/api/imports/dry-run", content=poured(4_000_000)(), headers=headers)
    assert small.status_code == 422, small.text  # read whole, and no table
    large = send("POST", "/api/imports/dry-run", content=poured(8_000_000)(), headers=headers)
    assert large.status_code == 413
    other = send("POST", "/api/mares", content=poured(2_000_000)(), headers=headers)
    assert other.status_code == 413


def test_the_template_is_a_file_that_is_understood(desk: Desk) -> None:
    for query in ("", "?delimiter=semicolon&decimal=comma"):
        template = desk.who.request("GET", f"/api/imports/template.csv{query}")
        assert template.headers["content-type"].startswith("text/csv")
        looked = desk.look(template.content)
        assert looked["questions"] == []
        assert all(column["field"] for column in looked["columns"])
        assert "no stallion Example Stallion" in looked["rows"][0]["message"]
