"""Receivers of messages on this machine: real servers in threads, and certificates for them."""

import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import cache
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, NamedTuple
from uuid import UUID

import trustme

from service.alerts.letters import Letter

NAME = "alarms.example"

WRITTEN = datetime(2026, 3, 3, 12, 0, tzinfo=UTC)


def letter(**other: Any) -> Letter:
    """One that says that a tank is low."""
    said: dict[str, Any] = {
        "id": UUID("018e0000-0000-7000-8000-000000000001"),
        "kind": "low-nitrogen",
        "subject": "Tank 3 is low",
        "text": "Fill tank 3 today.",
        "data": {"tank": "Größe 3", "level_cm": 12.5},
        "created_at": WRITTEN,
        "attempt": 1,
    }
    return Letter(**{**said, **other})


@cache
def authority() -> trustme.CA:
    return trustme.CA()


@cache
def trusting() -> ssl.SSLContext:
    """What a machine does that knows the authority."""
    context = ssl.create_default_context()
    authority().configure_trust(context)
    return context


@cache
def proving(*names: str) -> ssl.SSLContext:
    """What a server shows that is called so."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    authority().issue_cert(*names).configure_cert(context)
    return context


class Asked(NamedTuple):
    """A request as it arrived; header names in lower case."""

    method: str
    path: str
    headers: dict[str, str]
    body: bytes


class Receiver:
    """What a local HTTP server was asked, and how it answers."""

    def __init__(self) -> None:
        self.asked: list[Asked] = []
        self.status = 204
        self.headers: dict[str, str] = {}
        self.body = b""
        self.port = 0

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"


@contextmanager
def receiving(tls: ssl.SSLContext | None = None) -> Iterator[Receiver]:
    """A local HTTP server, with TLS if a certificate is given."""
    receiver = Receiver()

    class Handler(BaseHTTPRequestHandler):
        def answer(self) -> None:
            length = int(self.headers.get("content-length", 0))
            headers = {name.lower(): value for name, value in self.headers.items()}
            receiver.asked.append(Asked(self.command, self.path, headers, self.rfile.read(length)))
            self.send_response(receiver.status)
            for name, value in receiver.headers.items():
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(receiver.body)

        do_GET = do_POST = do_PUT = answer  # noqa: N815

        def log_message(self, *_: Any) -> None:
            """Say nothing."""

    class Server(ThreadingHTTPServer):
        def get_request(self) -> tuple[socket.socket, Any]:
            connected, address = super().get_request()
            if tls:
                connected = tls.wrap_socket(
                    connected, server_side=True, do_handshake_on_connect=False
                )
            return connected, address

        def handle_error(self, *_: Any) -> None:
            """A client that does not like the certificate goes away."""

    with Server(("127.0.0.1", 0), Handler) as server:
        receiver.port = server.server_port
        thread = threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True)
        thread.start()
        yield receiver
        server.shutdown()
        thread.join()


class Listener:
    """A socket that only counts who comes."""

    def __init__(self, listening: socket.socket) -> None:
        self._listening = listening
        self.port: int = listening.getsockname()[1]

    def came(self) -> int:
        """How many connections were made."""
        self._listening.setblocking(False)
        count = 0
        while True:
            try:
                connected, _ = self._listening.accept()
            except BlockingIOError:
                return count
            connected.close()
            count += 1


@contextmanager
def listening() -> Iterator[Listener]:
    """A port of this machine, under each of its addresses, to which nobody may come."""
    with socket.create_server(("", 0), backlog=100) as server:
        yield Listener(server)


@contextmanager
def talking(talk: Callable[[socket.socket], None]) -> Iterator[int]:
    """The port of a server that does with its one connection what it likes, until the other ends.

    `talk` may raise OSError.
    """
    with socket.create_server(("127.0.0.1", 0)) as server:

        def serve() -> None:
            try:
                connected, _ = server.accept()
            except OSError:
                return
            with connected:
                try:
                    talk(connected)
                except OSError:
                    return

        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        yield server.getsockname()[1]
        thread.join(5)


def drip(connected: socket.socket, text: bytes, *, pause: float = 0.02) -> None:
    """One byte after the other, again and again."""
    while True:
        for byte in text:
            connected.sendall(bytes([byte]))
            time.sleep(pause)


def says_nothing(connected: socket.socket) -> None:
    """Listen, and never answer."""
    while connected.recv(1000):
        pass
