"""The stock in numbers, as the search works on it: batches the oldest first, all in walk order."""

from __future__ import annotations

import re
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from datetime import date

from service.bank import mixing
from service.bank.doses import DoseRule, whole_strengths
from service.withdrawals.oldest import Batches, Counts
from service.withdrawals.plan_parts import BatchFacts, Cell

WalkKey = tuple[tuple[int, str], ...]


Here = tuple[int, Cell]
"""(batch, cell)"""


@dataclass(frozen=True)
class Numbered:
    """Plannable batches by number, the oldest first, and canisters by number in walk order.

    A canister's place in the walk is that of its first address. `totals` are the straws of each
    batch; `contents` what each canister holds by batch, `cells` the same by goblet; `left_out` are
    the batches that make no dose.
    """

    facts: tuple[BatchFacts, ...]
    left_out: tuple[BatchFacts, ...]
    batches: Batches
    target: int
    totals: tuple[int, ...]
    contents: tuple[Counts, ...]
    cells: tuple[list[Here], ...]

    def walk(self, canisters: Sequence[int]) -> list[Here]:
        """The cells of these canisters in walk order."""
        return [
            here
            for canister in sorted(canisters)
            for here in sorted(self.cells[canister], key=lambda h: (_walk_key(h[1].address), h[0]))
        ]


def number_stock(rule: DoseRule, cells: Sequence[Cell], facts: Sequence[BatchFacts]) -> Numbered:
    """Leave out batches without straws and those that make no dose, and number the rest."""
    stored = {cell.batch_id for cell in cells if cell.straws > 0}
    facts = sorted(
        (batch for batch in facts if batch.batch_id in stored),
        key=lambda batch: (day_of(batch), batch.code),
    )
    strengths, target = whole_strengths(rule, [batch.quality for batch in facts])
    usable = [b for b, strength in zip(facts, strengths, strict=True) if strength is not None]
    by_canister = _by_canister(cells, {b.batch_id: number for number, b in enumerate(usable)})
    totals = [0] * len(usable)
    contents = []
    for heres in by_canister:
        there: dict[int, int] = {}
        for batch, cell in heres:
            there[batch] = there.get(batch, 0) + cell.straws
        for batch, straws in there.items():
            totals[batch] += straws
        contents.append(tuple(sorted(there.items())))
    return Numbered(
        facts=tuple(usable),
        left_out=tuple(b for b, s in zip(facts, strengths, strict=True) if s is None),
        batches=_batches(usable, [s for s in strengths if s is not None], target),
        target=target,
        totals=tuple(totals),
        contents=tuple(contents),
        cells=tuple(by_canister),
    )


def day_of(batch: BatchFacts) -> date:
    """The day a batch is as old as; without a date it is older than all others."""
    return batch.collected_on or date.min


def _batches(usable: Sequence[BatchFacts], strengths: Sequence[int], target: int) -> Batches:
    age_of = {day: age for age, day in enumerate(sorted({day_of(batch) for batch in usable}))}
    return Batches(
        strengths=tuple(strengths),
        needed=tuple(mixing.straws_needed(strength, target) for strength in strengths),
        ages=tuple(age_of[day_of(batch)] for batch in usable),
    )


def _by_canister(cells: Sequence[Cell], number_of: dict[Hashable, int]) -> list[list[Here]]:
    """The cells that hold something, by canister in walk order."""
    found: dict[Hashable, list[Here]] = {}
    for cell in cells:
        batch = number_of.get(cell.batch_id)
        if batch is not None and cell.straws > 0:
            found.setdefault(cell.canister_id, []).append((batch, cell))
    return sorted(
        found.values(), key=lambda heres: _walk_key(min(cell.address for _, cell in heres))
    )


def _walk_key(address: str) -> WalkKey:
    """Sorts addresses as people count: goblet 9 before goblet 10."""
    parts = re.findall(r"[0-9]+|[^0-9]+", address)
    return tuple((int(part), "") if part.isdecimal() else (-1, part) for part in parts)
