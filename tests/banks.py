"""A bank over HTTP with one stallion and forty straws, and what was made there by name."""

from dataclasses import dataclass
from typing import Any

from tests import building


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
