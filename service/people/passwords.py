"""What a password must be, and the one-time codes that stand in for one. Pure decisions.

Sources marked "from memory" were not at hand when this was written.
"""

import unicodedata
from collections.abc import Iterable

from service.kernel.codes import ALPHABET
from service.people.rules import WeakPassword, folded

#: 15 without a second factor (NIST SP 800-63B-4, 2025, 3.1.1.2; from memory).
SHORTEST_PASSWORD = 15

#: No password that a person types is longer; what is longer is refused, never cut.
LONGEST_PASSWORD = 1_000

_CODE_SYMBOLS = 16  # of 5 bits each: 80 bits
_CODE_GROUP = 4
_LOOK_ALIKES = str.maketrans("ILO", "110")
CODE_BITS = 5 * _CODE_SYMBOLS

#: Words that are the first guess here; what is left of a password without them must still be one.
_GUESSED_WORDS = (
    "administrator", "admin", "password", "passwort", "passwd", "letmein", "welcome", "changeme",
    "iloveyou", "secret", "login", "qwertz", "qwerty", "azerty", "correct", "battery", "staple",
    "rimebook", "station", "stallion", "straw", "semen", "nitrogen",
    "horse", "mare", "frozen", "freeze", "tank", "technician", "manager",
    "auditor", "vet",
)  # fmt: skip
_LEFT_AT_LEAST = 6
_RUNS = ("01234567890123456789", "abcdefghijklmnopqrstuvwxyz", "qwertyuiopasdfghjklzxcvbnm")
_RUN_LENGTH = 4


def normal_password(password: str) -> str:
    """The one form of a password, however a keyboard composed its letters (NFKC)."""
    return unicodedata.normalize("NFKC", password)


def new_password(password: str, *, own_words: Iterable[str]) -> str:
    """A password in its one form. `own_words` are the person's names.

    Length decides, not the kinds of signs in it; and it must not consist of what is guessed first.
    Raises WeakPassword.
    """
    normal = normal_password(password)
    if len(normal) < SHORTEST_PASSWORD:
        raise _weak(f"A password has at least {SHORTEST_PASSWORD} signs; this has {len(normal)}.")
    if len(normal) > LONGEST_PASSWORD:
        raise _weak(f"A password has at most {LONGEST_PASSWORD} signs.")
    if len(_hard_to_guess(normal, own_words)) < _LEFT_AT_LEAST:
        raise _weak("This is made of words, rows or repeats that are guessed first.")
    return normal


def _weak(fact: str) -> WeakPassword:
    return WeakPassword(
        f"{fact} Several words that have nothing to do with each other or with you are good.",
        errors=[{"field": "password", "message": fact}],
        shortest=SHORTEST_PASSWORD,
        longest=LONGEST_PASSWORD,
    )


def _hard_to_guess(password: str, own_words: Iterable[str]) -> str:
    """What is left without guessed words, rows of the keyboard, and what was there before."""
    left = _plain(password)
    own = (part for word in own_words for part in (_plain(word), *map(_plain, word.split())))
    guessed = {word for word in own if len(word) >= 3} | set(_GUESSED_WORDS)
    for word in sorted(guessed, key=len, reverse=True):
        left = left.replace(word, "")
    for run in _RUNS:
        for way in (run, run[::-1]):
            for start in range(len(way) - _RUN_LENGTH + 1):
                left = left.replace(way[start : start + _RUN_LENGTH], "")
    return _without_repeats(left)


def _plain(text: str) -> str:
    return "".join(sign for sign in folded(text) if not sign.isspace() and sign not in "._-+")


def _without_repeats(text: str) -> str:
    """The shortest beginning that the whole text repeats (`abcabcab` is three signs' worth)."""
    for period in range(1, len(text)):
        if all(sign == text[place % period] for place, sign in enumerate(text)):
            return text[:period]
    return text


def code_text(number: int) -> str:
    """80 random bits as a person types them: `7K2Q-M9XD-0RTV-5HJ4` (no I, L, O, U)."""
    symbols = "".join(
        ALPHABET[number >> (5 * place) & 31] for place in reversed(range(_CODE_SYMBOLS))
    )
    return "-".join(
        symbols[start : start + _CODE_GROUP] for start in range(0, _CODE_SYMBOLS, _CODE_GROUP)
    )


def bare_code(typed: str) -> str | None:
    """The symbols of a one-time code as typed; None when this cannot be one."""
    symbols = "".join(typed.replace("-", "").split()).upper().translate(_LOOK_ALIKES)
    fits = len(symbols) == _CODE_SYMBOLS and all(symbol in ALPHABET for symbol in symbols)
    return symbols if fits else None
