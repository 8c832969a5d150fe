"""Labels are looked at freely, printed with a record, and printed again only with a reason."""

import io
from typing import Any
from uuid import uuid4

import pytest
from PIL import Image
from pypdf import PdfReader

from tests import building
from tests.bank.changing import change
from tests.banks import Bank
from tests.conftest import Client
from tests.labels.words import sizes_mm, text_of

UELN = "372414001234567"
PRINTS = "/api/prints"


def grouped(code: str) -> str:
    return f"{code[:3]} {code[3:6]} {code[6:]}"


@pytest.fixture
def known(manager: Client, bank: Bank) -> Bank:
    """Nothing that must stand on the straws is unknown."""
    change(manager, "/api/station", {"approval_number": "AI-0417", "country": "IE"})
    change(manager, f"/api/stallions/{bank.stallion['id']}", {"ueln": UELN})
    return bank


@pytest.fixture
def prepared(known: Bank, technician: Client) -> Any:
    """A batch whose straws are not filled yet."""
    body = {
        "id": str(uuid4()),
        "stallion_id": known.stallion["id"],
        "straws_planned": 12,
        "collected_on": "2026-03-03",
    }
    return technician.ok("POST", "/api/batches", body)


def get_pdf(client: Client, path: str) -> bytes:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.headers["cache-control"] == "no-store"
    return answer.content


def printed(client: Client, what: Any, style: str, **more: Any) -> Any:
    body = {"id": str(uuid4()), "what": what, "style": style, **more}
    return client.ok("POST", PRINTS, body, status=201)


def head(client: Client) -> str:
    found = client.ok("GET", "/api/ledger/check")
    assert found["problems"] == []
    return str(found["head"])


@pytest.mark.parametrize("style", ["strip", "flag"])
def test_a_prepared_batch_has_a_label_for_each_straw(
    technician: Client, prepared: Any, style: str
) -> None:
    pdf = get_pdf(technician, f"/api/labels/batches/{prepared['id']}.pdf?style={style}")
    said = " ".join(text_of(pdf).split())
    assert len(sizes_mm(pdf)) == 12
    for straw in prepared["straws"]:
        code = straw["code"]
        assert (grouped(code) if style == "strip" else f"{code[:3]} {code[3:6]}") in said
    for mark in ("Lanternfield", UELN, "03.03.26", "IE AI-0417", "EQUINE"):
        assert mark in said
    assert grouped(prepared["code"]) in said


def test_a_sheet_of_a4_begins_where_it_is_told(technician: Client, prepared: Any) -> None:
    path = f"/api/labels/batches/{prepared['id']}.pdf?style=flag&sheet=a4"
    assert sizes_mm(get_pdf(technician, path)) == [pytest.approx((210, 297), abs=0.1)]
    assert len(sizes_mm(get_pdf(technician, f"{path}&start=50"))) == 2
    refused = technician.get(f"{path}&start=55")
    assert (refused.status_code, refused.json()["code"]) == (422, "sheet-too-small")


@pytest.mark.parametrize(("dpi", "dots"), [(203, 8.0), (300, 300 / 25.4), (600, 600 / 25.4)])
def test_a_straws_picture_has_the_printers_dots(
    technician: Client, prepared: Any, dpi: int, dots: float
) -> None:
    code = prepared["straws"][0]["code"]
    answer = technician.get(f"/api/labels/straws/{code}.png?style=flag&dpi={dpi}")
    assert answer.headers["content-type"] == "image/png"
    picture = Image.open(io.BytesIO(answer.content))
    assert picture.mode == "1"
    assert picture.width == pytest.approx(48.8 * dots, abs=1)


def test_looking_is_never_recorded_and_never_refused_for_marks(
    technician: Client, bank: Bank
) -> None:
    before = head(technician)
    pdf = get_pdf(technician, f"/api/labels/batches/{bank.batch_id}.pdf")
    assert len(sizes_mm(pdf)) == 40
    get_pdf(technician, f"/api/labels/straws/{bank.codes_in(0)[0]}.pdf?style=flag")
    assert head(technician) == before
    assert technician.ok("GET", PRINTS)["items"] == []


def test_a_print_is_recorded_in_the_book(technician: Client, prepared: Any) -> None:
    before = head(technician)
    done = printed(technician, prepared["code"], "strip")
    assert (done["labels"], done["reprinted"], done["missing_marks"]) == (12, 0, [])
    assert head(technician) != before
    assert len(sizes_mm(get_pdf(technician, done["pdf_url"]))) == 12
    [kept] = technician.ok("GET", f"{PRINTS}?batch_id={prepared['id']}")["items"]
    assert (kept["what"], kept["style"], kept["labels"]) == ("batch", "strip", 12)
    assert kept["by"]
    entries = technician.ok("GET", "/api/ledger")["items"]
    assert [entry["kind"] for entry in entries].count("print") == 1


def test_the_same_print_twice_is_one_print(technician: Client, prepared: Any) -> None:
    body = {"id": str(uuid4()), "what": prepared["code"], "style": "flag"}
    first = technician.post(PRINTS, json=body)
    again = technician.post(PRINTS, json=body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json() == first.json()
    assert again.headers["replayed"] == "true"
    assert len(technician.ok("GET", PRINTS)["items"]) == 1
    technician.refused("POST", PRINTS, {**body, "style": "strip"}, 409, "id-reused")


def test_a_reprint_asks_why_and_keeps_the_codes(technician: Client, prepared: Any) -> None:
    printed(technician, prepared["code"], "strip")
    body = {"what": prepared["code"], "style": "strip"}
    problem = technician.refused("POST", PRINTS, body, 422, "reason-needed")
    assert (problem["reprinted"], problem["missing_marks"]) == (12, [])
    assert "12 of these labels were printed before" in problem["detail"]
    again = printed(technician, prepared["code"], "strip", reason="the roll tore")
    assert again["reprinted"] == 12
    items = technician.ok("GET", f"{PRINTS}?code={prepared['straws'][3]['code']}")["items"]
    assert [one["reprinted"] for one in items] == [12, 0]
    assert items[0]["reason"] == "the roll tore"
    said = text_of(get_pdf(technician, again["pdf_url"]))
    assert all(grouped(straw["code"]) in said for straw in prepared["straws"])


def test_a_flag_for_a_straw_that_has_a_strip_is_no_reprint(
    technician: Client, prepared: Any
) -> None:
    printed(technician, prepared["code"], "strip")
    assert printed(technician, prepared["code"], "flag")["reprinted"] == 0
    body = {"what": prepared["code"], "style": "flag"}
    assert technician.refused("POST", PRINTS, body, 422, "reason-needed")["reprinted"] == 12


def test_the_rest_after_a_jam_is_printed_alone(technician: Client, prepared: Any) -> None:
    printed(technician, prepared["code"], "strip")
    rest = [straw["code"] for straw in prepared["straws"]][7:]
    done = printed(technician, prepared["code"], "strip", straws=rest, reason="jammed after 7")
    assert (done["labels"], done["reprinted"]) == (5, 5)
    said = text_of(get_pdf(technician, done["pdf_url"]))
    assert [code for code in rest if grouped(code) not in said] == []
    assert grouped(prepared["straws"][0]["code"]) not in said


def test_straws_of_another_batch_are_refused(
    technician: Client, prepared: Any, known: Bank
) -> None:
    foreign = known.codes_in(0)[0]
    body = {"what": prepared["code"], "style": "strip", "straws": [foreign]}
    problem = technician.refused("POST", PRINTS, body, 422, "other-straws")
    assert problem["straw_codes"] == [foreign]


def test_missing_marks_need_a_reason(technician: Client, bank: Bank) -> None:
    body = {"what": bank.batch_code, "style": "strip"}
    problem = technician.refused("POST", PRINTS, body, 422, "reason-needed")
    assert problem["missing_marks"] == ["donor_identity", "approval_number"]
    assert "identity number" in problem["detail"]
    done = printed(technician, bank.batch_code, "strip", reason="passport not here yet")
    assert done["missing_marks"] == ["donor_identity", "approval_number"]
    technician.refused("POST", PRINTS, {**body, "reason": "  "}, 422, "invalid")


def test_what_is_required_is_the_stations_setting(manager: Client, known: Bank) -> None:
    change(manager, "/api/station", {"required_marks": ["donor_identity", "breed"]})
    body = {"what": known.batch_code, "style": "strip"}
    problem = manager.refused("POST", PRINTS, body, 422, "reason-needed")
    assert problem["missing_marks"] == ["breed"]
    change(manager, f"/api/stallions/{known.stallion['id']}", {"breed": "Connemara"})
    pdf = get_pdf(manager, printed(manager, known.batch_code, "strip")["pdf_url"])
    assert "Connemara" in text_of(pdf)


def test_plates_of_a_tank_and_all_that_hangs_in_it(manager: Client, known: Bank) -> None:
    [tank] = manager.ok("GET", "/api/tanks")["items"]
    goblets = building.goblets_of(tank)
    inside = 1 + len(tank["canisters"]) + len(goblets)
    one = printed(manager, {"kind": "tank", "id": tank["id"]}, "plate")
    assert one["labels"] == 1
    again = {"what": tank["code"], "style": "plates"}
    assert manager.refused("POST", PRINTS, again, 422, "reason-needed")["reprinted"] == 1
    all_of_it = printed(manager, tank["code"], "plates", reason="new room")
    assert all_of_it["labels"] == inside
    said = text_of(get_pdf(manager, all_of_it["pdf_url"]))
    assert all(goblet["address"] in said for goblet in goblets)
    pdf = get_pdf(manager, f"/api/labels/tanks/{tank['id']}.pdf?all=true")
    assert len(sizes_mm(pdf)) == inside
    assert len(sizes_mm(get_pdf(manager, f"/api/labels/tanks/{tank['id']}.pdf"))) == 1


@pytest.mark.parametrize("kind", ["goblets", "canisters", "tanks"])
def test_every_place_has_a_plate_as_a_picture(manager: Client, known: Bank, kind: str) -> None:
    [tank] = manager.ok("GET", "/api/tanks")["items"]
    place = {
        "goblets": building.goblets_of(tank)[0],
        "canisters": tank["canisters"][0],
        "tanks": tank,
    }[kind]
    answer = manager.get(f"/api/labels/{kind}/{place['id']}.png?dpi=203")
    assert answer.status_code == 200
    assert Image.open(io.BytesIO(answer.content)).mode == "1"


@pytest.mark.parametrize(
    ("what", "style", "code"),
    [
        ("batch", "plate", "other-style"),
        ("tank", "strip", "other-style"),
        ("nothing", "strip", "unknown-subject"),
        ("misread", "strip", "misread-code"),
    ],
)
def test_what_cannot_be_printed_is_refused(
    manager: Client, known: Bank, what: str, style: str, code: str
) -> None:
    [tank] = manager.ok("GET", "/api/tanks")["items"]
    named = {
        "batch": known.batch_code,
        "tank": tank["code"],
        "nothing": {"kind": "batch", "id": str(uuid4())},
        "misread": "B00000001",
    }[what]
    status = 404 if code == "unknown-subject" else 422
    before = head(manager)
    manager.refused("POST", PRINTS, {"what": named, "style": style}, status, code)
    assert head(manager) == before


def test_what_is_printed_is_a_code_or_a_kind_with_its_id(technician: Client, known: Bank) -> None:
    for what, field in ((5, "what"), ({"kind": "batch"}, "what.id"), ({"id": "x"}, "what.kind")):
        body = {"what": what, "style": "strip"}
        problem = technician.refused("POST", PRINTS, body, 422, "invalid")
        assert [error["field"] for error in problem["errors"]] == [field]


def test_straws_without_codes_have_no_labels(technician: Client, bank: Bank) -> None:
    receipt = {
        "id": str(uuid4()),
        "kind": "opening",
        "stallion_id": bank.stallion["id"],
        "straws": 3,
        "placements": [{"goblet_id": bank.goblets[3]["id"], "straws": 3}],
    }
    made = technician.ok("POST", "/api/receipts", receipt)
    answer = technician.get(f"/api/labels/batches/{made['batch']['id']}.pdf")
    assert (answer.status_code, answer.json()["code"]) == (422, "no-labels")


def test_a_name_that_does_not_fit_is_refused_with_its_words(
    vet: Client, technician: Client, known: Bank
) -> None:
    name = "Lanternfield of the Meadow beyond the Grey Hills and the Long Water of Home "
    change(vet, f"/api/stallions/{known.stallion['id']}", {"name": name})
    code = known.codes_in(0)[0]
    answer = technician.get(f"/api/labels/straws/{code}.png?style=flag")
    assert answer.status_code == 422
    assert answer.json()["code"] == "does-not-fit"
    assert "1.2 mm" in answer.json()["detail"]
    assert answer.json()["words"]


def test_letters_that_cannot_be_drawn_are_named(
    vet: Client, technician: Client, known: Bank
) -> None:
    change(vet, f"/api/stallions/{known.stallion['id']}", {"name": "日本"})
    answer = technician.get(f"/api/labels/straws/{known.codes_in(0)[0]}.png")
    assert (answer.status_code, answer.json()["code"]) == (422, "cannot-draw")
    assert answer.json()["letters"] == ["日", "本"]


def test_a_size_that_is_not_honest_is_refused_with_the_reason(manager: Client, known: Bank) -> None:
    change(manager, "/api/station", {"straw_diameter_mm": 2.0, "printer_dpi": 203})
    code = known.codes_in(0)[0]
    answer = manager.get(f"/api/labels/straws/{code}.png?style=strip")
    assert (answer.status_code, answer.json()["code"]) == (422, "not-honest")
    assert "600 dpi" in answer.json()["detail"]
    assert manager.get(f"/api/labels/straws/{code}.png?style=strip&dpi=600").status_code == 200


def test_void_straws_are_not_printed(technician: Client, known: Bank, prepared: Any) -> None:
    """Of twelve that were marked eight were filled."""
    body = building.freeze(known.stallion["id"], [(known.goblets[3]["id"], 8)])
    technician.ok("POST", "/api/freezes", {**body, "batch_id": prepared["id"]})
    pdf = get_pdf(technician, f"/api/labels/batches/{prepared['id']}.pdf?style=flag")
    assert len(sizes_mm(pdf)) == 8


def test_a_day_that_can_be_misread_is_warned_of(technician: Client, known: Bank) -> None:
    """“03.02.26” is also 26 February 2003 to somebody who begins with the year."""
    body = {
        "id": str(uuid4()),
        "stallion_id": known.stallion["id"],
        "straws_planned": 1,
        "collected_on": "2026-02-03",
    }
    made = technician.ok("POST", "/api/batches", body)
    [warning] = printed(technician, made["code"], "strip")["warnings"]
    assert warning["code"] == "day-can-be-misread"
    assert "2003-02-26" in warning["message"]


def test_the_ruler_is_a_page_of_its_own(technician: Client) -> None:
    assert len(PdfReader(io.BytesIO(get_pdf(technician, "/api/labels/ruler.pdf"))).pages) == 1


def test_cards_of_a_withdrawal_and_of_a_plan(vet: Client, known: Bank) -> None:
    plan = vet.ok(
        "POST", "/api/withdrawals/plan", {"stallion_id": known.stallion["id"], "doses": 1}
    )
    picks = [
        {key: one[key] for key in ("goblet_id", "batch_id", "straws")} for one in plan["picks"]
    ]
    body = {"stallion_id": known.stallion["id"], "mare": "Brindlewick", "picks": picks}
    answer = vet.post("/api/labels/walk-cards", json=body)
    assert answer.status_code == 200, answer.text
    said = " ".join(text_of(answer.content).split())
    for one in plan["picks"]:
        assert f"{one['address']} Take {one['straws']} straws" in said
    taken = vet.ok("POST", "/api/withdrawals", known.withdrawal(picks=picks))
    for card, words in (("walk", "Take"), ("thaw", "Thaw card")):
        pdf = get_pdf(vet, f"/api/labels/withdrawals/{taken['id']}.pdf?card={card}")
        assert words in text_of(pdf)
    said = text_of(get_pdf(vet, f"/api/labels/withdrawals/{taken['id']}.pdf?card=thaw"))
    assert all(grouped(straw["code"]) in said for straw in taken["straws"])
