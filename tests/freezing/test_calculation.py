"""The arithmetic of a freeze, against worked figures from outside, and its refusals."""

from dataclasses import fields
from datetime import UTC, date, datetime, timedelta, timezone
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.bank.doses import DoseRule, SpermRule, StrawsRule
from service.bank.plausibility import (
    Implausible,
    Warned,
    plain,
    refuse_impossible,
    weigh_dates,
    weigh_planned_day,
)
from service.freezing.calculation import (
    Calculation,
    Collection,
    Filling,
    PlacementsDoNotAddUp,
    StrawCounts,
    calculate,
    check_counts,
    remarks_on_count,
)


def collection(volume: str = "60", concentration: str = "200", motility: str = "70") -> Collection:
    return Collection(
        volume_ml=Fraction(volume),
        concentration_million_per_ml=Fraction(concentration),
        progressive_motility_percent=Fraction(motility),
    )


def filling(volume: str = "0.5", concentration: str = "200") -> Filling:
    return Filling(volume_ml=Fraction(volume), concentration_million_per_ml=Fraction(concentration))


def sperm_rule(target: str = "250", minimum: str = "35") -> SpermRule:
    return SpermRule(
        progressive_million=Fraction(target), minimum_post_thaw_percent=Fraction(minimum)
    )


def made(
    *,
    of: Collection | None = None,
    straw: Filling | None = None,
    post_thaw: str | None = None,
    recovery: str | None = "85",
    rule: DoseRule | None = None,
    centrifuged: bool = True,
) -> Calculation:
    return calculate(
        collection=of or collection(),
        straw=straw or filling(),
        post_thaw_percent=None if post_thaw is None else Fraction(post_thaw),
        recovery_percent=None if recovery is None else Fraction(recovery),
        dose_rule=rule,
        centrifuged=centrifuged,
    )


def warned(calculation: Calculation) -> set[tuple[str, str]]:
    return {(warning.code, warning.field) for warning in calculation.warnings}


# What is made is floored


def test_7150_million_fill_71_straws_of_100_million_and_50_million_are_left() -> None:
    """Common practice, no source: sperm in the pellet × recovery ÷ load of a straw."""
    result = made(of=collection("35.75", "200"), recovery="100")
    assert result.total_million == 7_150
    assert result.straws_possible == 71
    assert result.total_million - result.straws_possible * filling().load_million == 50
    assert result.volume_ml == Fraction("35.5")


def test_recovery_counts_before_the_floor() -> None:
    """60 mL × 200 M/mL × 85 % = 10,200 M; straws of 100 M."""
    result = made(recovery="85")
    assert result.straws_possible == 102
    assert result.volume_ml == 51
    assert made(recovery="84.9999").straws_possible == 101


def test_60_ml_of_200_million_at_60_percent_hold_12000_million_of_which_7200_swim() -> None:
    """University of Wisconsin, equine laboratory supplement on cooled semen (year not known)."""
    result = made(of=collection("60", "200", "60"))
    assert result.total_million == 12_000
    assert result.progressive_million == 7_200


@pytest.mark.parametrize(
    ("volume_ml", "concentration", "extender_a_dose_ml"),
    [
        (Fraction(100, 3), Fraction(50), Fraction(25)),
        (Fraction(40), Fraction(125, 3), Fraction(95, 3)),
    ],
)
def test_diluted_semen_brings_its_share_of_the_volume_along(
    volume_ml: Fraction, concentration: Fraction, extender_a_dose_ml: Fraction
) -> None:
    """Cooled doses of 1,000 M swimming sperm, from 8.333 mL raw: 33.33 mL at 50 M/mL take 25.00 mL
    of extender (three parts to one; University of Wisconsin, equine laboratory supplement), 40 mL
    at 25 M swimming sperm/mL take 31.67 (Colorado State University, Equine Reproduction
    Laboratory)."""
    result = made(
        of=collection("60", "200", "60"),
        straw=Filling(volume_ml=volume_ml, concentration_million_per_ml=concentration),
        recovery=None,
        centrifuged=False,
    )
    assert result.straws_possible == 7
    assert result.extender_ml == 7 * extender_a_dose_ml
    assert ("recovery-assumed", "recovery_percent") not in warned(result)


def test_a_pellet_is_taken_up_in_all_of_the_volume() -> None:
    result = made(of=collection("20", "400"), straw=filling("0.5", "100"))
    assert result.straws_possible == 136
    assert result.extender_ml == result.volume_ml == 68


def test_diluting_does_not_thicken() -> None:
    with pytest.raises(Implausible) as refused:
        made(of=collection("60", "100"), straw=filling("0.5", "200"), centrifuged=False)
    assert "Centrifuge it" in refused.value.detail


def test_too_few_sperm_for_one_straw_make_none() -> None:
    result = made(of=collection("1", "30"), straw=filling("0.5", "400"))
    assert result.straws_possible == 0
    assert result.volume_ml == result.extender_ml == 0


# What is needed is ceiled


# straws = ceil(target ÷ (M/mL × mL × motility)); targets of 250 M and 35 %: World Breeding
# Federation for Sport Horses, by a thesis of Ghent University (Table 4); of 200 M: Colorado State
# University, 2022. The rows' figures follow from the formula; the last guards against floats.
NEEDED = [
    ("250", "35", "200", "0.5", "35", "35", 8),
    ("250", "35", "400", "0.5", "35", "70", 4),
    ("250", "35", "200", "0.5", "30", "30", None),
    ("250", "30", "200", "0.5", "30", "30", 9),
    ("200", "30", "100", "0.5", "50", "25", 8),
    ("250", "35", "100", "0.5", "35", "17.5", 15),
    ("250", "35", "250", "0.5", "40", "50", 5),
    ("250", "35", "400", "0.25", "35", "35", 8),
    ("5", "35", "100", "0.25", "40", "10", 1),
    ("350", "35", "625", "0.4", "35", "87.5", 4),
]


@pytest.mark.parametrize(
    ("target", "minimum", "concentration", "volume", "post_thaw", "per_straw", "straws"), NEEDED
)
def test_a_dose_by_sperm_takes_so_many_straws(
    target: str,
    minimum: str,
    concentration: str,
    volume: str,
    post_thaw: str,
    per_straw: str,
    straws: int | None,
) -> None:
    result = made(
        of=collection("60", "400"),
        straw=filling(volume, concentration),
        post_thaw=post_thaw,
        rule=sperm_rule(target, minimum),
    )
    assert result.progressive_million_per_straw == Fraction(per_straw)
    assert result.straws_per_dose == straws
    assert result.doses == (result.straws_possible // straws if straws else None)
    assert result.meets_rule is (straws is not None)


def test_240_straws_at_8_a_dose_are_30_doses() -> None:
    """Practice guidance: 240 straws serve ten mares three times."""
    result = made(of=collection("120", "200"), recovery="100", rule=StrawsRule(straws=8))
    assert result.straws_possible == 240
    assert (result.straws_per_dose, result.doses, result.meets_rule) == (8, 30, True)


def test_8_straws_of_100_million_at_30_percent_hold_240_million_and_pass_200_but_not_250() -> None:
    """A dose of 800 M in 8 straws; targets as above."""
    eight = made(post_thaw="30", rule=sperm_rule("200", "30"))
    assert eight.progressive_million_per_straw is not None
    assert eight.progressive_million_per_straw * 8 == 240
    assert (eight.straws_per_dose, eight.meets_rule) == (7, True)
    assert made(post_thaw="30", rule=sperm_rule("250", "30")).straws_per_dose == 9


def test_without_a_rule_there_are_no_doses() -> None:
    result = made(post_thaw="40")
    assert (result.straws_per_dose, result.doses, result.meets_rule) == (None, None, None)
    assert result.progressive_million_per_straw == 40


def test_without_a_post_thaw_result_a_rule_by_sperm_makes_no_doses_yet() -> None:
    result = made(rule=sperm_rule())
    assert (result.straws_per_dose, result.doses, result.meets_rule) == (None, None, None)
    assert result.progressive_million_per_straw is None
    assert warned(result) == {("no-post-thaw", "post_thaw")}


def test_without_a_post_thaw_result_a_rule_by_straws_makes_doses() -> None:
    assert made(rule=StrawsRule(straws=8)).doses == 12


@pytest.mark.parametrize("post_thaw", ["34.9", "0"])
def test_below_the_rule_s_minimum_a_batch_makes_no_doses(post_thaw: str) -> None:
    result = made(post_thaw=post_thaw, rule=sperm_rule())
    assert (result.straws_per_dose, result.doses, result.meets_rule) == (None, None, False)
    assert ("below-dose-rule", "post_thaw.progressive_motility_percent") in warned(result)


def test_more_than_16_straws_a_dose_are_remarked_on_and_not_capped() -> None:
    usual = made(straw=filling("0.5", "100"), post_thaw="35", rule=sperm_rule("280"))
    more = made(straw=filling("0.5", "100"), post_thaw="35", rule=sperm_rule("281"))
    assert (usual.straws_per_dose, more.straws_per_dose) == (16, 17)
    assert warned(usual) == set()
    assert warned(more) == {("many-straws-per-dose", "dose_rule")}


def test_straws_too_few_for_one_dose_are_remarked_on() -> None:
    result = made(of=collection("10", "100"), recovery="80", rule=StrawsRule(straws=9))
    assert (result.straws_possible, result.doses) == (8, 0)
    assert warned(result) == {("no-whole-dose", "straw")}


# Unusual or impossible


def test_usual_figures_draw_no_remark() -> None:
    assert made(post_thaw="40").warnings == ()


def test_a_recovery_that_was_not_given_is_assumed_and_said() -> None:
    result = made(recovery=None)
    assert result.straws_possible == 120
    assert warned(result) == {("recovery-assumed", "recovery_percent")}


UNUSUAL = [
    ({"of": collection("9.9", "200")}, "collection.volume_ml"),
    ({"of": collection("150.1", "200")}, "collection.volume_ml"),
    ({"of": collection("100", "29.9")}, "collection.concentration_million_per_ml"),
    ({"of": collection("20", "801")}, "collection.concentration_million_per_ml"),
    ({"of": collection("20", "49")}, "collection"),
    ({"of": collection("100", "401")}, "collection"),
    ({"of": collection(motility="19.9")}, "collection.progressive_motility_percent"),
    ({"of": collection(motility="85.1")}, "collection.progressive_motility_percent"),
    ({"straw": filling("0.5", "49.9")}, "straw.concentration_million_per_ml"),
    ({"straw": filling("0.5", "801")}, "straw.concentration_million_per_ml"),
    ({"straw": filling("0.3")}, "straw.volume_ml"),
    ({"straw": filling("500", "50")}, "straw.volume_ml"),
    ({"post_thaw": "29.9"}, "post_thaw.progressive_motility_percent"),
    ({"recovery": "74.9"}, "recovery_percent"),
    ({"recovery": "95.1"}, "recovery_percent"),
]


@pytest.mark.parametrize(("figures", "field"), UNUSUAL)
def test_an_unusual_figure_is_kept_and_remarked_on(figures: dict[str, Any], field: str) -> None:
    assert warned(made(**figures)) == {("unusual", field)}


USUAL = [
    {"of": collection("10", "200")},
    {"of": collection("150", "200")},
    {"of": collection("100", "30")},
    {"of": collection("20", "800")},
    {"of": collection("20", "50")},
    {"of": collection("100", "400")},
    {"of": collection(motility="20")},
    {"of": collection(motility="85")},
    {"straw": filling("0.25", "50")},
    {"straw": filling("0.5", "800")},
    {"post_thaw": "30"},
    {"post_thaw": "70"},
    {"recovery": "75"},
    {"recovery": "95"},
]


@pytest.mark.parametrize("figures", USUAL)
def test_a_figure_at_its_limit_is_usual(figures: dict[str, Any]) -> None:
    assert made(**figures).warnings == ()


IMPOSSIBLE = [
    ({"of": collection(volume="0")}, "collection.volume_ml", "above 0"),
    ({"of": collection(volume="-60")}, "collection.volume_ml", "above 0"),
    ({"of": collection("300.1", "100")}, "collection.volume_ml", "µL"),
    (
        {"of": collection(concentration="0")},
        "collection.concentration_million_per_ml",
        "above 0",
    ),
    (
        {"of": collection(concentration="200000000")},
        "collection.concentration_million_per_ml",
        "200000000 million/mL; at most 2000 is possible. Was sperm/mL typed for million/mL?",
    ),
    ({"of": collection("100", "1000.1")}, "collection", "at most 100000"),
    ({"of": collection(motility="-1")}, "collection.progressive_motility_percent", "at least 0"),
    ({"of": collection(motility="100.1")}, "collection.progressive_motility_percent", "100"),
    ({"straw": filling("0.5", "0")}, "straw.concentration_million_per_ml", "above 0"),
    ({"straw": filling("0.5", "2000.1")}, "straw.concentration_million_per_ml", "sperm/mL"),
    ({"straw": filling("0")}, "straw.volume_ml", "above 0"),
    ({"straw": filling("-0.5")}, "straw.volume_ml", "above 0"),
    ({"post_thaw": "100.1"}, "post_thaw.progressive_motility_percent", "at most 100"),
    ({"post_thaw": "-1"}, "post_thaw.progressive_motility_percent", "at least 0"),
    ({"recovery": "0"}, "recovery_percent", "above 0"),
    ({"recovery": "100.1"}, "recovery_percent", "at most 100"),
]


@pytest.mark.parametrize(("figures", "field", "fact"), IMPOSSIBLE)
def test_an_impossible_figure_is_refused_under_its_field(
    figures: dict[str, Any], field: str, fact: str
) -> None:
    with pytest.raises(Implausible) as refused:
        made(**figures)
    assert refused.value.code == "implausible"
    [error] = refused.value.facts["errors"]
    assert error["field"] == field
    assert fact in error["message"]
    assert error["message"] in refused.value.detail


def test_all_impossible_figures_are_refused_at_once() -> None:
    with pytest.raises(Implausible) as refused:
        made(of=collection("0", "0", "101"), straw=filling("0", "0"))
    assert len(refused.value.facts["errors"]) == 5


def test_a_fraction_typed_for_percent_is_named() -> None:
    [warning] = made(of=collection(motility="0.7")).warnings
    assert "Was a fraction typed for percent?" in warning.message


def test_a_post_thaw_motility_above_the_fresh_one_is_questioned() -> None:
    result = made(of=collection(motility="40"), post_thaw="40.1")
    [warning] = result.warnings
    assert warning.code == "post-thaw-above-fresh"
    assert "(40.1 %) is above the fresh one (40 %)" in warning.message


# Dates

NOW = datetime(2026, 3, 3, 14, 5, tzinfo=UTC)


def dated(
    collected_at: datetime,
    *,
    frozen_at: datetime = NOW,
    foaled_on: date | None = None,
    died_on: date | None = None,
) -> list[Warned]:
    return refuse_impossible(
        weigh_dates(
            collected_at=collected_at,
            frozen_at=frozen_at,
            now=NOW,
            foaled_on=foaled_on,
            died_on=died_on,
        )
    )


def planned(collected_on: date, **life: date | None) -> list[Warned]:
    known = {"foaled_on": None, "died_on": None} | life
    return refuse_impossible(
        weigh_planned_day(collected_on=collected_on, today=NOW.date(), **known)
    )


def test_a_clock_may_run_five_minutes_ahead() -> None:
    assert dated(NOW + timedelta(minutes=5)) == []
    with pytest.raises(Implausible, match="future"):
        dated(NOW + timedelta(minutes=5, seconds=1))


def test_nothing_is_frozen_before_it_is_collected() -> None:
    frozen_at = NOW - timedelta(hours=2)
    assert dated(frozen_at + timedelta(minutes=5), frozen_at=frozen_at) == []
    with pytest.raises(Implausible, match="after it was frozen"):
        dated(frozen_at + timedelta(minutes=6), frozen_at=frozen_at)


def test_straws_are_marked_a_week_ahead_at_most() -> None:
    assert planned(date(2026, 3, 10)) == []
    with pytest.raises(Implausible, match="a week before") as refused:
        planned(date(2026, 3, 11))
    assert refused.value.facts["errors"][0]["field"] == "collected_on"


def test_a_planned_collection_keeps_to_the_stallion_s_life() -> None:
    with pytest.raises(Implausible, match="not yet a year"):
        planned(date(2026, 3, 4), foaled_on=date(2025, 3, 5))
    [warning] = planned(date(2026, 3, 4), died_on=date(2026, 3, 1))
    assert (warning.code, warning.field) == ("collected-after-death", "collected_on")


@pytest.mark.parametrize(
    ("foaled_on", "first_possible"),
    [
        (date(2024, 5, 4), date(2025, 5, 4)),
        (date(2024, 2, 29), date(2025, 3, 1)),
        (date(2023, 12, 31), date(2024, 12, 31)),
    ],
)
def test_a_stallion_is_a_year_old_at_his_first_collection(
    foaled_on: date, first_possible: date
) -> None:
    first = datetime(first_possible.year, first_possible.month, first_possible.day, tzinfo=UTC)
    assert dated(first, foaled_on=foaled_on) == []
    with pytest.raises(Implausible) as refused:
        dated(first - timedelta(seconds=1), foaled_on=foaled_on)
    assert refused.value.facts["errors"][0]["field"] == "collected_at"
    assert str(foaled_on) in refused.value.detail


def test_a_stallion_foaled_at_the_end_of_time_is_no_crash() -> None:
    with pytest.raises(Implausible):
        dated(NOW, foaled_on=date.max)


def test_a_collection_after_death_is_questioned() -> None:
    died_on = date(2026, 3, 1)
    assert dated(datetime(2026, 3, 1, 23, tzinfo=UTC), died_on=died_on) == []
    [warning] = dated(datetime(2026, 3, 2, 1, tzinfo=UTC), died_on=died_on)
    assert warning.code == "collected-after-death"


def test_the_day_is_that_of_the_station_s_time_zone() -> None:
    late = datetime(2026, 3, 2, 0, 30, tzinfo=timezone(timedelta(hours=2)))
    assert dated(late, died_on=date(2026, 3, 1)) != []
    assert dated(late.astimezone(UTC), died_on=date(2026, 3, 1)) == []


# Counts


def test_more_straws_than_the_sperm_fill_are_questioned() -> None:
    assert remarks_on_count(straws_made=71, straws_possible=71) == []
    [warning] = remarks_on_count(straws_made=72, straws_possible=71)
    assert (warning.code, warning.field) == ("more-straws-than-possible", "straws")


@pytest.mark.parametrize(
    ("counts", "placed", "prepared"),
    [
        (StrawCounts(stored=48, spoiled=1, tested=1), [24, 24], 50),
        (StrawCounts(stored=48, spoiled=1, tested=1), [24, 24], 60),
        (StrawCounts(stored=48), [48], None),
        (StrawCounts(stored=0, tested=2), [], 10),
    ],
)
def test_counts_that_add_up_are_taken(
    counts: StrawCounts, placed: list[int], prepared: int | None
) -> None:
    check_counts(counts, placed=placed, prepared=prepared)


@pytest.mark.parametrize(
    ("counts", "placed", "prepared", "fact"),
    [
        (StrawCounts(stored=48), [24, 23], None, "48 straws are stored, but the places take 47"),
        (StrawCounts(stored=48), [], None, "the places take 0"),
        (StrawCounts(stored=48, spoiled=1, tested=1), [24, 26], 50, "the places take 50"),
        (StrawCounts(stored=48, spoiled=1, tested=1), [48], 49, "50 straws were filled"),
        (StrawCounts(stored=48), [49, -1], None, "at least one straw"),
        (StrawCounts(stored=48), [48, 0], None, "at least one straw"),
        (StrawCounts(stored=0), [], None, "at least one straw"),
        (StrawCounts(stored=2, spoiled=-1), [2], None, "at least one straw"),
    ],
)
def test_counts_that_do_not_add_up_are_refused_with_the_facts(
    counts: StrawCounts, placed: list[int], prepared: int | None, fact: str
) -> None:
    with pytest.raises(PlacementsDoNotAddUp) as refused:
        check_counts(counts, placed=placed, prepared=prepared)
    assert refused.value.code == "placements-do-not-add-up"
    assert fact in refused.value.detail
    assert refused.value.facts["straws"] == counts.stored
    assert refused.value.facts["straws_placed"] == sum(placed)
    assert refused.value.facts["straws_made"] == counts.made


# For every collection

hundredths = st.decimals("0.01", "100", places=2).map(Fraction)
concentrations = st.decimals("1", "1000", places=1).map(Fraction)


@given(
    volume=hundredths,
    concentration=concentrations,
    straw_volume=hundredths,
    straw_concentration=concentrations,
    recovery=hundredths,
    post_thaw=hundredths,
    target=concentrations,
)
def test_straws_are_floored_doses_ceiled_and_nothing_is_a_float(
    volume: Fraction,
    concentration: Fraction,
    straw_volume: Fraction,
    straw_concentration: Fraction,
    recovery: Fraction,
    post_thaw: Fraction,
    target: Fraction,
) -> None:
    source = Collection(
        volume_ml=volume,
        concentration_million_per_ml=concentration,
        progressive_motility_percent=Fraction(70),
    )
    straw = Filling(volume_ml=straw_volume, concentration_million_per_ml=straw_concentration)
    rule = SpermRule(progressive_million=target, minimum_post_thaw_percent=Fraction("0.01"))
    result = calculate(
        collection=source,
        straw=straw,
        post_thaw_percent=post_thaw,
        recovery_percent=recovery,
        dose_rule=rule,
    )
    sperm = volume * concentration * recovery / 100
    load = straw_volume * straw_concentration
    assert result.straws_possible * load <= sperm < (result.straws_possible + 1) * load
    assert result.volume_ml == result.straws_possible * straw_volume
    assert result.straws_per_dose is not None
    assert result.progressive_million_per_straw == load * post_thaw / 100
    reached = result.straws_per_dose * result.progressive_million_per_straw
    assert reached - result.progressive_million_per_straw < target <= reached
    assert result.doses == result.straws_possible // result.straws_per_dose
    for field in fields(result):
        assert not isinstance(getattr(result, field.name), float)


@given(volume=st.integers(10, 150), diluted_to=st.integers(50, 600))
def test_diluted_semen_and_extender_make_up_the_volume(volume: int, diluted_to: int) -> None:
    """The sperm in the semen used are exactly those in the straws."""
    source = collection(str(volume), "600")
    result = made(
        of=source, straw=filling("0.5", str(diluted_to)), recovery="100", centrifuged=False
    )
    raw_ml = result.volume_ml - result.extender_ml
    assert 0 <= raw_ml <= source.volume_ml
    assert raw_ml * 600 == result.volume_ml * diluted_to


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (Fraction(60), "60"),
        (Fraction("0.25"), "0.25"),
        (Fraction(1, 3), "0.333333333333"),
        (Fraction(200_000_000), "200000000"),
        (Fraction(0), "0"),
        (Fraction(-1, 2), "-0.5"),
    ],
)
def test_a_figure_in_a_sentence_is_decimal(value: Fraction, words: str) -> None:
    assert plain(value) == words
