"""Passwords, codes and tokens: how they are made and in which form they are kept.

Random text comes from the operating system here and not by argument as other things do: a secret
must never come from a source that somebody could have fixed.
"""

import hashlib
import secrets

from argon2 import PasswordHasher
from argon2.exceptions import VerifyMismatchError

from service.people.passwords import CODE_BITS, bare_code, code_text, normal_password

#: Argon2id (RFC 9106, IETF, 2021) with 19 MiB, two passes, one lane: the least that OWASP's
#: "Password Storage Cheat Sheet" names (from memory). A sign-in costs about 20 ms of one core.
_HASHER = PasswordHasher(time_cost=2, memory_cost=19 * 1024, parallelism=1)

_TOKEN_BYTES = 32  # 256 bits
#: Lets a search through files find tokens that were left lying about.
_TOKEN_MARK = "rimebook_"  # noqa: S105


def hashed_password(password: str) -> str:
    """The form in which a password is kept; takes a while, so never inside a transaction."""
    return _HASHER.hash(normal_password(password))


def password_matches(kept: str | None, password: str) -> bool:
    """Whether a password is the kept one; without a kept one it takes as long and says no."""
    if kept is None:
        _HASHER.hash(normal_password(password))
        return False
    try:
        return _HASHER.verify(kept, normal_password(password))
    except VerifyMismatchError:
        return False


def is_outdated(kept: str | None) -> bool:
    """Whether a kept password was hashed with other settings than today's."""
    return kept is not None and _HASHER.check_needs_rehash(kept)


def new_code() -> str:
    """A new one-time code, as a person types it."""
    return code_text(secrets.randbits(CODE_BITS))


def code_digest(typed: str) -> str | None:
    """The form in which a one-time code is kept; None when what was typed cannot be one."""
    symbols = bare_code(typed)
    return None if symbols is None else digest(symbols)


def new_session_token() -> str:
    """The text of a new session cookie."""
    return secrets.token_urlsafe(_TOKEN_BYTES)


def new_token() -> str:
    """The text of a new token for a program."""
    return _TOKEN_MARK + secrets.token_urlsafe(_TOKEN_BYTES)


def digest(secret: str) -> str:
    """SHA-256 in hex: enough for random text of 80 bits and more, and quick at each request."""
    return hashlib.sha256(secret.encode()).hexdigest()
