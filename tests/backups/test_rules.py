"""Names, what the rotation keeps, and when a backup is due or overdue."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.backups import rules
from service.backups.rules import BackupDamaged, Contents, Manifest

NOON = datetime(2026, 3, 3, 12, 0, 0, 123_456, tzinfo=UTC)
HOUR = timedelta(hours=1)
CONTENTS = Contents("0002", 3, "a" * 64, 2, "b" * 64, {"stored": 8}, 1)
MANIFEST = Manifest(rules.name_of(NOON), NOON, "0.1.0", "sqlite", 4096, "c" * 64, CONTENTS)

moments = st.datetimes(
    min_value=datetime(2020, 1, 1), max_value=datetime(2030, 1, 1), timezones=st.just(UTC)
)


def test_a_name_tells_the_moment_in_utc() -> None:
    summer = timezone(timedelta(hours=2))
    assert rules.name_of(NOON) == "rimebook-20260303T120000.123Z.db"
    assert rules.name_of(NOON.astimezone(summer)) == rules.name_of(NOON)
    assert rules.beside(rules.name_of(NOON)) == "rimebook-20260303T120000.123Z.json"


@given(one=moments, other=moments)
def test_names_sort_as_the_moments_do(one: datetime, other: datetime) -> None:
    apart = abs(one - other) >= timedelta(milliseconds=1)
    if apart:
        assert (rules.name_of(one) < rules.name_of(other)) == (one < other)


@pytest.mark.parametrize(
    "name",
    [
        "rimebook.db",
        "rimebook-20260303T120000.123Z.db-wal",
        "my rimebook-20260303T120000.123Z.db",
        "rimebook-20260303T120000.123Z.json",
        ".rimebook-20260303T120000.123Z.db.part",
        "before-0001-20260303T120000.db",
        "rimebook-٢٠٢٦٠٣٠٣T120000.123Z.db",
    ],
)
def test_other_files_are_not_ours(name: str) -> None:
    assert not rules.is_ours(name)


def test_unfinished_files_are_known_again() -> None:
    name = rules.name_of(NOON)
    assert rules.is_unfinished(rules.unfinished(name))
    assert rules.is_unfinished(rules.unfinished(rules.beside(name)))
    assert rules.is_unfinished(f"{rules.unfinished(name)}-journal")
    assert not rules.is_unfinished(name)
    assert not rules.is_unfinished(".photo.db.part")


def test_three_years_of_hourly_backups_leave_24_hours_30_days_and_12_months() -> None:
    newest = datetime(2026, 3, 15, 23, 30, tzinfo=UTC)
    stay = rules.kept(newest - number * HOUR for number in range(3 * 365 * 24))
    hours = {newest - number * HOUR for number in range(24)}
    days = {newest - timedelta(days=number) for number in range(30)}
    ends = [datetime(2026, month, 1, tzinfo=UTC) for month in (1, 2, 3)]
    ends += [datetime(2025, month, 1, tzinfo=UTC) for month in range(5, 13)]
    months = {newest} | {end - timedelta(minutes=30) for end in ends}
    assert stay == hours | days | months


@given(st.lists(moments, max_size=200), st.randoms())
def test_the_newest_always_stays_and_rotating_twice_changes_nothing(
    made: list[datetime], _dice: object
) -> None:
    stay = rules.kept(made)
    assert stay <= set(made)
    assert not made or max(made) in stay
    assert len(stay) <= rules.HOURS_KEPT + rules.DAYS_KEPT + rules.MONTHS_KEPT
    assert rules.kept(stay) == stay


@given(st.lists(moments, min_size=1, max_size=80, unique=True))
def test_rotating_after_each_backup_loses_no_day_that_rotating_once_would_keep(
    made: list[datetime],
) -> None:
    folder: set[datetime] = set()
    for at in sorted(made):
        folder = rules.kept({*folder, at})
    newest_days = sorted({at.date() for at in made})[-rules.DAYS_KEPT :]
    assert {at.date() for at in folder} >= set(newest_days)


@pytest.mark.parametrize(
    ("ago", "due", "overdue"),
    [
        (timedelta(0), False, False),
        (HOUR - timedelta(seconds=1), False, False),
        (HOUR, True, False),
        (2 * HOUR - timedelta(seconds=1), True, False),
        (2 * HOUR, True, True),
        (timedelta(minutes=-5), True, False),  # from the future: a clock was set back
    ],
)
def test_due_after_one_interval_and_overdue_after_two(
    ago: timedelta, *, due: bool, overdue: bool
) -> None:
    newest = NOON - ago
    assert rules.due(newest, every=HOUR, now=NOON) is due
    since = rules.overdue_since(newest, every=HOUR, now=NOON)
    assert since == (newest + 2 * HOUR if overdue else None)


def test_without_any_backup_one_is_due() -> None:
    assert rules.due(None, every=HOUR, now=NOON)


def test_a_failure_is_tried_again_soon() -> None:
    assert rules.next_try(NOON, every=HOUR) == NOON + timedelta(minutes=10)
    assert rules.next_try(NOON, every=timedelta(minutes=1)) == NOON + timedelta(minutes=1)


def test_a_manifest_reads_as_it_was_written() -> None:
    assert rules.manifest_from(MANIFEST.text()) == MANIFEST


@pytest.mark.parametrize(
    "text",
    ["", "{}", "[]", "null", '"x"', "\x00", MANIFEST.text()[:-9], '{"format": "one"}'],
)
def test_what_is_not_a_manifest_is_refused(text: str) -> None:
    with pytest.raises(BackupDamaged):
        rules.manifest_from(text)


def test_a_newer_manifest_is_refused_in_words() -> None:
    newer = MANIFEST.text().replace('"format": 1', '"format": 2')
    with pytest.raises(BackupDamaged, match="newer Rimebook"):
        rules.manifest_from(newer)
