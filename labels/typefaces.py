"""The typefaces labels are set in: which letters they have, how wide a line is, what a page embeds.

FiraGO (SIL Open Font License 1.1) has Latin, Greek, Cyrillic, Georgian, Hebrew, Arabic, Thai and
Devanagari letters. Codes are set in Cascadia Mono (the same licence): its zero is slashed and its
one has a foot, so that 0 and O, 1 and I are told apart by eye.
"""

import io
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from threading import Lock

import pymupdf_fonts
import uharfbuzz

from labels.errors import CannotDraw
from labels.shapes import Glyph, Line

TEXT = "figo"
STRONG = "figbo"
CODE, CODE_LIGHT = "cascadiab", "cascadia"

#: Tables that place or choose glyphs: the text on a page is shaped already.
_DONE_WITH = ("GSUB", "GPOS", "GDEF", "kern", "DSIG", "meta", "STAT", "name", "post")

#: Two letters drawn as one are pretty in a book; on a straw each is read by itself. Zeros are
#: slashed where the typeface can.
_FEATURES = {"liga": False, "zero": True}

_RIGHT_TO_LEFT = {"R", "AL"}
_LEFT_TO_RIGHT = {"L", "EN", "AN"}

#: Pages are made in several threads at once.
_shaping = Lock()


@dataclass(frozen=True, slots=True)
class Measures:
    """A typeface's heights in ems: of capitals, and how far letters reach above and below."""

    capital: float
    ascent: float
    descent: float


@lru_cache
def measures(typeface: str) -> Measures:
    """The heights of a typeface."""
    font = _font(typeface)
    units: int = font.face.upem
    extents = font.get_font_extents("ltr")
    capital = font.get_glyph_extents(font.get_nominal_glyph(ord("H")))
    return Measures(
        capital=capital.y_bearing / units,
        ascent=extents.ascender / units,
        descent=-extents.descender / units,
    )


@lru_cache(maxsize=5_000)
def natural_advance(typeface: str, glyph: int) -> float:
    """How wide a glyph is by itself, in ems."""
    font = _font(typeface)
    return int(font.get_glyph_h_advance(glyph)) / int(font.face.upem)


@lru_cache(maxsize=20_000)
def shaped(text: str, typeface: str) -> Line:
    """A line of text as it is drawn. Raises CannotDraw for letters the typeface does not have."""
    text = unicodedata.normalize("NFC", text).replace("\u00a0", " ")
    glyphs: list[Glyph] = []
    with _shaping:
        for run, leftwards in _runs(text):
            glyphs += _shape(run, typeface, text, leftwards=leftwards)
    return Line(text, typeface, tuple(glyphs), sum(glyph.advance for glyph in glyphs))


def embedded(typeface: str, glyphs: Iterable[int]) -> bytes:
    """A TrueType file with these glyphs alone, under the numbers they have in the whole one."""
    return _embedded(typeface, frozenset(glyphs))


@lru_cache(maxsize=64)
def _embedded(typeface: str, glyphs: frozenset[int]) -> bytes:
    from fontTools import subset
    from fontTools.ttLib import TTFont

    font = TTFont(io.BytesIO(_file(typeface)), lazy=True)
    for table in _DONE_WITH:
        if table in font:
            del font[table]
    options = subset.Options(retain_gids=True, notdef_outline=True, glyph_names=False)
    subsetter = subset.Subsetter(options)
    subsetter.populate(gids=sorted(glyphs))
    subsetter.subset(font)
    file = io.BytesIO()
    font.save(file)
    return file.getvalue()


@lru_cache
def _file(typeface: str) -> bytes:
    file: bytes = pymupdf_fonts.myfont(typeface)
    return file


@lru_cache
def _font(typeface: str) -> uharfbuzz.Font:
    return uharfbuzz.Font(uharfbuzz.Face(_file(typeface)))


def _shape(run: str, typeface: str, text: str, *, leftwards: bool) -> list[Glyph]:
    font = _font(typeface)
    units: int = font.face.upem
    buffer = uharfbuzz.Buffer()
    buffer.add_str(run)
    buffer.guess_segment_properties()
    buffer.direction = "rtl" if leftwards else "ltr"
    uharfbuzz.shape(font, buffer, _FEATURES)
    missing = [run[info.cluster] for info in buffer.glyph_infos if info.codepoint == 0]
    if missing:
        raise CannotDraw(missing, text)
    clusters = _clusters(run, {info.cluster for info in buffer.glyph_infos})
    return [
        Glyph(
            info.codepoint,
            clusters.pop(info.cluster, ""),
            place.x_offset / units,
            place.y_offset / units,
            place.x_advance / units,
        )
        for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True)
    ]


def _clusters(run: str, starts: set[int]) -> dict[int, str]:
    """Where each cluster of letters that is drawn as one begins, and its letters."""
    ordered = sorted(starts)
    ends = [*ordered[1:], len(run)]
    return {start: run[start:end] for start, end in zip(ordered, ends, strict=True)}


def _runs(text: str) -> list[tuple[str, bool]]:
    """A line cut where its direction changes, the runs from left to right; True: read leftwards.

    The first letter says how the line as a whole is read; what has no direction of its own (spaces,
    points) goes with its neighbours where they agree, otherwise with the line. One level of the
    Unicode Bidirectional Algorithm (Unicode Standard Annex 9): a horse's name needs no more.
    """
    strong = [_leftwards(letter) for letter in text]
    kinds = map(unicodedata.bidirectional, text)
    line = next((kind for kind in kinds if kind in {"L", "R", "AL"}), "L") in _RIGHT_TO_LEFT
    found: list[bool] = []
    for index, one in enumerate(strong):
        if one is not None:
            found.append(one)
            continue
        before = found[-1] if found else line
        after = next((later for later in strong[index + 1 :] if later is not None), line)
        found.append(before if before == after else line)
    runs = [
        ("".join(letter for letter, _ in run), leftwards)
        for leftwards, run in groupby(zip(text, found, strict=True), key=lambda pair: pair[1])
    ]
    return runs[::-1] if line else runs


def _leftwards(letter: str) -> bool | None:
    kind = unicodedata.bidirectional(letter)
    if kind in _RIGHT_TO_LEFT:
        return True
    return False if kind in _LEFT_TO_RIGHT else None
