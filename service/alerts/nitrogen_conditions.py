"""What may be wrong with the nitrogen: measured, losing, not read, to be filled."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from sqlmodel import Session

from service.alerts.rules import Finding, Subject
from service.bank.search import tanks_in_use
from service.nitrogen import states
from service.nitrogen.rounds import Fill, Visit
from service.nitrogen.rounds_schedule import Schedule, schedule_of
from service.nitrogen.rounds_words import day_words
from service.nitrogen.shown import at_a_glance, house_of
from service.nitrogen.states import TankState
from service.nitrogen.wire import AtAGlance

#: A level is well again so far above its limit: 2 % of the range (EEMUA 191, second-hand) or 1 cm.
_BAND_SHARE, _BAND_CM = Decimal("0.02"), Decimal(1)

#: At half of the minimum level straws may have stood above the liquid (our own choice).
_DRY_SHARE = Decimal("0.5")

#: A visit that is further away says nothing about today.
_LOOK_AHEAD_DAYS = 14


@dataclass(frozen=True, slots=True)
class Mark:
    """A level that is known: read, or what a top-up left."""

    at: datetime
    level_cm: Decimal
    filled: bool


def find(db: Session, now: datetime) -> Iterator[Finding]:
    """Everything that is wrong with the nitrogen now."""
    found = states.states_of(db, tanks_in_use(db), now=now)
    house = house_of(db)
    for state in found:
        glance = at_a_glance(state, house)
        subject = _subject(state)
        yield from _low(state, subject)
        yield from _losing(glance, state, subject)
        if glance.reading_overdue:
            yield _overdue(glance, subject)
    schedule = schedule_of(db, now=now, days=_LOOK_AHEAD_DAYS, found=found)
    yield from _to_fill(schedule, {state.tank.id: _subject(state) for state in found})


def _subject(state: TankState) -> Subject:
    return Subject("tank", str(state.tank.id), state.tank.name)


def _low(state: TankState, subject: Subject) -> Iterator[Finding]:
    minimum = state.tank.minimum_level_cm
    known = marks(state)
    standing = low(known, minimum_cm=minimum, top_cm=state.dipstick.top_cm)
    if standing is None:
        return
    last = known[-1]
    yield Finding(
        kind="low-nitrogen",
        subject=subject,
        priority="critical",
        words=f"{subject.name} stands at {_cm(last.level_cm)}, its minimum is {_cm(minimum)}.",
        facts={
            "level_cm": float(last.level_cm),
            "minimum_level_cm": float(minimum),
            "litres": float(state.dipstick.litres_at(last.level_cm)),
            "minimum_litres": float(state.minimum_litres),
            "measured_at": last.at.isoformat(),
            "loss_litres_per_day": state.estimate.loss_litres_per_day,
        },
        opens=standing,
        inspect=last.level_cm <= minimum * _DRY_SHARE,
    )


def marks(state: TankState) -> list[Mark]:
    """The levels of a tank that are known, oldest first."""
    read = [
        Mark(level.at, max(content.level_cm, Decimal(0)), filled=False)
        for level in state.series.levels
        if (content := states.content_by(state.tank, state.dipstick, level.figure)) is not None
    ]
    known = list(read)
    for filling in state.series.fillings:
        level_cm = filling.level_after_cm
        if level_cm is None:
            before = [one for one in read if one.at <= filling.at]
            if not before:
                continue
            litres = state.dipstick.litres_at(before[-1].level_cm) + (filling.litres_added or 0)
            level_cm = state.dipstick.level_at(litres)
        known.append(Mark(filling.at, level_cm, filled=True))
    return sorted(known, key=lambda one: one.at)


def low(known: Sequence[Mark], *, minimum_cm: Decimal, top_cm: Decimal) -> bool | None:
    """Whether the last level is below the minimum; None when the tank is well again.

    False lies between: it opens nothing, and what is open stays. Well again are two readings in a
    row, or a top-up, that stand clear of the minimum by the band: a single reading that jumps over
    it is noise.
    """
    if not known:
        return None
    last = known[-1]
    if last.level_cm < minimum_cm:
        return True
    clear = min(minimum_cm + max(_BAND_SHARE * top_cm, _BAND_CM), max(top_cm, minimum_cm))
    if last.filled and last.level_cm >= clear:
        return None
    return None if all(one.level_cm >= clear for one in known[-2:]) else False


def _losing(glance: AtAGlance, state: TankState, subject: Subject) -> Iterator[Finding]:
    if glance.state not in ("failing", "rising"):
        return
    failing = glance.state == "failing"
    found = state.estimate
    yield Finding(
        kind="nitrogen-loss-rising",
        subject=subject,
        priority="critical" if failing else "medium",
        words=f"{subject.name} {'is failing' if failing else 'loses more than before'}"
        f"{_ends(glance)}. {glance.why}",
        facts={
            "state": glance.state,
            "loss_litres_per_day": found.loss_litres_per_day,
            "settled_loss_litres_per_day": found.settled_loss,
            "rated_loss_litres_per_day": float(state.tank.rated_loss_litres_per_day),
            "signs": glance.signs,
            "litres": glance.litres,
            "reaches_minimum_on": _iso(glance.reaches_minimum_on),
            "reaches_minimum_earliest_on": _iso(glance.reaches_minimum_earliest_on),
        },
    )


def _ends(glance: AtAGlance) -> str:
    if glance.litres is None or glance.reaches_minimum_earliest_on is None:
        return ""
    on = day_words(glance.reaches_minimum_earliest_on)
    return f": {glance.litres:.0f} L are left, its minimum may come on {on}"


def _overdue(glance: AtAGlance, subject: Subject) -> Finding:
    if glance.last_read_at is None:
        words = f"{subject.name} has never been read."
    else:
        words = f"{subject.name} was last read on {day_words(glance.last_read_at.date())}."
    last = glance.last_read_at and glance.last_read_at.isoformat()
    return Finding(
        kind="level-overdue",
        subject=subject,
        priority="medium",
        words=words,
        facts={"last_read_at": last},
    )


def _to_fill(schedule: Schedule, subjects: dict[object, Subject]) -> Iterator[Finding]:
    """Tanks that cannot wait for the next day of filling after today, or for any."""
    next_fill_day = _next_fill_day(schedule)
    seen = set()
    for visit in schedule.visits:
        for fill in visit.fills:
            subject = subjects[fill.need.tank_id]
            if subject in seen or fill.need.cause == "unread":
                continue
            seen.add(subject)
            if not visit.fill_day:
                yield _cannot_wait(fill, visit, schedule, subject)
            # Others are filled today because somebody is there anyway: that can wait.
            if visit.day == 0 and fill.last_day is not None and fill.last_day < next_fill_day:
                yield _due_today(fill, visit, schedule, subject)


def _next_fill_day(schedule: Schedule) -> int:
    weekdays = set(schedule.plan.fill_weekdays)
    coming = (day for day in range(1, 8) if schedule.on(day).weekday() in weekdays)
    return next(coming, schedule.days)


def _due_today(fill: Fill, visit: Visit, schedule: Schedule, subject: Subject) -> Finding:
    return Finding(
        kind="top-up-due",
        subject=subject,
        priority="low",
        words=f"{subject.name} is to be topped up today: about {fill.litres:.0f} L.",
        facts=_fill_facts(fill, visit, schedule),
    )


def _cannot_wait(fill: Fill, visit: Visit, schedule: Schedule, subject: Subject) -> Finding:
    on = day_words(schedule.on(visit.day))
    return Finding(
        kind="minimum-before-top-up",
        subject=subject,
        priority="medium",
        words=f"{subject.name} may reach its minimum before the next day of filling: it has to be "
        f"filled by {on}.",
        facts=_fill_facts(fill, visit, schedule),
    )


def _fill_facts(fill: Fill, visit: Visit, schedule: Schedule) -> dict[str, object]:
    return {
        "fill_by": schedule.on(visit.day).isoformat(),
        "litres_to_fill": fill.litres,
        "minimum_litres": fill.need.minimum_litres,
    }


def _iso(day: object) -> str | None:
    return None if day is None else str(day)


def _cm(level_cm: Decimal) -> str:
    return f"{level_cm:.1f}".removesuffix(".0") + " cm"
