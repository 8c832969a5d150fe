"""Labels and cards are looked at freely; what cannot be drawn is refused with the reason."""

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
from tests.printing.asked import PRINTS, UELN, get_pdf, grouped, head

#: What is asked here is the same on either engine.
pytestmark = pytest.mark.sqlite_only


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


def test_a_straw_that_has_no_label_is_refused_with_the_reason(
    technician: Client, known: Bank, prepared: Any
) -> None:
    body = building.freeze(known.stallion["id"], [(known.goblets[3]["id"], 8)])
    technician.ok("POST", "/api/freezes", {**body, "batch_id": prepared["id"]})
    straws = technician.ok("GET", f"/api/batches/{prepared['id']}")["straws"]
    void = next(one["code"] for one in straws if one["state"] == "void")
    misread = void[:-1] + ("0" if void[-1] != "0" else "1")
    for code, status, refused in (
        (void, 422, "no-labels"),
        (misread, 422, "misread-code"),
        (known.batch_code, 404, "unknown-subject"),
    ):
        answer = technician.get(f"/api/labels/straws/{code}.pdf")
        assert (answer.status_code, answer.json()["code"]) == (status, refused)
    sent = {"what": void, "style": "strip"}
    assert "never filled" in technician.refused("POST", PRINTS, sent, 422, "no-labels")["detail"]


def test_a_processor_of_its_own_stands_on_the_straw_and_never_the_same_number_twice(
    manager: Client, prepared: Any
) -> None:
    code = prepared["straws"][0]["code"]
    path = f"/api/labels/straws/{code}.pdf?style=strip"
    assert text_of(get_pdf(manager, path)).count("IE AI-0417") == 1
    change(manager, "/api/station", {"processing_approval_number": "PR-9"})
    said = text_of(get_pdf(manager, path))
    assert ("IE AI-0417" in said, "IE PR-9" in said) == (True, True)


def test_void_straws_are_not_printed(technician: Client, known: Bank, prepared: Any) -> None:
    """Of twelve that were marked eight were filled."""
    body = building.freeze(known.stallion["id"], [(known.goblets[3]["id"], 8)])
    technician.ok("POST", "/api/freezes", {**body, "batch_id": prepared["id"]})
    pdf = get_pdf(technician, f"/api/labels/batches/{prepared['id']}.pdf?style=flag")
    assert len(sizes_mm(pdf)) == 8


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
