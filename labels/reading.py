"""Symbols read off a picture that somebody took: in frost, at an angle, out of focus.

The reader tries the picture as it is; where nothing is found it tries filtered copies, and stops at
the first that reads. They were chosen out of sixty-eight, on hundreds of simulated pictures, by
what each read that those before it had not, and in what time (`tests/bench/picture_bench.py` times
them). How the camera was held (Exif) does not matter: symbols are found at any turn.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from PIL import Image, ImageChops, ImageFilter, ImageOps

#: Most copies are made of no more pixels than that: a symbol that fills a hand's width does not
#: need more, and each try would take longer.
MOST_PIXELS = 4_000_000

#: And none, be it the picture itself or an enlarged copy, is larger than that.
MOST_PIXELS_AT_ALL = 12_500_000


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
    yield _read_once(small)
    even = _evened(small)
    # One threshold for all of it is quick to try, and enough once frost is evened out.
    yield _read_once(_times(2 / 3, even), globally=True)
    yield _read_once(_softer(even), globally=True)
    if small is not grey and _is_possible(grey):
        # From far away a label is a few pixels a millimetre, and the smaller copy has lost them.
        yield _read_once(grey)
    for times, softly in ((1.5, True), (2, False), (2, True)):
        if _is_possible(grey, times):
            yield _read_once(_times(times, _softer(grey) if softly else grey))
    # Held very near, noise is smaller than a module by far.
    yield _read_once(_times(1 / 2, small))
    yield _read_once(_times(1 / 2, _evened(_softer(small, 1.5))))
    if small is not grey and _is_possible(grey):
        yield _read_once(_softer(grey))


def _read_once(grey: Image.Image, *, globally: bool = False) -> tuple[Reading, ...]:
    """What is found with a threshold for each place, or with one for the whole picture."""
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


def _smaller(grey: Image.Image) -> Image.Image:
    """The picture in a size that is quick to search."""
    too_many = grey.width * grey.height / MOST_PIXELS
    return grey if too_many <= 1 else _times(too_many**-0.5, grey)


def _is_possible(grey: Image.Image, times: float = 1) -> bool:
    return grey.width * grey.height * times**2 <= MOST_PIXELS_AT_ALL


def _times(factor: float, grey: Image.Image) -> Image.Image:
    size = (max(1, round(grey.width * factor)), max(1, round(grey.height * factor)))
    how = Image.Resampling.BOX if factor <= 1 / 2 else Image.Resampling.BICUBIC
    return grey.resize(size, how)


def _softer(grey: Image.Image, radius: float = 0.8) -> Image.Image:
    return grey.filter(ImageFilter.GaussianBlur(radius))


def _evened(grey: Image.Image) -> Image.Image:
    """How much lighter or darker each place is than what surrounds it: blotches go."""
    around = grey.filter(ImageFilter.BoxBlur(max(4, min(grey.size) // 24)))
    return ImageOps.autocontrast(ImageChops.subtract(grey, around, scale=1, offset=128), cutoff=1)
