"""A picture of a label is read as its code would be; what is no picture harms nobody."""

import io
import zlib
from typing import Any

import pytest
from PIL import Image

from labels.shapes import Printer
from labels.straws import Flag, Strip, flag, strip
from service.kernel.codes import Kind
from tests.banks import Bank
from tests.conftest import Client
from tests.labels.words import picture_of, random_codes, with_code

PATH = "/api/scan/picture"
PRINTER = Printer(300)


def photo(*labels: Image.Image, kind: str = "JPEG") -> bytes:
    """Labels on a grey table, one below the other."""
    table = Image.new(
        "L",
        (max(one.width for one in labels) + 120, sum(one.height + 120 for one in labels)),
        200,
    )
    y = 60
    for one in labels:
        table.paste(one.convert("L"), (60, y))
        y += one.height + 120
    file = io.BytesIO()
    table.save(file, kind)
    return file.getvalue()


def label(code: str) -> Image.Image:
    return picture_of(flag(with_code(code), Flag(), PRINTER), PRINTER)


def sent(client: Client, picture: bytes, media_type: str = "image/jpeg") -> Any:
    return client.post(PATH, content=picture, headers={"Content-Type": media_type})


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_picture_of_a_flag_says_whose_the_straw_is(
    auditor: Client, bank: Bank, kind: str
) -> None:
    code = bank.codes_in(0)[0]
    answer = sent(auditor, photo(label(code), kind=kind), f"image/{kind.lower()}")
    assert answer.status_code == 200, answer.text
    [seen] = answer.json()["codes"]
    assert (seen["code"], seen["kind"]) == (code, "straw")
    assert seen["found"] == auditor.ok("GET", f"/api/scan/{code}")


def test_a_strip_is_read_by_its_data_matrix(technician: Client, bank: Bank) -> None:
    code = bank.codes_in(0)[1]
    drawn = picture_of(strip(with_code(code), Strip(), PRINTER), PRINTER)
    assert [one["code"] for one in sent(technician, photo(drawn)).json()["codes"]] == [code]


def test_a_picture_that_was_turned_by_its_camera_is_read(technician: Client, bank: Bank) -> None:
    code = bank.codes_in(0)[0]
    file = io.BytesIO()
    exif = Image.Exif()
    exif[0x0112] = 6  # orientation: turn by 90 degrees (Exif 2.32, JEITA CP-3451)
    opened = Image.open(io.BytesIO(photo(label(code)))).rotate(90, expand=True)
    opened.save(file, "JPEG", exif=exif)
    assert sent(technician, file.getvalue()).json()["codes"][0]["code"] == code


def test_several_codes_in_one_picture_are_all_told(technician: Client, bank: Bank) -> None:
    wanted = bank.codes_in(0)[:2]
    answer = sent(technician, photo(*(label(code) for code in wanted)))
    assert {one["code"] for one in answer.json()["codes"]} == set(wanted)


def test_a_code_of_another_bank_is_read_and_not_found(technician: Client, bank: Bank) -> None:
    [code] = random_codes(Kind.STRAW, 1, seed=99)
    assert sent(technician, photo(label(code))).json() == {
        "codes": [{"code": code, "kind": "straw", "found": None}]
    }


def test_a_symbol_whose_check_is_wrong_is_a_misread(technician: Client) -> None:
    answer = sent(technician, photo(label("S00000001")))
    assert (answer.status_code, answer.json()["code"]) == (422, "misread-code")


def test_a_picture_without_a_symbol_says_what_to_do(technician: Client) -> None:
    answer = sent(technician, photo(Image.new("L", (300, 200), 120)))
    assert (answer.status_code, answer.json()["code"]) == (422, "nothing-read")
    assert "nearer" in answer.json()["detail"]


@pytest.mark.parametrize(
    "broken",
    [
        b"",
        b"not a picture at all",
        photo(Image.new("L", (300, 200), 120))[:400],
        b"\xff\xd8\xff\xe0" + bytes(2_000),
    ],
)
def test_broken_pictures_are_refused_in_words(technician: Client, broken: bytes) -> None:
    answer = sent(technician, broken)
    assert (answer.status_code, answer.json()["code"]) == (422, "not-a-picture")


def test_a_picture_that_says_it_is_another_kind_is_refused(technician: Client) -> None:
    answer = sent(technician, photo(Image.new("L", (50, 50)), kind="PNG"), "image/jpeg")
    assert (answer.status_code, answer.json()["code"]) == (422, "not-a-picture")


def test_a_small_file_that_unpacks_to_a_huge_picture_is_not_unpacked(technician: Client) -> None:
    """A PNG of 60,000 × 60,000 points in a few hundred bytes."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        check = zlib.crc32(kind + content).to_bytes(4, "big")
        return len(content).to_bytes(4, "big") + kind + content + check

    size = (60_000).to_bytes(4, "big")
    header = size + size + bytes([1, 0, 0, 0, 0])
    data = zlib.compress(bytes(7_501 * 20))
    bomb = (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", data) + chunk(b"IEND", b"")
    )
    assert len(bomb) < 1_000
    answer = sent(technician, bomb, "image/png")
    assert (answer.status_code, answer.json()["code"]) == (422, "not-a-picture")


def test_other_kinds_of_files_are_not_read(technician: Client) -> None:
    answer = sent(technician, b"<svg/>", "image/svg+xml")
    assert (answer.status_code, answer.json()["code"]) == (422, "other-picture")


def test_a_picture_larger_than_eight_megabytes_is_refused(technician: Client) -> None:
    assert sent(technician, bytes(8_000_001)).status_code == 413
    assert sent(technician, bytes(2_000_000)).status_code == 422
