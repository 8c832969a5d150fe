"""When a move, a gift or a dispatch is refused, what is asked about it, how long nitrogen holds.

Pure: no HTTP, no database, no clock.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from service.bank.clearance import SOURCE, Clearance
from service.bank.rules import Warned
from service.kernel.errors import Conflict, Invalid, Unknown

#: Above this a maker's holding time is asked about. Dry shippers hold one to three weeks (farm
#: press, 2021, second-hand); the largest are said to reach a month.
USUAL_HOLDING_DAYS = 30

#: Longer than any shipper, and short enough for a calendar.
LONGEST_HOLDING_DAYS = 1_000

#: Clocks of phones differ by so much.
CLOCK_TOLERANCE = timedelta(minutes=5)


class AlreadyThere(Invalid):
    """A move to where the straws stand."""

    code = "already-there"
    title = "These straws stand there already"


class OwnedAlready(Invalid):
    """Straws given to whom they belong."""

    code = "owned-already"
    title = "These straws belong there already"


class UnknownDispatch(Unknown):
    """No dispatch has this id."""

    code = "unknown-dispatch"
    title = "There is no such dispatch"


class DispatchTakenBack(Conflict):
    """A seal for a dispatch that was taken back."""

    code = "taken-back"
    title = "This dispatch was taken back"


class SameSeal(Conflict):
    """A seal replaced by itself."""

    code = "same-seal"
    title = "This seal is on it already"


class NotYet(Invalid):
    """A container filled, or a seal put on, in the future."""

    code = "in-the-future"
    title = "This lies in the future"


class WhichHolding(Invalid):
    """Neither or both of a maker's days and two weights, or weights that cannot be."""

    code = "which-holding"
    title = "From this no holding time follows"


@dataclass(frozen=True, slots=True)
class Holding:
    """How long a dry shipper stays cold, reckoned: nobody measured it.

    `holds_until` believes the maker's days in full, `cautious_until` half of them.
    """

    days_rated: Fraction
    filled_at: datetime
    holds_until: datetime
    cautious_until: datetime


#: What the two days of `Holding` rest on.
ASSUMPTION = (
    "Reckoned from the maker's static holding time, which is for a vessel that stands upright, was "
    "filled until it took no more, and stays closed. The cautious day is half of that: our own "
    "rule. We found no published figure for what opening, tilting and shaking on a journey cost."
)

#: What a person with a dry shipper in hand has to know, in our own words.
CAUTIONS = (
    "This is a reckoning and no measurement. Weigh the shipper when it is filled and again on the "
    "way: its weight says how much nitrogen is left.",
    "Pour out what is still liquid before it leaves. A dry shipper without free liquid, however it "
    "is turned, is not regulated as dangerous goods on the road in the US (US DOT PHMSA, "
    "interpretation 01-0038, 2001); ask your carrier about its own rules, in the air above all.",
    "Keep it upright and strapped, and the vehicle aired: nitrogen pushes the oxygen out. Never "
    "share a lift with it.",
    "Never close a vessel that boils off gas.",
)


def holding(*, days_rated: Fraction, filled_at: datetime) -> Holding:
    """Until when a shipper filled then holds: days from the moment it was filled."""
    return Holding(
        days_rated=days_rated,
        filled_at=filled_at,
        holds_until=filled_at + _days(days_rated),
        cautious_until=filled_at + _days(days_rated / 2),
    )


def _days(days: Fraction) -> timedelta:
    """Down to the second: never longer than reckoned."""
    return timedelta(seconds=int(days * 86_400))


def holding_days(*, absorbed_kg: Decimal, loss_kg_per_day: Decimal) -> Fraction:
    """Days that the nitrogen in a dry shipper lasts: what it took up by what it loses a day.

    Practice guidance, no published standard; the loss is weighed on the shipper at rest.
    """
    return Fraction(absorbed_kg) / Fraction(loss_kg_per_day)


def reckoned_days(
    *, rated: Decimal | None, absorbed_kg: Decimal | None, loss_kg_per_day: Decimal | None
) -> Fraction:
    """The days of a shipper by its maker or by its weights.

    Raises WhichHolding for neither, both, one weight alone, or more days than can be.
    """
    if rated is not None and absorbed_kg is None and loss_kg_per_day is None:
        return Fraction(rated)
    if rated is None and absorbed_kg is not None and loss_kg_per_day is not None:
        days = holding_days(absorbed_kg=absorbed_kg, loss_kg_per_day=loss_kg_per_day)
        if days <= LONGEST_HOLDING_DAYS:
            return days
        raise WhichHolding("By these weights it would hold for years. Read the scales again.")
    raise WhichHolding(
        "Send either holding_days_rated, or both absorbed_kg and loss_kg_per_day.",
        errors=[{"field": "holding_days_rated", "message": "send the days or both weights"}],
    )


def refuse_future(moment: datetime | None, *, field: str, now: datetime) -> None:
    """Raise NotYet for a moment that lies ahead."""
    if moment is not None and moment > now + CLOCK_TOLERANCE:
        raise NotYet(
            f"{field} lies in the future. Check the time.",
            errors=[{"field": field, "message": "lies in the future"}],
            now=now,
        )


def weigh_health(code: str, clearance: Clearance) -> list[Warned]:
    """What a batch lacks to leave by the station's own settings: days in store, tests.

    Days count from collection, and the last of them is enough. Straws that are fresh or untested
    may go where nobody asks for either, so this is told and never refused.
    """
    found = []
    if not clearance.days_full:
        message = f"Batch {code}: {clearance.days_said} ({SOURCE}.)"
        found.append(Warned("days-in-store", "occurred_at", message))
    for kind, words, tests in (
        ("test-positive", "positive", clearance.positive_tests),
        ("test-pending", "not answered yet", clearance.pending_tests),
        ("test-missing", "not recorded", clearance.missing_tests),
    ):
        if tests:
            message = f"Batch {code}: {', '.join(tests)} {words}."
            found.append(Warned(kind, "picks", message))
    return found


def weigh_marks(code: str, missing: list[str]) -> list[Warned]:
    """What a straw's mark must let one establish, and the book does not know.

    Date of collection, identity of the donor, approval number of the place of collection:
    Delegated Regulation (EU) 2020/686, Article 10 (OJ L 174, 2020).
    """
    if not missing:
        return []
    message = f"Batch {code}: the book does not know {', '.join(missing)}. Read the straws."
    return [Warned("marks-missing", "picks", message)]


def weigh_owned(straws: int, owners: list[str]) -> list[Warned]:
    """Straws of somebody that go along, though nobody was named."""
    if not straws:
        return []
    message = f"{straws} of these straws belong to {', '.join(owners)}. Do they know?"
    return [Warned("owned-by-another", "picks", message)]


def weigh_container(held: Holding | None, *, sealed: bool, leaves_at: datetime) -> list[Warned]:
    """What is odd about the container.

    That it travels sealed and numbered: Delegated Regulation (EU) 2020/686, Articles 27 and 28.
    """
    found = []
    if not sealed:
        message = "No seal number. Between states the container travels sealed and numbered."
        found.append(Warned("seal-missing", "seal_number", message))
    if held is None:
        return found
    if held.days_rated > USUAL_HOLDING_DAYS:
        message = f"More than {USUAL_HOLDING_DAYS} days are unusually long for a dry shipper."
        found.append(Warned("unusual-holding", "holding_days_rated", message))
    if held.cautious_until <= leaves_at:
        message = "By the cautious reckoning its nitrogen is gone before it leaves. Fill it again."
        found.append(Warned("holding-over", "filled_at", message))
    return found
