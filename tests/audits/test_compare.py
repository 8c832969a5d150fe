"""The comparison: each rule by an example, then against simulated tanks that know the truth.

RIMEBOOK_COUNTS=10000 simulates that many stock-takes without an error; 300 otherwise.
"""

import os
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from uuid import UUID

import pytest

from service.audits.compare import compare
from service.audits.rules import BookedStraw, Comparison, Difference, Move, Settled, Sheet
from tests.audits.simulated_tank import TANK, SimulatedTank

COUNTS = int(os.environ.get("RIMEBOOK_COUNTS", "300"))

A, B, C = (UUID(int=1000 + n) for n in range(3))
X, Y, Z = (UUID(int=1 + n) for n in range(3))


def straw(code: str, place: UUID | str, batch: UUID = X, *, sure: bool = True) -> BookedStraw:
    if isinstance(place, UUID):
        return BookedStraw(code, batch, "stored", place, sure)
    return BookedStraw(code, batch, place, None, sure)


def by_number(
    goblet: UUID, expected: Mapping[UUID, int], counted: Mapping[UUID, int], **more: object
) -> Sheet:
    sheet = Sheet(goblet, f"T1/{goblet.int}", TANK, expected, {}, counted)
    return replace(sheet, **more)  # type: ignore[arg-type]


def scanned(
    goblet: UUID, expected: str, codes: str, *, batch: UUID = X, unsure: str = "", **more: object
) -> Sheet:
    """Codes are single letters; those in `unsure` the book only chose."""
    booked = {c: straw(c, goblet, batch, sure=c not in unsure) for c in expected}
    sheet = Sheet(
        goblet, f"T1/{goblet.int}", TANK, {batch: len(expected)}, booked, {}, codes=[*codes]
    )
    return replace(sheet, **more)  # type: ignore[arg-type]


def told(out: Comparison) -> list[tuple[UUID, UUID | None, int, str, str]]:
    return [
        (one.goblet_id, one.batch_id, one.difference, one.kind, "".join(one.codes))
        for one in out.differences
    ]


def only(out: Comparison) -> Difference:
    [one] = out.differences
    return one


# --- by number ------------------------------------------------------------------------------------


def test_what_agrees_is_no_difference() -> None:
    out = compare([by_number(A, {X: 4, Y: 2}, {Y: 2, X: 4}), scanned(B, "ab", "ba")], {})
    assert (out.differences, out.agreed) == ([], [A, B])


def test_less_is_missing_and_more_is_surplus_each_batch_by_itself() -> None:
    out = compare([by_number(A, {X: 4, Y: 2}, {X: 1, Z: 1, Y: 2})], {})
    assert told(out) == [(A, X, -3, "missing", ""), (A, Z, 1, "surplus", "")]
    assert out.agreed == []


def test_one_goblet_short_by_as_many_as_one_is_over_is_a_likely_move() -> None:
    out = compare([by_number(B, {X: 4}, {X: 6}), by_number(A, {X: 4}, {X: 2})], {})
    assert told(out) == [(A, X, -2, "wrong-place", ""), (B, X, 2, "wrong-place", "")]
    assert out.moves == [Move(A, B, X, 2, "likely")]


def test_several_goblets_that_may_explain_it_are_all_named() -> None:
    sheets = [
        by_number(A, {X: 4}, {X: 3}),
        by_number(B, {X: 4}, {X: 3}),
        by_number(C, {X: 4}, {X: 5}),
    ]
    out = compare(sheets, {})
    assert {one.kind for one in out.differences} == {"ambiguous"}
    assert [one.candidates for one in out.differences] == [(C,), (C,), (A, B)]
    assert [one.difference for one in out.differences] == [-1, -1, 1]
    assert out.moves == []


def test_unequal_amounts_are_a_possible_move_of_the_smaller() -> None:
    out = compare([by_number(A, {X: 4}, {X: 1}), by_number(B, {X: 4}, {X: 6})], {})
    assert told(out) == [(A, X, -3, "ambiguous", ""), (B, X, 2, "ambiguous", "")]
    assert out.moves == [Move(A, B, X, 2, "possible")]


def test_neighbours_short_and_over_by_as_many_are_each_others_candidates() -> None:
    out = compare([by_number(A, {X: 4, Y: 4}, {X: 3, Y: 5})], {})
    assert told(out) == [(A, X, -1, "ambiguous", ""), (A, Y, 1, "ambiguous", "")]
    assert [one.candidates for one in out.differences] == [(Y,), (X,)]


def test_a_disturbed_goblet_is_counted_again_and_explains_nothing() -> None:
    sheets = [
        by_number(A, {X: 4, Y: 1}, {X: 2, Y: 1, Z: 1}, disturbed=True),
        by_number(B, {X: 4}, {X: 6}),
        scanned(C, "", "", disturbed=True),
    ]
    out = compare(sheets, {})
    assert told(out) == [
        (A, X, -2, "disturbed", ""),
        (A, Y, 0, "disturbed", ""),
        (A, Z, 1, "disturbed", ""),
        (B, X, 2, "surplus", ""),
        (C, None, 0, "disturbed", ""),
    ]


# --- by scan --------------------------------------------------------------------------------------


def test_a_sure_code_that_nobody_saw_is_missing() -> None:
    assert told(compare([scanned(A, "abc", "ac")], {})) == [(A, X, -1, "missing", "b")]


def test_a_code_seen_in_another_counted_goblet_is_certain() -> None:
    out = compare([scanned(A, "abc", "ac"), scanned(B, "d", "db")], {"b": straw("b", A)})
    assert told(out) == [(A, X, -1, "wrong-place", "b"), (B, X, 1, "wrong-place", "b")]
    assert out.moves == [Move(A, B, X, 1, "certain", ("b",))]


def test_a_scan_explains_what_a_count_by_number_lacks() -> None:
    sheets = [replace(scanned(A, "abc", ""), codes=None, counted={X: 1}), scanned(B, "d", "db")]
    out = compare(sheets, {"b": straw("b", A)})
    assert told(out) == [
        (A, X, -1, "missing", ""),
        (A, X, -1, "wrong-place", "b"),
        (B, X, 1, "wrong-place", "b"),
    ]


def test_a_goblet_that_was_counted_and_lacks_none_is_only_a_candidate() -> None:
    sheets = [replace(scanned(A, "ab", ""), codes=None, counted={X: 2}), scanned(B, "d", "db")]
    one = only(compare(sheets, {"b": straw("b", A)}))
    assert (one.goblet_id, one.kind, one.candidates) == (B, "ambiguous", (A,))


@pytest.mark.parametrize(
    "state", ["used", "discarded", "dispatched", "lifted", "missing", "void", "prepared"]
)
def test_a_code_that_the_book_let_go_is_a_surplus_with_its_state(state: str) -> None:
    one = only(compare([scanned(A, "a", "ab")], {"b": straw("b", state)}))
    assert (one.kind, one.codes, state in one.note) == ("surplus", ("b",), True)


def test_a_code_of_a_goblet_that_was_not_counted_is_in_the_wrong_place() -> None:
    out = compare([scanned(A, "a", "ab")], {"b": straw("b", C)})
    assert told(out) == [(A, X, 1, "wrong-place", "b")]
    assert out.moves == [Move(C, A, X, 1, "certain", ("b",))]


def test_seen_twice_in_one_goblet_is_one_straw() -> None:
    assert compare([scanned(A, "ab", "abba")], {}).differences == []


def test_seen_in_two_goblets_is_open() -> None:
    at_home = compare([scanned(A, "ab", "ab"), scanned(B, "", "b")], {"b": straw("b", A)})
    assert only(at_home).goblet_id == B
    assert (only(at_home).kind, only(at_home).candidates) == ("ambiguous", (A, B))
    sheets = [scanned(A, "ab", "a"), scanned(B, "", "b"), scanned(C, "", "b")]
    away = compare(sheets, {"b": straw("b", A)})
    assert {one.kind for one in away.differences} == {"ambiguous"}
    assert [one.candidates for one in away.differences] == [(B, C)] * 3


def test_a_code_that_moved_between_two_counts_is_seen_in_both() -> None:
    assert compare([scanned(A, "ab", "ab"), scanned(B, "bc", "bc")], {}).differences == []


def test_unknown_codes_and_foreign_marks_are_of_no_batch() -> None:
    one = only(compare([scanned(A, "a", "a??", foreign=["KB 17/3"])], {}))
    assert (one.batch_id, one.kind, one.difference) == (None, "unknown", 2)
    assert one.foreign == ("KB 17/3", "?")


def test_unreadable_straws_are_taken_for_the_one_batch_that_lacks_as_many() -> None:
    one = only(compare([scanned(A, "abc", "a", unreadable=2)], {}))
    assert (one.batch_id, one.kind, one.difference) == (X, "unknown", 0)
    assert one.codes == ("b", "c")
    assert "Mark them again" in one.note


def test_fewer_unreadable_than_missing_leave_some_missing() -> None:
    out = compare([scanned(A, "abcd", "a", unreadable=1)], {})
    assert told(out) == [
        (A, X, -2, "missing", "bcd"),
        (A, X, -1, "ambiguous", "bcd"),
        (A, None, 1, "unknown", ""),
    ]
    assert [one.candidates for one in out.differences] == [(), (A,), (X,)]


# --- twins ----------------------------------------------------------------------------------------


def test_twins_that_the_book_had_not_told_apart_are_settled() -> None:
    sheets = [scanned(A, "abcd", "abce", unsure="cd")]
    out = compare(sheets, {"e": straw("e", "used", sure=False)})
    assert out.differences == []
    assert out.settled == [Settled(A, X, seen="e", instead_of="d")]
    assert out.agreed == [A]


def test_an_exchange_that_sets_two_goblets_right_comes_once() -> None:
    sheets = [scanned(A, "ab", "cd", unsure="ab"), scanned(B, "cd", "ab", unsure="cd")]
    elsewhere = {c: straw(c, A if c in "ab" else B, sure=False) for c in "abcd"}
    out = compare(sheets, elsewhere)
    assert out.differences == []
    assert out.settled == [Settled(A, X, "c", "a"), Settled(A, X, "d", "b")]


def test_a_sure_code_that_is_contradicted_is_a_difference_though_numbers_agree() -> None:
    out = compare([scanned(A, "abc", "abd")], {"d": straw("d", "used")})
    assert told(out) == [(A, X, -1, "missing", "c"), (A, X, 1, "surplus", "d")]


def test_when_numbers_differ_they_are_told_first_and_codes_as_well_as_can_be() -> None:
    sheets = [scanned(A, "abcd", "ae", unsure="bcd")]
    out = compare(sheets, {"e": straw("e", "used", sure=False)})
    assert out.settled == [Settled(A, X, "e", "b")]
    assert told(out) == [(A, X, -2, "missing", "cd")]


def test_straws_without_a_code_are_counted_beside() -> None:
    sheet = replace(scanned(A, "ab", "ab"), expected={X: 5}, counted={X: 2})
    assert told(compare([sheet], {})) == [(A, X, -1, "missing", "")]


def test_a_mark_that_came_off_is_open_and_never_netted() -> None:
    out = compare([replace(scanned(A, "ab", "a"), counted={X: 1})], {})
    assert told(out) == [(A, X, -1, "ambiguous", "b"), (A, X, 1, "ambiguous", "")]


def test_whether_a_coded_twin_left_was_the_books_choice_too() -> None:
    sheet = replace(scanned(A, "ab", "a", unsure="ab"), expected={X: 4}, counted={X: 3})
    assert compare([sheet], {}).differences == []


# --- simulated tanks ------------------------------------------------------------------------------

ERRORS = ("taken", "misplaced", "swapped", "neighbour", "twice")
RIGHT = {
    "taken": {"missing"},
    "misplaced": {"wrong-place"},
    "swapped": {"wrong-place"},
    "neighbour": {"missing", "surplus"},
    "twice": {"surplus"},
    "slip": {"missing", "surplus"},
}


def by_cell(
    out: Comparison,
) -> tuple[Counter[tuple[UUID, UUID]], dict[tuple[UUID, UUID], set[str]]]:
    """By goblet and batch: how many straws too many, and what that is called."""
    straws: Counter[tuple[UUID, UUID]] = Counter()
    kinds: dict[tuple[UUID, UUID], set[str]] = {}
    for one in out.differences:
        if one.batch_id is not None:
            straws[one.goblet_id, one.batch_id] += one.difference
            kinds.setdefault((one.goblet_id, one.batch_id), set()).add(one.kind)
    return straws, kinds


def effects(tank: SimulatedTank) -> dict[tuple[UUID, UUID], tuple[str, int]]:
    return {
        cell: (error.kind, straws)
        for error in tank.injected
        for cell, straws in error.effects.items()
    }


def real(out: Comparison) -> list[Difference]:
    return [one for one in out.differences if one.kind != "disturbed"]


def counted_without_errors(seed: int) -> tuple[list[Sheet], dict[str, BookedStraw]]:
    tank = SimulatedTank.drawn(seed)
    return tank.count(scan=lambda: tank.dice.random() < 0.6, acts=2, during=0.2)


def test_work_that_goes_on_never_makes_a_difference() -> None:
    settled = 0
    for seed in range(COUNTS):
        sheets, elsewhere = counted_without_errors(seed)
        out = compare(sheets, elsewhere)
        assert real(out) == [], seed
        assert {one.goblet_id for one in out.differences} == {
            sheet.goblet_id for sheet in sheets if sheet.disturbed
        }
        settled += len(out.settled)
    assert settled > COUNTS / 2  # twins were confused often enough


def test_without_the_rule_of_disturbed_goblets_work_makes_differences() -> None:
    false = 0
    for seed in range(100):
        sheets, elsewhere = counted_without_errors(seed)
        undisturbed = [replace(sheet, disturbed=False) for sheet in sheets]
        false += bool(compare(undisturbed, elsewhere).differences)
    assert false >= 5


def test_by_scan_every_error_is_found_and_called_what_it_is() -> None:
    found: Counter[str] = Counter()
    for seed in range(150):
        tank = SimulatedTank.drawn(seed, batches=9, coded=(1.0,))
        tank.inject([*ERRORS, "stranger"])
        out = compare(*tank.count(scan=lambda: True))
        straws, kinds = by_cell(out)
        truth = effects(tank)
        assert straws == {cell: by for cell, (_, by) in truth.items()}, seed
        for cell, (error, by) in truth.items():
            right = RIGHT[error] if error != "neighbour" else {"missing" if by < 0 else "surplus"}
            assert kinds[cell] == right, (seed, error, cell)
            found[error] += 1
        for error in tank.injected:
            if error.kind == "misplaced":
                assert_moved(out, error.effects)
        assert sum(one.batch_id is None for one in out.differences) == 1
    assert set(found) == set(ERRORS)


def assert_moved(out: Comparison, by_place: Mapping[tuple[UUID, UUID], int]) -> None:
    [(source, batch)] = [cell for cell, by in by_place.items() if by < 0]
    [(aim, _)] = [cell for cell, by in by_place.items() if by > 0]
    moves = [move for move in out.moves if move.batch_id == batch]
    assert {(move.from_goblet_id, move.to_goblet_id) for move in moves} == {(source, aim)}
    assert sum(move.straws for move in moves) == by_place[aim, batch]


def test_by_scan_an_unreadable_mark_takes_no_straw_away() -> None:
    for seed in range(100):
        tank = SimulatedTank.drawn(seed, coded=(1.0,))
        tank.inject(["unreadable"])
        out = compare(*tank.count(scan=lambda: True))
        straws, _ = by_cell(out)
        assert not any(straws.values())
        assert [one.kind for one in out.differences] == ["unknown"] * len(tank.injected)


@pytest.mark.parametrize("errors", [(*ERRORS, "slip"), ("slip",), ("swapped",), ("misplaced",)])
def test_by_number_every_error_is_found_and_called_what_it_is_or_left_open(
    errors: Sequence[str],
) -> None:
    for seed in range(60):
        tank = SimulatedTank.drawn(seed, batches=10)
        tank.inject(errors)
        straws, kinds = by_cell(compare(*tank.count(scan=lambda: False, acts=1)))
        truth = effects(tank)
        assert straws == {cell: by for cell, (_, by) in truth.items()}, seed
        for cell, (error, _) in truth.items():
            assert kinds[cell] <= RIGHT[error] | {"ambiguous"}, (seed, error)


def test_some_by_scan_some_by_number_and_work_the_numbers_are_always_true() -> None:
    for seed in range(100):
        tank = SimulatedTank.drawn(seed, batches=10)
        tank.inject(ERRORS)
        scan = partial(tank.dice.choice, (True, False))
        out = compare(*tank.count(scan=scan, acts=2))
        straws, _ = by_cell(out)
        truth = {cell: by for cell, (_, by) in effects(tank).items()}
        assert {cell: by for cell, by in straws.items() if by} == truth, seed


def test_a_comparison_that_nets_does_not_see_what_changed_places() -> None:
    blind = {"swapped": 0, "misplaced": 0, "neighbour": 0}
    for kind in blind:
        for seed in range(30):
            tank = SimulatedTank.drawn(seed, coded=(1.0,))
            tank.inject([kind])
            sheets, elsewhere = tank.count(scan=lambda: False)
            assert compare(sheets, elsewhere).differences
            blind[kind] += not (
                netted_by_goblet(sheets) if kind != "misplaced" else netted_by_batch(sheets)
            )
    assert blind == dict.fromkeys(blind, 30)


def netted_by_goblet(sheets: Sequence[Sheet]) -> bool:
    """What a comparison sees that sums over the batches of a goblet."""
    return any(sum(one.expected.values()) != sum(one.counted.values()) for one in sheets)


def netted_by_batch(sheets: Sequence[Sheet]) -> bool:
    """What a comparison sees that sums over the goblets of a batch."""
    sums: Counter[UUID] = Counter()
    for sheet in sheets:
        sums.update(sheet.counted)
        sums.subtract(sheet.expected)
    return any(sums.values())


def test_the_order_of_the_sheets_is_nothing() -> None:
    tank = SimulatedTank.drawn(3, batches=10)
    tank.inject(ERRORS)
    sheets, elsewhere = tank.count(scan=lambda: tank.dice.random() < 0.5)
    out = compare(sheets, elsewhere)
    assert compare(sheets[::-1], dict(reversed(elsewhere.items()))) == out
    last = UUID(int=2**128 - 1)
    places = [(one.goblet_id, one.batch_id or last) for one in out.differences]
    assert places == sorted(places)
