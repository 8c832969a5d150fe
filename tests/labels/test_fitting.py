"""Words shrink, then wrap, then are refused by name; none is lost or leaves its room."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labels.errors import DoesNotFit
from labels.fitting import LEAST_MINUTES, Field, Room, in_room, in_rows, letter_height, paragraph
from labels.shapes import Words
from labels.typefaces import TEXT, measures

ROOM = Room(2, 3, 20, 6)

words = st.text("ABCDEFGHIKLMNOPQRSTUVWXYZabcdefgilmnort", min_size=1, max_size=12)
texts = st.lists(words, min_size=1, max_size=8).map(" ".join)


def height(placed: Words) -> float:
    return placed.em_mm * measures(placed.line.typeface).capital


@pytest.mark.parametrize(("distance", "minutes", "mm"), [(300, 20, 1.7), (500, 20, 2.9)])
def test_letters_are_as_high_as_the_distance_asks(distance: int, minutes: int, mm: float) -> None:
    """ISO 9241-303:2011 (from memory): 20 minutes of arc are 1.7 mm at 30 cm, 2.9 at 50 cm."""
    assert letter_height(distance, minutes) == pytest.approx(mm, abs=0.05)
    assert letter_height(distance, LEAST_MINUTES) == pytest.approx(mm * 16 / 20, abs=0.05)


def test_a_short_text_is_as_high_as_it_was_wanted() -> None:
    (placed,) = in_room(Field("Rex"), ROOM, preferred_mm=2, smallest_mm=1.2)
    assert height(placed) == pytest.approx(2)


def test_a_longer_text_shrinks_before_it_wraps() -> None:
    (placed,) = in_room(Field("Lanternfield Rex"), ROOM, preferred_mm=2, smallest_mm=1.2)
    assert 1.2 <= height(placed) < 2
    assert placed.width <= ROOM.width


def test_a_long_text_wraps_at_the_smallest_height() -> None:
    placed = in_room(
        Field("Lanternfield of the Long Meadow"), ROOM, preferred_mm=2, smallest_mm=1.2
    )
    assert len(placed) == 2
    assert {round(height(line), 3) for line in placed} == {1.2}


def test_what_has_no_room_is_refused_by_name() -> None:
    text = "Lanternfield of the Long Meadow under the Grey Hills of Home, the Second"
    with pytest.raises(DoesNotFit, match=r"1\.2 mm") as refused:
        in_room(Field(text), Room(0, 0, 20, 3, "The flag"), preferred_mm=2, smallest_mm=1.2)
    assert refused.value.words == (text,)
    assert str(refused.value).startswith("The flag has no room for “Lanternfield")


@given(text=texts, width=st.floats(5, 60), tall=st.floats(1.5, 20))
def test_nothing_is_cut_and_nothing_leaves_its_room(text: str, width: float, tall: float) -> None:
    room = Room(1, 2, width, tall)
    try:
        placed = in_room(Field(text), room, preferred_mm=2.5, smallest_mm=1.2)
    except DoesNotFit as refused:
        assert refused.words == (text,)
        return
    assert " ".join(line.line.text for line in placed) == text
    for line in placed:
        assert height(line) >= 1.2 - 1e-9
        assert room.x <= line.x
        assert line.x + line.width <= room.x + room.width + 1e-6
        assert room.y <= line.y - height(line) + 1e-6
        assert line.y <= room.y + room.height + 1e-6


@given(said=st.lists(texts, min_size=1, max_size=6), width=st.floats(10, 60))
def test_rows_keep_every_field_in_its_order(said: list[str], width: float) -> None:
    rooms = tuple(Room(0, 3 * row, width, 3, "The strip") for row in range(3))
    fields = tuple(Field(text, TEXT) for text in said)
    try:
        placed = in_rows(fields, rooms, preferred_mm=1.75, smallest_mm=1.2)
    except DoesNotFit as refused:
        assert set(refused.words) <= set(said)
        assert refused.words
        return
    assert " ".join(line.line.text for line in placed) == " ".join(said)
    assert len({round(line.em_mm, 6) for line in placed}) == 1
    for line in placed:
        assert line.x + line.width <= width + 1e-6
    ends = [(line.y, line.x) for line in placed]
    assert ends == sorted(ends)


def test_a_paragraph_says_where_it_ends() -> None:
    placed, below = paragraph(
        Field("Read the mark aloud against mare and stallion."), x=1, top=10, width=30, height_mm=2
    )
    assert len(placed) == 3
    assert 10 < placed[0].y < placed[-1].y < below


def test_a_word_wider_than_the_card_is_refused() -> None:
    with pytest.raises(DoesNotFit):
        paragraph(Field("W" * 60), x=0, top=0, width=30, height_mm=2)
