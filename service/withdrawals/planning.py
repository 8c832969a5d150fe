"""Owns the plan of a withdrawal: which straws, from which goblets, make so many doses.

A plan is the best in this order, which is the order of the questions a person asks at the tank:

1. every dose meets the rule, and no straw is taken that could be left out;
2. as many doses as can be are of one batch each (those that cannot are mixed);
3. the fewest canisters are lifted;
4. the oldest straws: the collection dates of the one-batch doses, oldest first, are compared entry
   by entry; then those of the straws in mixed doses. A batch without a date counts as the oldest,
   because stock taken over without papers is older than the book;
5. the fewest goblets, then the first in walk order.

Fewer batches in a mixed dose is not an aim of its own: a lift endangers every straw in the
canister, while a third batch in a dose endangers none.

1 to 4 are exact, by branch and bound, as long as the counted steps suffice (`lifts.LIFT_STEPS`,
`lifts.AGE_STEPS`, `dealing.DEAL_STEPS`; a quarter of a second at the very most). They do unless
the straws lie in very many canisters with only parts of a dose in each, or very many doses are
mixed at once. Then every dose still meets the rule, the rest is good but unproven, and the plan
says so. 5 is decided among at most `lifts.MOST_EQUALS` sets.
The plan is a function of its arguments: no clock, no chance, and the order of the input is nothing.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass

from service.bank import dealing, mixing
from service.bank.doses import (
    DoseRule,
    Straws,
    most_doses,
    progressive_million,
    whole_strengths,
)
from service.withdrawals import plan_words
from service.withdrawals.lifts import LIFT_STEPS, fewest_lifts
from service.withdrawals.numbered import Numbered, number_stock
from service.withdrawals.oldest import Counts, Wanted, choose_oldest
from service.withdrawals.plan_parts import BatchFacts, Cell, DosePlan, Plan
from service.withdrawals.rough import Deal, as_deal, rough_deal, rough_set

__all__ = ["BatchFacts", "Cell", "DosePlan", "Plan", "available", "doses_after", "plan_doses"]


def plan_doses(
    rule: DoseRule, cells: Sequence[Cell], facts: Iterable[BatchFacts], doses: int
) -> Plan | None:
    """Plan `doses` doses out of these cells; None when they make fewer (see `available`).

    The caller has left out what may not be used: held batches, tanks in quarantine. Whether the
    reserve is touched is asked afterwards, with `doses_after`. Raises ValueError for no doses.
    """
    if doses < 1:
        raise ValueError("a plan is for at least one dose")
    stock = number_stock(rule, cells, list(facts))
    if not _makes(stock, doses):
        return None
    deals, fewest, oldest = _search(stock, doses)
    best = min((_pick(stock, *deal) for deal in deals), key=lambda picked: picked.rank)
    lifts = len({cell.canister_id for cell, _ in best.picks})
    outcome = plan_words.Outcome(best.deal, lifts, fewest, oldest)
    return _plan(rule, stock, best, outcome)


def available(
    rule: DoseRule, cells: Sequence[Cell], facts: Iterable[BatchFacts]
) -> tuple[int, int]:
    """(straws, doses) that could be planned; straws of batches that make no dose do not count."""
    stock = _by_batch(cells, facts)
    strengths, _ = whole_strengths(rule, [quality for quality, _ in stock])
    straws = sum(n for (_, n), s in zip(stock, strengths, strict=True) if s is not None)
    return straws, most_doses(rule, stock)


def doses_after(
    rule: DoseRule, cells: Sequence[Cell], facts: Iterable[BatchFacts], plan: Plan
) -> int:
    """How many doses are left when the plan is carried out."""
    taken = [
        Cell(cell.batch_id, cell.goblet_id, cell.canister_id, -straws, cell.address)
        for cell, straws in plan.picks
    ]
    return most_doses(rule, _by_batch([*cells, *taken], facts))


def _by_batch(cells: Sequence[Cell], facts: Iterable[BatchFacts]) -> Straws:
    straws: dict[Hashable, int] = {}
    for cell in cells:
        straws[cell.batch_id] = straws.get(cell.batch_id, 0) + cell.straws
    return [(batch.quality, straws[batch.batch_id]) for batch in facts if batch.batch_id in straws]


def _makes(stock: Numbered, doses: int) -> bool:
    """The same answer as `most_doses(...) >= doses`, without a search when whole doses suffice."""
    straws = list(zip(stock.batches.strengths, stock.totals, strict=True))
    if mixing.whole_doses(straws, stock.target) >= doses:
        return True
    return dealing.most_doses(mixing.merge(straws, stock.target), stock.target) >= doses


def _search(stock: Numbered, doses: int) -> tuple[list[_Dealt], bool, bool]:
    """Ways to take the doses that are equally good so far; are lifts and age proven the best?"""
    straws = list(zip(stock.batches.strengths, stock.totals, strict=True))
    dealt = dealing.deal_out(straws, stock.target, doses)
    assert dealt is not None  # the caller has seen that there are so many doses
    at_least = 0
    if dealt.most_whole:
        wanted = Wanted(doses=doses, target=stock.target, one_batch=sum(dealt.whole))
        found = fewest_lifts(stock.batches, stock.contents, wanted)
        if found.sets:
            return [_deal(stock, wanted, s) for s in found.sets], True, found.oldest
        at_least = 0 if wanted.mixed else found.at_least
    chosen = rough_set(stock.batches, stock.contents, doses=doses, target=stock.target)
    within = _within(stock, chosen)
    deal = rough_deal(stock.batches, within, doses=doses, target=stock.target)
    return [(chosen, deal)], len(chosen) <= at_least, False


_Dealt = tuple[tuple[int, ...], Deal]
"""(canisters, doses)"""


def _within(stock: Numbered, canisters: Sequence[int]) -> list[int]:
    """Straws by batch in these canisters."""
    straws = [0] * len(stock.totals)
    for canister in canisters:
        for batch, number in stock.contents[canister]:
            straws[batch] += number
    return straws


def _deal(stock: Numbered, wanted: Wanted, canisters: tuple[int, ...]) -> _Dealt:
    """The oldest doses out of these canisters, one-batch doses first."""
    within = _within(stock, canisters)
    work = mixing.Work(LIFT_STEPS)
    order = None if wanted.mixed else _order_of_equals(stock, canisters)
    choice = choose_oldest(stock.batches, wanted, within, work, order)
    assert choice is not None  # the search found these canisters to be enough
    whole = [0] * len(within)
    mixed = [0] * len(within)
    for batch, doses in choice.one_batch_doses:
        whole[batch] = doses
    for batch, straws in choice.mixed_straws:
        mixed[batch] = straws
    pile = mixing.merge(zip(stock.batches.strengths, mixed, strict=True), stock.target)
    doses_of = mixing.deal(pile, stock.target, wanted.mixed, work)
    assert doses_of is not None  # the choice was made so that these straws make the doses
    dealt = dealing.Dealt(tuple(whole), tuple(doses_of), most_whole=True)
    taken = [n * k + m for n, k, m in zip(whole, stock.batches.needed, mixed, strict=True)]
    return canisters, as_deal(stock.batches, taken, dealt, stock.target)


def _order_of_equals(stock: Numbered, canisters: Sequence[int]) -> list[int]:
    """Batches the oldest first; of one age, that whose dose comes from the fewest goblets first."""
    cells: dict[int, list[tuple[int, int]]] = {}
    for place, (batch, cell) in enumerate(stock.walk(canisters)):
        cells.setdefault(batch, []).append((-cell.straws, place))

    def key(batch: int) -> tuple[int, int, int]:
        missing = stock.batches.needed[batch]
        for goblets, (straws, _) in enumerate(sorted(cells[batch]), start=1):
            missing += straws
            if missing <= 0:
                return stock.batches.ages[batch], goblets, min(place for _, place in cells[batch])
        return stock.batches.ages[batch], len(stock.facts), 0

    return sorted(cells, key=key)


@dataclass(frozen=True)
class _Picked:
    """Doses, the cells their straws come from, and how good this is among its equals."""

    deal: tuple[Counts, ...]
    picks: tuple[tuple[Cell, int], ...]
    rank: tuple[int, tuple[int, ...], tuple[tuple[int, int], ...]]


def _pick(stock: Numbered, canisters: Sequence[int], deal: Deal) -> _Picked:
    """Take the straws from as few goblets as can be seen: one that has enough, or the fullest."""
    walk = stock.walk(canisters)
    places: dict[int, list[int]] = {}
    for place, (batch, _) in enumerate(walk):
        places.setdefault(batch, []).append(place)
    picks: list[tuple[int, int]] = []
    opened: set[Hashable] = set()
    for batch, straws in _taken(deal).items():
        missing, left = straws, list(places[batch])
        while missing:
            ranks = {
                place: (
                    walk[place][1].goblet_id not in opened,
                    -min(walk[place][1].straws, missing),
                    place,
                )
                for place in left
            }
            best = min(left, key=ranks.__getitem__)
            left.remove(best)
            taken = min(missing, walk[best][1].straws)
            picks.append((best, taken))
            opened.add(walk[best][1].goblet_id)
            missing -= taken
    picks.sort()
    cells = tuple((walk[place][1], straws) for place, straws in picks)
    return _Picked(tuple(deal), cells, (len(opened), tuple(canisters), tuple(picks)))


def _taken(deal: Deal) -> dict[int, int]:
    straws: dict[int, int] = {}
    for dose in deal:
        for batch, number in dose:
            straws[batch] = straws.get(batch, 0) + number
    return dict(sorted(straws.items()))


def _plan(rule: DoseRule, stock: Numbered, picked: _Picked, outcome: plan_words.Outcome) -> Plan:
    qualities = [(stock.facts[batch].quality, n) for batch, n in outcome.taken.items()]
    return Plan(
        doses=tuple(
            DosePlan(
                tuple((stock.facts[batch].batch_id, straws) for batch, straws in dose),
                plan_words.sperm_in(stock, dose),
            )
            for dose in picked.deal
        ),
        picks=picked.picks,
        canister_lifts=outcome.lifts,
        straws=sum(outcome.taken.values()),
        progressive_million=progressive_million(qualities),
        why=plan_words.explain(rule, stock, outcome),
        warnings=plan_words.warnings(rule, stock, outcome),
        fewest_lifts_proven=outcome.fewest,
        oldest_proven=outcome.oldest,
    )
