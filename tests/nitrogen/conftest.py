"""A tank at the API, and what is done at it."""

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest

from tests import building
from tests.conftest import Client


class AtTank:
    """A tank of 35 L, 0.18 L a day by its maker, minimum 12 cm; empty it weighs 14.5 kg.

    Its table: 0.66 L per cm up to 25 cm, 0.74 L above. Days count back from now.
    """

    def __init__(self, client: Client, tank: Any) -> None:
        self.client, self.tank, self.now = client, tank, datetime.now(UTC)
        self.path = f"/api/tanks/{tank['id']}"

    def days_ago(self, days: float) -> str:
        """That moment as it travels."""
        return (self.now - timedelta(days=days)).isoformat()

    def level(self, days: float | None = None, **more: Any) -> Any:
        """Enter a level, so many days ago."""
        return self.client.ok("POST", f"{self.path}/levels", self.body(days, **more), status=201)

    def body(self, days: float | None = None, **more: Any) -> Any:
        """A level's body."""
        at = {} if days is None else {"measured_at": self.days_ago(days)}
        return {"id": str(uuid4()), **at, **more}

    def levels(self, *pairs: tuple[float, float]) -> list[Any]:
        """Enter levels in cm, each so many days ago."""
        return [self.level(days, level_cm=cm) for days, cm in pairs]

    def top_up(self, days: float, **more: Any) -> Any:
        """Enter a top-up, so many days ago."""
        body = {"id": str(uuid4()), "filled_at": self.days_ago(days), **more}
        return self.client.ok("POST", f"{self.path}/top-ups", body, status=201)

    def strike(self, what: str, id: str, reason: str = "misread") -> Any:
        """Strike a level or a top-up."""
        body = {"id": str(uuid4()), "reason": reason}
        return self.client.ok("POST", f"{self.path}/{what}/{id}/strike", body, status=201)

    def refused(self, body: Any, status: int, code: str, *, what: str = "levels") -> Any:
        """A level (or top-up) that must be refused so, and leaves nothing behind."""
        before = self.client.ok("GET", f"{self.path}/{what}")
        problem = self.client.refused("POST", f"{self.path}/{what}", body, status, code)
        assert self.client.ok("GET", f"{self.path}/{what}") == before
        return problem

    def nitrogen(self, query: str = "") -> Any:
        """How the tank stands."""
        return self.client.ok("GET", f"{self.path}/nitrogen{query}")


@pytest.fixture
def at_tank(manager: Client, technician: Client) -> AtTank:
    """The technician at the only tank."""
    tank = building.tank() | {"empty_weight_kg": "14.5"}
    return AtTank(technician, manager.ok("POST", "/api/tanks", tank))
