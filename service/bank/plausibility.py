"""Which figures of a collection and its straws are unusual, and which cannot be right.

An unusual figure is kept and remarked on; an impossible one is refused, all of them at once. The
limits are our own choice, set round teaching ranges for stallions (30 to 800 million/mL, 60 to
100 mL a collection: common practice, no source). Pure: now is an argument.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal, localcontext
from fractions import Fraction

from service.bank.doses import (
    BatchQuality,
    DoseRule,
    no_dose_reason,
    straws_per_dose,
    straws_per_dose_warnings,
)
from service.bank.rules import Warned
from service.kernel.errors import Invalid

#: Clocks of phones run ahead; an event may claim to be this far in the future.
CLOCK_TOLERANCE = timedelta(minutes=5)

MARKED_AHEAD = timedelta(days=7)


class Implausible(Invalid):
    """At least one figure cannot be right; `errors` has each with its field."""

    code = "implausible"
    title = "A figure cannot be right"


@dataclass(frozen=True, slots=True)
class Impossible:
    """Why one field is refused."""

    field: str
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What one figure may be: outside `usual_*` it is remarked on, outside `possible` refused.

    Zero is possible only where `zero_possible`; below zero nothing is. `if_high` and `if_low` name
    the mix-up of units that most often makes such a figure.
    """

    field: str
    name: str
    unit: str
    usual_from: int
    usual_to: int
    possible_to: int
    zero_possible: bool = False
    if_high: str = ""
    if_low: str = ""


_PERCENT_LOW = "Was a fraction typed for percent?"

COLLECTION_VOLUME = Limits(
    field="collection.volume_ml",
    name="The gel-free volume",
    unit="mL",
    usual_from=10,
    usual_to=150,
    possible_to=300,
    if_high="Was µL typed for mL?",
    if_low="Was L typed for mL?",
)
COLLECTION_CONCENTRATION = Limits(
    field="collection.concentration_million_per_ml",
    name="The collection's concentration",
    unit="million/mL",
    usual_from=30,
    usual_to=800,
    possible_to=2_000,
    if_high="Was sperm/mL typed for million/mL?",
    if_low="Was thousand million/mL typed for million/mL?",
)
COLLECTION_TOTAL = Limits(
    field="collection",
    name="The collection's total (volume × concentration)",
    unit="million",
    usual_from=1_000,
    usual_to=40_000,
    possible_to=100_000,
    if_high="Look at volume and concentration, and at their units.",
    if_low="Look at volume and concentration, and at their units.",
)
FRESH_MOTILITY = Limits(
    field="collection.progressive_motility_percent",
    name="The fresh progressive motility",
    unit="%",
    usual_from=20,
    usual_to=85,
    possible_to=100,
    zero_possible=True,
    if_low=_PERCENT_LOW,
)
STRAW_CONCENTRATION = Limits(
    field="straw.concentration_million_per_ml",
    name="The straws' concentration",
    unit="million/mL",
    usual_from=50,
    usual_to=800,
    possible_to=2_000,
    if_high="Was sperm/mL typed for million/mL?",
    if_low="Was thousand million/mL typed for million/mL?",
)
POST_THAW_MOTILITY = Limits(
    field="post_thaw.progressive_motility_percent",
    name="The post-thaw progressive motility",
    unit="%",
    usual_from=30,
    usual_to=100,
    possible_to=100,
    zero_possible=True,
    if_low=_PERCENT_LOW,
)
#: 75 to 95 % is what centrifuging usually leaves (from memory).
RECOVERY = Limits(
    field="recovery_percent",
    name="The recovery",
    unit="%",
    usual_from=75,
    usual_to=95,
    possible_to=100,
    if_low=_PERCENT_LOW,
)
USUAL_STRAW_VOLUMES_ML = (Fraction(1, 4), Fraction(1, 2))


def weigh(figures: Iterable[tuple[Limits, Fraction]]) -> list[Warned | Impossible]:
    """What there is to say about each figure; nothing about a usual one."""
    said = (_weigh_one(limits, value) for limits, value in figures)
    return [remark for remark in said if remark is not None]


def weigh_straw_volume(
    volume_ml: Fraction, *, field: str = "straw.volume_ml"
) -> list[Warned | Impossible]:
    """Any straw volume above 0 goes; the trade's two sizes go without a remark."""
    stated = f"The straws' volume is {plain(volume_ml)} mL"
    if volume_ml <= 0:
        return [Impossible(field, f"{stated}; it must be above 0.")]
    if volume_ml in USUAL_STRAW_VOLUMES_ML:
        return []
    hint = " Was µL typed for mL?" if volume_ml > 1 else ""
    return [Warned("unusual", field, f"{stated}; usual are 0.25 and 0.5.{hint}")]


def weigh_post_thaw(*, post_thaw_percent: Fraction, fresh_percent: Fraction) -> list[Warned]:
    """Freezing makes nothing swim that did not swim before."""
    if post_thaw_percent <= fresh_percent:
        return []
    return [
        Warned(
            "post-thaw-above-fresh",
            POST_THAW_MOTILITY.field,
            f"The post-thaw motility ({plain(post_thaw_percent)} %) is above the fresh one "
            f"({plain(fresh_percent)} %); freezing does not do that. Look at both again.",
        )
    ]


def weigh_dates(
    *,
    collected_at: datetime,
    frozen_at: datetime,
    now: datetime,
    foaled_on: date | None,
    died_on: date | None,
) -> list[Warned | Impossible]:
    """A collection lies in the past, before its freeze, a year or more after the foaling.

    `collected_at` is aware and in the station's time zone, whose calendar the other dates are in.
    """
    field, day = "collected_at", collected_at.date()
    if collected_at > now + CLOCK_TOLERANCE:
        return [Impossible(field, f"Collected on {day} lies in the future. Correct the time.")]
    if collected_at > frozen_at + CLOCK_TOLERANCE:
        message = "Collected only after it was frozen. Correct collected_at or occurred_at."
        return [Impossible(field, message)]
    return _weigh_life(field, day, foaled_on=foaled_on, died_on=died_on)


def weigh_planned_day(
    *, collected_on: date, today: date, foaled_on: date | None, died_on: date | None
) -> list[Warned | Impossible]:
    """Straws may be marked up to a week before the collection (our choice)."""
    field = "collected_on"
    if collected_on > today + MARKED_AHEAD:
        message = f"Collected on {collected_on} lies too far ahead: straws are marked a week before"
        return [Impossible(field, f"{message} at most. Correct the day, or leave it out.")]
    return _weigh_life(field, collected_on, foaled_on=foaled_on, died_on=died_on)


def weigh_past_day(
    *,
    collected_on: date,
    received_on: date,
    today: date,
    foaled_on: date | None,
    died_on: date | None,
) -> list[Warned | Impossible]:
    """Straws that come in were collected before that day, and a year or more after the foaling."""
    field = "collected_on"
    if collected_on > today:
        message = f"Collected on {collected_on} lies in the future. Correct the day."
        return [Impossible(field, message)]
    if collected_on > received_on:
        message = (
            f"Collected on {collected_on}, but received on {received_on}. Correct one of them."
        )
        return [Impossible(field, message)]
    return _weigh_life(field, collected_on, foaled_on=foaled_on, died_on=died_on)


def _weigh_life(
    field: str, day: date, *, foaled_on: date | None, died_on: date | None
) -> list[Warned | Impossible]:
    """After death semen is still won for a day or so (common practice, no source): a warning."""
    if foaled_on and (day.year - 1, day.month, day.day) < (
        foaled_on.year,
        foaled_on.month,
        foaled_on.day,
    ):
        return [
            Impossible(
                field,
                f"Collected on {day}, but the stallion was foaled on {foaled_on}: not yet a year "
                "old. Correct one of the dates.",
            )
        ]
    if died_on and day > died_on:
        message = f"Collected on {day}, but the stallion died on {died_on}. Look at both again."
        return [Warned("collected-after-death", field, message)]
    return []


def refuse_impossible(remarks: Iterable[Warned | Impossible]) -> list[Warned]:
    """The warnings among `remarks`; raises `Implausible` when anything is impossible."""
    remarks = list(remarks)
    impossible = [remark for remark in remarks if isinstance(remark, Impossible)]
    if impossible:
        raise Implausible(
            " ".join(remark.message for remark in impossible),
            errors=[{"field": remark.field, "message": remark.message} for remark in impossible],
        )
    return [remark for remark in remarks if isinstance(remark, Warned)]


def weigh_incoming(
    *,
    straw_volume_ml: Decimal | None,
    concentration_million_per_ml: Decimal | None,
    post_thaw_percent: Decimal | None,
    collected_on: date | None,
    received_on: date,
    today: date,
    foaled_on: date | None,
    died_on: date | None,
) -> list[Warned | Impossible]:
    """What is odd about straws that were not frozen here, of what is known of them."""
    figures = (
        (STRAW_CONCENTRATION, concentration_million_per_ml),
        (POST_THAW_MOTILITY, post_thaw_percent),
    )
    remarks = weigh((limits, Fraction(amount)) for limits, amount in figures if amount is not None)
    if straw_volume_ml is not None:
        remarks += weigh_straw_volume(Fraction(straw_volume_ml))
    if collected_on is not None:
        remarks += weigh_past_day(
            collected_on=collected_on,
            received_on=received_on,
            today=today,
            foaled_on=foaled_on,
            died_on=died_on,
        )
    return remarks


def remarks_on_doses(rule: DoseRule, quality: BatchQuality, *, straws: int) -> list[Warned]:
    """What there is to say about the doses that so many straws make."""
    if reason := no_dose_reason(rule, quality):
        unknown = quality.post_thaw_percent is None
        return [
            Warned(
                "no-post-thaw" if unknown else "below-dose-rule",
                "post_thaw" if unknown else POST_THAW_MOTILITY.field,
                f"This batch makes no doses: {reason}.",
            )
        ]
    per_dose = straws_per_dose(rule, quality)
    assert per_dose is not None  # or there would have been a reason
    remarks = [
        Warned("many-straws-per-dose", "dose_rule", message)
        for message in straws_per_dose_warnings(per_dose)
    ]
    if straws < per_dose:
        message = f"The straws are not enough for one dose of {per_dose}."
        remarks.append(Warned("no-whole-dose", "straw", message))
    return remarks


def plain(value: Fraction) -> str:
    """A figure inside a sentence: decimal, at most 12 significant digits, no exponent."""
    with localcontext(prec=12):
        decimal = (Decimal(value.numerator) / Decimal(value.denominator)).normalize()
    return format(decimal, "f")


def _weigh_one(limits: Limits, value: Fraction) -> Warned | Impossible | None:
    stated = f"{limits.name} is {plain(value)} {limits.unit}"
    if value < 0 or (value == 0 and not limits.zero_possible):
        lowest = "at least 0" if limits.zero_possible else "above 0"
        return Impossible(limits.field, f"{stated}; it must be {lowest}.")
    if value > limits.possible_to:
        message = f"{stated}; at most {limits.possible_to} is possible. {limits.if_high}"
        return Impossible(limits.field, message.rstrip())
    if limits.usual_from <= value <= limits.usual_to:
        return None
    hint = limits.if_high if value > limits.usual_to else limits.if_low
    message = f"{stated}; usual is {limits.usual_from} to {limits.usual_to}. {hint}"
    return Warned("unusual", limits.field, message.rstrip())
