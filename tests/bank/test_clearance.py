"""Days in store and tests, reckoned without a book."""

from datetime import date, timedelta
from typing import Any

import pytest

from service.bank.clearance import Clearance, Found, Sample, health_of, newest, reckon

COLLECTED = date(2026, 3, 3)
NEEDED = ("EIA", "EVA", "CEM")


def on_day(day: int, *samples: Sample, **more: Any) -> Clearance:
    """The clearance so many days after the collection."""
    facts = {
        "collected_on": COLLECTED,
        "today": COLLECTED + timedelta(days=day),
        "days_needed": 30,
        "required_tests": NEEDED,
        "samples": samples,
    }
    return reckon(**(facts | more))


def sample(test: str, result: Any = "negative", day: int = 10) -> Sample:
    """A test sampled on a day of March."""
    return Sample(test, date(2026, 3, day), result)


ALL_NEGATIVE = tuple(sample(test) for test in NEEDED)


@pytest.mark.parametrize(
    ("day", "full"),
    # Storage counts from the day of collection; on day 30 straws may leave (Directive 92/65/EEC
    # Annex D as amended by Regulation (EU) 176/2010, from memory; day 30 by convention).
    [(0, False), (1, False), (29, False), (30, True), (31, True), (4_000, True)],
)
def test_the_thirtieth_day_after_the_collection_is_the_first_on_which_it_may_leave(
    day: int, full: bool
) -> None:
    found = on_day(day, *ALL_NEGATIVE)
    assert (found.days_in_store, found.days_full, found.clear) == (day, full, full)
    assert found.full_on == date(2026, 4, 2)


def test_a_collection_that_is_only_planned_has_no_days_yet() -> None:
    assert on_day(-5).days_in_store == 0


@pytest.mark.parametrize(("needed", "full"), [(0, True), (28, True), (29, False), (90, False)])
def test_the_station_says_how_many_days(needed: int, full: bool) -> None:
    found = on_day(28, *ALL_NEGATIVE, days_needed=needed)
    assert found.days_full is full
    assert found.full_on == COLLECTED + timedelta(days=needed)


def test_without_a_day_of_collection_nothing_is_counted_and_nothing_is_clear() -> None:
    found = on_day(400, *ALL_NEGATIVE, collected_on=None)
    assert (found.days_in_store, found.full_on, found.clear) == (None, None, False)
    assert found.said.startswith("The day of collection is not known")


def test_each_test_that_is_needed_is_listed_whether_there_is_a_result_or_not() -> None:
    found = on_day(31, sample("EVA"), sample("CEM", "pending"))
    assert found.tests == [
        Found("EIA"),
        Found("EVA", "negative", date(2026, 3, 10)),
        Found("CEM", "pending", date(2026, 3, 10)),
    ]
    assert (found.missing_tests, found.pending_tests, found.clear) == (["EIA"], ["CEM"], False)


@pytest.mark.parametrize("result", ["positive", "pending"])
def test_one_test_that_is_not_negative_is_enough(result: Any) -> None:
    assert not on_day(31, *ALL_NEGATIVE, sample("EVA", result, day=11)).clear
    assert not on_day(31, *ALL_NEGATIVE, sample("another one", result)).clear


def test_the_sample_taken_last_counts_whenever_it_was_recorded() -> None:
    late = [sample("EIA", "negative", day=20), sample("EIA", "positive", day=12)]
    assert newest(["EIA"], late) == [Found("EIA", "negative", date(2026, 3, 20))]


def test_of_samples_of_one_day_the_one_recorded_last_counts() -> None:
    same_day = [sample("EIA", "positive"), sample("EIA", "pending"), sample("EIA", "negative")]
    assert newest(["EIA"], same_day) == [Found("EIA", "negative", date(2026, 3, 10))]
    assert newest(["EIA"], same_day[::-1])[0].result == "positive"


def test_case_and_spacing_do_not_make_another_test() -> None:
    found = newest(
        ["CEM first"], [sample("cem  First"), sample("Other"), sample("OTHER", "pending")]
    )
    assert found == [
        Found("CEM first", "negative", date(2026, 3, 10)),
        Found("Other", "pending", date(2026, 3, 10)),
    ]


@pytest.mark.parametrize(
    ("samples", "health"),
    [
        ((), "not known"),
        (ALL_NEGATIVE[:2], "not known"),
        ((*ALL_NEGATIVE[:2], sample("CEM", "pending")), "not known"),
        (ALL_NEGATIVE, "negative"),
        ((*ALL_NEGATIVE, sample("another one", "pending")), "negative"),
        ((*ALL_NEGATIVE, sample("another one", "positive")), "positive"),
        ((sample("EVA", "positive"),), "positive"),
        ((sample("EVA", "positive"), sample("EVA", "negative", day=24)), "not known"),
    ],
)
def test_the_health_of_a_batch_is_what_its_newest_results_say(
    samples: tuple[Sample, ...], health: str
) -> None:
    assert health_of(NEEDED, samples) == health


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (
            on_day(12, sample("EIA"), sample("EVA", "pending")),
            "12 of 30 days in store since collection; full on 2 Apr 2026. "
            "Not answered yet: EVA. Not recorded: CEM. Negative: EIA.",
        ),
        (
            on_day(30, *ALL_NEGATIVE),
            "30 days in store since collection; 30 are asked for. Negative: EIA, EVA, CEM.",
        ),
        (
            on_day(1, sample("EVA", "positive"), days_needed=1, required_tests=["EVA"]),
            "1 day in store since collection; 1 are asked for. Positive: EVA.",
        ),
        (
            on_day(2, required_tests=[]),
            "2 of 30 days in store since collection; full on 2 Apr 2026. No test is asked for.",
        ),
    ],
)
def test_it_is_told_in_words(found: Clearance, said: str) -> None:
    assert found.said == said
