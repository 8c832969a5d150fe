"""Letters of many scripts are drawn as they are read, or refused by name."""

import unicodedata

import pytest
from bidi import get_display

from labels.errors import CannotDraw
from labels.shapes import Line
from labels.typefaces import CODE, STRONG, TEXT, measures, shaped


def seen(line: Line) -> str:
    """The letters from left to right."""
    return "".join(glyph.text for glyph in line.glyphs)


@pytest.mark.parametrize(
    "text",
    ["Ölzweig vom Ærø", "Łąka Świt", "İğdir Şahin", "Δοκιμή", "Жар-птица", "ცხენი", "Đỗ Quyên"],
)
@pytest.mark.parametrize("typeface", [TEXT, STRONG])
def test_letters_that_run_to_the_right_stand_as_they_are_written(text: str, typeface: str) -> None:
    assert seen(shaped(text, typeface)) == text


@pytest.mark.parametrize(
    "text",
    ["שלום", "שלום 12", "12 שלום", "Rex שלום", "שלום Rex", "סוס (לבן) 7", "Rex שלום-עולם II"],
)
def test_letters_that_run_to_the_left_stand_as_the_unicode_standard_says(text: str) -> None:
    """Beside python-bidi, an independent reading of Unicode Standard Annex 9."""
    ours = seen(shaped(text, TEXT))
    mirrored = get_display(text)
    # The reference writes brackets already mirrored; ours are mirrored when they are drawn.
    assert ours.translate(str.maketrans("()", "..")) == mirrored.translate(
        str.maketrans("()", "..")
    )


def test_arabic_letters_are_joined() -> None:
    """The same letter is another glyph alone, at the start, in the middle and at the end."""
    alone = {glyph.number for glyph in shaped("ه", TEXT).glyphs}
    joined = [glyph.number for glyph in shaped("ههه", TEXT).glyphs]
    assert len({*joined, *alone}) == 4


@pytest.mark.parametrize("text", ["日本", "Rex 馬", "🐎", "\u0000"])
def test_letters_that_no_typeface_has_are_refused_by_name(text: str) -> None:
    with pytest.raises(CannotDraw) as refused:
        shaped(text, TEXT)
    assert set(refused.value.letters) <= set(text) - set("Rex ")
    assert refused.value.letters
    assert all(letter in str(refused.value) for letter in refused.value.letters)


def test_a_letter_with_its_accent_apart_is_the_same_letter() -> None:
    text = "Ölzweig"
    assert shaped(unicodedata.normalize("NFD", text), TEXT) == shaped(text, TEXT)


@pytest.mark.parametrize("pair", ["0O", "0D", "0Q", "1I", "1l", "5S", "8B", "2Z", "6G"])
def test_signs_of_codes_that_look_alike_are_other_glyphs(pair: str) -> None:
    one, other = (shaped(sign, CODE).glyphs[0].number for sign in pair)
    assert one != other


def test_the_zero_of_codes_is_slashed() -> None:
    """The typeface's own zero is dotted; the glyph we take is another one."""
    import uharfbuzz

    from labels.typefaces import _font

    plain = _font(CODE).get_nominal_glyph(ord("0"))
    assert shaped("0", CODE).glyphs[0].number != plain
    assert uharfbuzz.__version__


def test_every_sign_of_a_code_is_as_wide_as_another() -> None:
    signs = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
    assert len({round(shaped(sign, CODE).width_em, 6) for sign in signs}) == 1


@pytest.mark.parametrize("typeface", [TEXT, STRONG, CODE])
def test_heights_are_the_typefaces_own(typeface: str) -> None:
    """Capitals of both families stand about 0.69 em high (measured in the files)."""
    heights = measures(typeface)
    assert heights.capital == pytest.approx(0.69, abs=0.01)
    assert heights.ascent > heights.capital > 0 < heights.descent
