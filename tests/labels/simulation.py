"""Labels as they come out of a printer and before a camera: simulated, since no cold test was made.

What is simulated: dots that print a little larger than they are, a picture of so many points a
millimetre, a tab that curls or a straw that is round (seen from far away: parallel projection,
darker towards its edges), a turn, blur, half the contrast, and frost (contrast × 0.45, blotches,
noise). What is not: glare, condensation, voids of a ribbon, depth of field, and nitrogen.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from PIL import Image, ImageFilter

from labels.shapes import Face, Printer
from tests.labels.words import picture_of

#: Of the paper, and of what lies around the label.
WHITE, TABLE = 235, 190

LARGE_MM = 20

Picture = Image.Image


@dataclass(frozen=True)
class Shot:
    """How one picture is taken; lengths in mm, angles in degrees."""

    points_per_mm: float
    turn: float = 0.0
    blur_mm: float = 0.0
    contrast: float = 1.0
    frost: bool = False
    bend: Callable[[Picture, float], Picture] = field(default=lambda picture, _: picture)


def taken(face: Face, printer: Printer, shot: Shot, chance: np.random.Generator) -> Picture:
    """A picture of a printed label."""
    picture = shot.bend(printed(face, printer, shot.points_per_mm), shot.points_per_mm)
    margin = round(3 * shot.points_per_mm)
    table = Image.new("L", (picture.width + 2 * margin, picture.height + 2 * margin), TABLE)
    table.paste(picture, (margin, margin))
    table = table.rotate(shot.turn, expand=True, fillcolor=TABLE, resample=Image.Resampling.BICUBIC)
    if shot.blur_mm:
        table = table.filter(ImageFilter.BoxBlur(shot.blur_mm * shot.points_per_mm / 2))
    seen = np.asarray(table, dtype=np.float64)
    seen = 128 + (seen - 128) * shot.contrast
    if shot.frost:
        seen = frosted(seen, shot.points_per_mm, chance)
    return Image.fromarray(np.clip(seen, 0, 255).astype(np.uint8))


def printed(face: Face, printer: Printer, points_per_mm: float) -> Picture:
    """The label on paper: what is dark has grown by 0.02 to 0.03 mm on every side.

    On large plates that is nothing beside a module, and is left out.
    """
    dots = picture_of(face, printer).convert("L")
    size = (round(face.width * points_per_mm), round(face.height * points_per_mm))
    if face.height < LARGE_MM:
        times = 2 if printer.dpi == 600 else 4
        fine = dots.resize((dots.width * times, dots.height * times), Image.Resampling.NEAREST)
        dots = _grown(fine)
    small = dots.resize(size, Image.Resampling.BOX)
    return small.point(lambda grey: round(30 + grey * (WHITE - 30) / 255))


def _grown(fine: Picture) -> Picture:
    """Dark by one point more on every side."""
    grey = np.pad(np.asarray(fine), 1, constant_values=255)
    rows = np.minimum(np.minimum(grey[:-2], grey[1:-1]), grey[2:])
    grown = np.minimum(np.minimum(rows[:, :-2], rows[:, 1:-1]), rows[:, 2:])
    return Image.fromarray(grown)


def round_a(diameter_mm: float, roll: float = 0.0) -> Callable[[Picture, float], Picture]:
    """Round a cylinder whose axis runs along the picture, turned by `roll`, seen from a side."""

    def bend(picture: Picture, points_per_mm: float) -> Picture:
        flat = np.asarray(picture, dtype=np.float64)
        radius = diameter_mm * points_per_mm / 2
        across = np.arange(-np.floor(radius) + 0.5, radius)
        angle = np.arcsin(across / radius)
        rows = (angle + np.radians(roll)) * radius + flat.shape[0] / 2 - 0.5
        below = np.floor(rows).astype(int)
        part = (rows - below)[:, None]
        padded = np.full((flat.shape[0] + 2, flat.shape[1]), float(WHITE))
        padded[1:-1] = flat
        low = np.clip(below + 1, 0, flat.shape[0] + 1)
        high = np.clip(below + 2, 0, flat.shape[0] + 1)
        seen = padded[low] * (1 - part) + padded[high] * part
        shaded = seen * (0.55 + 0.45 * np.cos(angle))[:, None]
        return Image.fromarray(np.clip(shaded, 0, 255).astype(np.uint8))

    return bend


def curled(radius_mm: float) -> Callable[[Picture, float], Picture]:
    """A tab that curls a little: nearer and farther parts are squeezed, along its length."""

    def bend(picture: Picture, points_per_mm: float) -> Picture:
        upright = picture.transpose(Image.Transpose.ROTATE_90)
        half = upright.height / points_per_mm / 2
        radius = max(radius_mm, half / 1.4)
        bent = round_a(2 * radius)(upright, points_per_mm)
        seen = np.sin(half / radius) * radius * points_per_mm
        middle = bent.height / 2
        cut = bent.crop((0, round(middle - seen), bent.width, round(middle + seen)))
        return cut.transpose(Image.Transpose.ROTATE_270)

    return bend


def frosted(seen: np.ndarray, points_per_mm: float, chance: np.random.Generator) -> np.ndarray:
    """Under frost: less contrast, lighter, blotches of half a millimetre to three, noise."""
    white = 128 + (seen - 128) * 0.45 + 40
    coarse = np.zeros((-(-white.shape[0] // 8), -(-white.shape[1] // 8)))
    rows, columns = np.ogrid[: coarse.shape[0], : coarse.shape[1]]
    for _ in range(round(min(40, 4 + white.size / points_per_mm**2 / 60))):
        y, x = chance.integers(0, coarse.shape[0]), chance.integers(0, coarse.shape[1])
        size = chance.uniform(0.5, 3) * points_per_mm / 8
        blotch = np.exp(-((rows - y) ** 2) / size**2) * np.exp(-((columns - x) ** 2) / size**2)
        coarse += chance.uniform(-30, 30) * blotch
    blotches = np.asarray(
        Image.fromarray(coarse.astype(np.float32)).resize(
            (white.shape[1], white.shape[0]), Image.Resampling.BILINEAR
        )
    )
    return white + blotches + chance.normal(0, 12, white.shape)
