"""Owns the plan of last resort, for stocks too scattered for the exact search.

It always ends, after few steps, and makes as many doses as the stock is said to make; the lifts
and the age of its straws are good, not proven the best.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.bank import dealing, mixing
from service.withdrawals.oldest import Batches, Counts

Deal = list[Counts]
"""For each dose (batch, straws)."""

ROUGH_STEPS = 10_000
"""Steps that each question of dealing may cost here, about 7 ms."""

BUILT_UP_AT_ONCE = 12
"""So many sets of canisters are built up side by side."""


def rough_set(
    batches: Batches, canisters: Sequence[Counts], *, doses: int, target: int
) -> tuple[int, ...]:
    """Few canisters that together make `doses` doses, out of canisters that do.

    When doses of one batch each suffice, sets are built up one canister at a time, the most
    promising few at once. Else the canisters that hold most are taken, and so many of them that
    as many doses are of one batch as all canisters together allow.
    """
    total = _held(batches, canisters, range(len(canisters)))
    best = _deal_out(batches, total, doses, target, ROUGH_STEPS)
    assert best is not None  # all canisters together make the doses
    if not best.mixed:
        return _build_up(batches, canisters, doses)

    def enough(chosen: Sequence[int]) -> bool:
        straws = _held(batches, canisters, chosen)
        dealt = _deal_out(batches, straws, doses, target, ROUGH_STEPS)
        return dealt is not None and sum(dealt.whole) >= sum(best.whole)

    fullest = _fullest_first(batches, canisters, target)
    low, high = 1, len(fullest)
    while low < high:  # more canisters never make fewer doses, but for the bounds of the search
        middle = (low + high) // 2
        low, high = (low, middle) if enough(fullest[:middle]) else (middle + 1, high)
    return tuple(sorted(fullest[:high]))


def _deal_out(
    batches: Batches, straws: Sequence[int], doses: int, target: int, steps: int
) -> dealing.Dealt | None:
    pile = list(zip(batches.strengths, straws, strict=True))
    return dealing.deal_out(pile, target, doses, steps)


def rough_deal(batches: Batches, straws: Sequence[int], *, doses: int, target: int) -> Deal:
    """Deal `doses` doses out of `straws` (by batch), which make them; spare straws left out."""
    dealt = _deal_out(batches, straws, doses, target, dealing.DEAL_STEPS)
    assert dealt is not None  # the caller has seen that there are so many doses
    while True:
        deal = as_deal(batches, straws, dealt, target)
        straws = taken_by_batch(deal, len(straws))
        again = _deal_out(batches, straws, doses, target, dealing.DEAL_STEPS)
        if again is None:
            return deal
        spare = dealing.spare_straws(
            list(zip(batches.strengths, straws, strict=True)),
            target=target,
            doses=doses,
            one_batch=sum(again.whole),
        )
        fewer = [number - left_out for number, left_out in zip(straws, spare, strict=True)]
        leaner = _deal_out(batches, fewer, doses, target, dealing.DEAL_STEPS)
        if leaner is None or not any(spare):
            return as_deal(batches, straws, again, target)
        straws, dealt = fewer, leaner


def taken_by_batch(deal: Deal, batches: int) -> list[int]:
    """How many straws of each batch the doses take."""
    straws = [0] * batches
    for dose in deal:
        for batch, number in dose:
            straws[batch] += number
    return straws


def as_deal(batches: Batches, straws: Sequence[int], dealt: dealing.Dealt, target: int) -> Deal:
    """The dealt doses by batch: those of one batch first, then the mixed ones."""
    whole: Deal = [
        ((batch, batches.needed[batch]),)
        for batch, doses in enumerate(dealt.whole)
        for _ in range(doses)
    ]
    left = [
        number - doses * k
        for number, doses, k in zip(straws, dealt.whole, batches.needed, strict=True)
    ]
    return whole + share_out(batches, left, dealt.mixed, target)


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


@dataclass(frozen=True)
class _Partial:
    """A set of canisters on the way, with its straws by batch and its doses of one batch."""

    chosen: frozenset[int]
    straws: Sequence[int]
    doses: int
    promise: int


def _build_up(batches: Batches, canisters: Sequence[Counts], doses: int) -> tuple[int, ...]:
    """Grow the most promising sets by one canister at a time until one makes the doses."""
    partial = [_Partial(frozenset(), [0] * len(batches.needed), 0, 0)]
    while True:
        grown: dict[frozenset[int], _Partial] = {}
        for part in partial:
            for canister, contents in enumerate(canisters):
                chosen = part.chosen | {canister}
                if canister in part.chosen or chosen in grown:
                    continue
                grown[chosen] = _grow(batches, part, chosen, contents)
                if grown[chosen].doses >= doses:
                    return tuple(sorted(chosen))
        best = sorted(grown.values(), key=lambda p: (-p.promise, sorted(p.chosen)))[
            :BUILT_UP_AT_ONCE
        ]
        partial = [
            replace(part, straws=_held(batches, canisters, sorted(part.chosen))) for part in best
        ]


def _grow(batches: Batches, part: _Partial, chosen: frozenset[int], contents: Counts) -> _Partial:
    """The set with one canister more; its straws are summed up only if it is kept."""
    doses, promise = part.doses, part.promise
    for batch, number in contents:
        k, straws = batches.needed[batch], part.straws[batch]
        doses += (straws + number) // k - straws // k
        promise += _promise(straws + number, k) - _promise(straws, k)
    return _Partial(chosen, (), doses, promise)


def _promise(straws: int, needed: int) -> int:
    """1000 a dose, and for the straws of a dose begun the more, the nearer it is to its end."""
    rest = straws % needed
    return 1000 * (straws // needed) + 600 * rest * rest // (needed * needed)


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
