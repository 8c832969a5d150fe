"""What a straw must say, what is lacking, and how a day is written and misread."""

from datetime import date, timedelta
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.bank.marks import (
    MARK_NAMES,
    REQUIRED,
    StrawMarks,
    in_words,
    marks_of,
    missing,
    other_reading,
    with_country,
    written_day,
)
from service.bank.rules import MarkDateFormat
from service.bank.store import Batch, Stallion, Station

FORMS = get_args(MarkDateFormat)
UELN, CHIP = "372414001234567", "372098100123456"
LATEST = date(2026, 11, 25)
EARLIEST = LATEST - timedelta(days=40 * 365)


#: By form, every day of those years as it is written.
WRITTEN: dict[str, dict[str, list[date]]] = {form: {} for form in FORMS}
for _form in FORMS:
    for _past in range((LATEST - EARLIEST).days + 1):
        _day = EARLIEST + timedelta(days=_past)
        WRITTEN[_form].setdefault(written_day(_day, _form), []).append(_day)


def station(**more: Any) -> Station:
    known = {"approval_number": "AI-0417", "country": "IE", "species_mark": "EQUINE", **more}
    return Station(
        name="Our station", time_zone="UTC", mark_date_format="dd.mm.yy", level_unit="cm", **known
    )


def marks(batch: dict[str, Any] | None = None, **more: Any) -> StrawMarks:
    """The marks of a batch frozen here, but for what is said otherwise."""
    of = {
        "code": "B4T7M2K9P",
        "state": "frozen",
        "origin": "frozen",
        "collected_on": date(2026, 3, 3),
        "approval_number": "AI-0417",
        **(batch or {}),
    }
    stallion = Stallion(
        name="Lanternfield", ueln=more.pop("ueln", UELN), microchip=more.pop("microchip", None)
    )
    return marks_of(Batch(**of), stallion, station(**more))


# Days


@pytest.mark.parametrize(
    # The forms are those of Commission Implementing Regulation (EU) 2020/999, Annex (OJ L 221,
    # 2020).
    ("form", "written"),
    [
        ("ddmmyy", "030226"),
        ("yymmdd", "260203"),
        ("dd/mm/yy", "03/02/26"),
        ("yy/mm/dd", "26/02/03"),
        ("dd.mm.yy", "03.02.26"),
        ("yy.mm.dd", "26.02.03"),
    ],
)
def test_a_day_is_written_as_the_station_writes_it(form: str, written: str) -> None:
    assert form in FORMS
    assert written_day(date(2026, 2, 3), form) == written


def other(day: date) -> date | None:
    return other_reading(day, earliest=EARLIEST, latest=LATEST)


def test_010203_is_two_days() -> None:
    """1 February 2003 to who begins with the day, 3 February 2001 to who begins with the year."""
    assert written_day(date(2003, 2, 1), "ddmmyy") == "010203"
    assert other(date(2003, 2, 1)) == date(2001, 2, 3)
    assert other(date(2001, 2, 3)) == date(2003, 2, 1)


@pytest.mark.parametrize(
    ("day", "why"),
    [
        (date(2026, 2, 26), "both readings are the same"),
        (date(2026, 3, 31), "1931 is before any straw, 2031 is to come"),
        (date(2026, 11, 27), "2027 is to come"),
        (date(2029, 2, 28), "29 February 2028 is to come"),
        (date(2000, 5, 12), "no month has a day 0"),
        (date(2031, 4, 12), "April has no day 31"),
        (date(2029, 2, 11), "2011 has no 29 February"),
    ],
)
def test_some_days_can_be_read_in_one_way_only(day: date, why: str) -> None:
    assert other(day) is None, why


@given(st.dates(EARLIEST, LATEST), st.sampled_from(FORMS))
def test_the_other_reading_is_found_by_a_search_of_all_days_too(day: date, form: str) -> None:
    turned = form.replace("dd", "#").replace("yy", "dd").replace("#", "yy")
    same = [one for one in WRITTEN[turned].get(written_day(day, form), []) if one != day]
    assert [other(day)] == (same or [None])


# What is lacking


def test_what_the_regulation_names_is_what_a_station_requires_at_first() -> None:
    # Commission Delegated Regulation (EU) 2020/686, Article 10 (OJ L 174, 2020).
    assert REQUIRED == ("collected_on", "species", "donor_identity", "approval_number")
    assert missing(marks(), REQUIRED) == []


@pytest.mark.parametrize(
    ("found", "lacking"),
    [
        (marks({"collected_on": None}), "collected_on"),
        (marks(species_mark="  "), "species"),
        (marks(ueln=None), "donor_identity"),
        (marks({"approval_number": None}), "approval_number"),
    ],
)
def test_what_is_not_known_is_lacking(found: StrawMarks, lacking: str) -> None:
    assert missing(found, REQUIRED) == [lacking]


def test_only_what_the_station_requires_is_lacking() -> None:
    nothing = marks(ueln=None, species_mark=" ")
    assert missing(nothing, []) == []
    assert missing(nothing, ["breed", "collected_on"]) == ["breed"]


def test_every_mark_has_words_and_a_list_of_them_reads_as_a_sentence() -> None:
    assert all(in_words([name]) for name in MARK_NAMES)
    assert in_words(["species"]) == "the species"
    assert in_words(["collected_on", "species", "breed"]) == (
        "the day of collection, the species and the stallion's breed"
    )


# Whose straw it is, and where it was made


def test_a_stallion_without_a_ueln_is_known_by_his_microchip() -> None:
    assert marks(microchip=CHIP).donor_identity == UELN
    assert marks(ueln=None, microchip=CHIP).donor_identity == CHIP


@pytest.mark.parametrize(
    # That a number carries the name or the two letters of its country: Commission Implementing
    # Regulation (EU) 2020/999, Annex (OJ L 221, 2020).
    ("number", "country", "written"),
    [
        ("AI-0417", "IE", "IE AI-0417"),
        ("IE-AI-0417", "IE", "IE-AI-0417"),
        ("ie-ai-0417", "IE", "ie-ai-0417"),
        ("AI-0417", None, "AI-0417"),
        (None, "IE", None),
        ("", "IE", None),
    ],
)
def test_a_number_says_of_which_country_it_is(
    number: str | None, country: str | None, written: str | None
) -> None:
    assert with_country(number, country) == written


@pytest.mark.parametrize(
    # Who processes what another collected adds its own number: Commission Delegated Regulation
    # (EU) 2020/686, Article 10 (OJ L 174, 2020).
    ("batch", "known", "collected_under", "processed_under"),
    [
        ({}, {}, "IE AI-0417", "IE AI-0417"),
        ({}, {"processing_approval_number": "PR-9"}, "IE AI-0417", "IE PR-9"),
        ({"approval_number": "FR-22"}, {}, "FR-22", "IE AI-0417"),
        (
            {"approval_number": "FR-22"},
            {"processing_approval_number": "PR-9"},
            "FR-22",
            "IE PR-9",
        ),
        ({"approval_number": None}, {}, None, "IE AI-0417"),
        ({"approval_number": None, "state": "prepared"}, {}, "IE AI-0417", "IE AI-0417"),
        ({"approval_number": "FR-22", "origin": "received"}, {}, "FR-22", None),
    ],
)
def test_a_straw_says_where_it_was_collected_and_where_it_was_processed(
    batch: dict[str, Any],
    known: dict[str, Any],
    collected_under: str | None,
    processed_under: str | None,
) -> None:
    found = marks(batch, **known)
    assert found.approval_number == collected_under
    assert found.processing_approval_number == processed_under


def test_who_processes_under_the_same_number_lacks_none() -> None:
    assert missing(marks(), ["processing_approval_number"]) == []
    assert missing(marks(approval_number=None), ["processing_approval_number"]) == [
        "processing_approval_number"
    ]
