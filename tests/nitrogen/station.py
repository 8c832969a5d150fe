"""A station whose clock stands still until a test moves it, with tanks that are read and filled."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import httpx2
from fastapi import FastAPI
from fastapi.testclient import TestClient

from service.app import lay_book_under
from service.settings import Settings
from tests import building
from tests.bank.changing import change
from tests.conftest import Client, Founded

#: A Tuesday, at noon.
TUESDAY = datetime(2026, 3, 3, 12, tzinfo=UTC)

PLAN = "/api/nitrogen/plan"


class Station:
    """People at the API, and what they do about nitrogen."""

    def __init__(self, app: FastAPI, founded: Founded, portal: Any) -> None:
        self.now = TUESDAY
        self._app, self._founded, self._portal = app, founded, portal
        self.manager, self.technician = self.person("manager"), self.person("technician")

    def person(self, role: str) -> Client:
        """The API as that role sees it."""
        client = Client(self._app, raise_server_exceptions=False)
        client.headers = httpx2.Headers({"Authorization": f"Bearer {self._founded.tokens[role]}"})
        client.portal = self._portal
        return client

    def stranger(self) -> TestClient:
        """Somebody who is not signed in: a calendar program."""
        client = TestClient(self._app, raise_server_exceptions=False)
        client.portal = self._portal
        return client

    def tank(
        self, name: str = "North", *, litres: float = 35, loss: float = 0.2, minimum: float = 8
    ) -> Any:
        """A new tank of a litre a centimetre; its minimum is as many litres."""
        table = [{"level_cm": 0, "litres": 0}, {"level_cm": litres, "litres": litres}]
        body = building.tank(name) | {
            "capacity_litres": litres,
            "rated_loss_litres_per_day": loss,
            "minimum_level_cm": minimum,
            "calibration": table,
        }
        return self.manager.ok("POST", "/api/tanks", body, status=201)

    def read(self, tank: Any, litres: float, *, days_ago: float = 0, **more: Any) -> Any:
        """Enter a level in litres."""
        at = (self.now - timedelta(days=days_ago)).isoformat()
        body = {"id": str(uuid4()), "measured_at": at, "litres": round(litres, 2), **more}
        return self.technician.ok("POST", f"/api/tanks/{tank['id']}/levels", body, status=201)

    def read_daily(self, tank: Any, litres: float, *, loss: float, days: int = 40) -> None:
        """Levels of the last days, half a centimetre off this way and that, down to `litres`."""
        for ago in range(days, -1, -1):
            off = (0.4, -0.3, -0.5, 0.4, 0.1, -0.1)[ago % 6]
            self.read(tank, litres + loss * ago + off, days_ago=ago)

    def fill(self, tank: Any, *, days_ago: float = 0, **more: Any) -> Any:
        """Enter a top-up."""
        at = (self.now - timedelta(days=days_ago)).isoformat()
        body = {"id": str(uuid4()), "filled_at": at, **more}
        return self.technician.ok("POST", f"/api/tanks/{tank['id']}/top-ups", body, status=201)

    def plan(self, **changes: Any) -> Any:
        """Change how rounds are made."""
        return change(self.manager, PLAN, changes)

    def schedule(self, days: int | None = None) -> Any:
        """The schedule."""
        query = "" if days is None else f"?days={days}"
        return self.technician.ok("GET", f"/api/nitrogen/schedule{query}")


@contextmanager
def open_station(app: FastAPI, data: Path, founded: Founded) -> Iterator[Station]:
    """The station on this book, until the end."""
    clock: list[Station] = []
    lay_book_under(app, Settings(data=data), clock=lambda: clock[0].now if clock else TUESDAY)
    with TestClient(app, raise_server_exceptions=False) as running:
        clock.append(Station(app, founded, running.portal))
        yield clock[0]
