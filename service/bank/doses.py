"""Owns the dose rules: how many straws make a dose, and how many doses straws make.

A dose rule is either a fixed number of straws or a target of progressively motile sperm (in
million, post-thaw) with a least post-thaw motility. All arithmetic is exact: amounts are
`Fraction`s and a float is refused, because 350 million from straws of 625 M/mL x 0.4 mL at 35 %
is 4 straws, and floats make 5 of it. `dealing.py` and `mixing.py` answer what
needs a search.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import lcm

from service.bank import dealing, mixing

MANY_STRAWS_PER_DOSE = 16
"""Common practice, no source: 1 to 12 straws make a dose; above 16 a slip of the hand is likely."""


@dataclass(frozen=True)
class StrawsRule:
    """A dose is this many straws, whatever is in them."""

    straws: int

    def __post_init__(self) -> None:
        """Refuse a dose of nothing (ValueError)."""
        if self.straws < 1:
            raise ValueError("a dose has at least one straw")


@dataclass(frozen=True)
class SpermRule:
    """A dose holds at least so many progressively motile sperm, from batches that thaw well enough.

    `progressive_million` counts million sperm after thawing; a batch whose post-thaw motility is
    below `minimum_post_thaw_percent` (0-100) makes no dose, however many straws are taken.
    """

    progressive_million: Fraction
    minimum_post_thaw_percent: Fraction

    def __post_init__(self) -> None:
        """Refuse a dose of nothing (ValueError)."""
        if self.progressive_million <= 0:
            raise ValueError("a dose holds some sperm")


DoseRule = StrawsRule | SpermRule


@dataclass(frozen=True)
class BatchQuality:
    """What one straw of a batch holds; None where no result or no strength is known."""

    progressive_million_per_straw: Fraction | None
    post_thaw_percent: Fraction | None


Straws = Sequence[tuple[BatchQuality, int]]
"""Straws by batch: (quality, how many), each batch once."""


@dataclass(frozen=True)
class Judgement:
    """How straws that were taken compare with the doses they are meant for.

    `doses_met` is the most doses they make. `spare_straws` could be left out and the doses would
    still be made, with no fewer of them of a single batch (what a person keeps apart on purpose
    is not called too much). `progressive_million` is None when a straw's is unknown.
    """

    doses: int
    doses_met: int
    straws: int
    spare_straws: int
    progressive_million: Fraction | None

    @property
    def below(self) -> bool:
        """Too few straws, or too few sperm, for these doses."""
        return self.doses_met < self.doses

    @property
    def above(self) -> bool:
        """Enough, and at least one straw too many."""
        return self.spare_straws > 0


def progressive_million_per_straw(
    *,
    volume_ml: Decimal | Fraction | int,
    concentration_million_per_ml: Decimal | Fraction | int,
    post_thaw_percent: Decimal | Fraction | int,
) -> Fraction:
    """Million progressively motile sperm in one thawed straw: volume x concentration x motility.

    Raises TypeError for a float and ValueError for a negative or unbounded amount.
    """
    amounts = (volume_ml, concentration_million_per_ml, post_thaw_percent)
    if any(isinstance(amount, float | bool) for amount in amounts):
        raise TypeError("doses are exact: give Decimal, Fraction or int, never float")
    volume, concentration, percent = (_exact(amount) for amount in amounts)
    return volume * concentration * percent / 100


def _exact(amount: Decimal | Fraction | int) -> Fraction:
    if isinstance(amount, Decimal) and not amount.is_finite():
        raise ValueError("an amount is a finite number")
    if amount < 0:
        raise ValueError("an amount is not negative")
    return Fraction(amount)


def no_dose_reason(rule: DoseRule, quality: BatchQuality) -> str | None:
    """Why this batch makes no dose under the rule, in words for a person; None when it does."""
    if isinstance(rule, StrawsRule):
        return None
    percent, strength = quality.post_thaw_percent, quality.progressive_million_per_straw
    if percent is None:
        return "it has no post-thaw result"
    if percent < rule.minimum_post_thaw_percent:
        least = plain_number(rule.minimum_post_thaw_percent)
        return f"its post-thaw motility of {plain_number(percent)} % is below the rule's {least} %"
    if strength is None:
        return "how many sperm its straws hold is not known"
    if strength <= 0:
        return "no sperm moved after thawing"
    return None


def straws_per_dose(rule: DoseRule, quality: BatchQuality) -> int | None:
    """Straws of this batch alone that make one dose, rounded up; None when it makes no dose."""
    if isinstance(rule, StrawsRule):
        return rule.straws
    strength = quality.progressive_million_per_straw
    if strength is None or no_dose_reason(rule, quality) is not None:
        return None
    return -(-rule.progressive_million // strength)


def most_doses(rule: DoseRule, straws: Straws) -> int:
    """How many doses this stock makes, batches that make no dose left out.

    Doses of one batch first, then what is left is mixed; under a sperm rule one-batch doses are
    taken apart where mixing makes more of them. What `dealing.most_doses` says of big stocks holds.
    The plan finds a way for exactly so many doses and no more.
    """
    if isinstance(rule, StrawsRule):
        return sum(number for _, number in straws) // rule.straws
    strengths, target = whole_strengths(rule, [quality for quality, _ in straws])
    known = _known(strengths, straws)
    return dealing.most_doses(mixing.merge(known, target), target)


def meets_rule(rule: DoseRule, taken: Straws, doses: int) -> bool:
    """Do these straws make so many doses?"""
    return not judge(rule, taken, doses).below


def judge(rule: DoseRule, taken: Straws, doses: int) -> Judgement:
    """Compare taken straws with the doses they are for: too few, too many, or right.

    Exact under a straws rule and when every dose comes from one batch. Where batches are mixed the
    searches are bounded (`dealing.py`): of many mixed doses at once it may then be said that the
    straws do not make them though they would, and of spare straws some may not be seen.
    """
    strengths, target = whole_strengths(rule, [quality for quality, _ in taken])
    known = _known(strengths, taken)
    number = sum(straws for _, straws in taken)
    worthless = number - sum(straws for _, straws in known)
    dealt = dealing.deal_out(known, target, doses)
    return Judgement(
        doses=doses,
        doses_met=max(most_doses(rule, taken), doses if dealt else 0),
        straws=number,
        spare_straws=worthless + _spare(known, target, doses, dealt) if dealt else 0,
        progressive_million=progressive_million(taken),
    )


def progressive_million(straws: Straws) -> Fraction | None:
    """Million progressively motile sperm in all these straws; None when one of them is unknown."""
    total = Fraction(0)
    for quality, number in straws:
        if quality.progressive_million_per_straw is None:
            return None
        total += quality.progressive_million_per_straw * number
    return total


def whole_strengths(
    rule: DoseRule, qualities: Sequence[BatchQuality]
) -> tuple[list[int | None], int]:
    """Each batch's strength per straw, and the target of a dose, as whole numbers of one unit.

    None for a batch that makes no dose. Under a straws rule every straw counts 1.
    """
    if isinstance(rule, StrawsRule):
        return [1] * len(qualities), rule.straws
    exact = [
        None if no_dose_reason(rule, quality) else quality.progressive_million_per_straw
        for quality in qualities
    ]
    target = rule.progressive_million
    unit = lcm(target.denominator, *(s.denominator for s in exact if s is not None))
    scaled = [None if s is None else s.numerator * (unit // s.denominator) for s in exact]
    return scaled, target.numerator * (unit // target.denominator)


def _known(strengths: Sequence[int | None], straws: Straws) -> list[tuple[int, int]]:
    pairs = zip(strengths, straws, strict=True)
    return [(strength, number) for strength, (_, number) in pairs if strength is not None]


def _spare(batches: list[tuple[int, int]], target: int, doses: int, dealt: dealing.Dealt) -> int:
    """Straws that can be left out of batches that make `doses` doses."""
    straws = sum(number for _, number in batches)
    if not dealt.mixed:
        needed = [(mixing.straws_needed(strength, target), number) for strength, number in batches]
        whole = sorted(k for k, number in needed for _ in range(min(doses, number // k)))
        return straws - sum(whole[:doses])
    if len({strength for strength, _ in batches}) == 1:
        return straws - doses * mixing.straws_needed(batches[0][0], target)
    if not dealt.most_whole:
        return 0
    one_batch = sum(dealt.whole)
    return sum(dealing.spare_straws(batches, target=target, doses=doses, one_batch=one_batch))


def rule_warnings(rule: DoseRule) -> tuple[str, ...]:
    """What to ask about a rule before it is kept."""
    if isinstance(rule, StrawsRule):
        return straws_per_dose_warnings(rule.straws)
    if rule.minimum_post_thaw_percent <= 0:
        return ("The rule sets no least post-thaw motility, so even a poor thaw makes a dose.",)
    return ()


def straws_per_dose_warnings(straws: int) -> tuple[str, ...]:
    """What to ask about a number of straws per dose, fixed or computed."""
    if straws <= MANY_STRAWS_PER_DOSE:
        return ()
    return (f"{straws} straws for one dose are unusually many (1 to 12 are common). Please check.",)


def plain_number(amount: Fraction) -> str:
    """An amount for a sentence: rounded down to a tenth, so that it never says too much."""
    tenths = amount * 10 // 1
    return f"{tenths // 10}" if tenths % 10 == 0 else f"{tenths // 10}.{tenths % 10}"
