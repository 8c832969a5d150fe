"""Cards for the cold store say where, how many and how, and what to beware of."""

import pytest

from labels import sheets
from labels.cards import (
    AT_THE_BATH,
    AT_THE_TANK,
    Stop,
    ThawBatch,
    ThawCard,
    ThawStep,
    WalkCard,
    thaw_card,
    walk_card,
)
from labels.shapes import Symbol
from tests.labels.words import PRINTERS, sizes_mm, text_of

STOP = Stop(
    address="NORTH-1-L1",
    goblet_code="G1234567X",
    straws=4,
    batch_code="B1Q2W3E4R",
    collected="3 Mar 2026",
    straw_colour="yellow",
)
A5 = pytest.approx((148, 210), abs=0.01)


def walk(stops: int) -> WalkCard:
    return WalkCard(
        stallion="Lanternfield",
        mare="Brindlewick",
        lead="8 straws from 2 goblets.",
        stops=(STOP,) * stops,
        foot="Fellgate Stud",
    )


def in_one_line(text: str) -> str:
    return " ".join(text.split())


def test_a_walk_card_names_every_stop_with_its_symbol() -> None:
    pages = walk_card(walk(2), PRINTERS[1])
    assert [shape.rows for shape in pages[0].shapes if isinstance(shape, Symbol)].__len__() == 2
    said = text_of(sheets.roll(pages))
    for text in ("Lanternfield", "for Brindlewick", "NORTH-1-L1", "Take 4 straws", "1 of 2"):
        assert text in said
    assert "batch B1Q 2W3 E4R, collected 3 Mar 2026, yellow straws" in in_one_line(said)


@pytest.mark.parametrize(("stops", "pages"), [(1, 1), (4, 1), (5, 2), (9, 3)])
def test_a_long_walk_goes_on_over_the_page(stops: int, pages: int) -> None:
    pdf = sheets.roll(walk_card(walk(stops), PRINTERS[1]))
    assert sizes_mm(pdf) == [A5] * pages
    said = in_one_line(text_of(pdf))
    assert said.count("NORTH-1-L1") == stops
    assert said.count(AT_THE_TANK) == pages


def test_a_thaw_card_has_the_steps_of_each_batch() -> None:
    steps = (ThawStep(water_c="37", seconds="30"), ThawStep(water_c="46", seconds="20"))
    card = ThawCard(
        stallion="Lanternfield",
        mare="Brindlewick",
        batches=(
            ThawBatch(
                batch_code="B1Q2W3E4R",
                straws=2,
                straw_codes=("S1234567X", "S2345678X"),
                steps=steps,
            ),
            ThawBatch(batch_code="B2Q2W3E4R", straws=3, straw_codes=(), steps=()),
        ),
        foot="Fellgate Stud",
    )
    pdf = sheets.roll(thaw_card(card))
    assert sizes_mm(pdf) == [A5, A5]
    said = in_one_line(text_of(pdf))
    for text in ("1. 37 °C for 30 seconds", "2. 46 °C for 20 seconds", "S12 345 67X", "2 straws"):
        assert text in said
    assert "How this batch is thawed is not in the book: use the laboratory's card." in said
    assert said.count(AT_THE_BATH) == 2
