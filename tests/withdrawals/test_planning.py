"""The plan of a withdrawal: the best straws, and why."""

from collections.abc import Hashable, Sequence
from dataclasses import replace
from datetime import date
from fractions import Fraction
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.bank.doses import BatchQuality, DoseRule, SpermRule, StrawsRule, judge
from service.withdrawals import lifts
from service.withdrawals.planning import (
    BatchFacts,
    Cell,
    Plan,
    available,
    doses_after,
    plan_doses,
)
from tests.withdrawals.every_plan import EveryPlan, Shelf

EIGHT = StrawsRule(8)
SPERM = SpermRule(Fraction(250), Fraction(35))
DAYS = {name: date(2000 + number, 3, 3) for number, name in enumerate("ABCDEFGH")}
WATER = (37, 30)


def batch(
    name: str,
    million: int | None = 35,
    *,
    day: date | str | None = "by name",
    percent: int | None = 40,
    thaw: Hashable | None = WATER,
) -> BatchFacts:
    """A batch known by one letter; A is the oldest, then B, ..."""
    collected_on = DAYS[name] if isinstance(day, str) else day
    strength = None if million is None else Fraction(million)
    quality = BatchQuality(strength, None if percent is None else Fraction(percent))
    return BatchFacts(name, f"code-{name}", collected_on, quality, thaw)


def stock(*where: str) -> list[Cell]:
    """Cells like "A 12 1-2": 12 straws of batch A in canister 1, goblet 2."""
    cells = []
    for text in where:
        name, straws, goblet = text.split()
        canister = goblet.split("-")[0]
        cells.append(Cell(name, goblet, canister, int(straws), f"T1-{goblet}"))
    return cells


def planned(
    rule: DoseRule, cells: Sequence[Cell], facts: Sequence[BatchFacts], doses: int = 1
) -> Plan:
    """The plan, where there is one."""
    plan = plan_doses(rule, cells, facts, doses)
    assert plan is not None
    return plan


def taken(plan: Plan) -> list[str]:
    """The picks, as in `stock`."""
    return [f"{cell.batch_id} {straws} {cell.goblet_id}" for cell, straws in plan.picks]


# ---- the order of what matters ----------------------------------------------------------------


def test_one_dose_is_taken_from_one_batch_in_one_goblet() -> None:
    plan = planned(EIGHT, stock("A 12 1-1"), [batch("A")])
    assert taken(plan) == ["A 8 1-1"]
    assert (plan.straws, plan.canister_lifts) == (8, 1)
    assert plan.progressive_million == 280
    [dose] = plan.doses
    assert dose.straws == (("A", 8),)
    assert not dose.mixed


def test_a_whole_dose_of_one_batch_beats_an_older_mixed_one_in_fewer_lifts() -> None:
    cells = stock("A 4 1-1", "B 4 1-2", "C 4 2-1", "C 4 3-1")
    plan = planned(EIGHT, cells, [batch("A"), batch("B"), batch("C")])
    assert taken(plan) == ["C 4 2-1", "C 4 3-1"]


def test_fewer_lifts_beat_older_straws() -> None:
    cells = stock("A 4 1-1", "A 4 2-1", "B 8 3-1")
    plan = planned(EIGHT, cells, [batch("A"), batch("B")])
    assert taken(plan) == ["B 8 3-1"]
    assert "Older straws, of batch code-A (collected 3 Mar 2000), would take 2 lifts" in plan.why


def test_older_straws_beat_fewer_goblets() -> None:
    cells = stock("A 4 1-1", "A 4 1-2", "B 8 1-3")
    plan = planned(EIGHT, cells, [batch("A"), batch("B")])
    assert taken(plan) == ["A 4 1-1", "A 4 1-2"]


def test_fewer_goblets_beat_the_first_address() -> None:
    cells = stock("A 4 1-1", "A 4 1-2", "A 8 1-3", "A 8 2-1")
    assert taken(planned(EIGHT, cells, [batch("A")])) == ["A 8 1-3"]


def test_fewer_goblets_beat_the_first_canister() -> None:
    cells = stock("A 4 1-1", "A 4 1-2", "A 8 2-1")
    assert taken(planned(EIGHT, cells, [batch("A")])) == ["A 8 2-1"]


def test_of_sets_of_two_canisters_the_older_straws_are_taken() -> None:
    cells = stock("A 4 1-1", "A 4 2-1", "B 5 3-1", "B 5 4-1")
    assert taken(planned(EIGHT, cells, [batch("A"), batch("B")])) == ["A 4 1-1", "A 4 2-1"]


def test_among_equals_the_first_in_the_walk_is_taken() -> None:
    """Goblet 9 hangs before goblet 10, whatever an alphabet says."""
    cells = stock("A 8 10-1", "A 8 9-10", "A 8 9-9")
    assert taken(planned(EIGHT, cells, [batch("A")])) == ["A 8 9-9"]


def test_batches_of_one_day_are_taken_by_goblets_then_by_address() -> None:
    facts = [batch("A", day=date(2001, 1, 1)), batch("B", day=date(2001, 1, 1))]
    assert taken(planned(EIGHT, stock("A 4 1-1", "A 4 1-2", "B 8 1-3"), facts)) == ["B 8 1-3"]
    assert taken(planned(EIGHT, stock("A 8 1-2", "B 8 1-1"), facts)) == ["B 8 1-1"]


def test_a_batch_without_a_date_counts_as_the_oldest() -> None:
    facts = [batch("A"), batch("B", day=None)]
    plan = planned(EIGHT, stock("A 8 1-1", "B 8 1-2"), facts)
    assert taken(plan) == ["B 8 1-2"]
    assert "No collection date is known for batch code-B; taken as the oldest." in plan.warnings


def test_several_doses_each_come_from_one_batch() -> None:
    cells = stock("A 12 1-1", "B 12 1-2", "C 12 1-3")
    plan = planned(EIGHT, cells, [batch("A"), batch("B"), batch("C")], 3)
    assert [dose.straws for dose in plan.doses] == [(("A", 8),), (("B", 8),), (("C", 8),)]
    assert plan.canister_lifts == 1


def test_the_walk_goes_canister_by_canister() -> None:
    """Even where the addresses of two canisters are interleaved."""
    cells = [
        Cell("A", 1, "left", 3, "shelf 1"),
        Cell("A", 2, "right", 2, "shelf 2"),
        Cell("A", 3, "left", 3, "shelf 3"),
    ]
    plan = planned(EIGHT, cells, [batch("A")])
    assert [cell.address for cell, _ in plan.picks] == ["shelf 1", "shelf 3", "shelf 2"]
    assert plan.canister_lifts == 2


def test_the_order_of_the_input_does_not_matter() -> None:
    cells = stock("A 5 1-1", "B 8 2-1", "B 3 2-2", "C 7 3-1", "A 3 3-2", "C 1 1-4")
    facts = [batch("A"), batch("B"), batch("C", day=None)]
    first = planned(EIGHT, cells, facts, 2)
    for seed in range(10):
        Random(seed).shuffle(cells)
        Random(seed).shuffle(facts)
        assert plan_doses(EIGHT, cells, facts, 2) == first


# ---- mixing -----------------------------------------------------------------------------------


def test_what_is_left_of_batches_is_mixed_when_none_fills_a_dose() -> None:
    plan = planned(EIGHT, stock("A 3 1-1", "B 5 1-2", "C 7 1-3"), [batch(n) for n in "ABC"])
    assert taken(plan) == ["A 3 1-1", "B 5 1-2"]
    [dose] = plan.doses
    assert dose.mixed
    assert dose.progressive_million == 280


def test_as_many_doses_as_can_be_stay_of_one_batch() -> None:
    plan = planned(EIGHT, stock("A 11 1-1", "B 13 1-2"), [batch("A"), batch("B")], 3)
    assert [dose.straws for dose in plan.doses] == [
        (("A", 8),),
        (("B", 8),),
        (("A", 3), ("B", 5)),
    ]
    assert "Dose 3 is 3 straws of batch code-A" in plan.why


def test_a_one_batch_dose_is_given_up_when_all_doses_need_it() -> None:
    """2 x 70 is a dose of 100 M, but then 2 x 40 is none: both doses are mixed, 70 + 40."""
    rule = SpermRule(Fraction(100), Fraction(35))
    cells, facts = stock("A 2 1-1", "B 2 1-2"), [batch("A", 70), batch("B", 40)]
    assert taken(planned(rule, cells, facts)) == ["A 2 1-1"]
    plan = planned(rule, cells, facts, 2)
    assert [dose.straws for dose in plan.doses] == [(("A", 1), ("B", 1))] * 2
    assert plan.progressive_million == 220


def test_a_mixed_dose_has_no_straw_too_many() -> None:
    """60 + 90 + 110 make 260 M; the old straws of 20 would be too many beside them."""
    facts = [batch("A", 20), batch("B", 60), batch("C", 90), batch("D", 110)]
    plan = planned(SPERM, stock("A 1 1-1", "B 1 1-2", "C 1 1-3", "D 1 1-4"), facts)
    assert taken(plan) == ["B 1 1-2", "C 1 1-3", "D 1 1-4"]


def test_no_more_one_batch_doses_are_given_up_than_must_be() -> None:
    """5 x 600 and 3 x 1300 are doses of 3000; for three doses one of them must be taken apart."""
    rule = SpermRule(Fraction(3000), Fraction(35))
    facts = [batch("A", 675), batch("B", 600), batch("C", 1300)]
    cells = stock("A 4 1-1", "B 5 1-2", "C 3 1-3")
    assert [dose.mixed for dose in planned(rule, cells, facts, 2).doses] == [False, False]
    assert [dose.mixed for dose in planned(rule, cells, facts, 3).doses] == [False, True, True]


def test_the_oldest_mix_is_one_that_needs_each_of_its_straws() -> None:
    """40 + 60 + 90 + 110 can spare the 40; 40 + 60 + 150 is exactly 250 and older than the rest."""
    facts = [batch(n, m) for n, m in zip("ABCDE", (40, 60, 90, 110, 150), strict=True)]
    cells = stock("A 1 1-1", "B 1 1-2", "C 1 1-3", "D 1 1-4", "E 1 1-5")
    assert taken(planned(SPERM, cells, facts)) == ["A 1 1-1", "B 1 1-2", "E 1 1-5"]


def test_of_mixes_as_old_the_one_with_fewer_straws_is_taken() -> None:
    """With a dose of 2 x 50, the other is 4 x 15 + 50, or 15 + 90: all of it as old."""
    rule = SpermRule(Fraction(100), Fraction(35))
    facts = [batch("A", 15, day=None), batch("B", 90, day=None), batch("C", 50)]
    plan = planned(rule, stock("A 4 1-1", "B 1 1-1", "C 3 1-2"), facts, 2)
    assert [dose.straws for dose in plan.doses] == [(("C", 2),), (("A", 1), ("B", 1))]


def test_mixed_straws_are_the_oldest_in_the_fewest_canisters() -> None:
    facts = [batch(name) for name in "ABCD"]
    cells = stock("A 2 1-1", "B 6 2-1", "C 3 2-2", "D 7 3-1")
    plan = planned(EIGHT, cells, facts)
    assert taken(plan) == ["B 6 2-1", "C 2 2-2"]
    assert plan.canister_lifts == 1


# ---- what is not planned ----------------------------------------------------------------------


def test_more_doses_than_there_are_have_no_plan() -> None:
    cells, facts = stock("A 15 1-1", "B 8 2-1"), [batch("A"), batch("B")]
    assert available(EIGHT, cells, facts) == (23, 2)
    assert plan_doses(EIGHT, cells, facts, 3) is None
    assert plan_doses(EIGHT, [], [], 1) is None


def test_a_batch_that_makes_no_dose_is_left_out_and_named() -> None:
    facts = [
        batch("A", percent=None),
        batch("B", percent=30),
        batch("C", None),
        batch("D", percent=None),
        batch("E"),
    ]
    cells = stock("A 20 1-1", "B 20 1-2", "C 20 1-3", "D 20 1-4", "E 9 2-1")
    plan = planned(SPERM, cells, facts)
    assert taken(plan) == ["E 8 2-1"]
    assert available(SPERM, cells, facts) == (9, 1)
    assert plan.warnings == (
        "Left out: batch code-A: it has no post-thaw result; batch code-B: its post-thaw motility "
        "of 30 % is below the rule's 35 %; batch code-C: how many sperm its straws hold is not "
        "known; and 1 more.",
    )


def test_batches_without_straws_here_are_not_spoken_of() -> None:
    plan = planned(SPERM, stock("A 8 1-1"), [batch("A"), batch("B", percent=None)])
    assert plan.warnings == ()


def test_no_doses_are_no_plan() -> None:
    with pytest.raises(ValueError, match="at least one dose"):
        plan_doses(EIGHT, stock("A 8 1-1"), [batch("A")], 0)


def test_what_a_plan_leaves_is_counted() -> None:
    cells, facts = stock("A 12 1-1", "B 13 2-1"), [batch("A"), batch("B")]
    assert available(EIGHT, cells, facts) == (25, 3)
    for doses, left in ((1, 2), (2, 1), (3, 0)):
        plan = planned(EIGHT, cells, facts, doses)
        assert doses_after(EIGHT, cells, facts, plan) == left


# ---- words ------------------------------------------------------------------------------------


def test_the_plan_says_why() -> None:
    plan = planned(SPERM, stock("A 12 1-1", "B 12 1-2"), [batch("A"), batch("B")])
    assert plan.why == (
        "All 8 straws come from one batch, code-A (collected 3 Mar 2000). "
        "No older batch fills a whole dose. One canister is lifted. "
        "8 straws with 35 million progressively motile sperm each hold 280 million; "
        "the rule asks for 250."
    )
    assert plan.warnings == ()


def test_a_mixed_plan_says_why_and_how_many_sperm() -> None:
    facts = [batch("A", 50), batch("B", 35)]
    plan = planned(SPERM, stock("A 4 1-1", "B 3 2-1"), facts)
    assert plan.why == (
        "No single batch fills the dose, so batches are mixed. "
        "The dose is 4 straws of batch code-A (collected 3 Mar 2000) and 2 straws of batch code-B "
        "(collected 3 Mar 2001), together 270 million progressively motile sperm; "
        "the rule asks for 250. 2 canisters are lifted; it cannot be done with fewer."
    )


def test_several_doses_say_where_each_comes_from() -> None:
    plan = planned(EIGHT, stock("A 16 1-1", "B 8 1-2"), [batch("A"), batch("B")], 3)
    assert plan.why == (
        "Each of the 3 doses comes from one batch: 2 from batch code-A (collected 3 Mar 2000), "
        "8 straws each; 1 from batch code-B (collected 3 Mar 2001), 8 straws each. "
        "No older straws make whole doses. One canister is lifted."
    )


def test_sperm_are_not_spoken_of_where_they_are_not_known() -> None:
    facts = [batch("A", None, percent=None), batch("B")]
    plan = planned(EIGHT, stock("A 3 1-1", "B 5 1-2"), facts)
    assert plan.progressive_million is None
    assert plan.doses[0].progressive_million is None
    assert "million" not in plan.why


def test_different_thaws_are_warned_of() -> None:
    facts = [batch("A"), batch("B", thaw=(46, 20))]
    plan = planned(EIGHT, stock("A 3 1-1", "B 5 1-2"), facts)
    assert plan.warnings == (
        "Batches code-A and code-B do not all thaw the same way. "
        "Thaw each by its own instructions.",
    )


def test_an_unknown_thaw_is_warned_of() -> None:
    plan = planned(EIGHT, stock("A 8 1-1"), [batch("A", thaw=None)])
    assert plan.warnings == (
        "No thaw instructions are known for batch code-A. "
        "Ask for the freezing laboratory's card before thawing.",
    )


def test_very_many_straws_for_a_dose_are_warned_of() -> None:
    plan = planned(SPERM, stock("A 20 1-1"), [batch("A", 14)])
    assert plan.straws == 18
    assert plan.warnings[0].startswith("18 straws for one dose are unusually many")


# ---- against an exhaustive search -------------------------------------------------------------


MILLIONS = [20, 30, 35, 40, 45, 50, 55, 60, 70, 90, 100, 130]
DATES = [None, date(2001, 1, 1), date(2005, 5, 5), date(2010, 1, 1), date(2020, 1, 1)]


@st.composite
def small_stocks(
    draw: st.DrawFn, straws: int = 4, cells: int = 5, percents: Sequence[int] = (40, 40, 40, 30)
) -> tuple[list[Cell], list[BatchFacts]]:
    """Up to 4 batches in a few cells of up to 4 canisters, each of a few straws."""
    names = "ABCD"[: draw(st.integers(1, 4))]
    facts = [
        batch(
            name,
            draw(st.sampled_from(MILLIONS)),
            day=draw(st.sampled_from(DATES)),
            percent=draw(st.sampled_from(percents)),
        )
        for name in names
    ]
    goblet = st.tuples(st.sampled_from(names), st.integers(1, 4), st.integers(1, 2))
    places = draw(st.lists(goblet, min_size=1, max_size=cells, unique=True))
    return [
        Cell(name, (canister, tier), canister, draw(st.integers(1, straws)), f"{canister}-{tier}")
        for name, canister, tier in places
    ], facts


scattered_stocks = small_stocks(straws=2, cells=7, percents=(40,))


def oracle(rule: DoseRule, cells: Sequence[Cell], facts: Sequence[BatchFacts]) -> EveryPlan:
    """The exhaustive search over the same stock."""
    number = {one.batch_id: place for place, one in enumerate(facts)}
    shelves = [Shelf(number[c.batch_id], int(str(c.canister_id)), c.straws) for c in cells]
    dates = [one.collected_on or date.min for one in facts]
    if isinstance(rule, StrawsRule):
        return EveryPlan([Fraction(1)] * len(facts), dates, Fraction(rule.straws), shelves)
    strengths = [
        one.quality.progressive_million_per_straw if one.quality.post_thaw_percent == 40 else None
        for one in facts
    ]
    return EveryPlan(strengths, dates, rule.progressive_million, shelves)


def check_against_oracle(
    rule: DoseRule, cells: list[Cell], facts: list[BatchFacts], doses: int
) -> None:
    every = oracle(rule, cells, facts)
    best = every.best(doses)
    plan = plan_doses(rule, cells, facts, doses)
    assert (plan is None) == (best is None)
    assert (plan is None) == (doses > available(rule, cells, facts)[1])
    if plan is None or best is None:
        return
    dealt = [tuple(dict(dose.straws).get(f.batch_id, 0) for f in facts) for dose in plan.doses]
    whole = [d for d, dose in zip(dealt, plan.doses, strict=True) if not dose.mixed]
    mixed = [d for d, dose in zip(dealt, plan.doses, strict=True) if dose.mixed]
    dates = (every.dates_of_doses(whole), every.dates_of_straws(mixed))
    assert len(whole) == best.one_batch
    assert (plan.canister_lifts, *dates) == best.key
    assert plan.fewest_lifts_proven
    assert plan.oldest_proven

    sums = tuple(sum(dose[place] for dose in dealt) for place in range(len(facts)))
    assert every.is_lean(sums, doses, best.one_batch)
    assert all(every.can_make(dose, 1) for dose in dealt)
    check_picks(plan, cells, dict(zip([f.batch_id for f in facts], sums, strict=True)))
    straws = [(f.quality, n) for f, n in zip(facts, sums, strict=True) if n]
    judgement = judge(rule, straws, doses)
    assert not judgement.below
    assert not judgement.above


def check_picks(plan: Plan, cells: Sequence[Cell], straws: dict[Hashable, int]) -> None:
    """The picks give the straws of the doses, out of cells that hold them."""
    picked = dict.fromkeys(straws, 0)
    for cell, number in plan.picks:
        assert cell in cells
        assert 0 < number <= cell.straws
        picked[cell.batch_id] += number
    assert picked == straws
    assert plan.straws == sum(straws.values())
    assert plan.canister_lifts == len({cell.canister_id for cell, _ in plan.picks})


@given(small=small_stocks(), per_dose=st.integers(1, 6), doses=st.integers(1, 3))
@settings(deadline=None, max_examples=300)
def test_no_plan_is_better_under_a_straws_rule(
    small: tuple[list[Cell], list[BatchFacts]], per_dose: int, doses: int
) -> None:
    check_against_oracle(StrawsRule(per_dose), *small, doses)


@given(small=small_stocks(), million=st.sampled_from([50, 100, 130, 250]), doses=st.integers(1, 3))
@settings(deadline=None, max_examples=300)
def test_no_plan_is_better_under_a_sperm_rule(
    small: tuple[list[Cell], list[BatchFacts]], million: int, doses: int
) -> None:
    check_against_oracle(SpermRule(Fraction(million), Fraction(35)), *small, doses)


@given(small=scattered_stocks, per_dose=st.integers(2, 4), doses=st.integers(1, 3))
@settings(deadline=None, max_examples=300)
def test_no_plan_is_better_where_straws_are_scattered(
    small: tuple[list[Cell], list[BatchFacts]], per_dose: int, doses: int
) -> None:
    check_against_oracle(StrawsRule(per_dose), *small, doses)


@given(small=scattered_stocks, million=st.sampled_from([100, 130]), doses=st.integers(1, 3))
@settings(deadline=None, max_examples=300)
def test_no_plan_is_better_where_scattered_straws_are_mixed(
    small: tuple[list[Cell], list[BatchFacts]], million: int, doses: int
) -> None:
    check_against_oracle(SpermRule(Fraction(million), Fraction(35)), *small, doses)


# ---- stocks too scattered for the exact search ------------------------------------------------


def scattered(
    seed: int, batches: int = 12, canisters: int = 10
) -> tuple[list[Cell], list[BatchFacts]]:
    """A few straws of each batch, one or two in a goblet here and there."""
    chance = Random(seed)
    facts = [
        BatchFacts(n, f"code-{n}", DAYS["A"], BatchQuality(Fraction(m), Fraction(40)), WATER)
        for n, m in enumerate(chance.choices(range(20, 100), k=batches))
    ]
    cells: dict[tuple[int, str], Cell] = {}
    for n in range(batches):
        for _ in range(chance.randint(3, 12)):
            canister = chance.randrange(canisters)
            goblet = f"{canister}-{chance.randint(1, 4)}"
            there = cells.get((n, goblet), Cell(n, goblet, canister, 0, goblet))
            cells[n, goblet] = replace(there, straws=there.straws + 1)
    return list(cells.values()), facts


@pytest.mark.parametrize("rule", [EIGHT, SPERM], ids=["straws", "sperm"])
@pytest.mark.parametrize("seed", range(8))
def test_a_search_cut_short_still_gives_a_right_plan_and_says_so(
    rule: DoseRule, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    cells, facts = scattered(seed)
    most = available(rule, cells, facts)[1]
    best = planned(rule, cells, facts, most // 2)
    monkeypatch.setattr(lifts, "LIFT_STEPS", 50)
    monkeypatch.setattr(lifts, "MIXED_STEPS", 50)
    plan = planned(rule, cells, facts, most // 2)
    assert best.canister_lifts <= plan.canister_lifts <= best.canister_lifts + 2
    assert len(plan.doses) == most // 2
    if plan.canister_lifts > 1:
        assert not plan.fewest_lifts_proven
        assert "a plan with fewer may exist" in plan.why
    straws = {one.batch_id: 0 for one in facts}
    for dose in plan.doses:
        for batch_id, number in dose.straws:
            straws[batch_id] += number
        assert rule == EIGHT or (dose.progressive_million or 0) >= 250
    check_picks(plan, cells, straws)
    judgement = judge(rule, [(f.quality, straws[f.batch_id]) for f in facts], most // 2)
    assert not judgement.below
    assert not judgement.above
