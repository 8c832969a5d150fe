"""The reader that tries again: what it finds, when it stops, and how far away a label may be."""

import io

import numpy as np
import pytest
import qrcode
from PIL import Image

from labels import reading
from labels.reading import Reading, read
from labels.shapes import Printer
from labels.straws import Flag, Strip, flag, strip
from service.kernel.codes import Kind
from tests.labels.simulation import Shot, round_a, taken
from tests.labels.words import picture_of, random_codes, with_code

PRINTER = Printer(300)
[CODE, OTHER] = random_codes(Kind.STRAW, 2, seed=31)


def flag_of(code: str) -> Image.Image:
    return picture_of(flag(with_code(code), Flag(), PRINTER), PRINTER).convert("L")


def on_a_table(*labels: Image.Image, size: tuple[int, int]) -> Image.Image:
    """Labels one below the other in the middle of a larger picture."""
    table = Image.new("L", size, 190)
    y = (table.height - sum(one.height for one in labels)) // 2
    for one in labels:
        table.paste(one, ((table.width - one.width) // 2, y))
        y += one.height
    return table


def as_sent(picture: Image.Image) -> Image.Image:
    """As a page sends it."""
    file = io.BytesIO()
    picture.save(file, "JPEG", quality=85)
    return Image.open(file)


def test_both_symbols_are_read_word_for_word_and_told_apart() -> None:
    assert read(flag_of(CODE)) == (Reading(CODE, "QR Code"),)
    drawn = picture_of(strip(with_code(CODE), Strip(), PRINTER), PRINTER)
    assert read(drawn) == (Reading(CODE, "Data Matrix"),)


@pytest.mark.parametrize("mode", ["1", "L", "RGB", "RGBA", "P", "CMYK", "LA", "I;16"])
def test_pictures_of_every_mode_are_read(mode: str) -> None:
    table = on_a_table(flag_of(CODE), size=(900, 500))
    picture = (
        table.convert("I").point(lambda grey: grey * 256).convert(mode)
        if "16" in mode
        else (table.convert("RGB" if mode == "CMYK" else "L").convert(mode))
    )
    assert picture.mode == mode
    assert {one.text for one in read(picture)} == {CODE}


@pytest.mark.parametrize("turn", range(0, 360, 30))
def test_a_label_is_read_at_every_turn(turn: int) -> None:
    turned = on_a_table(flag_of(CODE), size=(900, 700)).rotate(turn, fillcolor=190)
    assert {one.text for one in read(turned)} == {CODE}


@pytest.mark.parametrize("size", [(1, 1), (1, 900), (900, 1), (3, 3)])
def test_a_picture_that_is_hardly_one_has_no_symbol(size: tuple[int, int]) -> None:
    assert read(Image.new("L", size)) == ()


def test_the_picture_is_left_as_it_was() -> None:
    picture = on_a_table(flag_of(CODE), size=(900, 500))
    before = picture.tobytes()
    read(picture)
    assert picture.tobytes() == before


def parcel() -> Image.Image:
    """Somebody else's symbol."""
    return qrcode.make("https://example.org/parcel").get_image().convert("L")


def test_a_text_that_is_not_wanted_does_not_end_the_search() -> None:
    """Both are found at once; alone, the other one is told all the same."""
    both = on_a_table(parcel(), flag_of(CODE), size=(900, 900))
    found = read(both, wanted=lambda text: text == CODE)
    assert {one.text for one in found} == {CODE, "https://example.org/parcel"}
    alone = read(on_a_table(parcel(), size=(900, 900)), wanted=lambda text: text == CODE)
    assert [one.text for one in alone] == ["https://example.org/parcel"]


def test_a_label_that_needs_another_try_is_found_behind_a_symbol_that_needs_none() -> None:
    chance = np.random.default_rng(2)
    frosted = taken(
        strip(with_code(CODE), Strip(length_mm=45), PRINTER),
        PRINTER,
        Shot(points_per_mm=20, frost=True),
        chance,
    )
    picture = on_a_table(parcel(), frosted, size=(1_100, 720))
    texts = {one.text for one in read(picture)}
    assert texts == {"https://example.org/parcel"}, "else this shows nothing"
    assert CODE in {one.text for one in read(picture, wanted=lambda text: text == CODE)}


def test_it_stops_when_it_is_told_to() -> None:
    asked: list[bool] = []

    def twice() -> bool:
        asked.append(True)
        return len(asked) < 2

    assert read(Image.effect_noise((300, 300), 90), go_on=twice) == ()
    assert len(asked) == 2


def test_no_copy_is_larger_than_what_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of pictures of every size; the sizes are seen, and nothing is replaced."""
    looked_at: list[int] = []
    once = reading._read_once

    def seen(grey: Image.Image, *, globally: bool = False) -> tuple[Reading, ...]:
        looked_at.append(grey.width * grey.height)
        return once(grey, globally=globally)

    monkeypatch.setattr(reading, "_read_once", seen)
    for size in ((1280, 720), (2000, 1500), (4000, 3000), (6000, 4000)):
        read(Image.new("L", size, 120))
    assert max(looked_at) <= reading.MOST_PIXELS_AT_ALL


def band_far_away(code: str, points_per_mm: float, *, frost: bool = False) -> Image.Image:
    """A band round a straw of 2.8 mm in a picture of 1920 × 1080."""
    face = strip(with_code(code), Strip(form="band", length_mm=125), PRINTER)
    shot = Shot(points_per_mm=points_per_mm, turn=3, frost=frost, bend=round_a(2.8))
    seen = taken(face, PRINTER, shot, np.random.default_rng(1))
    margin = round(3 * points_per_mm)
    end = seen.crop((0, 0, round(40 * points_per_mm) + 2 * margin, seen.height))
    return on_a_table(end, size=(1_920, 1_080))


FAR = random_codes(Kind.STRAW, 12, seed=3)


def test_the_middle_of_a_picture_in_full_reads_what_is_lost_when_all_of_it_is_made_smaller() -> (
    None
):
    """Nine points a millimetre, and six of the smaller: two a module, and one and a half."""
    pictures = [(code, band_far_away(code, 9)) for code in FAR]
    middle = [
        {one.text for one in read(as_sent(seen.crop((320, 0, 1_600, 1_080))))} == {code}
        for code, seen in pictures
    ]
    whole = [
        {one.text for one in read(as_sent(seen.resize((1280, 720), Image.Resampling.BILINEAR)))}
        == {code}
        for code, seen in pictures
    ]
    assert sum(middle) >= 11
    assert sum(whole) <= 4


def test_a_strip_under_frost_is_read_at_twelve_points_a_millimetre() -> None:
    """Three a module: a softened and enlarged copy reads what neither of the two does alone."""
    for code in FAR:
        seen = band_far_away(code, 12, frost=True)
        assert {one.text for one in read(as_sent(seen))} == {code}


def test_a_photo_from_farther_away_is_looked_at_in_full() -> None:
    """Of twelve million points; a copy of four million has lost the modules."""
    photo = on_a_table(band_far_away(FAR[0], 12), size=(4_000, 3_000))
    small = photo.resize((2_309, 1_732), Image.Resampling.BOX)
    assert read(small) == ()
    assert {one.text for one in read(photo)} == {FAR[0]}
    assert OTHER not in {one.text for one in read(photo)}
