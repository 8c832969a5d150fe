"""The demo's own receivers: a real SMTP server and a webhook's other end, on this machine only.

What arrives is kept as files beside the demo's book and told in a line, so that somebody without a
mail server sees the alerts leave and arrive.
"""

import json
import logging
import socket
import threading
from collections.abc import Callable
from email import message_from_bytes, policy
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

Tell = Callable[[str], None]


class Mailroom:
    """Receives between `open` and `close`; letters go into `folder`."""

    def __init__(self, folder: Path, tell: Tell) -> None:
        self._folder, self._tell = folder, tell
        self._lock = threading.Lock()

    def open(self) -> None:
        """Listen on two free ports of this machine."""
        from aiosmtpd.controller import Controller

        logging.getLogger("mail.log").setLevel(logging.ERROR)
        self._folder.mkdir(parents=True, exist_ok=True)
        self.smtp_port = _free_port()
        self._smtp = Controller(_Postbox(self._keep_letter), "127.0.0.1", self.smtp_port)
        self._smtp.start()
        board = type("Board", (_Board,), {"keep": staticmethod(self._keep_notice)})
        self._http = ThreadingHTTPServer(("127.0.0.1", 0), board)
        self.board_url = f"http://127.0.0.1:{self._http.server_port}/board"
        threading.Thread(target=self._http.serve_forever, name="board", daemon=True).start()

    def close(self) -> None:
        """Listen no longer."""
        self._smtp.stop()
        self._http.shutdown()

    def _keep_letter(self, to: str, content: bytes) -> None:
        read = message_from_bytes(content, policy=policy.default)
        path = self._keep("eml", content)
        self._tell(f"A letter for {to}: {read['subject']}\n    {path}{_link(read)}")

    def _keep_notice(self, content: bytes) -> None:
        path = self._keep("json", content)
        said = json.loads(content)
        self._tell(f"The yard board was told: {said['type']}\n    {path}")

    def _keep(self, suffix: str, content: bytes) -> Path:
        with self._lock:
            number = len(list(self._folder.iterdir())) + 1
            path = self._folder / f"{number:04d}.{suffix}"
            arriving = path.with_suffix(".arriving")
            arriving.write_bytes(content)
            arriving.rename(path)  # who looks at the folder finds no half letter
        return path


def _link(read: Any) -> str:
    body = read.get_body(preferencelist=("plain",))
    lines = body.get_content().splitlines() if body else []
    links = [line.strip() for line in lines if line.startswith("http")]
    return f"\n    {links[0]}" if links else ""


class _Postbox:
    """Takes every letter."""

    def __init__(self, keep: Callable[[str, bytes], None]) -> None:
        self._keep = keep

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:  # noqa: N802
        """A whole letter (the name is the library's)."""
        for to in envelope.rcpt_tos:
            self._keep(to, envelope.content)
        return "250 kept"


class _Board(BaseHTTPRequestHandler):
    """Takes every notice."""

    keep: Callable[[bytes], None]

    def do_POST(self) -> None:
        """A whole notice."""
        self.keep(self.rfile.read(int(self.headers["Content-Length"])))
        self.send_response(204)
        self.end_headers()

    def log_message(self, *_: Any) -> None:
        """Says nothing: `keep` tells."""


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port
