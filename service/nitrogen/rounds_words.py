"""What is said about a round: why a tank is filled, what to look at, what a missed visit changes.

Pure.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from service.nitrogen.rounds import Fill, Visit, can_be_kept
from service.nitrogen.rounds_schedule import Schedule
from service.nitrogen.rounds_supply import Shortage

_FAILING = (
    "Failing: fill it today and move its straws to another tank. A vacuum is lost within hours; "
    "the plan takes the loss to stay as it is."
)
_STILL_FAILING = "Failing: only if its straws are still in it, and it loses no more than today."
_UNREAD = "Nobody has read it, so it is taken to be at its minimum. Read it before you fill it."


@dataclass(frozen=True, slots=True)
class PlanWarning:
    """Something to look at before relying on the plan."""

    code: str
    tank_id: UUID | None
    message: str


@dataclass(frozen=True, slots=True)
class Missed:
    """A tank that a missed visit leaves unfilled.

    From `may_reach_on` on it is not above its minimum with the plan's confidence any more;
    `reaches_on` is likely.
    """

    fill: Fill
    may_reach_on: date
    reaches_on: date | None


def day_words(on: date) -> str:
    """A day in a sentence: `Sun 3 May`."""
    return f"{on:%a} {on.day} {on:%b}"


def reason(fill: Fill, visit: Visit, schedule: Schedule) -> str:
    """Why a tank is filled on this visit."""
    cause = fill.need.cause
    if cause == "failing":
        return _FAILING if visit.day == 0 else f"{_STILL_FAILING} {_due(fill, schedule)}"
    if cause == "unread" and visit.day == 0:
        return _UNREAD
    told = {
        "unread": "Nobody has read it: planned by twice its rated loss. ",
        "by-rating": "Too little was read: planned by twice its rated loss. ",
        "rising": "Its loss is rising. ",
    }
    return told.get(cause, "") + _due(fill, schedule)


def _due(fill: Fill, schedule: Schedule) -> str:
    sure = f"{schedule.plan.confidence_percent:f} %"
    if fill.last_day is None:
        return "It is filled with the others."
    if fill.last_day < 0:
        return f"That it is above its minimum cannot be said with {sure} any more."
    words = f"Above its minimum until {day_words(schedule.on(fill.last_day))} with {sure}"
    if fill.likely_last_day is None:
        return f"{words}."
    return f"{words}, likely until {day_words(schedule.on(fill.likely_last_day))}."


def missed(visit: Visit, schedule: Schedule) -> list[Missed]:
    """Which tanks reach their minimum when this visit is missed, and when."""
    return [
        Missed(
            fill,
            schedule.on(max(fill.last_day + 1, 0)),
            None if fill.likely_last_day is None else schedule.on(max(fill.likely_last_day + 1, 0)),
        )
        for fill in visit.fills
        if fill.last_day is not None
    ]


def missed_words(found: Sequence[Missed], following: date | None) -> str:
    """What a missed visit changes, in a sentence; `following` is the next visit."""
    if not found:
        return "No tank reaches its minimum."
    first = min(found, key=lambda one: one.may_reach_on)
    words = f"{first.fill.need.tank_name} may reach its minimum on {day_words(first.may_reach_on)}"
    if first.reaches_on is not None:
        words += f" and likely does on {day_words(first.reaches_on)}"
    if following is None:
        return f"{words}; no later visit is planned in these days."
    return f"{words}; the next visit is on {day_words(following)}."


def warnings(schedule: Schedule) -> list[PlanWarning]:
    """What is to be looked at before relying on the plan, the worst first."""
    return [*_of_tanks(schedule), *_of_visits(schedule), *_of_supply(schedule)]


def _of_tanks(schedule: Schedule) -> Iterator[PlanWarning]:
    told = {
        "failing": _FAILING,
        "unread": _UNREAD,
        "by-rating": "Too little was read of it: it is planned by twice its rated loss.",
    }
    for need in schedule.needs:
        if not can_be_kept(need, confidence=schedule.confidence):
            message = "Full, it does not last a day: no round can keep it. Move its straws now."
            yield PlanWarning("cannot-be-kept", need.tank_id, f"{need.tank_name}: {message}")
        elif need.cause in told:
            yield PlanWarning(need.cause, need.tank_id, f"{need.tank_name}: {told[need.cause]}")


def _of_visits(schedule: Schedule) -> Iterator[PlanWarning]:
    for visit in schedule.visits:
        if not visit.fill_day:
            names = ", ".join(fill.need.tank_name for fill in visit.fills)
            message = (
                f"{day_words(schedule.on(visit.day))} is no fill day, but not all of these can "
                f"wait for one: {names}."
            )
            yield PlanWarning("no-fill-day", None, message)


def _of_supply(schedule: Schedule) -> Iterator[PlanWarning]:
    if schedule.supply_course is None:
        message = (
            "What is in the supply vessel is not known: whether it lasts cannot be said. Enter its "
            "content in the plan."
        )
        yield PlanWarning("supply-unknown", None, message)
        return
    for shortage in schedule.supply_course.shortages:
        yield PlanWarning("supply-short", None, shortage_words(shortage))


def shortage_words(shortage: Shortage) -> str:
    """What the supply vessel lacks, and by when."""
    words = (
        f"The supply vessel lacks {shortage.litres:.0f} L on {day_words(shortage.on)}: a delivery "
        "must come by then. What boils off while filling comes on top."
    )
    if shortage.late_delivery_on is None:
        return words
    return f"{words} The delivery of {day_words(shortage.late_delivery_on)} comes too late."
