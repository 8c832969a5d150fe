"""Owners own numbers of twins: whatever a hand takes and a scan shows, no number moves by it.

Three owners' straws of one batch stand mixed in two goblets. Random acts, by count and by any code
at all; after each one everybody owns what they owned, less what was taken for them.
RIMEBOOK_OWNER_RUNS sets how many runs (4 unless set).
"""

import os
import random
from collections import Counter
from typing import Any

import pytest

from tests import building
from tests.banks import Bank
from tests.conftest import Client

RUNS = int(os.environ.get("RIMEBOOK_OWNER_RUNS", "4"))
ACTS = 40
OWNERS = (None, "Marrow Farm", "Tarn Stud")

#: Refusals that may come of a wish that cannot be met; anything else is a fault.
REFUSED = {"not-enough-straws", "owned-by-another", "straw-gone", "straw-elsewhere", "moved-on",
           "goblet-full", "already-there"}  # fmt: skip


class Hands:
    """Somebody who does at random what may be done, and keeps count of what belongs to whom."""

    def __init__(self, manager: Client, bank: Bank, chance: random.Random) -> None:
        self.manager, self.bank, self.chance = manager, bank, chance
        self.codes = [code for codes in bank.codes.values() for code in codes]
        self.owned: Counter[str | None] = Counter({None: 40})
        self.out: list[tuple[str, str | None]] = []

    def ask(self, path: str, body: Any) -> Any:
        answer = self.manager.post(f"/api{path}", json=body)
        if answer.status_code == 201:
            return answer.json()
        assert answer.json()["code"] in REFUSED, answer.text
        return None

    def some(self, straws: int) -> Any:
        """So many straws: by count, by codes, or by count with some seen in that goblet."""
        how = self.chance.choice(("count", "codes", "seen"))
        codes = self.chance.sample(self.codes, straws)
        if how == "codes":
            return {"straw_codes": codes}
        seen = codes[: self.chance.randint(1, straws)] if how == "seen" else []
        return {
            "picks": [self.bank.pick(self.chance.choice((0, 2)), straws, seen_straw_codes=seen)]
        }

    def give(self) -> None:
        source, owner = self.chance.sample(OWNERS, 2)
        straws = self.chance.randint(1, 6)
        body = {"owner": owner, "from_owner": source, "reason": "sold", **self.some(straws)}
        if self.ask("/owner-changes", body):
            self.owned[source] -= straws
            self.owned[owner] += straws

    def withdraw(self) -> None:
        owner = self.chance.choice(OWNERS)
        body = building.withdrawal(self.bank.stallion["id"], owner=owner, **self.some(4))
        if made := self.ask("/withdrawals", body):
            self.owned[owner] -= 4
            self.out.append((made["id"], owner))

    def put_back(self) -> None:
        if self.out:
            id, owner = self.out.pop(self.chance.randrange(len(self.out)))
            goblet_id = self.bank.goblets[self.chance.choice((0, 1, 2))]["id"]
            body = {"straws": 4, "goblet_id": goblet_id, "kept_in_nitrogen": True}
            if self.ask(f"/withdrawals/{id}/return", body):
                self.owned[owner] += 4
            else:
                self.out.append((id, owner))

    def identify(self) -> None:
        if self.out:
            body = {"straw_codes": self.chance.sample(self.codes, self.chance.randint(1, 4))}
            self.ask(f"/withdrawals/{self.chance.choice(self.out)[0]}/identify", body)

    def move(self) -> None:
        goblet_id = self.bank.goblets[self.chance.choice((0, 1, 2))]["id"]
        self.ask("/moves", {"goblet_id": goblet_id, **self.some(self.chance.randint(1, 5))})


@pytest.mark.parametrize("run", range(RUNS))
def test_no_number_moves_by_a_scan(manager: Client, bank: Bank, run: int) -> None:
    hands = Hands(manager, bank, random.Random(run))
    for owner in OWNERS[1:]:
        given = {"owner": owner, "reason": "sold", "picks": [bank.pick(0, 8)]}
        assert hands.ask("/owner-changes", given)
        hands.owned[owner] += 8
        hands.owned[None] -= 8
    acts = (hands.give, hands.give, hands.withdraw, hands.put_back, hands.identify, hands.move)
    for _ in range(ACTS):
        hands.chance.choice(acts)()
        found = {one["owner"]: one["straws"] for one in manager.ok("GET", "/api/owners")["items"]}
        expected = {owner: straws for owner, straws in hands.owned.items() if owner and straws}
        assert found == expected
        assert manager.ok("GET", "/api/stock")["straws"] == hands.owned.total()
    assert manager.ok("GET", "/api/ledger/check")["sound"] is True
