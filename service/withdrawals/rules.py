"""When a withdrawal is refused, in words that say what to do."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from service.bank.doses import (
    DoseRule,
    Judgement,
    StrawsRule,
)
from service.kernel.errors import Conflict, Forbidden, Invalid, Unknown
from service.ledger.rules import ReserveReached

#: Places from which no straw comes back.
ENDED = frozenset({"used", "discarded"})


class Promised(Conflict):
    """Doses that are promised to somebody else."""

    code = "promised"
    title = "These doses are promised"


class PromisedToWhom(Invalid):
    """Neither or both of a mare and an owner."""

    code = "promised-to-whom"
    title = "Say to whom"


class PromiseOver(Invalid):
    """A promise whose day is past."""

    code = "promise-over"
    title = "This promise would be over already"


class PromiseEnded(Conflict):
    """A promise that was ended before."""

    code = "promise-ended"
    title = "This promise was ended already"


class UnknownPromise(Unknown):
    """There is no such promise."""

    code = "unknown-promise"
    title = "There is no such promise"


class WrongStallion(Invalid):
    """A straw of another stallion."""

    code = "wrong-stallion"
    title = "A straw of another stallion"


class BelowDoseRule(Invalid):
    """Too little for the doses meant."""

    code = "below-dose-rule"
    title = "Too few straws for this dose"


class AboveDoseRule(Invalid):
    """More than the doses meant need."""

    code = "above-dose-rule"
    title = "More straws than this dose needs"


class NotYours(Forbidden):
    """An override or a release that this role may not give."""

    code = "forbidden"
    title = "Your role does not allow this"


class NameTheMare(Invalid):
    """Neither or both of a known and a new mare."""

    code = "name-the-mare"
    title = "Say which mare"


class MayHaveThawed(Invalid):
    """Straws that may have left the nitrogen never go back."""

    code = "may-have-thawed"
    title = "What may have thawed does not go back"


class AlreadyUsed(Conflict):
    """Straws that were used or discarded."""

    code = "already-used"
    title = "These straws were used or discarded"


class NothingUsed(Invalid):
    """An insemination without a straw."""

    code = "nothing-used"
    title = "No straw was used"


class CardNotDrawn(Invalid):
    """A card with words that cannot be printed."""

    code = "card-not-drawn"
    title = "This card cannot be printed"


class WhichStraws(Invalid):
    """Straws of several batches are out; a number alone does not say which."""

    code = "which-straws"
    title = "Say which straws"


class TooFewLifted(Conflict):
    """More straws than are still out."""

    code = "not-enough-straws"
    title = "Fewer straws are out"


#: Clocks of phones differ by so much; times are believed within it.
CLOCK_TOLERANCE = timedelta(minutes=5)


class BeforeWithdrawal(Invalid):
    """An insemination said to have happened before its straws were lifted."""

    code = "before-what-it-follows"
    title = "This is said to have happened too early"


class LaterThanNow(Invalid):
    """An insemination that has not happened yet."""

    code = "in-the-future"
    title = "This lies in the future"


class WrongDay(Invalid):
    """A day that cannot be."""

    code = "wrong-day"
    title = "This day cannot be right"


def refuse_wrong_dose(judgement: Judgement, override_reason: str | None) -> None:
    """Raise BelowDoseRule or AboveDoseRule, unless somebody who may gave a reason."""
    if override_reason is not None:
        return
    facts = {
        "straws": judgement.straws,
        "doses": judgement.doses,
        "doses_met": judgement.doses_met,
        "progressive_million": judgement.progressive_million,
    }
    doses = f"{judgement.doses} dose{'s' if judgement.doses > 1 else ''}"
    if judgement.below:
        raise BelowDoseRule(
            f"These {judgement.straws} straws do not make {doses} by the stallion's rule. "
            "Take more, or let a vet or manager give a reason.",
            **facts,
        )
    if judgement.above:
        raise AboveDoseRule(
            f"{judgement.spare_straws} of these {judgement.straws} straws are more than {doses} "
            "needs. Leave them, or let a vet or manager give a reason.",
            spare_straws=judgement.spare_straws,
            **facts,
        )


@dataclass(frozen=True, slots=True)
class KeptBack:
    """Doses that are not anybody's: the reserve, and those promised to others (`to`: to whom)."""

    reserve_doses: int
    promised_doses: int = 0
    to: str = ""

    def refuse(self, *, before: int, after: int) -> None:
        """Raise ReserveReached or Promised when fewer doses than these would be left.

        An act that takes no dose does not touch them.
        """
        if after >= self.reserve_doses + self.promised_doses or after >= before:
            return
        if after < self.reserve_doses:
            raise reserve_reached(before, self.reserve_doses)
        raise Promised(
            f"{before} doses are left, and {self.promised_doses} of them are promised ({self.to})"
            + (f", {self.reserve_doses} kept in reserve" if self.reserve_doses else "")
            + ". A manager may release them, with a reason, or end the promise.",
            available_doses=max(0, before - self.reserve_doses - self.promised_doses),
            doses_left=before,
            promised_doses=self.promised_doses,
        )


def reserve_reached(doses_left: int, reserve_doses: int) -> ReserveReached:
    """The refusal to touch a stallion's last doses, with what may be had without a release."""
    return ReserveReached(
        f"{doses_left} doses are left and the last {reserve_doses} are kept in reserve. "
        "A manager may release them, with a reason.",
        available_doses=max(0, doses_left - reserve_doses),
        doses_left=doses_left,
        reserve_doses=reserve_doses,
    )


def refuse_mixed_guess(batch_ids: Sequence[UUID], straws: int) -> None:
    """Raise WhichStraws when a number below all does not say of which batch."""
    if len(set(batch_ids)) > 1 and straws not in (0, len(batch_ids)):
        raise WhichStraws(
            "Straws of several batches are out, and a number does not say which of them. "
            "Scan or type their codes."
        )


def refuse_wrong_time(inseminated_at: datetime, *, withdrawn_at: datetime, now: datetime) -> None:
    """Raise BeforeWithdrawal or LaterThanNow for an insemination that cannot have been then."""
    if inseminated_at < withdrawn_at - CLOCK_TOLERANCE:
        raise BeforeWithdrawal(
            "The insemination is said to have happened before its straws were lifted. "
            "Look at the time.",
            errors=[{"field": "inseminated_at", "message": "before the straws were lifted"}],
            withdrawn_at=withdrawn_at,
        )
    if inseminated_at > now + CLOCK_TOLERANCE:
        raise LaterThanNow(
            "The insemination lies in the future. Record it when it has happened.",
            errors=[{"field": "inseminated_at", "message": "lies in the future"}],
            now=now,
        )


def refuse_wrong_check_day(checked_on: date, inseminated_on: date, today: date) -> None:
    """Raise WrongDay for a check before the insemination or after today."""
    if checked_on < inseminated_on or checked_on > today:
        raise WrongDay(
            "The mare was checked between the day of the insemination and today. Look at the date.",
            errors=[{"field": "checked_on", "message": "before the insemination or after today"}],
            inseminated_on=inseminated_on,
        )


def state_of(states: Sequence[str], inseminated: bool) -> str:  # noqa: FBT001
    """What became of a withdrawal, in one word, from where its straws are."""
    if "lifted" in states:
        return "lifted"
    if inseminated:
        return "inseminated"
    if "missing" in states:
        return "lost"
    return "discarded" if "discarded" in states else "returned"


def rule_facts(rule: DoseRule) -> dict[str, object]:
    """A dose rule as the contract writes it."""
    if isinstance(rule, StrawsRule):
        return {"kind": "straws", "straws": rule.straws}
    return {
        "kind": "sperm",
        "progressive_million": float(rule.progressive_million),
        "minimum_post_thaw_percent": float(rule.minimum_post_thaw_percent),
    }
