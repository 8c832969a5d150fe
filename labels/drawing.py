"""Faces to PDF: one page a face, typefaces embedded, black only.

`pydyf` keeps the file's objects; what stands on a page is written here as content streams (ISO
32000-1:2008, 8.5 paths and 9.4 text), because a thousand labels share all their words but the code,
and a line once written is written again as it is. What text a glyph stands for is kept (9.10.3), so
that a page can be searched and read aloud.
"""

import io
from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import groupby

import pydyf

from labels.shapes import Bar, Face, Rule, Shape, Symbol, Words
from labels.typefaces import embedded, measures, natural_advance

POINTS_PER_MM = 72 / 25.4

_TURNS = {0: (1, 0, 0, -1), 90: (0, 1, 1, 0), 180: (-1, 0, 0, 1), 270: (0, -1, -1, 0)}


def pdf(pages: Sequence[Face], *, title: str = "") -> bytes:
    """The pages as one file, each at its true size."""
    document = pydyf.PDF()
    document.info["Title"] = pydyf.String(title)
    document.info["Producer"] = pydyf.String("Rimebook")
    fonts = pydyf.Dictionary(_fonts(document, pages))
    document.add_object(fonts)
    resources = pydyf.Dictionary({"Font": fonts.reference})
    document.add_object(resources)
    for face in pages:
        content = pydyf.Stream([_page(face)], compress=True)
        document.add_object(content)
        document.add_page(
            pydyf.Dictionary(
                {
                    "Type": "/Page",
                    "Parent": document.pages.reference,
                    "MediaBox": pydyf.Array([0, 0, _points(face.width), _points(face.height)]),
                    "Resources": resources.reference,
                    "Contents": content.reference,
                }
            )
        )
    file = io.BytesIO()
    document.write(file, version=b"1.7", compress=True)
    return file.getvalue()


def _points(mm: float) -> float:
    return mm * POINTS_PER_MM


def _page(face: Face) -> bytes:
    """A page's content, in mm from its upper left corner downwards."""
    scale = f"{POINTS_PER_MM:.6f} 0 0 -{POINTS_PER_MM:.6f} 0 {_points(face.height):.6f} cm"
    return b"\n".join([scale.encode(), *map(_drawn, face.shapes)])


def _drawn(shape: Shape) -> bytes:
    match shape:
        case Words():
            return _words(shape)
        case Symbol():
            return _symbol(shape)
        case Bar(x, y, width, height):
            return f"{x:.4f} {y:.4f} {width:.4f} {height:.4f} re f".encode()
        case Rule():
            return _rule(shape)


@lru_cache(maxsize=2_000)
def _words(words: Words) -> bytes:
    line = words.line
    turned = " ".join(str(part) for part in _TURNS[words.turn])
    parts = [f"/{line.typeface} {words.em_mm:.4f} Tf {turned} {words.x:.4f} {words.y:.4f} Tm"]
    level: list[str] = []
    for glyph in line.glyphs:
        natural = natural_advance(line.typeface, glyph.number)
        before, after = _thousandths(-glyph.dx), _thousandths(natural + glyph.dx - glyph.advance)
        shown = f"{before}<{glyph.number:04X}>{after}"
        if not glyph.dy:
            level.append(shown)
            continue
        parts += [*_shown(level), f"{glyph.dy * words.em_mm:.4f} Ts", *_shown([shown]), "0 Ts"]
        level = []
    return "\n".join(["BT", *parts, *_shown(level), "ET"]).encode()


def _thousandths(ems: float) -> str:
    """How far the pen goes back before the next glyph, as `TJ` counts it; empty for nothing."""
    return str(round(ems * 1000) or "")


def _shown(glyphs: list[str]) -> list[str]:
    return [f"[{''.join(glyphs)}] TJ"] if glyphs else []


def _symbol(symbol: Symbol) -> bytes:
    """The dark modules, runs of them as one rectangle, all filled at once."""
    x, y, size = symbol.x, symbol.y, symbol.module_mm
    runs = [
        f"{x + start * size:.4f} {y + row * size:.4f} {length * size:.4f} {size:.4f} re"
        for row, modules in enumerate(symbol.rows)
        for start, length in _dark_runs(modules)
    ]
    return "\n".join([*runs, "f"]).encode()


def _dark_runs(modules: Sequence[bool]) -> Iterable[tuple[int, int]]:
    start = 0
    for dark, run in groupby(modules):
        length = sum(1 for _ in run)
        if dark:
            yield start, length
        start += length


def _rule(rule: Rule) -> bytes:
    dash = f"[{rule.dash_mm:.3f}] 0 d" if rule.dash_mm else "[] 0 d"
    line = f"{rule.x:.4f} {rule.y:.4f} m {rule.to_x:.4f} {rule.to_y:.4f} l S"
    return f"{rule.thick_mm:.3f} w {dash} {line}".encode()


def _fonts(document: pydyf.PDF, pages: Sequence[Face]) -> dict[str, bytes]:
    """The typefaces used, with the glyphs used: name in the content streams, and reference."""
    used: dict[str, dict[int, str]] = {}
    for line in {shape.line for face in pages for shape in face.shapes if isinstance(shape, Words)}:
        glyphs = used.setdefault(line.typeface, {})
        for glyph in line.glyphs:
            glyphs[glyph.number] = glyphs.get(glyph.number) or glyph.text
    return {name: _font(document, name, glyphs) for name, glyphs in used.items()}


def _font(document: pydyf.PDF, name: str, glyphs: dict[int, str]) -> bytes:
    """A composite font of glyphs by number (ISO 32000-1, 9.7), with its file and its texts."""
    heights = measures(name)
    file = embedded(name, glyphs)
    stream = pydyf.Stream([file], {"Length1": len(file)}, compress=True)
    document.add_object(stream)
    descriptor = pydyf.Dictionary(
        {
            "Type": "/FontDescriptor",
            "FontName": f"/{name}",
            "Flags": 4,
            "FontBBox": pydyf.Array([-1000, -400, 2000, 1200]),
            "ItalicAngle": 0,
            "Ascent": round(heights.ascent * 1000),
            "Descent": -round(heights.descent * 1000),
            "CapHeight": round(heights.capital * 1000),
            "StemV": 80,
            "FontFile2": stream.reference,
        }
    )
    document.add_object(descriptor)
    widths = pydyf.Array()
    for number in sorted(glyphs):
        widths += [number, pydyf.Array([round(natural_advance(name, number) * 1000)])]
    descendant = pydyf.Dictionary(
        {
            "Type": "/Font",
            "Subtype": "/CIDFontType2",
            "BaseFont": f"/{name}",
            "CIDSystemInfo": pydyf.Dictionary(
                {
                    "Registry": pydyf.String("Adobe"),
                    "Ordering": pydyf.String("Identity"),
                    "Supplement": 0,
                }
            ),
            "CIDToGIDMap": "/Identity",
            "FontDescriptor": descriptor.reference,
            "W": widths,
        }
    )
    document.add_object(descendant)
    texts = pydyf.Stream([_texts(glyphs)], compress=True)
    document.add_object(texts)
    font = pydyf.Dictionary(
        {
            "Type": "/Font",
            "Subtype": "/Type0",
            "BaseFont": f"/{name}",
            "Encoding": "/Identity-H",
            "DescendantFonts": pydyf.Array([descendant.reference]),
            "ToUnicode": texts.reference,
        }
    )
    document.add_object(font)
    reference: bytes = font.reference
    return reference


def _texts(glyphs: dict[int, str]) -> bytes:
    """Which text each glyph stands for."""
    pairs = [
        f"<{number:04X}> <{text.encode('utf-16-be').hex().upper()}>"
        for number, text in sorted(glyphs.items())
        if text
    ]
    # A block may hold a hundred pairs (ISO 32000-1, 9.10.3; Adobe's CMap specification, 5014).
    blocks = [
        f"{len(some)} beginbfchar\n" + "\n".join(some) + "\nendbfchar"
        for some in (pairs[start : start + 100] for start in range(0, len(pairs), 100))
    ]
    return "\n".join(
        [
            "/CIDInit /ProcSet findresource begin",
            "12 dict begin",
            "begincmap",
            "/CMapType 2 def",
            "1 begincodespacerange",
            "<0000> <FFFF>",
            "endcodespacerange",
            *blocks,
            "endcmap",
            "end",
            "end",
        ]
    ).encode()
