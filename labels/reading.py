"""Symbols read off a picture that somebody took: in frost, at an angle, out of focus.

The reader tries the picture as it is; where nothing is found it tries filtered copies, each with
two ways of telling dark from light, and stops at the first that reads. The order is that of our
measurements (`tests/bench/picture_bench.py`): each copy reads what those before it could not.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from PIL import Image, ImageChops, ImageFilter, ImageOps

#: Pictures above that many pixels are made smaller first: a symbol that fills a hand's width does
#: not need more, and each try would take longer.
MOST_PIXELS = 4_000_000

_Filter = Callable[[Image.Image], Image.Image]


@dataclass(frozen=True, slots=True)
class Reading:
    """What a symbol says, word for word, and of which kind it is."""

    text: str
    format: str


def read(picture: Image.Image) -> tuple[Reading, ...]:
    """Every QR Code and Data Matrix that is found; empty when none is.

    The picture is only looked at. What a symbol says is not checked here: other people's symbols
    are found too.
    """
    grey = _upright(picture)
    return next((found for found in _tries(grey) if found), ())


def _upright(picture: Image.Image) -> Image.Image:
    """The picture in grey, turned as its camera was held, of a size that is quick to search."""
    grey = ImageOps.exif_transpose(picture).convert("L")
    too_many = grey.width * grey.height / MOST_PIXELS
    if too_many <= 1:
        return grey
    smaller = (round(grey.width / too_many**0.5), round(grey.height / too_many**0.5))
    return grey.resize(smaller, Image.Resampling.BOX)


def _tries(grey: Image.Image) -> Iterator[tuple[Reading, ...]]:
    for change in _FILTERS:
        copy = change(grey)
        for globally in (False, True):
            yield _read_once(copy, globally=globally)


def _read_once(grey: Image.Image, *, globally: bool) -> tuple[Reading, ...]:
    import zxingcpp

    found = zxingcpp.read_barcodes(
        grey,
        formats=zxingcpp.BarcodeFormats(
            [zxingcpp.BarcodeFormat.QRCode, zxingcpp.BarcodeFormat.DataMatrix]
        ),
        text_mode=zxingcpp.TextMode.Plain,
        binarizer=zxingcpp.Binarizer.GlobalHistogram
        if globally
        else zxingcpp.Binarizer.LocalAverage,
    )
    return tuple(dict.fromkeys(Reading(one.text, str(one.format)) for one in found))


def _half(grey: Image.Image) -> Image.Image:
    return grey.resize((max(1, grey.width // 2), max(1, grey.height // 2)), Image.Resampling.BOX)


def _double(grey: Image.Image) -> Image.Image:
    if grey.width * grey.height > MOST_PIXELS // 4:
        return grey
    return grey.resize((grey.width * 2, grey.height * 2), Image.Resampling.BICUBIC)


def _against_its_surroundings(grey: Image.Image) -> Image.Image:
    """How much lighter or darker each place is than what surrounds it: frost is evened out."""
    around = grey.filter(ImageFilter.BoxBlur(max(4, min(grey.size) // 24)))
    return ImageOps.autocontrast(ImageChops.subtract(grey, around, scale=1, offset=128), cutoff=1)


_FILTERS: tuple[_Filter, ...] = (
    lambda grey: grey,
    lambda grey: grey.filter(ImageFilter.GaussianBlur(1.2)),
    _against_its_surroundings,
    lambda grey: _against_its_surroundings(grey).filter(ImageFilter.GaussianBlur(1.5)),
    _half,
    lambda grey: grey.filter(ImageFilter.MedianFilter(3)),
    _double,
    lambda grey: _half(_against_its_surroundings(grey.filter(ImageFilter.GaussianBlur(1.5)))),
)
