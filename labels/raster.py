"""Faces to pictures: the page as the printer would set its dots, one bit a dot.

The picture is made of the very PDF that is printed, so that what is shown and what is printed
cannot differ.
"""

import io
import math
from dataclasses import replace
from threading import Lock

from labels.drawing import POINTS_PER_MM, pdf
from labels.shapes import Face, Printer

#: Pages are drawn in several threads, and the library works for one at a time.
_one_at_a_time = Lock()

_HAIR = 0.001

#: A dot is set when half of it is covered.
_HALF = 128


def png(face: Face, printer: Printer) -> bytes:
    """The face as a PNG of black and white dots; it says its own resolution."""
    import pypdfium2

    # The page is a whole number of dots, or the last ones would be spread over the others; a hair
    # less, since the library rounds up.
    dots = printer.dots_per_mm
    columns, rows = math.ceil(face.width * dots - 0.01), math.ceil(face.height * dots - 0.01)
    page = pdf([replace(face, width=(columns - _HAIR) / dots, height=(rows - _HAIR) / dots)])
    with _one_at_a_time:
        document = pypdfium2.PdfDocument(page)
        try:
            grey = document[0].render(scale=dots / POINTS_PER_MM, grayscale=True).to_pil()
            picture = grey.convert("L").crop((0, 0, columns, rows))
        finally:
            document.close()
    file = io.BytesIO()
    dpi = dots * 25.4
    bits = picture.point(lambda grey: 255 if grey >= _HALF else 0).convert("1")
    bits.save(file, "PNG", dpi=(dpi, dpi), optimize=True)
    return file.getvalue()
