"""Signed messages to programs: Standard Webhooks 1.0.0 (github.com/standard-webhooks, 2023).

Read there and from memory: the signature is HMAC-SHA256 over "id.timestamp.body", in base64 behind
"v1,"; a receiver refuses what is minutes old, and takes the same id only once.
"""

import base64
import binascii
import hmac
import json
import ssl
from collections.abc import Callable, Sequence
from datetime import UTC, datetime

from service.alerts import addresses
from service.alerts.addresses import LIMITS, AddressRefused, Answer, Limits, Resolve
from service.alerts.letters import Letter, NotSent

#: Bytes; the standard asks for payloads under 20 kB.
LARGEST_BODY = 20_000

SECRET_PREFIX = "whsec_"  # noqa: S105 - what every secret begins with
_NEW_SECRET_BITS = 256
_SHORTEST_SECRET, _LONGEST_SECRET = 24, 64


def new_secret(draw: Callable[[int], int]) -> str:
    """A secret for one receiver; `draw` gives a number of so many random bits."""
    key = draw(_NEW_SECRET_BITS).to_bytes(_NEW_SECRET_BITS // 8, "big")
    return SECRET_PREFIX + base64.b64encode(key).decode()


def body_of(letter: Letter) -> bytes:
    """What is sent, in bytes. Raises ValueError when it is too large."""
    said = {
        "type": letter.kind,
        "timestamp": letter.created_at.astimezone(UTC).isoformat().replace("+00:00", "Z"),
        "data": letter.data,
    }
    body = json.dumps(said, ensure_ascii=False, separators=(",", ":")).encode()
    if len(body) >= LARGEST_BODY:
        raise ValueError(f"a webhook has less than {LARGEST_BODY} bytes; this has {len(body)}")
    return body


def signature(secret: str, *, id: str, timestamp: int, body: bytes) -> str:
    """One signature of the header. Raises ValueError for a secret that is not one."""
    signed = f"{id}.{timestamp}.".encode() + body
    return "v1," + base64.b64encode(hmac.digest(_key(secret), signed, "sha256")).decode()


def _key(secret: str) -> bytes:
    try:
        key = base64.b64decode(secret.removeprefix(SECRET_PREFIX), validate=True)
    except (binascii.Error, ValueError):
        key = b""
    if not (secret.startswith(SECRET_PREFIX) and _SHORTEST_SECRET <= len(key) <= _LONGEST_SECRET):
        raise ValueError("a webhook secret is whsec_ and the base64 of 24 to 64 bytes")
    return key


def send(
    letter: Letter,
    url: str,
    secrets: Sequence[str],
    *,
    now: datetime,
    private_allowed: bool,
    resolve: Resolve = addresses.system_resolve,
    limits: Limits = LIMITS,
    tls: ssl.SSLContext | None = None,
) -> None:
    """Send it, signed with each of `secrets` (several while one is replaced).

    Raises NotSent, and ValueError for a body that is too large or a secret that is not one. After
    status 410 the receiver wants nothing more (`gone`).
    """
    if not secrets:
        raise ValueError("a webhook is signed with one secret at least")
    body = body_of(letter)
    timestamp = int(now.timestamp())
    signatures = [
        signature(secret, id=str(letter.id), timestamp=timestamp, body=body) for secret in secrets
    ]
    headers = {
        "Content-Type": "application/json",
        "webhook-id": str(letter.id),
        "webhook-timestamp": str(timestamp),
        "webhook-signature": " ".join(signatures),
    }
    if letter.attempt > 1:
        headers["webhook-attempt"] = str(letter.attempt)
    try:
        answer = addresses.request(
            "POST",
            url,
            headers=headers,
            body=body,
            private_allowed=private_allowed,
            resolve=resolve,
            limits=limits,
            tls=tls,
        )
    except AddressRefused as refused:
        raise NotSent(refused.detail) from None
    _check(answer)


def ping(
    url: str,
    *,
    private_allowed: bool,
    resolve: Resolve = addresses.system_resolve,
    limits: Limits = LIMITS,
    tls: ssl.SSLContext | None = None,
) -> None:
    """Tell an outside watch that the service is alive: a plain GET. Raises NotSent."""
    try:
        answer = addresses.request(
            "GET",
            url,
            headers={},
            body=None,
            private_allowed=private_allowed,
            resolve=resolve,
            limits=limits,
            tls=tls,
        )
    except AddressRefused as refused:
        raise NotSent(refused.detail) from None
    _check(answer)


def _check(answer: Answer) -> None:
    """Raise NotSent unless it was taken; its own words are not repeated, they may echo a key."""
    status = answer.status
    if 200 <= status < 300:
        return
    if status == 410:
        raise NotSent(
            "The receiver answered 410: it is gone for good and asks for no more.",
            for_good=True,
            gone=True,
        )
    if 300 <= status < 400:
        raise NotSent(
            f"The receiver answered {status}, that it is elsewhere. Redirects are not followed: "
            "enter the address it moved to."
        )
    whose = "it refuses this message" if status < 500 else "it is in trouble itself"
    raise NotSent(f"The receiver answered {status}: {whose}.")
