"""The hash chain: each record carries the hash of the one before, so none changes unseen."""

import hashlib

#: What the first record follows.
GENESIS = "0" * 64


def link(previous: str, content: str) -> str:
    """The hash of a record that follows `previous`: SHA-256 (FIPS 180-4, NIST, 2015), in hex."""
    return hashlib.sha256(f"{previous}\n{content}".encode()).hexdigest()
