"""Stock-takes over HTTP beside a true world: work goes on, and only true errors are found.

A hand that acts by count takes other twins than the book chooses, so world and book differ in codes
and never in numbers. RIMEBOOK_WORKING_COUNTS sets how many goblets are counted (40 unless set).
"""

import os
import random
from datetime import UTC, datetime
from typing import Any
from uuid import uuid4

import pytest

from tests import building
from tests.audits.test_stock_takes_api import Take
from tests.banks import Bank
from tests.conftest import Client

COUNTS = int(os.environ.get("RIMEBOOK_WORKING_COUNTS", "40"))


class World:
    """What truly stands where, and hands that work in it."""

    def __init__(self, bank: Bank, people: Client, seed: int) -> None:
        self.bank, self.people, self.dice = bank, people, random.Random(seed)
        self.ids = [goblet["id"] for goblet in bank.goblets]
        self.straws = {id: set(bank.codes.get(id, ())) for id in self.ids}
        self.batch_of = dict.fromkeys(
            (code for codes in bank.codes.values() for code in codes), bank.batch_id
        )
        self._second_batch()

    def _second_batch(self) -> None:
        placements = [(self.ids[0], 12), (self.ids[1], 12)]
        made = self.people.ok(
            "POST", "/api/freezes", building.freeze(self.bank.stallion["id"], placements)
        )
        for straw in made["straws"]:
            self.straws[straw["goblet_id"]].add(straw["code"])
            self.batch_of[straw["code"]] = made["batch"]["id"]

    def take_some(self) -> tuple[str, str, set[str]] | None:
        """A hand's choice: some twins of a batch out of a goblet."""
        goblet = self.dice.choice(self.ids)
        batch = self.dice.choice(sorted(set(self.batch_of.values())))
        there = sorted(code for code in self.straws[goblet] if self.batch_of[code] == batch)
        if len(there) < 4:
            return None
        return goblet, batch, set(self.dice.sample(there, self.dice.choice([1, 4, 4])))

    def work(self) -> None:
        """A withdrawal for a dose, or a move, by count."""
        chosen = self.take_some()
        if chosen is None:
            return
        goblet, batch, codes = chosen
        pick = {"goblet_id": goblet, "batch_id": batch, "straws": len(codes)}
        if len(codes) == 4 and self.dice.random() < 0.4:
            self.people.ok("POST", "/api/withdrawals", self.bank.withdrawal(picks=[pick]))
        else:
            to = self.dice.choice([id for id in self.ids if id != goblet])
            if len(self.straws[to]) + len(codes) > 50:
                return
            move = {"id": str(uuid4()), "picks": [pick], "goblet_id": to}
            self.people.ok("POST", "/api/moves", move)
            self.straws[to] |= codes
        self.straws[goblet] -= codes

    def seen(self, goblet: str, *, by_scan: bool) -> dict[str, Any]:
        """What a count of this goblet says."""
        codes = sorted(self.straws[goblet])
        if by_scan:
            return {"straw_codes": codes}
        batches = sorted({self.batch_of[code] for code in codes})
        return {
            "batches": [
                {"batch_id": batch, "straws": sum(self.batch_of[code] == batch for code in codes)}
                for batch in batches
            ]
        }


def counted_under_work(world: World, take: Take) -> None:
    for goblet in world.bank.goblets:
        world.work()
        began = datetime.now(UTC).isoformat()
        seen = world.seen(goblet["id"], by_scan=world.dice.random() < 0.5)
        take.count(world.people, goblet, started_at=began, **seen)
        world.work()


def test_without_an_error_there_is_no_difference_however_much_is_done_meanwhile(
    bank: Bank, vet: Client, auditor: Client
) -> None:
    world = World(bank, vet, seed=3)
    for _ in range(COUNTS // 4):
        take = Take(auditor, {})
        counted_under_work(world, take)
        found = take.compare()["differences"]
        assert found == [], found
        auditor.ok("POST", f"{take.path}/close", {})
    assert auditor.ok("GET", "/api/ledger/check")["problems"] == []


@pytest.mark.parametrize("by_scan", [True, False])
def test_what_somebody_took_without_a_word_is_found_under_work(
    bank: Bank, vet: Client, auditor: Client, by_scan: bool
) -> None:
    world = World(bank, vet, seed=5)
    for _ in range(5):
        world.work()
    goblet, batch, codes = next(filter(None, iter(world.take_some, object())))
    world.straws[goblet] -= codes
    take = Take(auditor, {})
    for one in world.bank.goblets:
        world.work()
        take.count(vet, one, **world.seen(one["id"], by_scan=by_scan))
    found = take.compare()["differences"]
    assert sum(one["difference"] for one in found) == -len(codes)
    assert {one["batch_id"] for one in found} == {batch}
    assert {one["class"] for one in found} <= {"missing", "wrong-place", "ambiguous"}
