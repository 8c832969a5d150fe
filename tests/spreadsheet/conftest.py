"""A file on its way in: how tests send it, and a bank to send it to."""

import base64
from dataclasses import dataclass, field
from typing import Any
from uuid import uuid4

import pytest

from tests import building
from tests.conftest import Client


@dataclass
class Desk:
    """Somebody with a file, and the goblets it may go into."""

    who: Client
    goblets: list[Any] = field(default_factory=list)

    def body(self, text: str | bytes, **answers: Any) -> Any:
        """A request with this file."""
        content = text.encode() if isinstance(text, str) else text
        return {
            "id": str(uuid4()),
            "content_base64": base64.b64encode(content).decode(),
            "answers": answers,
        }

    def look(self, text: str | bytes, **answers: Any) -> Any:
        """The dry run."""
        return self.who.ok("POST", "/api/imports/dry-run", self.body(text, **answers))

    def book(self, text: str | bytes, **answers: Any) -> Any:
        """The import, which must succeed."""
        return self.who.ok("POST", "/api/imports", self.body(text, **answers), status=201)

    def refused(self, text: str | bytes, status: int, code: str, **answers: Any) -> Any:
        """The import, which must be refused so."""
        return self.who.refused("POST", "/api/imports", self.body(text, **answers), status, code)

    def fates(self, text: str | bytes, **answers: Any) -> dict[int, str]:
        """Every row's fate by line."""
        return {row["line"]: row["message"] for row in self.look(text, **answers)["rows"]}

    def head(self) -> Any:
        """How long the book is."""
        return self.who.ok("GET", "/api/ledger")["items"]


@pytest.fixture
def desk(manager: Client) -> Desk:
    """The manager's; two canisters with two goblets of 50, and Lanternfield."""
    tank = manager.ok("POST", "/api/tanks", building.tank())
    manager.ok("POST", "/api/stallions", building.stallion(straws=4))
    return Desk(manager, building.goblets_of(tank))
