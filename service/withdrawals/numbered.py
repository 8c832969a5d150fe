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


@dataclass(frozen=True)
class Numbered:
    """Plannable batches by number, the oldest first; cells and canisters by number in walk order.

    A canister's place in the walk is that of its first address. `totals` are the straws of each
    batch, `contents` what each canister holds by batch, `left_out` the batches that make no dose.
    """

    facts: tuple[BatchFacts, ...]
    left_out: tuple[BatchFacts, ...]
    batches: Batches
    target: int
    totals: tuple[int, ...]
    cells: tuple[Cell, ...]
    batch_of: tuple[int, ...]
    canister_of: tuple[int, ...]
    contents: tuple[Counts, ...]


def number_stock(rule: DoseRule, cells: Sequence[Cell], facts: Sequence[BatchFacts]) -> Numbered:
    """Leave out batches without straws and those that make no dose, and number the rest."""
    stored = {cell.batch_id for cell in cells if cell.straws > 0}
    facts = sorted(
        (batch for batch in facts if batch.batch_id in stored),
        key=lambda batch: (day_of(batch), batch.code),
    )
    strengths, target = whole_strengths(rule, [batch.quality for batch in facts])
    usable = [b for b, strength in zip(facts, strengths, strict=True) if strength is not None]
    number_of = {batch.batch_id: number for number, batch in enumerate(usable)}
    walk, canister_number = _walk(cells, number_of)
    totals = [0] * len(usable)
    contents: list[dict[int, int]] = [{} for _ in canister_number]
    for cell in walk:
        batch = number_of[cell.batch_id]
        totals[batch] += cell.straws
        there = contents[canister_number[cell.canister_id]]
        there[batch] = there.get(batch, 0) + cell.straws
    return Numbered(
        facts=tuple(usable),
        left_out=tuple(b for b, s in zip(facts, strengths, strict=True) if s is None),
        batches=_batches(usable, [s for s in strengths if s is not None], target),
        target=target,
        totals=tuple(totals),
        cells=tuple(walk),
        batch_of=tuple(number_of[cell.batch_id] for cell in walk),
        canister_of=tuple(canister_number[cell.canister_id] for cell in walk),
        contents=tuple(tuple(sorted(there.items())) for there in contents),
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


def _walk(
    cells: Sequence[Cell], number_of: dict[Hashable, int]
) -> tuple[list[Cell], dict[Hashable, int]]:
    """The cells in walk order, canister by canister, and the canisters' numbers in it."""
    stored = [cell for cell in cells if cell.straws > 0 and cell.batch_id in number_of]
    keys = {address: _walk_key(address) for address in {cell.address for cell in stored}}
    first: dict[Hashable, WalkKey] = {}
    for cell in stored:
        key = keys[cell.address]
        first[cell.canister_id] = min(first.get(cell.canister_id, key), key)
    numbers = {canister: n for n, canister in enumerate(sorted(first, key=first.__getitem__))}
    stored.sort(
        key=lambda cell: (
            numbers[cell.canister_id],
            keys[cell.address],
            number_of[cell.batch_id],
        )
    )
    return stored, numbers


def _walk_key(address: str) -> WalkKey:
    """Sorts addresses as people count: goblet 9 before goblet 10."""
    parts = re.findall(r"[0-9]+|[^0-9]+", address)
    return tuple((int(part), "") if part.isdecimal() else (-1, part) for part in parts)
