"""The service over real HTTP on a real book, with a clock to turn and a way to restart."""

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
import uvicorn

from service.app import make_app, open_book
from service.edge.asking import OPEN_TO_ALL
from service.kernel.database import Database
from service.kernel.ids import new_id
from service.people import actions
from service.people.doorkeeper import Doorkeeper
from service.people.events import Occasion
from service.settings import Settings
from tests.engine import Books
from tests.serving import http_client

PASSWORD = "seven grey geese over the fjord"


class Clock:
    """A clock that stands still until it is turned."""

    def __init__(self) -> None:
        self.now = datetime(2026, 3, 3, 14, 5, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def forward(self, **by: float) -> None:
        self.now += timedelta(**by)


class Stage:
    """The whole service over real HTTP; a book can be put under it without starting it anew."""

    port = 0  # the system chooses one at the first start

    def start(self, book: Settings, clock: Clock) -> None:
        self.app = make_app(book, clock=clock)

        @self.app.get("/breaks", dependencies=[OPEN_TO_ALL])
        def breaks() -> None:
            raise RuntimeError("a secret path: /var/lib/rimebook")

        config = uvicorn.Config(
            self.app, log_level="critical", ws="none", forwarded_allow_ips="127.0.0.1"
        )
        self._server = uvicorn.Server(config)
        self._socket = socket.create_server(("127.0.0.1", self.port))
        self.port = self._socket.getsockname()[1]
        self._thread = threading.Thread(
            target=self._server.run, kwargs={"sockets": [self._socket]}, daemon=True
        )
        self._thread.start()
        while not self._server.started:
            assert self._thread.is_alive()
            time.sleep(0.005)

    def change_book(self, book: Settings, clock: Clock) -> None:
        """Serve another book from now on."""
        state = self.app.state
        self.close_book()
        database = Database(book.book_url)
        state.doorkeeper = Doorkeeper(database)
        state.wiring = replace(
            state.wiring, database=database, clock=clock, identify=state.doorkeeper.identify
        )

    def close_book(self) -> None:
        """Nothing of the book is in use afterwards."""
        for thread in threading.enumerate():
            if thread.name == "check":
                thread.join()
        self.app.state.doorkeeper.close()
        self.app.state.wiring.database.close()

    def stop(self) -> None:
        """End as on SIGTERM: what is in flight, and what is still to be noted, is finished."""
        self._server.should_exit = True
        self._thread.join(10)
        assert not self._thread.is_alive()
        self._socket.close()


@dataclass
class House:
    """A book that is served, and the people who come to it."""

    book: Settings
    stage: Stage
    clock: Clock = field(default_factory=Clock)
    _clients: list[httpx.Client] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.database = Database(self.book.book_url)
        self.stage.change_book(self.book, self.clock)

    @property
    def host(self) -> str:
        return f"127.0.0.1:{self.stage.port}"

    def stop(self) -> None:
        """End the service, so that everything stands in the file."""
        self.stage.stop()
        self.database.close()

    def start(self) -> None:
        """Start a new service on the same book, at the same address."""
        self.stage.start(self.book, self.clock)

    def restart(self) -> None:
        self.stop()
        self.start()

    def close(self) -> None:
        for client in self._clients:
            client.close()
        self.database.close()

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
        client = http_client(f"http://{self.host}", headers=headers)
        self._clients.append(client)
        return client

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
def empty_book(books: Books, tmp_path_factory: pytest.TempPathFactory) -> Settings:
    """A book with nobody in it, made once."""
    book = books.new(tmp_path_factory.mktemp("empty"))
    open_book(book).close()
    return book


@pytest.fixture(scope="session")
def stage(
    books: Books, empty_book: Settings, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Stage]:
    """Started once: starting takes longer than most tests."""
    stage = Stage()
    stage.start(books.copy(empty_book, tmp_path_factory.mktemp("stage") / "data"), Clock())
    yield stage
    stage.stop()


@pytest.fixture
def house(books: Books, stage: Stage, empty_book: Settings, tmp_path: Path) -> Iterator[House]:
    """An empty book, served."""
    book = books.copy(empty_book, tmp_path / "data")
    with closing(House(book, stage)) as house:
        yield house
    stage.close_book()
    books.drop(book)


@pytest.fixture
def database(books: Books, empty_book: Settings, tmp_path: Path) -> Iterator[Database]:
    """An empty book without a service."""
    book = books.copy(empty_book, tmp_path / "data")
    with closing(Database(book.book_url)) as database:
        yield database
    books.drop(book)


@pytest.fixture
def clock() -> Clock:
    """A clock for tests without a service."""
    return Clock()
