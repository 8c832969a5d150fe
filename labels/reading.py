"""Symbols read off a picture that somebody took: in frost, at an angle, out of focus.

The reader tries the picture as it is; where nothing is found it tries filtered copies, each with
two ways of telling dark from light, and stops at the first that reads. The order is that of our
measurements (`tests/bench/picture_bench.py`): each copy reads what those before it could not. How
the camera was held (Exif) does not matter: symbols are found at any turn.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from PIL import Image, ImageChops, ImageFilter, ImageOps

#: Pictures above that many pixels are made smaller first: a symbol that fills a hand's width does
#: not need more, and each try would take longer.
MOST_PIXELS = 4_000_000

#: A larger one is looked at as it is, too, when nothing was found in the smaller: a label that was
#: photographed from far away is a few pixels a millimetre, and the smaller has lost them.
MOST_PIXELS_AT_ALL = 12_500_000

_Filter = Callable[[Image.Image], Image.Image]


@dataclass(frozen=True, slots=True)
class Reading:
    """What a symbol says, word for word, and of which kind it is."""

    text: str
    format: str


def read(
    picture: Image.Image,
    *,
    wanted: Callable[[str], bool] = lambda _text: True,
    go_on: Callable[[], bool] = lambda: True,
) -> tuple[Reading, ...]:
    """Every QR Code and Data Matrix that the first try finds which finds a wanted text.

    Where none does, what was found by the first that found anything; empty when none did. Noise can
    look like a symbol: `wanted` says whether a text may be one of ours, and for others the search
    goes on. `go_on` is asked before every further try: some pictures take long to be found empty.
    The picture is only looked at.
    """
    first: tuple[Reading, ...] = ()
    for found in _tries(picture):
        if any(wanted(one.text) for one in found):
            return found
        first = first or found
        if not go_on():
            break
    return first


def _tries(picture: Image.Image) -> Iterator[tuple[Reading, ...]]:
    grey = picture.convert("L")
    small = _smaller(grey)
    yield from _both_ways(small)
    if small is not grey and grey.width * grey.height <= MOST_PIXELS_AT_ALL:
        yield _read_once(grey, globally=False)
    for change in _FILTERS:
        yield from _both_ways(change(small))


def _both_ways(grey: Image.Image) -> Iterator[tuple[Reading, ...]]:
    yield _read_once(grey, globally=False)
    yield _read_once(grey, globally=True)


def _smaller(grey: Image.Image) -> Image.Image:
    """The picture in a size that is quick to search."""
    too_many = grey.width * grey.height / MOST_PIXELS
    if too_many <= 1:
        return grey
    size = (max(1, round(grey.width / too_many**0.5)), max(1, round(grey.height / too_many**0.5)))
    return grey.resize(size, Image.Resampling.BOX)


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
    lambda grey: grey.filter(ImageFilter.GaussianBlur(1.2)),
    _against_its_surroundings,
    lambda grey: _against_its_surroundings(grey).filter(ImageFilter.GaussianBlur(1.5)),
    _half,
    lambda grey: grey.filter(ImageFilter.MedianFilter(3)),
    _double,
    lambda grey: _half(_against_its_surroundings(grey.filter(ImageFilter.GaussianBlur(1.5)))),
)
