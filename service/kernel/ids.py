"""Identifiers the service makes itself: UUIDs of version 7 (RFC 9562, IETF, 2024).

They begin with the time, so that neighbours in time are neighbours in an index. An id is a name,
never a secret.
"""

import os
import time
from uuid import UUID


def new_id() -> UUID:
    """A fresh UUIDv7: 48 bits of Unix milliseconds, version, 74 random bits, variant."""
    milliseconds = time.time_ns() // 1_000_000
    random_bits = int.from_bytes(os.urandom(10), "big")
    upper = (milliseconds << 16) | 0x7000 | (random_bits >> 68)
    lower = (0b10 << 62) | (random_bits & ((1 << 62) - 1))
    return UUID(int=(upper << 64) | lower)
