"""What the tests put on labels, and what they read off them."""

import io
import random
from collections.abc import Iterable
from dataclasses import replace

from PIL import Image
from pypdf import PdfReader

from labels import raster
from labels.plates import PlateWords, plate
from labels.shapes import Face, Printer, Symbol
from labels.straws import Flag, StrawWords, Strip, flag, strip
from service.kernel import codes
from service.kernel.codes import Kind

PRINTERS = tuple(Printer(dpi) for dpi in (203, 300, 600))

WORDS = StrawWords(
    code="S1234567X",
    stallion="Lanternfield",
    identity="372414001234567",
    species="EQUINE",
    breed="Connemara",
    collected="03.03.26",
    approvals=("IE-AI-0417", "IE-PR-0055"),
    batch_code="B1Q2W3E4R",
)


def random_codes(kind: Kind, number: int, seed: int = 1) -> list[str]:
    """Codes as the bank makes them."""
    draw = random.Random(seed).getrandbits
    return [codes.make(kind, draw) for _ in range(number)]


def text_of(pdf: bytes) -> str:
    """All words of a PDF, as another program finds them."""
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


def sizes_mm(pdf: bytes) -> list[tuple[float, float]]:
    """The size of each page in millimetres."""
    return [
        (float(page.mediabox.width) * 25.4 / 72, float(page.mediabox.height) * 25.4 / 72)
        for page in PdfReader(io.BytesIO(pdf)).pages
    ]


def picture_of(face: Face, printer: Printer) -> Image.Image:
    """The face as the printer sets its dots."""
    return Image.open(io.BytesIO(raster.png(face, printer)))


def symbol_of(face: Face) -> Symbol:
    """The one symbol on a face."""
    (symbol,) = [shape for shape in face.shapes if isinstance(shape, Symbol)]
    return symbol


def every_kind(printer: Printer) -> Iterable[tuple[str, Face]]:
    """A label of every kind that has a symbol, and what it is called."""
    yield "strip", strip(WORDS, Strip(), printer)
    yield "band", strip(WORDS, Strip(form="band", length_mm=125), printer)
    yield "flag", flag(WORDS, Flag(), printer)
    for kind, title in (("goblet", "NORTH-1-L1"), ("canister", "NORTH-1"), ("tank", "North")):
        words = PlateWords(kind=kind, code=f"{kind[0].upper()}1234567X", title=title, line="50 L")
        yield kind, plate(words, printer)


def with_code(code: str) -> StrawWords:
    """The words with another code."""
    return replace(WORDS, code=code)
