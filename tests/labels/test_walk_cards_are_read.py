"""The symbols of a walk card: the goblets of a walk, all of them off one picture of its page.

No cold test was made: this is a simulation (see `simulation`). A page holds four stops.
"""

import os
from collections.abc import Iterator
from itertools import cycle

import numpy as np
import zxingcpp
from PIL import Image

from labels.cards import Stop, WalkCard, walk_card
from labels.reading import read
from labels.shapes import Face, Printer
from service.kernel.codes import Kind
from tests.labels.simulation import Shot, taken
from tests.labels.words import PRINTERS, random_codes

STOPS = 4
PAGES = max(3, int(os.environ.get("RIMEBOOK_LABEL_CODES", "50")) // STOPS // 4)


def page(codes: list[str], printer: Printer) -> Face:
    """A card of one page that leads to those goblets."""
    stops = tuple(
        Stop(
            address=f"NORTH-{number}-L1",
            goblet_code=code,
            straws=4,
            batch_code="B1Q2W3E4R",
            collected="3 Mar 2026",
            straw_colour="yellow",
        )
        for number, code in enumerate(codes, start=1)
    )
    card = WalkCard(
        stallion="Lanternfield",
        mare="Brindlewick",
        lead="16 straws from 4 goblets.",
        stops=stops,
        foot="Fellgate Stud",
    )
    [only] = walk_card(card, printer)
    return only


def pictures(*, frost: bool) -> Iterator[tuple[set[str], Image.Image]]:
    """The codes on a page and its picture: turned, out of focus, at half contrast or in frost."""
    chance = np.random.default_rng(17)
    codes = random_codes(Kind.GOBLET, PAGES * STOPS, seed=10)
    for number, printer in zip(range(PAGES), cycle(PRINTERS), strict=False):
        on_it = codes[number * STOPS : (number + 1) * STOPS]
        shot = Shot(
            points_per_mm=chance.uniform(6, 10),
            turn=chance.uniform(-5, 5),
            blur_mm=1 / printer.dots_per_mm,
            contrast=1.0 if frost else 0.5,
            frost=frost,
        )
        yield set(on_it), taken(page(on_it, printer), printer, shot, chance)


def test_every_goblet_of_a_walk_card_that_was_handled_is_read() -> None:
    for codes, picture in pictures(frost=False):
        assert {one.text for one in zxingcpp.read_barcodes(picture)} == codes


def test_a_walk_card_under_frost_names_goblets_and_none_that_is_not_on_it() -> None:
    """At least 97 of 100 pages tell a goblet; each one that is told is one of theirs."""
    found = [
        (codes, {one.text for one in read(picture)}) for codes, picture in pictures(frost=True)
    ]
    assert [seen - codes for codes, seen in found if seen - codes] == []
    assert sum(bool(seen) for _, seen in found) >= 0.97 * len(found)
