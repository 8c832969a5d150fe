"""Says in plain words why a plan is as it is, and what to mind; read at night, at the tank."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from service.bank.doses import (
    DoseRule,
    SpermRule,
    no_dose_reason,
    plain_number,
    straws_per_dose_warnings,
)
from service.withdrawals.numbered import Numbered, day_of
from service.withdrawals.oldest import Counts
from service.withdrawals.plan_parts import BatchFacts

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

NAMED_AT_MOST = 3
"""So many batches are named in a warning; the others are counted."""


@dataclass(frozen=True)
class Outcome:
    """What the search decided, batches by number, and how far it is proven."""

    deal: tuple[Counts, ...]
    lifts: int
    fewest: bool
    oldest: bool

    @property
    def taken(self) -> dict[int, int]:
        """Straws by batch, the oldest batch first."""
        straws: dict[int, int] = {}
        for dose in self.deal:
            for batch, number in dose:
                straws[batch] = straws.get(batch, 0) + number
        return dict(sorted(straws.items()))


def explain(rule: DoseRule, stock: Numbered, outcome: Outcome) -> str:
    """Why these straws: the batches, their age, the lifts and the sperm."""
    mixed = any(len(dose) > 1 for dose in outcome.deal)
    parts = [
        *(_mixed(rule, stock, outcome) if mixed else _of_one_batch_each(stock, outcome)),
        *([] if mixed else _age(stock, outcome)),
        _lifts(outcome),
        *([] if mixed else _sperm(rule, stock, outcome)),
    ]
    return " ".join(parts)


def warnings(rule: DoseRule, stock: Numbered, outcome: Outcome) -> tuple[str, ...]:
    """What a person must mind with these straws, and which batches were left out."""
    taken = [stock.facts[batch] for batch in outcome.taken]
    return (
        *_thaw_warnings(taken),
        *_many_straws(outcome),
        *_undated(taken),
        *_left_out(rule, stock.left_out),
    )


def _of_one_batch_each(stock: Numbered, outcome: Outcome) -> list[str]:
    taken = outcome.taken
    doses = len(outcome.deal)
    if len(taken) == 1:
        [(batch, straws)] = taken.items()
        share = f", {doses} doses of {straws // doses}," if doses > 1 else ""
        name = _dated(stock.facts[batch])
        if straws == 1:
            return [f"The one straw comes from batch {name}."]
        return [f"All {straws} straws{share} come from one batch, {name}."]
    parts = []
    for batch, straws in taken.items():
        number = sum(dose[0][0] == batch for dose in outcome.deal)
        parts.append(
            f"{number} from batch {_dated(stock.facts[batch])}, {_straws(straws // number)} each"
        )
    return [f"Each of the {doses} doses comes from one batch: {'; '.join(parts)}."]


def _mixed(rule: DoseRule, stock: Numbered, outcome: Outcome) -> list[str]:
    doses = len(outcome.deal)
    of_one = [dose for dose in outcome.deal if len(dose) == 1]
    parts = []
    if doses == 1:
        parts.append("No single batch fills the dose, so batches are mixed.")
    elif of_one:
        parts.append(f"{len(of_one)} of the {doses} doses come from one batch each:")
        parts.append(_list_doses(stock, of_one, "; ") + ".")
        parts.append("No single batch fills the others, so these are mixed.")
    else:
        parts.append(f"All {doses} doses are mixed of several batches.")
    for number, dose in enumerate(outcome.deal, start=1):
        if len(dose) > 1:
            name = "The dose" if doses == 1 else f"Dose {number}"
            parts.append(f"{name} is {_and([_part(stock, *part) for part in dose])}")
            parts[-1] += f"{_sum_of_sperm(rule, stock, dose)}."
    return parts


def _list_doses(stock: Numbered, doses: Sequence[Counts], between: str) -> str:
    parts = []
    for (batch, straws), group in groupby(dose[0] for dose in doses):
        number = len(list(group))
        times = f"{number} doses of " if number > 1 else ""
        parts.append(f"{times}{_part(stock, batch, straws)}")
    return between.join(parts)


def _part(stock: Numbered, batch: int, straws: int) -> str:
    return f"{_straws(straws)} of batch {_dated(stock.facts[batch])}"


def _sum_of_sperm(rule: DoseRule, stock: Numbered, dose: Counts) -> str:
    total = sperm_in(stock, dose)
    if total is None:
        return ""
    words = f", together {plain_number(total)} million progressively motile sperm"
    if isinstance(rule, SpermRule):
        words += f"; the rule asks for {plain_number(rule.progressive_million)}"
    return words


def sperm_in(stock: Numbered, dose: Counts) -> Fraction | None:
    """Million progressively motile sperm in a dose; None when a straw's is unknown."""
    total = Fraction(0)
    for batch, number in dose:
        strength = stock.facts[batch].quality.progressive_million_per_straw
        if strength is None:
            return None
        total += strength * number
    return total


def _age(stock: Numbered, outcome: Outcome) -> list[str]:
    """Whether older straws could have made the doses, and why they do not."""
    ages = sorted(day_of(stock.facts[dose[0][0]]) for dose in outcome.deal)
    possible = [
        (day_of(facts), batch)
        for batch, facts in enumerate(stock.facts)
        for _ in range(min(len(ages), stock.totals[batch] // stock.batches.needed[batch]))
    ][: len(ages)]
    if ages == [day for day, _ in possible]:
        if len(possible) == len(stock.facts) == 1:
            return []
        return [
            "No older batch fills a whole dose."
            if len(ages) == 1
            else "No older straws make whole doses."
        ]
    if not outcome.fewest:
        return []
    if len(ages) > 1:
        return ["Older straws are in store, but with them more canisters would be lifted."]
    older = possible[0][1]
    lifts = _lifts_for_one_dose(stock, older)
    return [
        f"Older straws, of batch {_dated(stock.facts[older])}, would take {lifts} lifts "
        f"instead of {outcome.lifts}."
    ]


def _lifts_for_one_dose(stock: Numbered, batch: int) -> int:
    held = sorted((n for there in stock.contents for b, n in there if b == batch), reverse=True)
    missing = stock.batches.needed[batch]
    for lifts, straws in enumerate(held, start=1):
        missing -= straws
        if missing <= 0:
            return lifts
    return len(held)


def _lifts(outcome: Outcome) -> str:
    if outcome.lifts == 1:
        return "One canister is lifted."
    if outcome.fewest:
        return f"{outcome.lifts} canisters are lifted; it cannot be done with fewer."
    return (
        f"{outcome.lifts} canisters are lifted; the straws are so scattered that a plan with "
        "fewer may exist."
    )


def _sperm(rule: DoseRule, stock: Numbered, outcome: Outcome) -> list[str]:
    if not isinstance(rule, SpermRule):
        return []
    asked = plain_number(rule.progressive_million)
    if len(set(outcome.deal)) > 1:
        return [f"Each dose holds at least {asked} million progressively motile sperm."]
    [(batch, straws)] = outcome.deal[0]
    strength = stock.facts[batch].quality.progressive_million_per_straw
    assert strength is not None  # a batch of unknown strength makes no dose under this rule
    return [
        f"{_straws(straws)} with {plain_number(strength)} million progressively motile sperm "
        f"each hold {plain_number(strength * straws)} million; the rule asks for {asked}."
    ]


def _thaw_warnings(taken: Sequence[BatchFacts]) -> list[str]:
    unknown = [batch.code for batch in taken if batch.thaw is None]
    found = []
    if len({batch.thaw for batch in taken if batch.thaw is not None}) > 1:
        codes = _and([batch.code for batch in taken if batch.thaw is not None])
        found.append(
            f"Batches {codes} do not all thaw the same way. Thaw each by its own instructions."
        )
    if unknown:
        found.append(
            f"No thaw instructions are known for {_batches(unknown)}. "
            "Ask for the freezing laboratory's card before thawing."
        )
    return found


def _many_straws(outcome: Outcome) -> list[str]:
    most = max(sum(number for _, number in dose) for dose in outcome.deal)
    return list(straws_per_dose_warnings(most))


def _undated(taken: Sequence[BatchFacts]) -> list[str]:
    codes = [batch.code for batch in taken if batch.collected_on is None]
    if not codes:
        return []
    return [f"No collection date is known for {_batches(codes)}; taken as the oldest."]


def _left_out(rule: DoseRule, left_out: Sequence[BatchFacts]) -> list[str]:
    parts = [
        f"batch {batch.code}: {no_dose_reason(rule, batch.quality)}"
        for batch in left_out[:NAMED_AT_MOST]
    ]
    others = len(left_out) - len(parts)
    if others:
        parts.append(f"and {others} more")
    return [f"Left out: {'; '.join(parts)}."] if parts else []


def _batches(codes: Sequence[str]) -> str:
    shown = list(codes[:NAMED_AT_MOST])
    if len(codes) > NAMED_AT_MOST:
        shown.append(f"{len(codes) - NAMED_AT_MOST} more")
    return f"batch{'es' if len(codes) > 1 else ''} {_and(shown)}"


def _dated(batch: BatchFacts) -> str:
    day = batch.collected_on
    if day is None:
        return f"{batch.code} (collection date unknown)"
    return f"{batch.code} (collected {day.day} {MONTHS[day.month - 1]} {day.year})"


def _straws(number: int) -> str:
    return f"{number} straw{'s' if number != 1 else ''}"


def _and(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
