"""How long to wait after wrong tries, for a name and for an address. Pure arithmetic."""

import hashlib
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import IPv6Address, ip_address, ip_network
from math import ceil

from service.people.rules import TooManySignIns

FREE_TRIES = 5
LONGEST_WAIT = timedelta(minutes=15)

#: A name or address that was quiet for so long starts afresh.
TRIES_FORGOTTEN_AFTER = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Tries:
    """How often a name or an address was tried since it last succeeded, and when last."""

    count: int
    last_at: datetime


NO_TRIES = Tries(count=0, last_at=datetime.min.replace(tzinfo=UTC))


def wait_after(tries: int) -> timedelta:
    """How long nobody may try again: nothing up to the fifth, then 1 s, doubling, to 15 minutes.

    So of 1,000 guesses in an hour at most 20 are looked at. An account is never closed by guessing:
    that would hand strangers the switch.
    """
    if tries < FREE_TRIES:
        return timedelta(0)
    doublings = min(tries - FREE_TRIES, 10)  # 2^10 s is beyond the longest wait
    return min(timedelta(seconds=2**doublings), LONGEST_WAIT)


def one_more(tries: Tries, now: datetime) -> Tries:
    """The tries with this one; it counts before anything is compared. Raises TooManySignIns."""
    if now - tries.last_at > TRIES_FORGOTTEN_AFTER:
        tries = NO_TRIES
    wait = wait_after(tries.count)
    left = min(tries.last_at + wait - now, wait) if wait else timedelta(0)  # clocks go back too
    if left > timedelta(0):
        seconds = ceil(left.total_seconds())
        raise TooManySignIns(
            f"Wait {seconds} seconds, then try again. A manager can reset a forgotten password.",
            retry_after_seconds=seconds,
        )
    return Tries(tries.count + 1, now)


def name_bucket(username: str) -> str:
    """The bucket of a folded user name, whether anybody has it or not.

    Hashed, because people type their password into the wrong box.
    """
    return f"name:{hashlib.sha256(username.encode()).hexdigest()}"


def address_bucket(address: str | None) -> str:
    """Which addresses are one: each of IPv4; the 64-bit network of IPv6, which one device fills."""
    try:
        parsed = ip_address(address or "")
    except ValueError:
        return "address:unknown"
    if isinstance(parsed, IPv6Address):
        if parsed.ipv4_mapped is not None:
            return f"address:{parsed.ipv4_mapped}"
        return f"address:{ip_network((parsed.packed[:8] + bytes(8), 64))}"
    return f"address:{parsed}"
