"""A real server in a process of its own, for the tests that need one."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx

SECONDS_TO_START = 30


def free_port() -> int:
    """A port that nobody listens on at this moment."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def http_client(address: str, **more: Any) -> httpx.Client:
    """Somebody who speaks http: no certificates are read, which takes longer than a call."""
    return httpx.Client(base_url=address, verify=False, **more)


class Server:
    """A server process that can be killed and started again on the same data."""

    def __init__(self, command: list[str], port: int, *, log: Path) -> None:
        self.address = f"http://127.0.0.1:{port}"
        self._command = command
        self._log = log
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it and wait until it answers."""
        with self._log.open("ab") as log:
            self.process = subprocess.Popen(
                self._command,
                stdout=log,
                stderr=log,
                start_new_session=True,
                env=os.environ | {"RIMEBOOK_WATCH": "true"},
            )
        deadline = time.monotonic() + SECONDS_TO_START
        with http_client(self.address) as caller:
            while time.monotonic() < deadline and self.process.poll() is None:
                try:
                    if caller.get("/health").status_code == 200:
                        return
                except httpx.TransportError:
                    time.sleep(0.02)
        raise RuntimeError(f"the server did not start:\n{self._log.read_text()}")

    def kill(self) -> None:
        """End it at once, as a crash would (SIGKILL to the whole group)."""
        assert self.process is not None
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()

    def stop(self) -> int:
        """Ask it to end (SIGTERM); gives its exit code."""
        assert self.process is not None
        self.process.terminate()
        return self.process.wait(timeout=30)


def rimebook(data: Path) -> Server:
    """The service on this data, not yet started."""
    port = free_port()
    command = [sys.executable, "-m", "service", "serve", "--port", str(port), "--data", str(data)]
    return Server(command, port, log=data.parent / "server.log")


@contextmanager
def running(server: Server) -> Iterator[Server]:
    """The server, started; killed at the end if it still runs."""
    server.start()
    try:
        yield server
    finally:
        if server.process is not None and server.process.poll() is None:
            server.kill()
