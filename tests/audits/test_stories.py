"""Stories: the more exactly one fits, the earlier it is told."""

from datetime import UTC, datetime, timedelta
from uuid import UUID

import pytest

from service.audits.rules import Act, Difference, DifferenceClass, Move, Story
from service.audits.stories import stories

HERE, THERE = UUID(int=1000), UUID(int=1001)
X, Y = UUID(int=1), UUID(int=2)
NOW = datetime(2026, 3, 20, 9, tzinfo=UTC)


def off(by: int, kind: DifferenceClass = "missing", *, expected: int = 12) -> Difference:
    return Difference(HERE, X, expected, expected + by, kind)


def act(seq: int, change: int, kind: str = "withdraw", *, days: float = 1, at: UUID = HERE) -> Act:
    return Act(seq, kind, NOW - timedelta(days=days), "Runa Feld", change, at)


def first(told: list[Story]) -> tuple[str, int | None]:
    return told[0].kind, told[0].entry_seq


def test_ranks_count_from_one_and_every_story_says_why() -> None:
    told = stories(off(-4), [act(5, -4), act(4, -8, days=9)])
    assert [one.rank for one in told] == [*range(1, len(told) + 1)]
    assert all(one.words.endswith(".") for one in told)
    assert len({(one.kind, one.entry_seq) for one in told}) == len(told)


def test_as_many_as_others_took_is_a_withdrawal_that_was_never_recorded() -> None:
    told = stories(off(-4), [act(5, -4)])
    assert told[0].kind == "withdrawal-not-recorded"
    assert "4 straws" in told[0].words


def test_a_withdrawal_of_twice_as_many_follows_with_its_entry() -> None:
    told = stories(off(-4), [act(5, -4)])
    assert (told[1].kind, told[1].entry_seq) == ("wrong-number", 5)


def test_two_like_acts_close_in_time_were_one() -> None:
    acts = [act(5, -4), act(6, -4, days=0.99), act(7, -2, days=0.5)]
    told = stories(off(4, "surplus"), acts)
    assert first(told) == ("recorded-twice", 6)
    assert "14 minutes" in told[0].words


def test_like_acts_far_apart_are_two() -> None:
    told = stories(off(4, "surplus"), [act(5, -4, days=9), act(6, -4, days=1)])
    assert "recorded-twice" not in {one.kind for one in told}


def test_arrivals_recorded_twice_are_missing() -> None:
    told = stories(off(-6), [act(5, 6, "freeze"), act(6, 6, "freeze", days=0.98)])
    assert first(told) == ("recorded-twice", 6)


def test_as_many_too_many_as_were_withdrawn_were_put_back() -> None:
    assert first(stories(off(4, "surplus"), [act(5, -4)])) == ("put-back-not-recorded", 5)


def test_what_was_returned_and_recorded_was_not_put_back_again() -> None:
    told = stories(off(4, "surplus"), [act(5, -4, days=2), act(6, 4, "return")])
    assert first(told) == ("wrong-goblet-or-batch", 5)


def test_an_act_recorded_in_another_goblet_fits_by_its_size() -> None:
    assert first(stories(off(-5), [act(5, -5, at=THERE)])) == ("wrong-goblet-or-batch", 5)
    assert stories(off(-5), [act(5, -3, at=THERE)])[0].entry_seq is None


def test_half_as_many_as_recorded() -> None:
    told = stories(off(4, "surplus"), [act(5, -8)])
    assert first(told) == ("wrong-number", 5)
    assert "half as many" in told[0].words


def test_of_acts_that_fit_alike_the_newer_comes_first() -> None:
    told = stories(off(4, "surplus"), [act(3, -4, "discard", days=20), act(5, -4, "dispatch")])
    wrong = [one.entry_seq for one in told if one.kind == "wrong-goblet-or-batch"]
    assert wrong == [5, 3]


def test_what_is_months_old_is_not_told() -> None:
    told = stories(off(4, "surplus"), [act(3, -4, days=90), act(5, -1)])
    assert 3 not in {one.entry_seq for one in told}


def test_neighbours_that_fit_each_other_were_swapped() -> None:
    other = Difference(HERE, Y, 8, 9, "ambiguous")
    told = stories(off(-1, "ambiguous"), [act(5, -4)], [other])
    assert told[0].kind == "neighbours-swapped"
    assert "just as many" in told[0].words


def test_unreadable_straws_beside_mean_lost_marks() -> None:
    unreadable = Difference(HERE, None, 0, 2, "unknown")
    assert stories(off(-2, "ambiguous"), [act(5, -4)], [unreadable])[0].kind == "mark-lost"


def test_one_off_among_many_straws_is_a_slip_of_the_count() -> None:
    assert stories(off(-1, expected=44), [act(5, -4)])[0].kind == "count-slip"
    assert stories(off(-1, expected=6), [act(5, -4)])[0].kind != "count-slip"


def test_codes_do_not_slip() -> None:
    one = Difference(HERE, X, 44, 43, "missing", codes=("S1",))
    assert "count-slip" not in {story.kind for story in stories(one, [])}


@pytest.mark.parametrize(("by", "word"), [(-2, "another goblet"), (2, "another goblet")])
def test_a_move_that_was_read_comes_before_everything(by: int, word: str) -> None:
    move = Move(HERE, THERE, X, 2, "certain", ("S1", "S2"))
    one = Difference(HERE, X, 12, 12 + by, "wrong-place", move=move)
    told = stories(one, [act(5, by), act(6, -by), act(7, -by)])
    assert told[0].kind == "put-elsewhere"
    assert word in told[0].words


def test_a_code_that_the_book_let_go_was_named_wrongly() -> None:
    one = Difference(HERE, X, 12, 13, "surplus", codes=("S1",), note="The book has it as used.")
    assert stories(one, [])[0].kind == "other-straw-recorded"


def test_what_has_no_batch_is_told_by_its_marks() -> None:
    foreign = Difference(HERE, None, 0, 1, "unknown", foreign=("KB 17/3",))
    unreadable = Difference(HERE, None, 0, 1, "unknown")
    again = Difference(HERE, X, 4, 3, "disturbed")
    assert [stories(one, [])[0].kind for one in (foreign, unreadable, again)] == [
        "foreign",
        "mark-lost",
        "count-again",
    ]
