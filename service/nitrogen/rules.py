"""Decisions about levels and top-ups: what cannot be, and what is kept and questioned.

Pure: no HTTP, no database, no clock. A reading is refused only when it is impossible; a strange one
may be the first sign of a dying tank, so it is kept, and the person is asked to measure again.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from math import hypot
from typing import Literal

from service.bank.rules import Warned
from service.bank.tanks_rules import plain
from service.kernel.errors import Conflict, Invalid, Unknown
from service.nitrogen.calibrated import Dipstick, litres_weighed

Sign = Literal["frost", "sweat", "noise"]
ReadAs = Literal["level_cm", "litres", "weight_kg"]

#: A level is read at least weekly (Equine Reproductive Procedures, Wiley 2014, abstract).
LEVEL_EVERY_DAYS = 7

#: Looking again a moment later takes no sign back; looking on another day does (our own choice).
SAME_VISIT = timedelta(hours=12)

#: A dipstick read twice differs by about 0.5 cm each time (common practice, no source): two
#: readings of one level differ by 2 cm in 1 of 200 cases.
DIPSTICK_ERROR_CM = 0.5
RISE_CM = 2

#: A reading is unlike the others outside of 99.9 % of what the estimate allows, and by this much.
JUMP_CM = 3
_Z_999 = 3.2905
_Z_90 = 1.6449

#: The same figure within this time was probably entered twice.
TWICE_WITHIN = timedelta(minutes=10)

#: Filling a warm tank boils off more than stays in it; more than this is a slip (our own choice).
MOST_TIMES_FILLED = 3

#: No nitrogen tank of a station is older or will be read later; a slip in the year otherwise.
EARLIEST, LATEST = datetime(1950, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)


class UnknownLevel(Unknown):
    """No such level of this tank."""

    code = "unknown-level"
    title = "There is no such level"


class UnknownTopUp(Unknown):
    """No such top-up of this tank."""

    code = "unknown-top-up"
    title = "There is no such top-up"


class AlreadyStruck(Conflict):
    """It does not count any more as it is."""

    code = "already-struck"
    title = "This was struck before"


class ReadOneWay(Invalid):
    """A reading is one figure, in one unit."""

    code = "read-one-way"
    title = "Send one figure"


class ImpossibleLevel(Invalid):
    """No tank can hold this."""

    code = "impossible-level"
    title = "This cannot be in the tank"


class NoEmptyWeight(Invalid):
    """A weight says nothing without the weight of the empty tank."""

    code = "no-empty-weight"
    title = "The tank's empty weight is not known"


class BeyondTime(Invalid):
    """A year in which no such tank stands."""

    code = "beyond-time"
    title = "The year cannot be right"


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """What was read, as it was read."""

    read_as: ReadAs
    amount: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """What is in a tank, by its table."""

    litres: Decimal
    level_cm: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A reading beside the one in question; `filled_between`: a top-up lies between the two."""

    on: date
    level_cm: Decimal
    by: str
    later: bool
    filled_between: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What the estimate from the readings before says for this moment, with its 90 % interval."""

    litres: float
    litres_low: float
    litres_high: float


def content_of(figure: Figure, dipstick: Dipstick, empty_weight_kg: Decimal | None) -> Content:
    """What the tank holds by this figure, whatever it is; below 0 L for a tank too light.

    Raises NoEmptyWeight.
    """
    if figure.read_as == "level_cm":
        return Content(level_cm=figure.amount, litres=dipstick.litres_at(figure.amount))
    litres = figure.amount
    if figure.read_as == "weight_kg":
        if empty_weight_kg is None:
            raise NoEmptyWeight(
                "A weight says how much nitrogen there is only beside the weight of the empty "
                "tank. Enter that in the tank's record, or send level_cm or litres.",
                errors=[{"field": "weight_kg", "message": "the empty weight is not known"}],
            )
        litres = litres_weighed(figure.amount, empty_weight_kg=empty_weight_kg)
    return Content(level_cm=dipstick.level_at(litres), litres=litres)


def possible_content(
    figure: Figure, dipstick: Dipstick, empty_weight_kg: Decimal | None, *, name: str | None = None
) -> Content:
    """What the tank holds by this figure. `name` is the request's name for it.

    Raises ImpossibleLevel, NoEmptyWeight.
    """
    name = name or figure.read_as
    if figure.amount < 0:
        raise _impossible(name, "is negative", f"{name} is below 0. Read it again.")
    content = content_of(figure, dipstick, empty_weight_kg)
    if content.litres < 0:
        raise _impossible(
            name,
            "is less than the empty tank weighs",
            f"The empty tank weighs {plain(empty_weight_kg or Decimal(0))} kg by its record, more "
            "than this. Check the balance and the tank's record.",
        )
    if content.level_cm > dipstick.top_cm or content.litres > dipstick.top_litres:
        raise _impossible(
            name,
            "is above the tank's table",
            f"The tank's table ends at {plain(dipstick.top_cm)} cm, "
            f"{plain(dipstick.top_litres)} L. Read it again; if it is right, put the table right.",
        )
    return content


def _impossible(field: str, message: str, detail: str) -> ImpossibleLevel:
    return ImpossibleLevel(detail, errors=[{"field": field, "message": message}])


def refuse_beyond_time(moment: datetime, field: str) -> None:
    """Raise BeyondTime for a slip in the year."""
    if not EARLIEST <= moment < LATEST:
        raise BeyondTime(
            f"{field} is not between {EARLIEST.year} and {LATEST.year}. Check the year.",
            errors=[{"field": field, "message": "is too long ago or too far ahead"}],
        )


def refuse_flood(litres_added: Decimal, dipstick: Dipstick) -> None:
    """Raise ImpossibleLevel for far more than the tank holds."""
    if litres_added > MOST_TIMES_FILLED * dipstick.top_litres:
        raise _impossible(
            "litres_added",
            "is far more than the tank holds",
            f"The tank holds {plain(dipstick.top_litres)} L. Check the figure.",
        )


def question_level(
    content: Content,
    field: str,
    dipstick: Dipstick,
    *,
    before: Seen | None,
    after: Seen | None,
    expected: Expected | None,
) -> list[Warned]:
    """What is strange about a level: a rise with no top-up, or far off what was to be expected."""
    level, likely = content.level_cm, _level(dipstick, expected)
    # A reading that was wrong the other way makes this one no rise.
    lowest = max((before.level_cm, likely or Decimal(0))) if before else None
    if before and lowest is not None and not before.filled_between and level - lowest >= RISE_CM:
        return [_rise(field, before, level - before.level_cm)]
    if expected is not None and likely is not None and _far(content, dipstick, expected):
        return [_jump(field, level, likely)]
    if after and not after.filled_between and after.level_cm - level >= RISE_CM:
        return [_rise(field, after, after.level_cm - level)]
    return []


def _level(dipstick: Dipstick, expected: Expected | None) -> Decimal | None:
    return None if expected is None else dipstick.level_at(Decimal(expected.litres))


def _far(content: Content, dipstick: Dipstick, expected: Expected) -> bool:
    per_cm = float(dipstick.litres_per_cm(content.level_cm))
    known = (expected.litres_high - expected.litres_low) / 2 / _Z_90
    allowed = max(JUMP_CM * per_cm, _Z_999 * hypot(known, DIPSTICK_ERROR_CM * per_cm))
    return abs(float(content.litres) - expected.litres) > allowed


def _rise(field: str, other: Seen, rise_cm: Decimal) -> Warned:
    which = "The reading after it" if other.later else "The reading before it"
    how = "higher" if other.later else "lower"
    return Warned(
        "rise-without-top-up",
        field,
        f"{which} ({other.by}, {other.on}) is {_cm(rise_cm)} cm {how}, and no top-up "
        "lies between. Measure again; if nitrogen was filled in, enter the top-up.",
    )


def _jump(field: str, level_cm: Decimal, likely_cm: Decimal) -> Warned:
    if level_cm > likely_cm:
        what = "Measure again; if nitrogen was filled in, enter the top-up."
    else:
        what = "Measure again now. If it is right, the tank may be losing its vacuum."
    return Warned(
        "jump",
        field,
        f"By the readings before, the level would be about {_cm(likely_cm)} cm; this is "
        f"{_cm(level_cm)} cm. {what}",
    )


def question_filling(
    content: Content, dipstick: Dipstick, expected: Expected | None
) -> list[Warned]:
    """What is strange about the level after a top-up: it cannot lie below the level before."""
    likely = _level(dipstick, expected)
    if likely is None or likely - content.level_cm < RISE_CM:
        return []
    return [
        Warned(
            "lower-after-top-up",
            "level_after_cm",
            f"By the readings before, there were about {_cm(likely)} cm already. Measure again.",
        )
    ]


def question_amount(
    litres_added: Decimal, dipstick: Dipstick, expected: Expected | None
) -> list[Warned]:
    """What is strange about an amount filled in: more than there was room for."""
    room = float(dipstick.top_litres) - (expected.litres_low if expected else 0)
    if float(litres_added) <= room + RISE_CM * float(dipstick.litres_per_cm(dipstick.top_cm)):
        return []
    return [
        Warned(
            "more-than-it-holds",
            "litres_added",
            f"There was room for about {room:.0f} L. What boils off while filling is not in the "
            "tank: read the level and enter that too.",
        )
    ]


def signs_that_stand(seen: Sequence[tuple[datetime, Sequence[str]]]) -> list[str]:
    """The outward signs of readings in order of time, until somebody on another visit sees none.

    A vacuum does not heal, so they stand however long ago they were seen. The second of two
    readings of one visit says nothing about them.
    """
    if not seen:
        return []
    last = seen[-1][0]
    return sorted({sign for at, signs in seen if at > last - SAME_VISIT for sign in signs})


def overdue(*, last: date, today: date, every_days: int) -> bool:
    """Whether a level should have been read before today: by days, whatever the hour."""
    return (today - last).days > every_days


def entered_twice(field: str, by: str) -> Warned:
    """The same figure came a moment ago."""
    message = f"{by} entered the same a moment ago. If it was meant once, strike one of the two."
    return Warned("entered-twice", field, message)


def _cm(level_cm: Decimal) -> str:
    return f"{level_cm:.1f}".removesuffix(".0")
