"""A picture of a label is read as its code would be; what is no picture harms nobody."""

import io
import random
import zlib
from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from typing import Any

import pytest
import qrcode
from PIL import Image

from labels.shapes import Printer
from labels.straws import Flag, Strip, flag, strip
from service.kernel.codes import Kind
from service.lookup import pictures
from service.lookup.rules import NotAPicture, NothingRead
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


def test_other_peoples_symbols_beside_a_label_are_left_out(technician: Client, bank: Bank) -> None:
    code = bank.codes_in(0)[0]
    parcel = qrcode.make("https://example.org/parcel").get_image()
    answer = sent(technician, photo(parcel, label(code)))
    assert [one["code"] for one in answer.json()["codes"]] == [code]
    alone = sent(technician, photo(parcel))
    assert (alone.status_code, alone.json()["code"]) == (422, "misread-code")
    assert "example.org" in alone.json()["arrived"]


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


@pytest.mark.parametrize("media_type", ["image/svg+xml", "image/tiff", "application/pdf"])
def test_other_kinds_of_files_are_not_read(technician: Client, media_type: str) -> None:
    answer = sent(technician, b"<svg/>", media_type)
    assert (answer.status_code, answer.json()["code"]) == (415, "other-picture")


def test_a_jpeg_of_endless_scans_is_not_unpacked(technician: Client) -> None:
    """Its last scan a thousand times over: each takes as long as the whole picture."""
    file = io.BytesIO()
    Image.new("RGB", (6_000, 4_000), "grey").save(file, "JPEG", progressive=True)
    whole = file.getvalue()
    scan = whole[whole.rindex(b"\xff\xda") : -2]
    answer = sent(technician, whole[:-2] + scan * 1_000 + b"\xff\xd9")
    assert (answer.status_code, answer.json()["code"]) == (422, "not-a-picture")
    assert "camera" in answer.json()["detail"]
    assert sent(technician, whole).json()["code"] == "nothing-read"


def test_an_exif_block_that_is_broken_spoils_no_picture(technician: Client, bank: Bank) -> None:
    """Its orientation stands there; its resolution is said in letters, where numbers belong."""
    code = bank.codes_in(0)[0]
    orientation = b"\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06\x00\x00"
    resolution = b"\x01\x1a\x00\x02\x00\x00\x00\x03abc\x00"
    block = b"MM\x00*\x00\x00\x00\x08\x00\x02" + orientation + resolution + bytes(4)
    file = io.BytesIO()
    Image.open(io.BytesIO(photo(label(code)))).save(file, "JPEG", exif=b"Exif\x00\x00" + block)
    assert sent(technician, file.getvalue()).json()["codes"][0]["code"] == code


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.filterwarnings("ignore::UserWarning")  # the library's, about what it skips
def test_pictures_with_bytes_gone_wrong_are_read_or_refused(kind: str) -> None:
    """Cut off, flipped, with bytes in between: two hundred of each kind, none fails otherwise."""
    chance = random.Random(kind)
    whole = bytearray(photo(Image.new("L", (30, 20), 90), kind=kind))
    refused = 0
    for _ in range(200):
        broken = bytearray(whole)
        for _ in range(chance.randrange(1, 8)):
            broken[chance.randrange(min(len(broken), 400))] = chance.randrange(256)
        place = chance.randrange(len(broken))
        broken[place:place] = chance.randbytes(chance.randrange(0, 20))
        try:
            pictures.codes_in(
                bytes(broken[: chance.randrange(len(broken))]), f"image/{kind.lower()}"
            )
        except (NotAPicture, NothingRead):
            refused += 1
    assert refused == 200


def test_the_book_answers_while_many_pictures_are_read(technician: Client, bank: Bank) -> None:
    """More pictures at once than there are threads: those that wait take none of them."""
    many, code = 8, bank.codes_in(0)[0]
    file = io.BytesIO()
    Image.effect_noise((900, 700), 90).save(file, "PNG")
    with ThreadPoolExecutor(many) as crowd:
        answers = [
            crowd.submit(sent, technician, file.getvalue(), "image/png") for _ in range(many)
        ]
        wait(answers, return_when=FIRST_COMPLETED)
        before = sum(one.done() for one in answers)
        technician.ok("GET", f"/api/scan/{code}")
        assert sum(one.done() for one in answers) <= before + 1 < many
    assert {one.result().json()["code"] for one in answers} == {"nothing-read"}


def test_a_picture_larger_than_eight_megabytes_is_refused(technician: Client) -> None:
    assert sent(technician, bytes(8_000_001)).status_code == 413
    assert sent(technician, bytes(2_000_000)).status_code == 422
