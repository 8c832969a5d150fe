"""Who is on duty, when it is quiet, and when the station's clock shows a time next.

Pure. A rota is a list of handovers, each of which holds until the next one, round the week: by its
form it has no gap. Local times are the station's; on the nights when its clocks change, a time that
is skipped comes when the clocks jump, and one that comes twice counts when it comes first. So a
time of day comes once on every day, and times come in their order. All moments know their zone;
those that come back are in UTC. Zones are those of the IANA Time Zone Database (RFC 6557, Internet
Engineering Task Force, 2012); what `fold` means is said by PEP 495 (Python Software Foundation,
2015; from memory).
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from uuid import UUID
from zoneinfo import ZoneInfo

from service.kernel.errors import Invalid

#: A week, and a day more for a clock that was put back.
_BACK, _DAY = timedelta(days=8), timedelta(days=1)

_SECOND = timedelta(seconds=1)


class BadRota(Invalid):
    """A rota that does not say one thing about every moment."""

    code = "bad-rota"
    title = "This rota cannot be worked with"


class BadQuietHours(Invalid):
    """Quiet hours that end when they start."""

    code = "bad-quiet-hours"
    title = "These quiet hours cannot be worked with"


@dataclass(frozen=True, slots=True, kw_only=True)
class Handover:
    """Every week, on this day (Monday is 0) at this time, duty goes to this person."""

    weekday: int
    at: time
    person_id: UUID
    second_id: UUID | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StandIn:
    """Somebody else from one moment until another; goes before the weekly rota."""

    starts_at: datetime
    ends_at: datetime
    person_id: UUID
    second_id: UUID | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rota:
    """The weekly handovers, in any order, and the stand-ins."""

    handovers: Sequence[Handover]
    stand_ins: Sequence[StandIn] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Duty:
    """Who is called first, and who when nobody answers."""

    person_id: UUID
    second_id: UUID | None
    stands_in: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """A time, in UTC and without its end, in which the same people are on duty."""

    starts_at: datetime
    ends_at: datetime
    person_id: UUID
    second_id: UUID | None
    stands_in: bool


@dataclass(frozen=True, slots=True)
class QuietHours:
    """From one local time until another, over midnight where it ends before it starts."""

    starts: time
    ends: time

    def __post_init__(self) -> None:
        """Raise BadQuietHours where both are the same: is that a whole day, or nothing?"""
        if self.starts == self.ends:
            raise BadQuietHours(
                "Quiet hours that end when they start say nothing. Choose another end, or switch "
                "them off.",
                errors=[{"field": "ends", "message": "is when they start"}],
            )


def check(rota: Rota) -> None:
    """Raise BadRota unless every handover and every stand-in says one thing."""
    errors = [*_handover_faults(rota.handovers), *_stand_in_faults(rota.stand_ins)]
    if errors:
        raise BadRota(
            f"{errors[0][0]}: {errors[0][1]}.",
            errors=[{"field": field, "message": message} for field, message in errors],
        )


def _handover_faults(handovers: Sequence[Handover]) -> Iterator[tuple[str, str]]:
    seen = set()
    for place, handover in enumerate(handovers):
        name = f"handovers[{place}]"
        if not 0 <= handover.weekday <= 6:
            yield f"{name}.weekday", "is none: Monday is 0, Sunday is 6"
        if handover.at.second or handover.at.microsecond:
            yield f"{name}.at", "must be a whole minute"
        if handover.at.tzinfo is not None:
            yield f"{name}.at", "must be the station's time, without a zone"
        when = handover.weekday, handover.at.hour, handover.at.minute
        if when in seen:
            yield f"{name}.at", "is the time of another handover on that day"
        seen.add(when)
        if handover.second_id == handover.person_id:
            yield f"{name}.second_id", "is the first: name somebody else, or nobody"


def _stand_in_faults(stand_ins: Sequence[StandIn]) -> Iterator[tuple[str, str]]:
    for place, stand_in in enumerate(stand_ins):
        name = f"stand_ins[{place}]"
        if stand_in.starts_at.tzinfo is None or stand_in.ends_at.tzinfo is None:
            yield f"{name}.starts_at", "and the end must say their zone"
        elif stand_in.starts_at.astimezone(UTC) >= stand_in.ends_at.astimezone(UTC):
            yield f"{name}.ends_at", "must be after the start"
        if stand_in.second_id == stand_in.person_id:
            yield f"{name}.second_id", "is the first: name somebody else, or nobody"


def on_duty(rota: Rota, moment: datetime, zone: ZoneInfo) -> Duty | None:
    """Who is on duty at a moment; None only where nobody is in the rota.

    (Without a weekly handover, stand-ins are on duty while they last.)
    """
    return _duty(rota, _weekly(rota, moment, moment, zone), moment.astimezone(UTC))


def shifts(rota: Rota, start: datetime, end: datetime, zone: ZoneInfo) -> list[Shift]:
    """Everybody's shifts from start to end, cut off there: one begins where another ends."""
    start, end = start.astimezone(UTC), end.astimezone(UTC)
    weekly = _weekly(rota, start, end, zone)
    changes = {at for at, _ in weekly}
    for one in rota.stand_ins:
        changes |= {one.starts_at.astimezone(UTC), one.ends_at.astimezone(UTC)}
    inside = sorted(at for at in changes if start < at < end)
    pieces: list[tuple[datetime, datetime, Duty]] = []
    for begins, ends in pairwise([start, *inside, end] if start < end else []):
        duty = _duty(rota, weekly, begins)
        if pieces and pieces[-1][1:] == (begins, duty):
            pieces[-1] = (pieces[-1][0], ends, pieces[-1][2])
        elif duty is not None:
            pieces.append((begins, ends, duty))
    return [
        Shift(
            starts_at=begins,
            ends_at=ends,
            person_id=duty.person_id,
            second_id=duty.second_id,
            stands_in=duty.stands_in,
        )
        for begins, ends, duty in pieces
    ]


def _duty(rota: Rota, weekly: Sequence[tuple[datetime, Handover]], moment: datetime) -> Duty | None:
    """`weekly` goes back to before the moment, and so does every handover."""
    running = [
        one
        for one in rota.stand_ins
        if one.starts_at.astimezone(UTC) <= moment < one.ends_at.astimezone(UTC)
    ]
    if running:
        # Of two that start together, the one further down the list.
        last = max(enumerate(running), key=lambda one: (one[1].starts_at.astimezone(UTC), one[0]))
        return Duty(person_id=last[1].person_id, second_id=last[1].second_id, stands_in=True)
    passed = bisect_right(weekly, moment, key=lambda one: one[0])
    if not passed:
        return None
    handover = weekly[passed - 1][1]
    return Duty(person_id=handover.person_id, second_id=handover.second_id, stands_in=False)


def _weekly(
    rota: Rota, start: datetime, end: datetime, zone: ZoneInfo
) -> list[tuple[datetime, Handover]]:
    """Every weekly handover in its order, from the last before the start until after the end."""
    day, last = start.astimezone(zone).date() - _BACK, end.astimezone(zone).date() + _DAY
    by_time = sorted(rota.handovers, key=lambda handover: handover.at)
    turns = []
    while day <= last:
        turns += [
            (_comes(day, handover.at, zone), handover)
            for handover in by_time
            if handover.weekday == day.weekday()
        ]
        day += _DAY
    return turns


def _comes(day: date, at: time, zone: ZoneInfo) -> datetime:
    """When this local time comes first; where it is skipped, when the clocks jump over it."""
    local = datetime.combine(day, at, tzinfo=zone)
    moment = local.astimezone(UTC)
    if moment.astimezone(zone).replace(tzinfo=None) == local.replace(tzinfo=None):
        return moment
    # Skipped: reckoned by the old offset it lies after the jump, by the new one before it.
    # Clocks jump on whole seconds.
    before = local.replace(fold=1, microsecond=0).astimezone(UTC)
    after = moment.replace(microsecond=0)
    old = before.astimezone(zone).utcoffset()
    while after - before > _SECOND:
        middle = before + (after - before) // 2 // _SECOND * _SECOND
        if middle.astimezone(zone).utcoffset() == old:
            before = middle
        else:
            after = middle
    return after


def next_at(moment: datetime, at: time, zone: ZoneInfo) -> datetime:
    """The next time after this moment that the station's clock shows `at`."""
    day = moment.astimezone(zone).date()
    # The second day, for a clock put back over midnight: tomorrow may have begun already.
    times = (_comes(day + _DAY * ahead, at, zone) for ahead in range(3))
    return next(one for one in times if one > moment)


def last_at(moment: datetime, at: time, zone: ZoneInfo) -> datetime:
    """The latest time, at this moment or before, that the station's clock showed `at`."""
    return _last(moment, at, zone)[0]


def _last(moment: datetime, at: time, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """It, and the local time that it was."""
    day = moment.astimezone(zone).date()
    times = (
        (_comes(day - _DAY * back, at, zone), datetime.combine(day - _DAY * back, at))
        for back in range(-1, 2)
    )
    return next(one for one in times if one[0] <= moment)


def held_until(quiet: QuietHours | None, moment: datetime, zone: ZoneInfo) -> datetime | None:
    """When the quiet ends that it is at this moment; None where it is not quiet."""
    if quiet is None or not _is_quiet(quiet, moment, zone):
        return None
    until = next_at(moment, quiet.ends, zone)
    # A jump of the clocks may skip all that lies between two quiets.
    while _is_quiet(quiet, until, zone):
        until = next_at(until, quiet.ends, zone)
    return until


def _is_quiet(quiet: QuietHours, moment: datetime, zone: ZoneInfo) -> bool:
    """Whether it has begun since it ended; of times skipped together, the later comes later."""
    return _last(moment, quiet.starts, zone) > _last(moment, quiet.ends, zone)
