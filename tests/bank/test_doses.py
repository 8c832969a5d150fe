"""Dose rules: straws per dose, doses of a stock, too few and too many straws."""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.bank import dealing
from service.bank.doses import (
    BatchQuality,
    SpermRule,
    StrawsRule,
    judge,
    meets_rule,
    most_doses,
    no_dose_reason,
    plain_number,
    progressive_million_per_straw,
    rule_warnings,
    straws_per_dose,
    straws_per_dose_warnings,
    whole_strengths,
)
from tests.withdrawals.every_plan import EveryPlan

EIGHT = StrawsRule(8)

# "Semen quality standards" of the World Breeding Federation for Sport Horses (WBFSH), frozen
# semen: at least 250 million progressively motile sperm a dose and 35 % post-thaw; as quoted in
# table 4 of a thesis of Ghent University (yumpu.com/en/document/view/19826954, year not given).
WBFSH = SpermRule(Fraction(250), Fraction(35))

# "Freezing stallion semen", Colorado State University, Equine Reproduction Laboratory, 2022:
# at least 200 million and 30 % ten minutes after thawing; so too the review in Theriogenology
# 64:572 (2005).
COLORADO = SpermRule(Fraction(200), Fraction(30))


def quality(
    concentration: Decimal | int, volume: Decimal | str | int, percent: Decimal | int
) -> BatchQuality:
    """A batch of straws of so many M/mL and mL, with so much motility after thawing."""
    per_straw = progressive_million_per_straw(
        volume_ml=Decimal(volume),
        concentration_million_per_ml=concentration,
        post_thaw_percent=percent,
    )
    return BatchQuality(per_straw, Fraction(percent))


def strong(million: Fraction | int) -> BatchQuality:
    """A batch that thaws well, with so many million progressively motile sperm in a straw."""
    return BatchQuality(Fraction(million), Fraction(40))


UNKNOWN = BatchQuality(None, None)


# ---- how many straws make a dose --------------------------------------------------------------


@pytest.mark.parametrize(
    ("target", "concentration", "volume", "percent", "per_straw", "straws"),
    [
        # ceil(target / (M/mL x mL x motility)), worked out by hand in exact fractions.
        (250, 200, "0.5", 35, "35", 8),
        (250, 400, "0.5", 35, "70", 4),
        (200, 100, "0.5", 50, "25", 8),  # exactly 200
        (250, 100, "0.5", 35, "17.5", 15),
        (250, 250, "0.5", 40, "50", 5),  # exactly 250
        (250, 400, "0.25", 35, "35", 8),
        (5, 100, "0.25", 40, "10", 1),  # a low dose: Theriogenology 64:572 (2005), 1 to 25 million
        (350, 625, "0.4", 35, "87.5", 4),  # exactly 350; floats make 5 of it
    ],
)
def test_straws_per_dose_is_the_exact_quotient_rounded_up(
    target: int, concentration: int, volume: str, percent: int, per_straw: str, straws: int
) -> None:
    batch = quality(concentration, volume, percent)
    assert batch.progressive_million_per_straw == Fraction(per_straw)
    assert straws_per_dose(SpermRule(Fraction(target), Fraction(30)), batch) == straws


def test_floats_would_have_taken_a_straw_too_many() -> None:
    """The negative control of the vector above: the same sum in floats is just over 4."""
    assert 350 / 625 / 0.4 / 0.35 > 4
    assert straws_per_dose(SpermRule(Fraction(350), Fraction(35)), quality(625, "0.4", 35)) == 4


def test_a_batch_below_the_least_motility_makes_no_dose() -> None:
    """250 M of 200 M/mL x 0.5 mL at 30 % would be 9 straws, but WBFSH asks for 35 %."""
    poor = quality(200, "0.5", 30)
    assert straws_per_dose(SpermRule(Fraction(250), Fraction(30)), poor) == 9
    assert straws_per_dose(WBFSH, poor) is None
    assert most_doses(WBFSH, [(poor, 100)]) == 0
    reason = no_dose_reason(WBFSH, poor)
    assert reason == "its post-thaw motility of 30 % is below the rule's 35 %"


def test_exactly_the_least_motility_is_enough() -> None:
    assert straws_per_dose(WBFSH, quality(200, "0.5", 35)) == 8


def test_total_sperm_are_not_motile_sperm() -> None:
    """600 million in all at 35 % are 210 million that move: less than 250 (WBFSH)."""
    batch = quality(150, "0.5", 35)  # 75 M in a straw: 8 straws hold 600 M
    assert batch.progressive_million_per_straw is not None
    assert 8 * batch.progressive_million_per_straw == 210
    assert not meets_rule(WBFSH, [(batch, 8)], 1)
    assert meets_rule(COLORADO, [(batch, 8)], 1)
    assert straws_per_dose(WBFSH, batch) == 10


def test_eight_straws_of_100_million_at_30_percent_meet_200_million_but_not_250() -> None:
    """The set-up 200 M/mL x 0.5 mL x 8 straws holds 800 M, 240 M of them motile at 30 %."""
    batch = quality(200, "0.5", 30)
    assert meets_rule(COLORADO, [(batch, 8)], 1)
    assert not meets_rule(SpermRule(Fraction(250), Fraction(30)), [(batch, 8)], 1)


def test_four_straws_of_50_million_hold_200_million() -> None:
    """France: 4 straws with 50 M motile each, 35 % (practice guidance)."""
    rule = SpermRule(Fraction(200), Fraction(35))
    assert straws_per_dose(rule, strong(50)) == 4


def test_240_straws_at_8_a_dose_are_30_doses() -> None:
    """Practice guidance: 240 straws at 8 a dose serve 10 mares three times."""
    assert most_doses(EIGHT, [(UNKNOWN, 240)]) == 30


def test_a_fixed_rule_gives_its_number_for_any_batch() -> None:
    assert straws_per_dose(EIGHT, UNKNOWN) == 8
    assert straws_per_dose(EIGHT, quality(200, "0.5", 5)) == 8
    assert no_dose_reason(EIGHT, UNKNOWN) is None


@pytest.mark.parametrize(
    ("batch", "reason"),
    [
        (UNKNOWN, "it has no post-thaw result"),
        (BatchQuality(None, Fraction(40)), "how many sperm its straws hold is not known"),
        (BatchQuality(Fraction(0), Fraction(40)), "no sperm moved after thawing"),
        (BatchQuality(Fraction(35), None), "it has no post-thaw result"),
        (strong(35), None),
    ],
)
def test_a_batch_without_a_dose_says_why(batch: BatchQuality, reason: str | None) -> None:
    assert no_dose_reason(WBFSH, batch) == reason
    assert (straws_per_dose(WBFSH, batch) is None) == (reason is not None)


@pytest.mark.parametrize("amount", [0.5, True])
def test_a_float_is_refused(amount: float) -> None:
    with pytest.raises(TypeError):
        progressive_million_per_straw(
            volume_ml=amount,  # type: ignore[arg-type]
            concentration_million_per_ml=200,
            post_thaw_percent=35,
        )


@pytest.mark.parametrize("amount", [Decimal("NaN"), Decimal("Infinity"), Decimal("-0.5"), -1])
def test_an_impossible_amount_is_refused(amount: Decimal | int) -> None:
    with pytest.raises(ValueError, match="amount"):
        progressive_million_per_straw(
            volume_ml=amount, concentration_million_per_ml=200, post_thaw_percent=35
        )


def test_a_dose_of_nothing_is_no_rule() -> None:
    with pytest.raises(ValueError, match="at least one straw"):
        StrawsRule(0)
    with pytest.raises(ValueError, match="some sperm"):
        SpermRule(Fraction(0), Fraction(35))


def test_more_than_16_straws_a_dose_are_asked_about() -> None:
    """1 to 12 straws are common practice, no source; 16 is our own limit of plausibility."""
    assert rule_warnings(StrawsRule(16)) == ()
    [warning] = rule_warnings(StrawsRule(17))
    assert warning.startswith("17 straws for one dose are unusually many")
    assert straws_per_dose_warnings(16) == ()
    assert straws_per_dose_warnings(17) == (warning,)
    assert rule_warnings(WBFSH) == ()
    assert len(rule_warnings(SpermRule(Fraction(250), Fraction(0)))) == 1


@pytest.mark.parametrize(
    ("amount", "words"),
    [
        (Fraction(280), "280"),
        (Fraction(525, 2), "262.5"),
        (Fraction(24999, 100), "249.9"),
        (Fraction(1, 3), "0.3"),
        (Fraction(0), "0"),
    ],
)
def test_an_amount_in_a_sentence_never_says_too_much(amount: Fraction, words: str) -> None:
    assert plain_number(amount) == words


# ---- how many doses a stock makes -------------------------------------------------------------


def test_what_batches_leave_is_mixed() -> None:
    assert most_doses(EIGHT, [(UNKNOWN, 12), (UNKNOWN, 4)]) == 2
    assert most_doses(EIGHT, [(UNKNOWN, 11), (UNKNOWN, 4)]) == 1


def test_a_whole_batch_dose_is_taken_apart_where_that_makes_more_doses() -> None:
    """Two straws of 70 M make a dose of 100 M, and then two of 40 M make none; 70 + 40 twice do."""
    rule = SpermRule(Fraction(100), Fraction(35))
    assert most_doses(rule, [(strong(70), 2), (strong(40), 2)]) == 2


def test_batches_that_make_no_dose_are_left_out() -> None:
    assert most_doses(WBFSH, [(strong(35), 7), (UNKNOWN, 50), (quality(800, 1, 20), 50)]) == 0
    assert most_doses(WBFSH, []) == 0
    assert most_doses(EIGHT, []) == 0


def test_a_straw_stronger_than_a_dose_is_one_dose() -> None:
    assert most_doses(WBFSH, [(strong(1000), 3)]) == 3
    assert straws_per_dose(WBFSH, strong(1000)) == 1


def test_a_big_stock_keeps_its_whole_doses_and_mixes_what_they_leave() -> None:
    """40 doses of 8 and 4 straws over; 40 of 5 and 3 over: 4 x 35 + 3 x 50 = 290 is one more."""
    assert most_doses(WBFSH, [(strong(35), 324), (strong(50), 203)]) == 81


strengths = st.sampled_from([20, 30, 35, 40, 45, 50, 60, 70, 90, 100, 130])
small_stocks = st.lists(st.tuples(strengths, st.integers(1, 5)), min_size=1, max_size=4)
HUNDRED = SpermRule(Fraction(100), Fraction(35))


def stock_of(batches: Sequence[tuple[int, int]]) -> list[tuple[BatchQuality, int]]:
    return [(strong(million), straws) for million, straws in batches]


@given(batches=small_stocks, million=strengths)
@settings(deadline=None)
def test_one_more_straw_never_makes_fewer_doses(
    batches: list[tuple[int, int]], million: int
) -> None:
    doses = most_doses(HUNDRED, stock_of(batches))
    more = most_doses(HUNDRED, stock_of([*batches, (million, 1)]))
    assert doses <= more <= doses + 1


@given(batches=small_stocks)
@settings(deadline=None)
def test_doses_lie_between_whole_batches_and_all_sperm_in_one_pot(
    batches: list[tuple[int, int]],
) -> None:
    doses = most_doses(HUNDRED, stock_of(batches))
    assert sum(straws // -(-100 // million) for million, straws in batches) <= doses
    assert doses * 100 <= sum(min(million, 100) * straws for million, straws in batches)


@given(batches=small_stocks)
@settings(deadline=None, max_examples=30)
def test_the_order_of_batches_does_not_matter(batches: list[tuple[int, int]]) -> None:
    answers = {most_doses(HUNDRED, stock_of(order)) for order in permutations(batches)}
    assert len(answers) == 1


@given(
    straws=st.lists(st.integers(0, 60), max_size=6),
    per_dose=st.integers(1, 14),
)
def test_under_a_straws_rule_every_straw_counts_the_same(straws: list[int], per_dose: int) -> None:
    stock = [(UNKNOWN, number) for number in straws]
    assert most_doses(StrawsRule(per_dose), stock) == sum(straws) // per_dose


def every_plan(batches: Sequence[tuple[int, int]]) -> EveryPlan:
    """The exhaustive search over these batches, under the rule of 100 million."""
    return EveryPlan.of_batches(
        [(Fraction(million), straws) for million, straws in batches], Fraction(100)
    )


@given(batches=st.lists(st.tuples(strengths, st.integers(1, 4)), min_size=1, max_size=3))
@settings(deadline=None)
def test_no_dealing_makes_more_doses_than_said(batches: list[tuple[int, int]]) -> None:
    """Against an exhaustive search."""
    every = every_plan(batches)
    doses = most_doses(HUNDRED, stock_of(batches))
    assert every.can_make(every.total, doses)
    assert not every.can_make(every.total, doses + 1)


# ---- too few, too many ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("taken", "doses", "below", "spare"),
    [
        ([7], 1, True, 0),
        ([8], 1, False, 0),
        ([9], 1, False, 1),
        ([3, 5], 1, False, 0),
        ([3, 6], 1, False, 1),
        ([8, 8], 1, False, 8),
        ([16], 2, False, 0),
        ([15], 2, True, 0),
        ([12, 5], 2, False, 1),
    ],
)
def test_straws_are_judged_by_number_under_a_straws_rule(
    taken: list[int], doses: int, below: bool, spare: int
) -> None:
    judgement = judge(EIGHT, [(UNKNOWN, number) for number in taken], doses)
    assert (judgement.below, judgement.spare_straws) == (below, spare)
    assert judgement.above == (spare > 0)
    assert judgement.straws == sum(taken)
    assert judgement.doses_met == sum(taken) // 8
    assert judgement.progressive_million is None


def test_straws_are_judged_by_sperm_under_a_sperm_rule() -> None:
    short = judge(WBFSH, [(strong(35), 7)], 1)
    assert (short.below, short.above) == (True, False)
    assert short.progressive_million == 245
    right = judge(WBFSH, [(strong(35), 8)], 1)
    assert (right.below, right.above) == (False, False)
    assert right.progressive_million == 280
    much = judge(WBFSH, [(strong(35), 10)], 1)
    assert (much.below, much.spare_straws, much.doses_met) == (False, 2, 1)


def test_a_weak_straw_beside_a_strong_dose_is_one_too_many() -> None:
    """4 x 70 hold 280 and a straw of 20 can go; 3 x 70 + 2 x 20 hold 250 and none can."""
    assert judge(WBFSH, [(strong(70), 4), (strong(20), 1)], 1).spare_straws == 1
    assert not judge(WBFSH, [(strong(70), 3), (strong(20), 2)], 1).above
    exactly = [(strong(60), 1), (strong(40), 1), (strong(20), 1)]
    assert judge(HUNDRED, exactly, 1).spare_straws == 1


def test_straws_that_make_no_dose_do_not_count_and_are_too_many() -> None:
    assert judge(WBFSH, [(UNKNOWN, 8)], 1).below
    judgement = judge(WBFSH, [(strong(35), 8), (UNKNOWN, 2)], 1)
    assert (judgement.below, judgement.spare_straws) == (False, 2)


def test_doses_kept_apart_by_batch_are_not_called_too_much() -> None:
    """2 x 70 and 3 x 40 are two doses of 100 M of one batch each; four straws would do if mixed."""
    taken = [(strong(70), 2), (strong(40), 3)]
    assert most_doses(HUNDRED, [(strong(70), 2), (strong(40), 2)]) == 2
    assert not judge(HUNDRED, taken, 2).above
    assert judge(HUNDRED, [(strong(70), 2), (strong(40), 4)], 2).spare_straws == 1


@given(
    batches=st.lists(st.tuples(strengths, st.integers(1, 4)), min_size=1, max_size=3),
    doses=st.integers(1, 3),
)
@settings(deadline=None)
def test_the_judgement_agrees_with_an_exhaustive_search(
    batches: list[tuple[int, int]], doses: int
) -> None:
    every = every_plan(batches)
    judgement = judge(HUNDRED, stock_of(batches), doses)
    one_batch = every.most_one_batch(every.total, doses, 0)
    assert judgement.below == (one_batch < 0)
    if not judgement.below:
        assert judgement.above == (not every.is_lean(every.total, doses, one_batch))


def test_a_search_that_runs_out_of_steps_still_says_nothing_false() -> None:
    """Of thirty strengths, with no steps to search: what is dealt is dealt right."""
    stock = [(strong(Fraction(151 + 13 * n, 10)), 4) for n in range(30)]
    strengths_of, target = whole_strengths(WBFSH, [batch for batch, _ in stock])
    batches = [(s, straws) for s, (_, straws) in zip(strengths_of, stock, strict=True) if s]
    dealt = dealing.deal_out(batches, target, 12, steps=0)
    assert dealt is not None
    assert dealt.mixed
    used = dict.fromkeys(dict(batches), 0)
    for dose in dealt.mixed:
        assert sum(strength * straws for strength, straws in dose) >= target
        for strength, straws in dose:
            used[strength] += straws
    for (strength, straws), doses in zip(batches, dealt.whole, strict=True):
        used[strength] += doses * -(-target // strength)
        assert used[strength] <= straws
    assert sum(dealt.whole) + len(dealt.mixed) == 12
