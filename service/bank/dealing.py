"""Owns how a stock is dealt into doses: batch by batch where it can be, mixed where it must be.

Batches are (strength, straws) in whole numbers, as in `mixing.py`. Every search is bounded by
counted steps. When they run out, the answer is what simple dealing finds: whole doses of one batch
and, of what they leave, the strongest straws first. Such an answer may be too low, never too high.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from service.bank.mixing import (
    Dose,
    Stock,
    Work,
    WorkSpentError,
    deal,
    merge,
    smallest_sum,
    straws_needed,
    upper_bound,
    whole_doses,
)

Batches = Sequence[tuple[int, int]]
"""(strength, straws) of each batch."""

MOST_DOSES_STEPS = 4_000
"""Steps to find how many doses a stock makes, about 3 ms; asked for every stallion of a list."""

SEARCHED_DOSES = 24
"""A stock of more doses is not taken apart: only what its whole doses leave is mixed."""

DEAL_STEPS = 60_000
"""Steps to deal a given number of doses, about 40 ms; asked once for a plan or a withdrawal."""


@dataclass(frozen=True)
class Dealt:
    """`whole` are the doses of one batch, by batch; `mixed` the others, by strength.

    `most_whole` says that no dealing of so many doses has more of one batch.
    """

    whole: tuple[int, ...]
    mixed: tuple[Dose, ...]
    most_whole: bool


@lru_cache(maxsize=4096)
def most_doses(stock: Stock, target: int) -> int:
    """The most doses this stock makes.

    Exact up to SEARCHED_DOSES doses, as long as MOST_DOSES_STEPS suffice; for the few doses of a
    last stock they nearly always do. Of a bigger stock, whole doses of one strength are kept whole
    and only what they leave is mixed: taking them apart to mix all anew could make up to a tenth
    more, but nobody thaws a stallion's stock like that.
    """
    whole = whole_doses(stock, target)
    return whole if whole == upper_bound(stock, target) else len(deal_most(stock, target))


def deal_most(stock: Stock, target: int) -> list[Dose]:
    """The doses that `most_doses` counts."""
    whole, leftovers = _take_whole(stock, target)
    if upper_bound(stock, target) <= SEARCHED_DOSES:
        return _search_upwards(stock, target, whole + _greedy(leftovers, target))
    mixed = _greedy(leftovers, target)
    if upper_bound(leftovers, target) <= SEARCHED_DOSES:
        mixed = _search_upwards(leftovers, target, mixed)
    return whole + mixed


def _search_upwards(stock: Stock, target: int, found: list[Dose]) -> list[Dose]:
    work = Work(MOST_DOSES_STEPS)
    try:
        while (better := deal(stock, target, len(found) + 1, work)) is not None:
            found = better
    except WorkSpentError:
        pass
    return found


def _take_whole(stock: Stock, target: int) -> tuple[list[Dose], Stock]:
    """All doses of one strength, and the straws they leave."""
    doses: list[Dose] = []
    left = []
    for strength, number in stock:
        needed = straws_needed(strength, target)
        doses.extend([((strength, needed),)] * (number // needed))
        left.append((strength, number % needed))
    return doses, merge(left, target)


def _greedy(stock: Stock, target: int) -> list[Dose]:
    """Doses filled with the strongest straws and closed with the weakest that suffices."""
    counts = dict(stock)
    total = sum(strength * number for strength, number in stock)
    doses: list[Dose] = []
    while total >= target:
        dose: dict[int, int] = {}
        missing = target
        while missing > 0:
            strengths = [strength for strength, number in counts.items() if number]
            closing = [strength for strength in strengths if strength >= missing]
            pick = min(closing) if closing else max(strengths)
            counts[pick] -= 1
            dose[pick] = dose.get(pick, 0) + 1
            missing -= pick
        total -= target - missing
        doses.append(tuple(dose.items()))
    return doses


def deal_out(batches: Batches, target: int, doses: int, steps: int = DEAL_STEPS) -> Dealt | None:
    """Deal `doses` doses, as many of them as can be of one batch each; None if it cannot be done.

    Making all one-batch doses there are may leave too little for the mixed ones, so fewer are
    tried until all doses are made. When the steps run out, what simple dealing finds is taken.
    """
    whole = _first(batches, target, doses)
    missing = doses - sum(whole)
    if missing == 0:
        return Dealt(whole, (), most_whole=True)
    if upper_bound(merge(batches, target), target) < doses:
        return None
    leftovers = merge(((s, n % straws_needed(s, target)) for s, n in batches), target)
    simple = _greedy(leftovers, target)
    if len(simple) >= missing:
        return Dealt(whole, tuple(simple[:missing]), most_whole=True)
    try:
        return _deal_exactly(batches, target, doses, Work(steps))
    except WorkSpentError:
        return _deal_simply(batches, target, doses)


def _first(batches: Batches, target: int, doses: int) -> tuple[int, ...]:
    """Whole doses of each batch, from the first batch on until there are `doses`."""
    whole = []
    for strength, number in batches:
        whole.append(min(doses, number // straws_needed(strength, target)))
        doses -= whole[-1]
    return tuple(whole)


def _deal_exactly(batches: Batches, target: int, doses: int, work: Work) -> Dealt | None:
    most = whole_doses(batches, target)
    if (dealt := _with_whole(batches, target, doses, most, work)) is not None:
        return dealt
    mixed = deal(merge(batches, target), target, doses, work)
    if mixed is None:
        return None
    for whole in range(most - 1, 0, -1):
        if (dealt := _with_whole(batches, target, doses, whole, work)) is not None:
            return dealt
    return Dealt((0,) * len(batches), tuple(mixed), most_whole=True)


def _deal_simply(batches: Batches, target: int, doses: int) -> Dealt | None:
    whole = _first(batches, target, doses)
    missing = doses - sum(whole)
    leftovers = merge(((s, n % straws_needed(s, target)) for s, n in batches), target)
    mixed = deal_most(leftovers, target)
    if len(mixed) >= missing:
        return Dealt(whole, tuple(mixed[:missing]), most_whole=True)
    mixed = sorted(deal_most(merge(batches, target), target), key=len)
    if len(mixed) < doses:
        return None
    return Dealt((0,) * len(batches), tuple(mixed[:doses]), most_whole=False)


def _with_whole(batches: Batches, target: int, doses: int, whole: int, work: Work) -> Dealt | None:
    """Deal `doses` doses with (at least) `whole` of them of one batch each. Exact, or WorkSpent."""
    stock = dict(merge(batches, target))
    room: dict[int, int] = {}  # one-batch doses at most, by strength
    for strength, number in batches:
        capped = min(strength, target)
        room[capped] = room.get(capped, 0) + number // straws_needed(capped, target)
    strengths = [strength for strength, doses_of in room.items() if doses_of]
    for taken in _shares(whole, [room[strength] for strength in strengths]):
        work.spend(1 + len(stock) // 2)
        left = dict(stock)
        for strength, number in zip(strengths, taken, strict=True):
            left[strength] -= number * straws_needed(strength, target)
        mixed = deal(merge(left.items(), target), target, doses - whole, work)
        if mixed is not None:
            share = dict(zip(strengths, taken, strict=True))
            return Dealt(_share_whole(batches, target, share), tuple(mixed), most_whole=True)
    return None


def _share_whole(batches: Batches, target: int, share: dict[int, int]) -> tuple[int, ...]:
    """Whole doses known by strength, shared among the batches of that strength, the first first."""
    whole = []
    for strength, number in batches:
        capped = min(strength, target)
        doses = min(share.get(capped, 0), number // straws_needed(capped, target))
        if doses:
            share[capped] -= doses
        whole.append(doses)
    return tuple(whole)


def _shares(total: int, room: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Every way to share `total` among places that hold at most `room` each."""
    if not room:
        if total == 0:
            yield ()
        return
    rest = sum(room[1:])
    for here in range(min(total, room[0]), max(0, total - rest) - 1, -1):
        for others in _shares(total - here, room[1:]):
            yield (here, *others)


def can_spare(
    batches: Batches, place: int, *, target: int, doses: int, one_batch: int, work: Work
) -> bool:
    """Could a straw of the batch at `place` be left out, with still `one_batch` one-batch doses?

    Exact; raises WorkSpentError when `work` ends first.
    """
    work.spend(1 + len(batches) // 2)
    strength, number = batches[place]
    stock = merge(batches, target)
    beyond = sum(s * n for s, n in stock) - doses * smallest_sum(stock, target)
    if number == 0 or min(strength, target) > beyond:
        return False
    left = [*batches[:place], (strength, number - 1), *batches[place + 1 :]]
    if whole_doses(left, target) < one_batch:
        return False
    return _with_whole(left, target, doses, one_batch, work) is not None


def spare_straws(
    batches: Batches, *, target: int, doses: int, one_batch: int, steps: int = DEAL_STEPS
) -> list[int]:
    """Straws of each batch that could be left out together, the weakest first.

    None of them is missed: `doses` doses, `one_batch` of them of one batch, are made without them.
    When the steps run out, those found until then.
    """
    work = Work(steps)
    left = list(batches)
    try:
        for place in sorted(range(len(left)), key=lambda p: left[p]):
            while can_spare(
                left, place, target=target, doses=doses, one_batch=one_batch, work=work
            ):
                left[place] = (left[place][0], left[place][1] - 1)
    except WorkSpentError:
        pass
    return [before - after for (_, before), (_, after) in zip(batches, left, strict=True)]
