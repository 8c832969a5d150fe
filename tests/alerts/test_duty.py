"""The rota says one thing about every moment, also on the nights when the clocks change.

Held against a clock that is walked minute by minute: what the station's clock has shown at the
latest is the last handover's time or later, and before the next one's.
"""

from collections.abc import Sequence
from datetime import UTC, datetime, time, timedelta
from itertools import pairwise
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from service.alerts.duty import (
    BadQuietHours,
    BadRota,
    Duty,
    Handover,
    QuietHours,
    Rota,
    Shift,
    StandIn,
    check,
    held_until,
    last_at,
    next_at,
    on_duty,
    shifts,
)

ADA, BEN, CLEO, DEV = (UUID(int=number) for number in range(1, 5))
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)

DUBLIN, NEW_YORK = ZoneInfo("Europe/Dublin"), ZoneInfo("America/New_York")
LORD_HOWE = ZoneInfo("Australia/Lord_Howe")

#: Moments at which clocks changed (IANA Time Zone Database): half an hour, an hour; an hour over
#: midnight and from 00:01; a whole day skipped.
CHANGES = (
    (DUBLIN, datetime(2026, 3, 29, 1, tzinfo=UTC)),
    (DUBLIN, datetime(2026, 10, 25, 1, tzinfo=UTC)),
    (NEW_YORK, datetime(2026, 3, 8, 7, tzinfo=UTC)),
    (NEW_YORK, datetime(2026, 11, 1, 6, tzinfo=UTC)),
    (LORD_HOWE, datetime(2026, 10, 3, 15, 30, tzinfo=UTC)),
    (LORD_HOWE, datetime(2026, 4, 4, 15, tzinfo=UTC)),
    (ZoneInfo("America/Sao_Paulo"), datetime(2018, 11, 4, 3, tzinfo=UTC)),
    (ZoneInfo("America/Sao_Paulo"), datetime(2018, 2, 18, 2, tzinfo=UTC)),
    (ZoneInfo("America/St_Johns"), datetime(2010, 11, 7, 2, 31, tzinfo=UTC)),
    (ZoneInfo("Pacific/Apia"), datetime(2011, 12, 30, 10, tzinfo=UTC)),
)

#: Zone; a time that is skipped and the UTC at which the clocks jump; one that comes twice, first
#: in UTC; and by how much later the second comes.
NIGHTS = [
    pytest.param(
        DUBLIN,
        (datetime(2026, 3, 29), time(1, 30), datetime(2026, 3, 29, 1, tzinfo=UTC)),
        (datetime(2026, 10, 25), time(1, 30), datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),
        id="Dublin",
    ),
    pytest.param(
        NEW_YORK,
        (datetime(2026, 3, 8), time(2, 30), datetime(2026, 3, 8, 7, tzinfo=UTC)),
        (datetime(2026, 11, 1), time(1, 30), datetime(2026, 11, 1, 5, 30, tzinfo=UTC)),
        id="New York",
    ),
    pytest.param(
        LORD_HOWE,
        (datetime(2026, 10, 4), time(2, 15), datetime(2026, 10, 3, 15, 30, tzinfo=UTC)),
        (datetime(2026, 4, 5), time(1, 45), datetime(2026, 4, 4, 14, 45, tzinfo=UTC)),
        id="Lord Howe",
    ),
]
Night = tuple[datetime, time, datetime]


def handover(weekday: int, at: time, person: UUID, second: UUID | None = None) -> Handover:
    return Handover(weekday=weekday, at=at, person_id=person, second_id=second)


def weekly(person: UUID, second: UUID | None = None) -> Duty:
    return Duty(person_id=person, second_id=second, stands_in=False)


def whose(shift: Shift) -> Duty:
    return Duty(person_id=shift.person_id, second_id=shift.second_id, stands_in=shift.stands_in)


def person(duty: Duty | None) -> UUID:
    assert duty is not None
    return duty.person_id


WEEK = Rota(
    handovers=(
        handover(4, time(17), CLEO, ADA),
        handover(0, time(8), ADA),
        handover(2, time(8), BEN, CLEO),
    )
)


def test_each_is_on_duty_until_the_next_round_the_week() -> None:
    for local, duty in (
        (datetime(2026, 6, 1, 7, 59, 59), weekly(CLEO, ADA)),
        (datetime(2026, 6, 1, 8), weekly(ADA)),
        (datetime(2026, 6, 3, 7, 59), weekly(ADA)),
        (datetime(2026, 6, 3, 8), weekly(BEN, CLEO)),
        (datetime(2026, 6, 5, 17), weekly(CLEO, ADA)),
        (datetime(2026, 6, 7, 23, 59), weekly(CLEO, ADA)),
    ):
        assert on_duty(WEEK, local.replace(tzinfo=DUBLIN), DUBLIN) == duty


def test_one_handover_is_for_ever_and_none_is_nobody() -> None:
    moment = datetime(2026, 6, 3, 12, tzinfo=UTC)
    alone = Rota(handovers=[handover(3, time(8), BEN)])
    assert on_duty(alone, moment, DUBLIN) == weekly(BEN)
    assert shifts(alone, moment, moment + 400 * DAY, DUBLIN) == [
        Shift(
            starts_at=moment,
            ends_at=moment + 400 * DAY,
            person_id=BEN,
            second_id=None,
            stands_in=False,
        )
    ]
    assert on_duty(Rota(handovers=()), moment, DUBLIN) is None
    assert shifts(Rota(handovers=()), moment, moment + DAY, DUBLIN) == []
    assert shifts(alone, moment, moment, DUBLIN) == []


def test_a_stand_in_goes_first_while_it_lasts_and_the_last_to_start_wins() -> None:
    noon = datetime(2026, 6, 3, 12, tzinfo=UTC)
    rota = Rota(
        handovers=WEEK.handovers,
        stand_ins=(
            StandIn(starts_at=noon + 2 * HOUR, ends_at=noon + 3 * HOUR, person_id=DEV),
            StandIn(starts_at=noon, ends_at=noon + 72 * HOUR, person_id=ADA, second_id=BEN),
        ),
    )
    ada = Duty(person_id=ADA, second_id=BEN, stands_in=True)
    dev = Duty(person_id=DEV, second_id=None, stands_in=True)
    found = shifts(rota, noon - HOUR, noon + 73 * HOUR, DUBLIN)
    assert [(one.starts_at, whose(one)) for one in found] == [
        (noon - HOUR, weekly(BEN, CLEO)),
        (noon, ada),
        (noon + 2 * HOUR, dev),
        (noon + 3 * HOUR, ada),  # Friday's handover passes meanwhile, and ends no shift
        (noon + 72 * HOUR, weekly(CLEO, ADA)),
    ]
    assert found[-1].ends_at == noon + 73 * HOUR
    assert on_duty(rota, noon - MINUTE, DUBLIN) == weekly(BEN, CLEO)


def test_of_two_stand_ins_that_start_together_the_later_in_the_list_wins() -> None:
    noon = datetime(2026, 6, 3, 12, tzinfo=UTC)
    two = [
        StandIn(starts_at=noon, ends_at=noon + hours * HOUR, person_id=who)
        for hours, who in ((3, ADA), (2, BEN))
    ]
    assert person(on_duty(Rota(handovers=(), stand_ins=two), noon, DUBLIN)) == BEN
    assert person(on_duty(Rota(handovers=(), stand_ins=two[::-1]), noon, DUBLIN)) == ADA
    # Without a weekly rota there is nobody afterwards.
    assert on_duty(Rota(handovers=(), stand_ins=two), noon + 3 * HOUR, DUBLIN) is None


@pytest.mark.parametrize(("zone", "skipped", "twice"), NIGHTS)
def test_a_handover_at_a_skipped_time_comes_when_the_clocks_jump(
    zone: ZoneInfo, skipped: Night, twice: Night
) -> None:
    day, at, jump = skipped
    rota = Rota(
        handovers=[handover((day.weekday() - 3) % 7, at, ADA), handover(day.weekday(), at, BEN)]
    )
    assert person(on_duty(rota, jump - timedelta(microseconds=1), zone)) == ADA
    assert person(on_duty(rota, jump, zone)) == BEN
    assert next_at(jump - HOUR, at, zone) == last_at(jump + HOUR, at, zone) == jump


@pytest.mark.parametrize(("zone", "skipped", "twice"), NIGHTS)
def test_a_handover_at_a_time_that_comes_twice_counts_when_it_comes_first(
    zone: ZoneInfo, skipped: Night, twice: Night
) -> None:
    day, at, first = twice
    assert first.astimezone(zone).replace(tzinfo=None) == datetime.combine(day, at)
    rota = Rota(
        handovers=[handover((day.weekday() - 3) % 7, at, ADA), handover(day.weekday(), at, BEN)]
    )
    assert person(on_duty(rota, first - MINUTE, zone)) == ADA
    for minutes in range(0, 181, 5):
        assert person(on_duty(rota, first + minutes * MINUTE, zone)) == BEN
    assert next_at(first - HOUR, at, zone) == last_at(first + 2 * HOUR, at, zone) == first
    assert next_at(first, at, zone) > first + 23 * HOUR


def test_of_two_handovers_in_one_skipped_hour_the_later_one_holds() -> None:
    rota = Rota(handovers=[handover(6, time(2, 45), BEN), handover(6, time(2, 15), ADA)])
    jump = datetime(2026, 3, 8, 7, tzinfo=UTC)
    assert person(on_duty(rota, jump, NEW_YORK)) == BEN
    found = shifts(rota, jump - HOUR, jump + HOUR, NEW_YORK)
    assert [(one.starts_at, one.person_id) for one in found] == [(jump - HOUR, BEN)]


def test_seconds_are_kept_also_over_a_jump() -> None:
    at = time(2, 30, 15, 250)
    assert next_at(datetime(2026, 3, 8, 5, tzinfo=UTC), at, NEW_YORK) == datetime(
        2026, 3, 8, 7, tzinfo=UTC
    )
    assert next_at(datetime(2026, 3, 9, 5, tzinfo=UTC), at, NEW_YORK) == datetime(
        2026, 3, 9, 6, 30, 15, 250, tzinfo=UTC
    )


def highest(moment: datetime, zone: ZoneInfo) -> datetime:
    """The latest that the station's clock has shown until then, walked over a day and more."""
    shown = (moment - minutes * MINUTE for minutes in range(27 * 60))
    return max(one.astimezone(zone).replace(tzinfo=None) for one in shown)


def walked(handovers: Sequence[Handover], moment: datetime, zone: ZoneInfo) -> Handover:
    """Who is on duty by a clock that never goes back."""
    clock = highest(moment, zone)
    passed = clock.weekday() * DAY + (clock - datetime.combine(clock, time()))

    def since(one: Handover) -> timedelta:
        at = timedelta(days=one.weekday, hours=one.at.hour, minutes=one.at.minute)
        return (passed - at) % (7 * DAY)

    return min(handovers, key=since)


times = st.builds(time, st.integers(0, 23), st.sampled_from([0, 1, 15, 29, 30, 31, 45, 59]))
night_times = st.builds(time, st.integers(0, 3), st.sampled_from([0, 1, 15, 29, 30, 45]))


@st.composite
def moments(draw: st.DrawFn) -> tuple[datetime, ZoneInfo]:
    """Within days of a change of the clocks, often within hours."""
    zone, change = draw(st.sampled_from(CHANGES))
    reach = draw(st.sampled_from([90, 26 * 60, 9 * 24 * 60]))
    return change + draw(st.integers(-reach, reach)) * MINUTE, zone


@st.composite
def rotas(draw: st.DrawFn, near: datetime) -> Rota:
    slots = draw(
        st.sets(st.tuples(st.integers(0, 6), times | night_times), min_size=1, max_size=10)
    )
    people = st.sampled_from([(ADA, BEN), (BEN, None), (CLEO, ADA), (DEV, None)])
    handovers = [handover(day, at, *draw(people)) for day, at in sorted(slots)]
    stand_ins = []
    for _ in range(draw(st.integers(0, 3))):
        starts = near + draw(st.integers(-5_000, 5_000)) * MINUTE
        first, second = draw(people)
        ends = starts + draw(st.integers(1, 5_000)) * MINUTE
        stand_ins.append(StandIn(starts_at=starts, ends_at=ends, person_id=first, second_id=second))
    return Rota(handovers=draw(st.permutations(handovers)), stand_ins=stand_ins)


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_on_duty_is_who_a_clock_that_never_goes_back_says(data: st.DataObject) -> None:
    moment, zone = data.draw(moments())
    rota = data.draw(rotas(moment))
    who = walked(rota.handovers, moment, zone)
    alone = Rota(handovers=rota.handovers)
    assert on_duty(alone, moment, zone) == weekly(who.person_id, who.second_id)


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_shifts_tile_the_time_and_agree_with_on_duty(data: st.DataObject) -> None:
    start, zone = data.draw(moments())
    rota = data.draw(rotas(start))
    check(rota)
    end = start + data.draw(st.integers(1, 20_000)) * MINUTE
    found = shifts(rota, start.astimezone(zone), end, zone)
    assert (found[0].starts_at, found[-1].ends_at) == (start, end)
    assert all(one.starts_at < one.ends_at for one in found)
    for before, after in pairwise(found):
        assert before.ends_at == after.starts_at
        assert whose(before) != whose(after)
    for one in found:
        length = int((one.ends_at - one.starts_at) / MINUTE)
        sampled = data.draw(st.integers(0, length - 1)) * MINUTE
        for moment in (one.starts_at, one.starts_at + sampled, one.ends_at - MINUTE):
            assert on_duty(rota, moment, zone) == whose(one)


@settings(max_examples=60, deadline=None)
@given(moments(), times | night_times)
def test_next_and_last_enclose_the_moment_and_are_when_the_clock_first_shows_it(
    moment_zone: tuple[datetime, ZoneInfo], at: time
) -> None:
    moment, zone = moment_zone
    last, following = last_at(moment, at, zone), next_at(moment, at, zone)
    assert last <= moment < following
    assert (last.tzinfo, following.tzinfo) == (UTC, UTC)
    assert next_at(last, at, zone) == following
    assert last_at(following, at, zone) == following
    assert last_at(following - MINUTE, at, zone) == last
    assume(zone.key != "Pacific/Apia")  # a time of the skipped day is shown on no day
    for one in (last, following):
        # By the clock that never goes back: it is at that time or past it, a minute ago it was not.
        now, before = highest(one, zone), highest(one - MINUTE, zone)
        local = datetime.combine(now, at)
        assert before < local <= now


def test_a_day_that_was_skipped_comes_and_goes_at_the_jump() -> None:
    apia, jump = CHANGES[-1]
    assert next_at(jump - HOUR, time(8), apia) == jump
    assert next_at(jump, time(8), apia) == jump + 8 * HOUR
    assert last_at(jump, time(23), apia) == jump


@pytest.mark.parametrize(
    ("quiet", "local", "until"),
    [
        ((22, 6), datetime(2026, 6, 3, 21, 59), None),
        ((22, 6), datetime(2026, 6, 3, 22), datetime(2026, 6, 4, 6)),
        ((22, 6), datetime(2026, 6, 4, 5, 59), datetime(2026, 6, 4, 6)),
        ((22, 6), datetime(2026, 6, 4, 6), None),
        ((12, 14), datetime(2026, 6, 4, 13), datetime(2026, 6, 4, 14)),
        ((12, 14), datetime(2026, 6, 4, 11), None),
        ((12, 14), datetime(2026, 6, 4, 14), None),
    ],
)
def test_what_comes_in_quiet_hours_is_held_until_they_end(
    quiet: tuple[int, int], local: datetime, until: datetime | None
) -> None:
    hours = QuietHours(time(quiet[0]), time(quiet[1]))
    held = held_until(hours, local.replace(tzinfo=DUBLIN), DUBLIN)
    assert held == (None if until is None else until.replace(tzinfo=DUBLIN).astimezone(UTC))
    assert held_until(None, local.replace(tzinfo=DUBLIN), DUBLIN) is None


@pytest.mark.parametrize(("zone", "skipped", "twice"), NIGHTS)
def test_quiet_ends_where_the_clocks_say_on_both_nights(
    zone: ZoneInfo, skipped: Night, twice: Night
) -> None:
    for day, at, comes in (skipped, twice):
        night = QuietHours(time(22), time(7))
        ends = datetime.combine(day, time(7), tzinfo=zone).astimezone(UTC)
        assert held_until(night, comes, zone) == ends
        assert held_until(night, ends, zone) is None
        # One that ends at a time that is skipped or comes twice ends once.
        short = QuietHours(time(22), at)
        assert held_until(short, comes - MINUTE, zone) == comes
        for minutes in range(0, 181, 5):
            assert held_until(short, comes + minutes * MINUTE, zone) is None
        # One that begins then begins then, and lasts.
        late = QuietHours(at, time(7))
        assert held_until(late, comes - MINUTE, zone) is None
        for minutes in range(0, 181, 5):
            assert held_until(late, comes + minutes * MINUTE, zone) == ends


def test_a_quiet_that_is_skipped_is_none_and_a_pause_that_is_skipped_is_none() -> None:
    jump = datetime(2026, 3, 8, 7, tzinfo=UTC)
    skipped = QuietHours(time(2, 15), time(2, 45))
    for minutes in (-5, 0, 5):
        assert held_until(skipped, jump + minutes * MINUTE, NEW_YORK) is None
    nearly_always = QuietHours(time(2, 45), time(2, 15))
    for minutes in (-5, 0, 5):
        held = held_until(nearly_always, jump + minutes * MINUTE, NEW_YORK)
        assert held == datetime(2026, 3, 9, 2, 15, tzinfo=NEW_YORK).astimezone(UTC)


@settings(max_examples=150, deadline=None)
@given(moments(), times | night_times, times | night_times)
@example((datetime(2026, 3, 8, 6, 59, tzinfo=UTC), NEW_YORK), time(2, 45), time(2, 15))
def test_held_is_the_first_moment_that_is_not_quiet(
    moment_zone: tuple[datetime, ZoneInfo], starts: time, ends: time
) -> None:
    assume(starts != ends)
    moment, zone = moment_zone
    quiet = QuietHours(starts, ends)
    held = held_until(quiet, moment, zone)
    if held is None:
        # The last thing that came was an end; or both came at once.
        assert last_at(moment, ends, zone) >= last_at(moment, starts, zone)
        return
    assert held > moment
    assert held_until(quiet, held, zone) is None
    assert held_until(quiet, held - MINUTE, zone) == held
    assert held_until(quiet, moment + (held - moment) / 2, zone) == held


def test_equal_quiet_hours_are_refused() -> None:
    with pytest.raises(BadQuietHours) as refused:
        QuietHours(time(22), time(22))
    assert refused.value.facts["errors"] == [{"field": "ends", "message": "is when they start"}]


NOON = datetime(2026, 6, 3, 12, tzinfo=UTC)


def stand_in(hours: float, first: UUID = ADA, second: UUID | None = None) -> Rota:
    return Rota(
        handovers=WEEK.handovers,
        stand_ins=[
            StandIn(
                starts_at=NOON.astimezone(DUBLIN),
                ends_at=NOON + hours * HOUR,
                person_id=first,
                second_id=second,
            )
        ],
    )


@pytest.mark.parametrize(
    ("rota", "field"),
    [
        (
            Rota(handovers=[handover(1, time(8), ADA), handover(1, time(8), BEN)]),
            "handovers[1].at",
        ),
        (Rota(handovers=[handover(1, time(8, 0, 1), ADA)]), "handovers[0].at"),
        (Rota(handovers=[handover(1, time(8, 0, 0, 1), ADA)]), "handovers[0].at"),
        (Rota(handovers=[handover(1, time(8, tzinfo=UTC), ADA)]), "handovers[0].at"),
        (Rota(handovers=[handover(7, time(8), ADA)]), "handovers[0].weekday"),
        (Rota(handovers=[handover(1, time(8), ADA, ADA)]), "handovers[0].second_id"),
        (stand_in(-0.5), "stand_ins[0].ends_at"),
        (stand_in(0), "stand_ins[0].ends_at"),
        (stand_in(2, ADA, ADA), "stand_ins[0].second_id"),
        (
            Rota(
                handovers=(),
                stand_ins=[
                    StandIn(starts_at=datetime(2026, 6, 3), ends_at=NOON, person_id=ADA),
                ],
            ),
            "stand_ins[0].starts_at",
        ),
    ],
)
def test_a_rota_that_says_two_things_or_none_is_refused(rota: Rota, field: str) -> None:
    with pytest.raises(BadRota) as refused:
        check(rota)
    assert refused.value.code == "bad-rota"
    assert [error["field"] for error in refused.value.facts["errors"]] == [field]


def test_a_good_rota_and_an_empty_one_pass() -> None:
    check(WEEK)
    check(stand_in(2, BEN, ADA))
    check(Rota(handovers=()))
