"""The service over real HTTP on a real SQLite file, with a clock to turn and a way to restart."""

import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
import uvicorn

from service.app import make_app, open_book
from service.edge.asking import OPEN_TO_ALL
from service.kernel.database import Database, sqlite_url
from service.kernel.ids import new_id
from service.people import actions
from service.people.events import Occasion
from service.settings import Settings

PASSWORD = "seven grey geese over the fjord"


class Clock:
    """A clock that stands still until it is turned."""

    def __init__(self) -> None:
        self.now = datetime(2026, 3, 3, 14, 5, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def forward(self, **by: float) -> None:
        self.now += timedelta(**by)


@dataclass
class House:
    """The running service; `restart` opens the same file anew."""

    folder: Path
    clock: Clock = field(default_factory=Clock)
    port: int = 0  # the system chooses one at the first start
    _clients: list[httpx.Client] = field(default_factory=list)

    def start(self) -> None:
        self.database = Database(sqlite_url(self.folder))
        app = make_app(Settings(data=self.folder), clock=self.clock)

        @app.get("/breaks", dependencies=[OPEN_TO_ALL])
        def breaks() -> None:
            raise RuntimeError("a secret path: /var/lib/rimebook")

        config = uvicorn.Config(
            app, log_level="critical", ws="none", forwarded_allow_ips="127.0.0.1"
        )
        self._server = uvicorn.Server(config)
        self._socket = socket.create_server(("127.0.0.1", self.port))
        self.port = self._socket.getsockname()[1]
        self.host = f"127.0.0.1:{self.port}"
        self._thread = threading.Thread(
            target=self._server.run, kwargs={"sockets": [self._socket]}, daemon=True
        )
        self._thread.start()
        while not self._server.started:
            assert self._thread.is_alive()
            time.sleep(0.005)

    def stop(self) -> None:
        """End as on SIGTERM: what is in flight, and what is still to be noted, is finished."""
        self._server.should_exit = True
        self._thread.join(10)
        assert not self._thread.is_alive()
        self._socket.close()
        self.database.close()

    def restart(self) -> None:
        self.stop()
        self.start()

    def occasion(self) -> Occasion:
        return Occasion(at=self.clock(), new_id=new_id)

    def add(self, username: str, role: Any = "technician", *, password: str = PASSWORD) -> str:
        hashed = actions.hashed_new_password(password, username=username, display_name=username)
        with self.database.writing() as db:
            user, _ = actions.add_user(
                db, username=username, display_name=username.title(), role=role,
                password_hash=hashed, occasion=self.occasion(),
            )  # fmt: skip
        return str(user.id)

    def browser(self, *, address: str = "127.0.0.1") -> httpx.Client:
        """A browser on one of the service's own pages."""
        return self.client({"Origin": f"http://{self.host}", "X-Forwarded-For": address})

    def client(self, headers: dict[str, str]) -> httpx.Client:
        client = httpx.Client(base_url=f"http://{self.host}", headers=headers)
        self._clients.append(client)
        return client

    def close(self) -> None:
        for client in self._clients:
            client.close()
        self.stop()

    def sign_in(
        self, client: httpx.Client, username: str, password: str = PASSWORD
    ) -> httpx.Response:
        return client.post("/api/session", json={"username": username, "password": password})

    def signed_in(self, username: str) -> httpx.Client:
        client = self.browser()
        assert self.sign_in(client, username).status_code == 204
        return client

    def program(self, token: str) -> httpx.Client:
        return self.client({"Authorization": f"Bearer {token}"})

    def rows(self, table: str) -> list[dict[str, Any]]:
        with self.database.engine.connect() as connection:
            found = connection.exec_driver_sql(f"SELECT * FROM {table}")
            return [dict(row) for row in found.mappings()]


@pytest.fixture(scope="session")
def empty_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book with nobody in it, made once."""
    folder = tmp_path_factory.mktemp("empty")
    open_book(Settings(data=folder)).close()
    return folder


@pytest.fixture
def house(empty_book: Path, tmp_path: Path) -> Iterator[House]:
    """The running service on an empty book."""
    house = House(shutil.copytree(empty_book, tmp_path / "data"))
    house.start()
    yield house
    house.close()


@pytest.fixture
def database(empty_book: Path, tmp_path: Path) -> Iterator[Database]:
    """An empty book without a service."""
    folder = shutil.copytree(empty_book, tmp_path / "data")
    with closing(Database(sqlite_url(folder))) as database:
        yield database


@pytest.fixture
def clock() -> Clock:
    """A clock for tests without a service."""
    return Clock()
