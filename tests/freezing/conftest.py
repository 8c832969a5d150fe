"""A bench: one stallion, and a tank of two canisters with two goblets of thirty each."""

from collections import Counter
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest

from tests import building
from tests.bank.changing import change
from tests.conftest import Client


def today() -> date:
    """Today at the station, whose clock stands at UTC."""
    return datetime.now(UTC).date()


def in_days(days: int) -> str:
    """A day from today on."""
    return str(today() + timedelta(days=days))


def head(client: Client) -> str:
    """The newest hash of the book, which has to be sound."""
    found = client.ok("GET", "/api/ledger/check")
    assert found["problems"] == []
    return str(found["head"])


UELN, OTHER_UELN = "372414001234567", "372414001234568"


def codes_of(warned: Any) -> set[str]:
    """Which warnings an answer has."""
    return {warning["code"] for warning in warned["warnings"]}


@dataclass
class Bench:
    """What is there before a freeze, and what people do with it."""

    technician: Client
    manager: Client
    stallion: Any
    goblets: list[str]

    def other_stallion(self, name: str = "Quietwater", **more: Any) -> str:
        """One more stallion, known by his number as the first is."""
        body = building.stallion(name, **{"ueln": OTHER_UELN, **more})
        made = self.manager.ok("POST", "/api/stallions", body)
        return str(made["id"])

    def quarantine(self) -> str:
        """A goblet in a tank for what is on hold."""
        tank = {**building.tank("Apart"), "quarantine": True}
        return str(building.goblets_of(self.manager.ok("POST", "/api/tanks", tank))[0]["id"])

    def body(self, *straws: int, **more: Any) -> Any:
        """A freeze of so many straws into goblet 0, so many into goblet 1, ..."""
        placements = [place for place in zip(self.goblets, straws, strict=False) if place[1]]
        return {**building.freeze(self.stallion["id"], placements), **more}

    def freeze(self, *straws: int, **more: Any) -> Any:
        """It is logged."""
        return self.technician.ok("POST", "/api/freezes", self.body(*straws, **more), status=201)

    def prepare(self, straws: int, **more: Any) -> Any:
        """A batch whose straws are marked."""
        body = {
            "id": str(uuid4()),
            "stallion_id": self.stallion["id"],
            "straws_planned": straws,
            **more,
        }
        return self.technician.ok("POST", "/api/batches", body, status=201)

    def batch(self, batch_id: str) -> Any:
        """A batch as it is read."""
        return self.technician.ok("GET", f"/api/batches/{batch_id}")

    def states(self, batch_id: str) -> Counter[str]:
        """How many straws of a batch are where."""
        return Counter(straw["state"] for straw in self.batch(batch_id)["straws"])

    def take_back(self, entry_id: str) -> Any:
        """A counter-entry."""
        return self.technician.ok(
            "POST", f"/api/ledger/{entry_id}/correct", {"reason": "wrong goblet"}, status=201
        )


@pytest.fixture
def bench(technician: Client, manager: Client) -> Bench:
    """Lanternfield at eight straws a dose, and four empty goblets for thirty straws each.

    Nothing that must stand on his straws is unknown.
    """
    tank = manager.ok("POST", "/api/tanks", building.tank(straws=30))
    stallion = manager.ok("POST", "/api/stallions", building.stallion(ueln=UELN))
    change(manager, "/api/station", {"approval_number": "IE-AI-0417"})
    return Bench(
        technician, manager, stallion, [goblet["id"] for goblet in building.goblets_of(tank)]
    )
