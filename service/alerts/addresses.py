"""Where the service may send to: the outside world, not this machine nor the network around it.

Somebody who may enter an address must not reach through it what only this machine can reach
(server-side request forgery). So the name is looked up once, every answer is judged, and the
connection goes to a judged address; what the name says later does not matter, and a redirect is
not followed. What is global say the special-purpose registries of IANA (RFC 6890, Internet
Engineering Task Force, 2013), as Python's `ipaddress` knows them. Addresses that carry another one
inside are judged by that one: RFC 4291 (2006, mapped), RFC 6052 (2010, NAT64), RFC 3056 (2001,
6to4), RFC 4380 (2006, Teredo); all from memory.
"""

import logging
import re
import socket
import ssl
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from ipaddress import IPv4Address, IPv6Address, IPv6Network, ip_address
from queue import Empty, SimpleQueue
from threading import Lock, Thread, Timer
from typing import TYPE_CHECKING, Literal, NamedTuple, Self
from urllib.parse import SplitResult, urlsplit

from service.alerts.letters import NotSent
from service.kernel.errors import Invalid

if TYPE_CHECKING:
    from urllib3.connection import HTTPConnection
    from urllib3.response import HTTPResponse

IPAddress = IPv4Address | IPv6Address

#: Looks a name up: name and port to addresses as text; OSError when there is no such name.
Resolve = Callable[[str, int], Iterable[str]]

LONGEST_URL = 2_000

_NAT64 = IPv6Network("64:ff9b::/96")
_COMPATIBLE = IPv6Network("::/96")  # RFC 4291 took it out of use; some systems still read it

#: What a URL is made of (RFC 3986, 2005); anything else is written with %.
_URL = re.compile(r"[!#-;=?-\[\]_a-z~]+")
_LABEL = re.compile(r"(?!-)[a-z0-9_-]{1,63}(?<!-)")
_NUMBER = re.compile(r"[0-9]+|0x[0-9a-f]*")


class AddressRefused(Invalid):
    """An address that is not sent to; the sentence names the host at most, for the rest may be a
    key.
    """

    code = "address-refused"
    title = "This address is not sent to"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """How long one request may take in all, in seconds, and how many bytes of answer are read."""

    seconds: float = 10.0
    answer_bytes: int = 64 * 1024


LIMITS = Limits()


@dataclass(frozen=True, slots=True, kw_only=True)
class Pinned:
    """A URL whose name was looked up and judged: connections go to `addresses` only.

    `name` is what the Host header, SNI and the certificate are about. `target` (path and query) is
    not shown: it may hold a key.
    """

    secure: bool
    name: str
    port: int
    target: str = field(repr=False)
    addresses: tuple[IPAddress, ...]

    @property
    def host(self) -> str:
        """The value of the Host header."""
        name = f"[{self.name}]" if ":" in self.name else self.name
        return name if self.port == (443 if self.secure else 80) else f"{name}:{self.port}"


class Answer(NamedTuple):
    """What a server said; header names are in lower case, a body that is too long is cut."""

    status: int
    headers: Mapping[str, str]
    body: bytes


def system_resolve(name: str, port: int) -> list[str]:
    """All that the system knows under this name."""
    found = socket.getaddrinfo(name, port, type=socket.SOCK_STREAM)
    return [str(entry[4][0]) for entry in found]


def pinned(
    url: str,
    *,
    private_allowed: bool,
    resolve: Resolve = system_resolve,
    seconds: float = LIMITS.seconds,
) -> Pinned:
    """The URL with the addresses behind its name. Raises AddressRefused.

    With `private_allowed` addresses of this machine and its own network are fine, too, and those
    may be spoken to by http. The name is looked up for so many `seconds` at most.
    """
    parts = _split(url)
    name = _name(parts)
    secure = parts.scheme.lower() == "https"
    try:
        port = parts.port or (443 if secure else 80)
    except ValueError:
        raise AddressRefused("The port in this address is not one: use 1 to 65535.") from None
    if not (secure or private_allowed):
        raise AddressRefused("Only https is sent to, so that nobody reads along: write https://.")
    addresses = _looked_up(name, port, resolve=resolve, seconds=seconds)
    _judge(name, addresses, secure=secure, private_allowed=private_allowed)
    path = parts.path or "/"
    return Pinned(
        secure=secure,
        name=name,
        port=port,
        target=f"{path}?{parts.query}" if parts.query else path,
        addresses=addresses,
    )


def _split(url: str) -> SplitResult:
    if len(url) > LONGEST_URL:
        raise AddressRefused(f"An address has {LONGEST_URL} characters at most.")
    # Before it is taken apart: `urlsplit` leaves tabs and line ends out without a word.
    if not _URL.fullmatch(url):
        raise AddressRefused(
            "There is a character in this address that cannot be in one: write it with %, and a "
            "name with other letters in its form with xn--."
        )
    try:
        parts = urlsplit(url)
    except ValueError:
        raise AddressRefused("This is not an address: write https://name/path.") from None
    if parts.scheme.lower() not in {"http", "https"} or not parts.netloc:
        raise AddressRefused("This is not a web address: write https://name/path.")
    if "@" in parts.netloc:
        raise AddressRefused("Leave user name and password out of the address.")
    if parts.netloc.endswith(":0"):
        raise AddressRefused("The port in this address is not one: use 1 to 65535.")
    return parts


def _name(parts: SplitResult) -> str:
    """The host in lower case, without a last dot. Raises AddressRefused for odd spellings."""
    name = (parts.hostname or "").removesuffix(".")
    try:
        return str(ip_address(name))
    except ValueError:
        pass
    labels = name.split(".")
    if not all(_LABEL.fullmatch(label) for label in labels):
        raise AddressRefused("This is not the name of a machine: write https://name/path.")
    # Systems read 2130706433, 0x7f.1 and 0177.0.0.1 as 127.0.0.1; nobody writes so by mistake.
    if _NUMBER.fullmatch(labels[-1]):
        raise AddressRefused("Write an address in numbers as four of them, such as 192.0.2.7.")
    return name


def _looked_up(name: str, port: int, *, resolve: Resolve, seconds: float) -> tuple[IPAddress, ...]:
    try:
        return (ip_address(name),)
    except ValueError:
        pass
    answers: SimpleQueue[list[str]] = SimpleQueue()

    def ask() -> None:
        try:
            answers.put(list(resolve(name, port)))
        except (OSError, UnicodeError):
            answers.put([])

    # The system's look-up knows no time limit: it is left behind when it takes too long.
    Thread(target=ask, name="look-up", daemon=True).start()
    try:
        found = answers.get(timeout=max(seconds, 0))
    except Empty:
        found = []
    if not found:
        raise AddressRefused(
            f"The name {name} is not known here at the moment: is it spelled right, and is the "
            "network up?"
        )
    return tuple(dict.fromkeys(ip_address(text) for text in found))


def _judge(
    name: str, addresses: Iterable[IPAddress], *, secure: bool, private_allowed: bool
) -> None:
    for address in addresses:
        reach = reach_of(address)
        if reach == "never" or (reach == "private" and not private_allowed):
            raise AddressRefused(
                f"{name} is {address}, on this machine or its own network or for special use: "
                "give an address in the internet, or have private addresses allowed."
            )
        if reach == "global" and not secure:
            raise AddressRefused(
                f"{name} is in the internet, where only https is sent to: write https://."
            )


def reach_of(address: IPAddress) -> Literal["global", "private", "never"]:
    """How far an address reaches; "never" is what no receiver has.

    Link-local is among that: 169.254.169.254 hands out the keys of rented machines.
    """
    inside = _carried(address)
    if inside:
        reaches = {reach_of(each) for each in inside}
        return "never" if "never" in reaches else "private" if "private" in reaches else "global"
    if address.is_loopback:
        return "private"
    if (
        address.is_multicast
        or address.is_unspecified
        or address.is_link_local
        or address.is_reserved
        or (address.version == 4 and address.packed[0] == 0)  # "this network"
        or (isinstance(address, IPv6Address) and address.is_site_local)
    ):
        return "never"
    return "global" if address.is_global else "private"


def _carried(address: IPAddress) -> list[IPv4Address]:
    """The addresses inside one that carries others."""
    if isinstance(address, IPv4Address):
        return []
    if address.ipv4_mapped:
        return [address.ipv4_mapped]
    if address.sixtofour:
        return [address.sixtofour]
    if address.teredo:
        return list(address.teredo)
    if address in _NAT64 or (address in _COMPATIBLE and int(address) > 1):
        return [IPv4Address(address.packed[-4:])]
    return []


class Watch:
    """Ends the connections it was given after so many seconds, whatever the other side does.

    A socket's own time limit begins anew with every byte, so that a server that sends one now and
    then is never late. `ended` tells whether it came to that.
    """

    def __init__(self, seconds: float) -> None:
        self.ended = False
        self._until = time.monotonic() + seconds
        self._lock = Lock()
        self._handles: list[socket.socket] = []
        self._timer = Timer(seconds, self._end)
        self._timer.daemon = True

    def left(self) -> float:
        """Seconds until then; never nothing, which would mean without waiting."""
        return max(self._until - time.monotonic(), 0.001)

    def over(self, connected: socket.socket) -> None:
        """End this one, too; TLS may take the socket itself over, so it is kept under a copy."""
        with self._lock:
            self._handles.append(connected.dup())
        if self.ended:
            self._end()

    def _end(self) -> None:
        with self._lock:
            self.ended = True
            for handle in self._handles:
                try:
                    handle.shutdown(socket.SHUT_RDWR)
                except OSError:  # it has ended
                    continue

    def __enter__(self) -> Self:
        """Begin to count."""
        self._timer.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Done: nothing is ended any more."""
        self._timer.cancel()
        with self._lock:
            for handle in self._handles:
                handle.close()
            self._handles.clear()


def request(
    method: str,
    url: str,
    *,
    headers: Mapping[str, str],
    body: bytes | None,
    private_allowed: bool,
    resolve: Resolve = system_resolve,
    limits: Limits = LIMITS,
    tls: ssl.SSLContext | None = None,
) -> Answer:
    """Ask once, at one of the judged addresses; whatever the status, it is the answer.

    Certificates are checked against the system's authorities, or as `tls` says. Raises
    AddressRefused, and NotSent when there is no answer within the limits.
    """
    from http.client import HTTPException

    from urllib3.exceptions import HTTPError

    logging.getLogger("urllib3.connection").addFilter(_says_nothing)
    with Watch(limits.seconds) as watch:
        place = pinned(url, private_allowed=private_allowed, resolve=resolve, seconds=watch.left())
        connection = _connected(place, watch, tls)
        told = {"Host": place.host, "User-Agent": "Rimebook", "Accept-Encoding": "identity"}
        try:
            connection.request(
                method,
                place.target,
                body=body,
                headers={**told, **headers},
                preload_content=False,
                decode_content=False,
            )
            response = connection.getresponse()
            said = {name.lower(): value for name, value in response.headers.items()}
            answer = Answer(response.status, said, _read(response, limits.answer_bytes))
        except (HTTPError, HTTPException, OSError) as error:
            raise NotSent(_why(place, error, watch)) from None
        finally:
            connection.close()
        # A connection that was ended looks as if the server had said all it wanted to.
        if watch.ended:
            raise NotSent(_why(place, None, watch))
    return answer


def _says_nothing(_: logging.LogRecord) -> bool:
    """Drop a record: urllib3 logs the whole address, keys and all, when headers are broken."""
    return False


def _connected(place: Pinned, watch: Watch, tls: ssl.SSLContext | None) -> "HTTPConnection":
    """A connection to the first of the addresses that takes one. Raises NotSent."""
    from urllib3.connection import HTTPConnection, HTTPSConnection
    from urllib3.exceptions import HTTPError

    context = (tls or ssl.create_default_context()) if place.secure else None
    failure: Exception | None = None
    for at, address in enumerate(place.addresses):
        share = watch.left() / (len(place.addresses) - at)
        connection = (
            HTTPSConnection(
                str(address),
                place.port,
                timeout=share,
                ssl_context=context,
                server_hostname=place.name,  # OpenSSL checks the certificate against it
            )
            if context
            else HTTPConnection(str(address), place.port, timeout=share)
        )
        try:
            _dial(connection, watch)
        except (HTTPError, OSError) as error:
            connection.close()
            failure = error
        else:
            connection.timeout = watch.left()
            return connection
    raise NotSent(_why(place, failure, watch))


def _dial(connection: "HTTPConnection", watch: Watch) -> None:
    """Connect, with the socket watched before TLS begins: a handshake can be drawn out as well."""
    new_socket = connection._new_conn

    def watched() -> socket.socket:
        connected = new_socket()
        watch.over(connected)
        return connected

    connection._new_conn = watched  # type: ignore[method-assign]
    connection.connect()


def _read(response: "HTTPResponse", most: int) -> bytes:
    read = b""
    while len(read) < most and (more := response.read(most - len(read))):
        read += more
    return read


def _why(place: Pinned, error: Exception | None, watch: Watch) -> str:
    """A sentence for a manager; the error's own words may hold the address with its keys."""
    from urllib3.exceptions import NewConnectionError, SSLError
    from urllib3.exceptions import TimeoutError as LibraryTimeoutError

    late = isinstance(error, TimeoutError | LibraryTimeoutError)
    if watch.ended or (late and not isinstance(error, NewConnectionError)):
        return f"{place.name} did not answer in time."
    if isinstance(error, SSLError | ssl.SSLError):
        return (
            f"The certificate of {place.name} does not prove that it is {place.name}, or it "
            "speaks no TLS that is safe today."
        )
    return f"{place.name} cannot be reached on port {place.port}, or broke off."
