"""A station whose clock stands still until a test moves it, and whose alerts a test looks for."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

from aiosmtpd.controller import Controller
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import select

from service.alerts.store import Channel
from service.alerts.worker import Worker
from service.app import lay_book_under
from service.people.store import User
from service.settings import Settings
from tests import building
from tests.bank.changing import change
from tests.conftest import Founded
from tests.nitrogen.station import TUESDAY, Station
from tests.serving import free_port


class Postbox:
    """A real SMTP server of a test's own: what arrived, and how it answers."""

    def __init__(self) -> None:
        self.answer = "250 kept"
        self.letters: list[EmailMessage] = []
        self.port = free_port()

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:  # noqa: N802
        if self.answer.startswith("250"):
            letter = message_from_bytes(envelope.content, policy=policy.default)
            assert isinstance(letter, EmailMessage)
            self.letters.append(letter)
        return self.answer

    def to(self, mailbox: str) -> list[EmailMessage]:
        """What arrived for somebody."""
        return [one for one in self.letters if one["To"] == mailbox]


@contextmanager
def postbox() -> Iterator[Postbox]:
    """An SMTP server, until the end."""
    box = Postbox()
    controller = Controller(box, "127.0.0.1", box.port, ready_timeout=20)
    controller.start()
    try:
        yield box
    finally:
        controller.stop()


class Watched(Station):
    """The station, its watch and who is told."""

    def __init__(self, app: FastAPI, founded: Founded, portal: Any) -> None:
        super().__init__(app, founded, portal)
        self.worker: Worker = app.state.alerts
        self.database = app.state.wiring.database

    def look(self, **later: float) -> None:
        """Let time pass (as `timedelta` takes it), and look."""
        self.now += timedelta(**later)
        assert self.worker.look()

    def alerts(self, *, kind: str | None = None, state: str | None = None) -> list[Any]:
        """The alerts that are not closed (or of that state), newest first."""
        query = {name: word for name, word in (("kind", kind), ("state", state)) if word}
        answer = self.manager.get("/api/alerts", params=query)
        assert answer.status_code == 200, answer.text
        items: list[Any] = answer.json()["items"]
        return items

    def alert(self, kind: str) -> Any:
        """The one alert of this kind that is not closed."""
        [found] = self.alerts(kind=kind)
        return found

    def one(self, alert: Any) -> Any:
        """An alert as it is now, with its history."""
        return self.manager.ok("GET", f"/api/alerts/{alert['id']}")

    def history(self, alert: Any) -> list[str]:
        """What happened to it, in a word each; being told left out."""
        return [one["what"] for one in self.one(alert)["history"] if one["what"] != "told"]

    def acknowledge(self, alert: Any, role: str = "technician", **more: Any) -> Any:
        """Somebody takes care of it."""
        path = f"/api/alerts/{alert['id']}/acknowledge"
        return self.person(role).ok("POST", path, {"id": str(uuid4()), **more})

    def settings(self, **changes: Any) -> Any:
        """Change how alerts are told."""
        return change(self.manager, "/api/alert-settings", changes)

    def mail_to(self, box: Postbox, *roles: str, **more: Any) -> None:
        """Let these people be told by e-mail, through this server."""
        self.settings(
            mail_host="127.0.0.1",
            mail_port=box.port,
            mail_security="none",
            mail_sender="rimebook@station.example",
        )
        for role in roles:
            self.channel(
                name=f"{role} by e-mail",
                kind="email",
                target=f"{role}@station.example",
                person_id=str(self.id_of(role)),
                **more,
            )

    def channel(self, **facts: Any) -> Any:
        """Enter a channel."""
        return self.manager.ok("POST", "/api/alert-channels", {"id": str(uuid4()), **facts})

    def id_of(self, role: str) -> UUID:
        """Whoever has this role."""
        with self.database.reading() as db:
            return db.exec(select(User.id).where(User.username == role)).one()

    def rota(self, *handovers: tuple[int, str, str, str | None]) -> Any:
        """Weekly handovers: weekday, time, who, second (by role)."""
        rows = [
            {
                "weekday": day,
                "at": at,
                "person_id": str(self.id_of(who)),
                "second_id": second and str(self.id_of(second)),
            }
            for day, at, who, second in handovers
        ]
        return change(self.manager, "/api/duty", {"handovers": rows})

    def deliver(self, **later: float) -> int:
        """Let time pass, and send what is due; how many messages were accepted."""
        self.now += timedelta(**later)
        return self.worker.deliver()

    def low_stallion(self, *, limit: int = 9, doses: int = 2) -> Any:
        """A stallion at four straws a dose with fewer doses than his limit."""
        tank = self.manager.ok("POST", "/api/tanks", building.tank(f"Of {uuid4()}"))
        name = f"Stallion {str(uuid4())[:8]}"
        body = building.stallion(name, straws=4, low_stock_doses=limit)
        stallion = self.manager.ok("POST", "/api/stallions", body)
        goblet = building.goblets_of(tank)[0]["id"]
        freeze = building.freeze(stallion["id"], [(goblet, 4 * doses)])
        stallion["freeze"] = self.manager.ok("POST", "/api/freezes", freeze)
        stallion["goblet_id"] = goblet
        return stallion

    def channel_rows(self) -> list[Channel]:
        """The channels as they are kept."""
        with self.database.reading() as db:
            return list(db.exec(select(Channel)))


@contextmanager
def open_watched(app: FastAPI, data: Path, founded: Founded, **settings: Any) -> Iterator[Watched]:
    """The station on this book, until the end."""
    clock: list[Watched] = []
    made = Settings(
        data=data, private_addresses=True, address="http://rimebook.example", **settings
    )
    lay_book_under(app, made, clock=lambda: clock[0].now if clock else TUESDAY)
    with TestClient(app, raise_server_exceptions=False) as running:
        clock.append(Watched(app, founded, running.portal))
        yield clock[0]
