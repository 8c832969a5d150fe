"""Owns the plan of last resort, for stocks too scattered for the exact search.

It always ends, after few steps, and makes as many doses as the stock is said to make; the lifts
and the age of its straws are good, not proven the best.
"""

from __future__ import annotations

from collections.abc import Sequence

from service.bank import mixing
from service.withdrawals.oldest import Batches, Counts

Deal = list[Counts]
"""For each dose (batch, straws)."""


def rough_set(
    batches: Batches, canisters: Sequence[Counts], *, doses: int, target: int
) -> tuple[int, ...]:
    """Canisters that together make `doses` doses: the most helpful one by one, none needlessly.

    They count as helpful by whole doses of one batch when those suffice, else by what they hold.
    """
    total = _held(batches, canisters, range(len(canisters)))
    whole = sum(n // k for n, k in zip(total, batches.needed, strict=True)) >= doses

    def enough(chosen: Sequence[int]) -> bool:
        straws = _held(batches, canisters, chosen)
        if whole:
            return sum(n // k for n, k in zip(straws, batches.needed, strict=True)) >= doses
        stock = mixing.merge(zip(batches.strengths, straws, strict=True), target)
        return mixing.most_doses(stock, target) >= doses

    if whole:
        chosen = _one_by_one(batches, canisters, doses)
    else:
        chosen = _fullest_first(batches, canisters, target)
        low, high = 1, len(chosen)
        while low < high:  # fewest of the fullest that are enough; more never hurt
            middle = (low + high) // 2
            low, high = (low, middle) if enough(chosen[:middle]) else (middle + 1, high)
        chosen = chosen[:high]
    for canister in list(chosen):
        others = [other for other in chosen if other != canister]
        if whole and enough(others):
            chosen = others
    return tuple(sorted(chosen))


def rough_deal(batches: Batches, straws: Sequence[int], *, doses: int, target: int) -> Deal | None:
    """Deal `doses` doses out of `straws` (by batch), as far as can be seen without spare straws."""
    dealt = _deal(batches, straws, doses, target)
    if dealt is None:
        return None
    work = mixing.Work(mixing.SEARCH_STEPS)
    try:
        for batch in range(len(straws) - 1, -1, -1):  # the youngest is left out first
            while (leaner := _without(batch, batches, dealt, target, work)) is not None:
                dealt = leaner
    except mixing.WorkSpentError:
        pass
    return dealt


def _without(
    batch: int, batches: Batches, dealt: Deal, target: int, work: mixing.Work
) -> Deal | None:
    """As many doses, and as many of one batch, with one straw of this batch less."""
    taken = [0] * len(batches.strengths)
    for dose in dealt:
        for taken_from, number in dose:
            taken[taken_from] += number
    fewer = mixing.without_one(
        list(zip(batches.strengths, taken, strict=True)),
        batch,
        target=target,
        doses=len(dealt),
        one_batch=sum(len(dose) == 1 for dose in dealt),
        work=work,
    )
    return _deal(batches, [n for _, n in fewer], len(dealt), target) if fewer else None


def _deal(batches: Batches, straws: Sequence[int], doses: int, target: int) -> Deal | None:
    """Whole doses of one batch, the oldest first, if they suffice; else as `mixing.arrange`."""
    whole = [
        ((batch, k),)
        for batch, (number, k) in enumerate(zip(straws, batches.needed, strict=True))
        for _ in range(min(doses, number // k))
    ]
    if len(whole) >= doses:
        return list(whole[:doses])
    stock = mixing.merge(zip(batches.strengths, straws, strict=True), target)
    arranged = mixing.arrange(stock, target, doses)
    return None if arranged is None else share_out(batches, straws, arranged, target)


def share_out(
    batches: Batches, straws: Sequence[int], arranged: Sequence[mixing.Dose], target: int
) -> Deal:
    """Say for each dose, known by strengths, of which batches it is: one if one has enough."""
    left = list(straws)
    dealt: Deal = []
    for dose in arranged:
        parts: list[tuple[int, int]] = []
        for strength, number in dose:
            alike = [b for b, s in enumerate(batches.strengths) if min(s, target) == strength]
            enough = [b for b in alike if left[b] >= number]
            parts += _take(left, enough[:1] or alike, number)
        dealt.append(tuple(sorted(parts)))
    return dealt


def _take(left: list[int], batches: Sequence[int], straws: int) -> list[tuple[int, int]]:
    taken: list[tuple[int, int]] = []
    for batch in batches:
        number = min(straws, left[batch])
        if number:
            taken.append((batch, number))
            left[batch] -= number
            straws -= number
    return taken


def _one_by_one(batches: Batches, canisters: Sequence[Counts], doses: int) -> list[int]:
    straws = [0] * len(batches.needed)
    chosen: list[int] = []

    def help_of(canister: int) -> tuple[int, int, int]:
        whole = near = 0
        for batch, number in canisters[canister]:
            k = batches.needed[batch]
            rest = straws[batch] % k
            whole += (rest + number) // k
            near += _share(number, k - rest)
        return whole, near, -canister

    while sum(n // k for n, k in zip(straws, batches.needed, strict=True)) < doses:
        best = max((c for c in range(len(canisters)) if c not in chosen), key=help_of)
        chosen.append(best)
        for batch, number in canisters[best]:
            straws[batch] += number
    return chosen


def _share(number: int, missing: int) -> int:
    """How far straws go towards a dose that misses some, in thousandths."""
    return min(1000, 1000 * number // missing)


def _fullest_first(batches: Batches, canisters: Sequence[Counts], target: int) -> list[int]:
    def held(canister: int) -> int:
        return sum(min(batches.strengths[b], target) * n for b, n in canisters[canister])

    return sorted(range(len(canisters)), key=lambda canister: (-held(canister), canister))


def _held(batches: Batches, canisters: Sequence[Counts], chosen: Sequence[int]) -> list[int]:
    straws = [0] * len(batches.needed)
    for canister in chosen:
        for batch, number in canisters[canister]:
            straws[batch] += number
    return straws
