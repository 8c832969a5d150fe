"""What may exist: the bank's refusals and warnings, and its decisions about horses.

Those about tanks are in `tanks_rules`. Pure: no HTTP, no database, no clock.
"""

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from service.bank import clearance
from service.bank.doses import DoseRule, SpermRule, StrawsRule, rule_warnings
from service.kernel.errors import Conflict, Forbidden, Invalid, Unknown

Tier = Literal["upper", "lower"]
LevelUnit = Literal["cm", "litres", "kg"]
LabelStyle = Literal["strip", "flag"]
StripForm = Literal["band", "wrap"]
PrinterDpi = Literal[203, 300, 600]

#: How a date may be written on a straw: Commission Implementing Regulation (EU) 2020/999, Annex
#: (OJ L 221, 2020). It also permits a count of days since a fixed date, under conditions that this
#: book does not know to be met; that one is not offered.
MarkDateFormat = Literal["ddmmyy", "yymmdd", "dd/mm/yy", "yy/mm/dd", "dd.mm.yy", "yy.mm.dd"]


#: Days from the day of collection until straws may leave the station: Directive 92/65/EEC, Annex D,
#: as amended by Regulation (EU) 176/2010, from memory. A setting of the station.
DAYS_IN_STORE = 30

#: What a stallion is tested for until then (equine infectious anaemia, viral arteritis, contagious
#: metritis): same source, from memory. A setting of the station.
REQUIRED_TESTS = ("EIA", "EVA", "CEM")


class UnknownTank(Unknown):
    """No tank has this id."""

    code = "unknown-tank"
    title = "There is no such tank"


class UnknownRoom(Unknown):
    """No room has this id."""

    code = "unknown-room"
    title = "There is no such room"


class UnknownStallion(Unknown):
    """No stallion has this id."""

    code = "unknown-stallion"
    title = "There is no such stallion"


class UnknownMare(Unknown):
    """No mare has this id."""

    code = "unknown-mare"
    title = "There is no such mare"


class BadTimeZone(Invalid):
    """Not a time zone of the IANA data base."""

    code = "bad-time-zone"
    title = "This is not a time zone"


class SameTestTwice(Invalid):
    """A test that is asked for twice."""

    code = "same-test-twice"
    title = "A test is named twice"


class SameMarkTwice(Invalid):
    """A mark that is asked for twice."""

    code = "same-mark-twice"
    title = "A mark is named twice"


class BadCalibration(Invalid):
    """A dipstick table that cannot be right."""

    code = "bad-calibration"
    title = "The calibration cannot be right"


class BadLayout(Invalid):
    """A layout that no tank has."""

    code = "bad-layout"
    title = "The layout cannot be right"


class BadAddress(Invalid):
    """An address that cannot stand on a plate."""

    code = "bad-address"
    title = "This cannot be an address"


class NameTaken(Conflict):
    """A tank in use has this name already."""

    code = "name-taken"
    title = "Another tank has this name"


class AddressTaken(Conflict):
    """A goblet in use has this address already."""

    code = "address-taken"
    title = "Another goblet has this address"


class TankRetired(Conflict):
    """A tank that is no longer in use."""

    code = "tank-retired"
    title = "This tank is no longer in use"


class AlreadyKnown(Conflict):
    """An identity number that another stallion bears."""

    code = "already-known"
    title = "A stallion with this number is already in the book"


class BadDates(Invalid):
    """Days of birth and death that cannot be right."""

    code = "bad-dates"
    title = "A date cannot be right"


class ReserveIsManagers(Forbidden):
    """The last doses were to be given up by someone who may not."""

    code = "reserve-reached"
    title = "Only a manager gives up reserved doses"


@dataclass(frozen=True, slots=True)
class Warned:
    """Something to look at again; the record is kept. `field` is the request's own name for it."""

    code: str
    field: str
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleAmounts:
    """A dose rule as it was asked for: either `straws`, or the other two."""

    straws: int | None = None
    progressive_million: Decimal | None = None
    minimum_post_thaw_percent: Decimal | None = None

    def rule(self) -> DoseRule:
        """As doses are counted by it."""
        if self.straws is not None:
            return StrawsRule(self.straws)
        return SpermRule(
            Fraction(self.progressive_million or 0), Fraction(self.minimum_post_thaw_percent or 0)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class NewStallion:
    """A stallion to be entered; numbers in any spelling."""

    name: str
    dose_rule: RuleAmounts
    ueln: str | None = None
    microchip: str | None = None
    breed: str | None = None
    foaled_on: date | None = None
    died_on: date | None = None
    owner: str | None = None
    straw_colour: str | None = None
    low_stock_doses: int | None = None
    reserve_doses: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class NewMare:
    """A mare to be entered; the number in any spelling."""

    name: str
    ueln: str | None = None
    owner: str | None = None


_NOT_TAKEN_APART = str.maketrans(
    {"ø": "o", "đ": "d", "ð": "d", "ł": "l", "þ": "th", "ħ": "h", "ı": "i", "æ": "ae", "œ": "oe"}
)


def folded(text: str) -> str:
    """A name as it is compared, sorted and searched: case, accents and spacing do not count.

    Done here and kept beside the name, because engines disagree: SQLite folds the case of A to Z
    only, PostgreSQL as its locale says. Letters of other scripts and pictures stay as they are.
    """
    apart = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", text).casefold())
    kept = "".join(
        sign
        for sign in apart
        if not unicodedata.combining(sign) and unicodedata.category(sign) not in ("Cc", "Cf")
    )
    return " ".join(kept.translate(_NOT_TAKEN_APART).split())


def refuse_impossible_life(*, foaled_on: date | None, died_on: date | None, today: date) -> None:
    """Raise BadDates for a birth or death to come, or a death before the birth."""
    errors = []
    for field, day in (("foaled_on", foaled_on), ("died_on", died_on)):
        if day is not None and day > today:
            errors.append((field, "lies in the future"))
    if foaled_on is not None and died_on is not None and died_on < foaled_on:
        errors.append(("died_on", "lies before foaled_on"))
    if errors:
        raise BadDates(
            f"{errors[0][0]} {errors[0][1]}. Copy it from the passport again.",
            errors=[{"field": field, "message": message} for field, message in errors],
        )


def weigh_stallion(
    *,
    ueln: str | None,
    namesake: bool,
    foaled_on: date | None,
    last_day: date,
) -> list[Warned]:
    """What is unusual about a stallion; `last_day` is that of death, or today.

    A horse of 45 years is beyond nearly every record (common practice, no source).
    """
    warnings = []
    if ueln is None:
        message = "Without a UELN the straws' marks do not name the stallion for good."
        warnings.append(Warned("ueln-missing", "ueln", message))
    if namesake:
        message = "Another stallion has the same name. Go by the identity number."
        warnings.append(Warned("same-name", "name", message))
    if foaled_on is not None and (last_day - foaled_on).days > 45 * 366:
        message = "By foaled_on he grew older than 45. Was the year mistyped?"
        warnings.append(Warned("unusual-age", "foaled_on", message))
    return warnings


def weigh_mare(same_number: Sequence[str]) -> list[Warned]:
    """What is unusual about a mare; `same_number` are the names of others with her UELN."""
    if not same_number:
        return []
    message = f"{same_number[0]} has the same UELN. Is she one and the same mare?"
    return [Warned("same-ueln", "ueln", message)]


def weigh_dose_rule(rule: DoseRule) -> list[Warned]:
    """What is unusual about a dose rule. Standards ask for 200 to 1,000 million motile sperm."""
    messages = list(rule_warnings(rule))
    if isinstance(rule, StrawsRule):
        if not messages and rule.straws > 12:
            messages.append(f"A dose of {rule.straws} straws; 1 to 12 are common. Please check.")
    elif rule.progressive_million > 2000:
        messages.append("More than 2,000 million for one dose. Were sperm typed for millions?")
    return [Warned("unusual-dose-rule", "dose_rule", message) for message in messages]


def refuse_lower_reserve(*, reserve_doses: int, now_reserved: int, manager: bool) -> None:
    """Raise ReserveIsManagers when anyone else lowers a reserve: that gives up last doses."""
    if reserve_doses < now_reserved and not manager:
        raise ReserveIsManagers(
            f"{now_reserved} doses are reserved; only a manager lowers that. Ask one.",
            reserve_doses=now_reserved,
        )


def refuse_same_test_twice(tests: Sequence[str]) -> None:
    """Raise SameTestTwice for a list that names a test twice, however it is spelled."""
    seen: set[str] = set()
    for test in tests:
        if clearance.folded(test) in seen:
            raise SameTestTwice(
                f"{test} is named twice. Name each test once.",
                errors=[{"field": "required_tests", "message": f"names {test} twice"}],
            )
        seen.add(clearance.folded(test))


def refuse_same_mark_twice(marks: Sequence[str]) -> None:
    """Raise SameMarkTwice for a list that names a mark twice."""
    if len(set(marks)) < len(marks):
        raise SameMarkTwice(
            "Name each mark once.",
            errors=[{"field": "required_marks", "message": "names a mark twice"}],
        )
