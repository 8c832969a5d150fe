"""A bank with one stallion and forty straws in two canisters."""

from dataclasses import dataclass
from typing import Any

import pytest

from tests import building
from tests.conftest import Client


@dataclass
class Bank:
    """What was made, by name."""

    stallion: Any
    goblets: list[Any]
    batch_id: str
    batch_code: str
    codes: dict[str, list[str]]  # by goblet id

    def codes_in(self, goblet: int) -> list[str]:
        """The codes that were put into this goblet."""
        return self.codes[self.goblets[goblet]["id"]]

    def pick(self, goblet: int, straws: int, **more: Any) -> Any:
        """So many straws by count out of this goblet."""
        goblet_id = self.goblets[goblet]["id"]
        return {"goblet_id": goblet_id, "batch_id": self.batch_id, "straws": straws, **more}

    def withdrawal(self, **more: Any) -> Any:
        """A withdrawal of his straws."""
        return building.withdrawal(self.stallion["id"], **more)


@pytest.fixture
def bank(manager: Client) -> Bank:
    """Lanternfield at four straws a dose: 20 straws in goblet 0, 20 in goblet 2."""
    goblets = building.goblets_of(manager.ok("POST", "/api/tanks", building.tank()))
    stallion = manager.ok("POST", "/api/stallions", building.stallion(straws=4))
    placements = [(goblets[0]["id"], 20), (goblets[2]["id"], 20)]
    made = manager.ok("POST", "/api/freezes", building.freeze(stallion["id"], placements))
    codes: dict[str, list[str]] = {}
    for straw in made["straws"]:
        codes.setdefault(straw["goblet_id"], []).append(straw["code"])
    return Bank(stallion, goblets, made["batch"]["id"], made["batch"]["code"], codes)
