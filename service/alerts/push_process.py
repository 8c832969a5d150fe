"""Apprise, in a process of its own: `python -m service.alerts.push_process`, one order from stdin.

Apprise opens connections, files and programs as an address tells it to. Here it may only connect to
addresses that were looked up once and judged, reads nothing but its own libraries, and writes and
runs nothing (audit hooks: PEP 578, Python Software Foundation, 2019). They do not stop code that
means harm; they stop addresses that do. Whatever it logs is thrown away.

The order is JSON: url, title, text, urgent, private_allowed, and `send`: without that it is only
looked where the first request would go. So is the answer; see `Answered`.
"""

import gc
import json
import logging
import os
import socket
import sys
import sysconfig
import zoneinfo
from collections.abc import Iterable
from ipaddress import ip_address
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypedDict
from urllib.parse import urlsplit

from service.alerts.addresses import AddressRefused, Pinned, pinned, reach_of

if TYPE_CHECKING:
    from apprise import NotifyBase


class Answered(TypedDict):
    """`readable`: Apprise can make something of it; `sent`: the service took it.

    `origin` is where the first request goes (scheme, name and port), `status` the last HTTP status,
    `refusal` a sentence about a connection that was not made.
    """

    readable: bool
    sent: bool
    origin: str | None
    status: int | None
    refusal: str | None


class _NotHere(PermissionError):
    """Something that sending a message does not take."""


_FORBIDDEN = (
    "ctypes.",
    "os.",  # remove, rename, mkdir, system, exec, fork, posix_spawn, ...
    "pty.",
    "shutil.",
    "socket.bind",
    "socket.sendmsg",
    "socket.sendto",
    "sqlite3.",
    "subprocess.",
    "tempfile.",
    "webbrowser.",
    "winreg.",
)
_HARMLESS = {"os.listdir", "os.scandir", "os.walk", "os.fwalk", "os.putenv", "os.unsetenv"}

_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND


class Guard:
    """What Apprise may do while it carries out one order, and what it did."""

    def __init__(self, *, private_allowed: bool, send: bool) -> None:
        import apprise

        self._private_allowed = private_allowed
        self._send = send
        self._places: dict[str, tuple[str, ...]] = {}
        # Not all of `sys.path`: the folder that this code is in may hold the book, too.
        libraries = (sysconfig.get_path(each) for each in ("stdlib", "platstdlib"))
        packages = str(Path(apprise.__file__).parents[1])
        self._readable = tuple(
            Path(each).resolve() for each in {*libraries, packages, *zoneinfo.TZPATH}
        )
        self.origin: str | None = None
        self.status: int | None = None
        self.refusal: str | None = None

    def stand(self) -> None:
        """From here on; there is no way back in this process."""
        import requests
        from requests.adapters import HTTPAdapter

        ask, look_up = HTTPAdapter.send, socket.getaddrinfo

        def asked(adapter: Any, request: Any, **how: Any) -> Any:
            place = self._admitted(request.url)
            if place is None:
                raise requests.ConnectionError
            how["proxies"] = {}
            # An address may ask for no check of certificates (`verify=no`): at the station only.
            if any(reach_of(address) == "global" for address in place.addresses):
                how["verify"] = True
            answer = ask(adapter, request, **how)
            self.status = answer.status_code
            return answer

        def looked_up(host: Any, port: Any, *rest: Any, **more: Any) -> list[Any]:
            found: list[Any] = []
            for address in self._places.get(str(host).lower().rstrip("."), ()):
                found += look_up(address, port, *rest, **more)
            if not found:
                raise socket.gaierror(socket.EAI_NONAME, "not looked up")
            return found

        HTTPAdapter.send = asked  # type: ignore[assignment, method-assign]
        socket.getaddrinfo = looked_up
        sys.addaudithook(self._hear)

    def _admitted(self, url: str) -> Pinned | None:
        """Where a request goes, judged; None when it may not. All behind the name may be a key."""
        parts = urlsplit(url)
        origin = f"{parts.scheme}://{parts.netloc.rpartition('@')[2]}/"
        self.origin = self.origin or origin
        if not self._send:
            return None
        try:
            place = pinned(origin, private_allowed=self._private_allowed, resolve=_resolve)
        except AddressRefused as refused:
            self.refusal = refused.detail
            return None
        self._places[place.name] = tuple(str(address) for address in place.addresses)
        return place

    def _hear(self, event: str, told: tuple[Any, ...]) -> None:
        """Every act that Python tells of, before it is done."""
        if event == "open":
            path, _, flags = told
            if (flags or 0) & _WRITING or not self._may_read(path):
                raise _NotHere
        elif event == "socket.connect":
            address = told[1]
            if not isinstance(address, tuple) or not self._is_place(address[0]):
                raise _NotHere
        elif event.startswith(_FORBIDDEN) and event not in _HARMLESS:
            raise _NotHere

    def _may_read(self, path: Any) -> bool:
        if isinstance(path, int):  # open already
            return True
        whole = Path(os.fsdecode(path)).resolve()
        return any(whole.is_relative_to(each) for each in self._readable)

    def _is_place(self, host: Any) -> bool:
        places = (each for addresses in self._places.values() for each in addresses)
        return str(ip_address(str(host).partition("%")[0])) in set(places)


#: The system's look-up, kept before Apprise gets another one.
_LOOK_UP = socket.getaddrinfo


def _resolve(name: str, port: int) -> Iterable[str]:
    return [str(entry[4][0]) for entry in _LOOK_UP(name, port, type=socket.SOCK_STREAM)]


def carried_out(order: dict[str, Any]) -> Answered:
    """Look at the address, and send if that was ordered."""
    from apprise import Apprise, AppriseAsset, NotifyFormat, NotifyType
    from apprise.common import OverflowMode

    asset = AppriseAsset(
        app_id="Rimebook",
        app_desc="Rimebook",
        app_url="",
        image_url_mask="",  # phones would fetch it from elsewhere
        image_url_logo="",
        pgp_autogen=False,
        pem_autogen=False,
        http_redirects=False,
        language="en",
    )
    # Reads all services; afterwards nothing more has to be loaded.
    service: NotifyBase | None = Apprise.instantiate("ntfy://nothing", asset=asset)
    guard = Guard(private_allowed=order["private_allowed"], send=order["send"])
    guard.stand()
    service = Apprise.instantiate(order["url"], asset=asset)
    sent = False
    if service is not None:
        # Whatever the address says: with `optional` a failure would count as sent, and trying
        # again is the caller's.
        service.redirects, service.optional, service.retry = False, False, 0
        if service.overflow_mode == OverflowMode.UPSTREAM:
            # Better the beginning of a message than none.
            service.overflow_mode = OverflowMode.TRUNCATE
        sending = Apprise(asset=asset)
        sending.add(service)
        sent = bool(
            sending.notify(
                title=order["title"],
                body=order["text"],
                notify_type=NotifyType.WARNING if order["urgent"] else NotifyType.INFO,
                body_format=NotifyFormat.TEXT,
            )
        )
    return Answered(
        readable=service is not None,
        sent=sent and order["send"],
        origin=guard.origin,
        status=guard.status,
        refusal=guard.refusal,
    )


def main() -> None:
    """One order, one answer."""
    order = json.load(sys.stdin.buffer)
    logging.disable(logging.CRITICAL)
    gc.disable()  # an eighth of the time went into it, and this ends at once
    # What a library prints is not the answer.
    answer_to, sys.stdout = sys.stdout, sys.stderr
    answer = carried_out(order)
    answer_to.write(json.dumps(answer))
    answer_to.flush()
    os._exit(0)  # without waiting for what Apprise may have left running


if __name__ == "__main__":
    main()
