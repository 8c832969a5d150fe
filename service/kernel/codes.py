"""Codes that stand on straws, batches and places: how one is made, read and shown.

A code is nine symbols of Crockford's base 32 (D. Crockford, "Base 32", 2002: no I, L, O, U): one
letter for its kind, seven random symbols (35 bits), one check symbol. The check is a weighted sum
over the field GF(32): with the symbols as field elements s0..s8 and a generator g,

    s0*g^8 + s1*g^7 + ... + s7*g + s8 = 0.

All nine weights differ and none is zero, so one wrong symbol, and two symbols that changed places
(neighbours or not, the check itself included), never go unseen. Two wrong symbols slip through
about once in 31.

In a symbol a code stands bare: upper case, no hyphen (some keyboard layouts turn a scanner's
hyphen into another sign). For people it is shown in three groups of three.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from service.kernel.errors import Invalid
from service.kernel.quoting import shown

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
RANDOM_BITS = 35
LENGTH = 9

_VALUE = {symbol: value for value, symbol in enumerate(ALPHABET)}
_FIELD_POLYNOMIAL = 0b100101  # x^5 + x^2 + 1 is primitive, so x generates all 31 non-zero elements
_LONGEST_INPUT = 60
_DASHES = "-\u2010\u2011\u2012\u2013\u2014\u2212"
_SEPARATORS = dict.fromkeys(map(ord, _DASHES))
_LOOK_ALIKES = str.maketrans("IiLlOo", "111100")


class Kind(StrEnum):
    """What a code stands for; the value is its name in the API."""

    STRAW = "straw"
    BATCH = "batch"
    GOBLET = "goblet"
    CANISTER = "canister"
    TANK = "tank"

    @property
    def letter(self) -> str:
        """The code's first symbol."""
        return _LETTER[self]


_LETTER = {
    Kind.STRAW: "S",
    Kind.BATCH: "B",
    Kind.GOBLET: "G",
    Kind.CANISTER: "C",
    Kind.TANK: "T",
}
_KIND = {letter: kind for kind, letter in _LETTER.items()}


@dataclass(frozen=True, slots=True)
class Code:
    """A code that was read and checks: its kind, and its nine symbols, bare and upper case."""

    kind: Kind
    code: str


class MisreadCode(Invalid):
    """What arrived is not one of our codes as it was printed."""

    code = "misread-code"
    title = "The code was not read correctly"


def make(kind: Kind, draw: Callable[[int], int]) -> str:
    """A new code; `draw(bits)` gives a random integer of that many bits.

    Random, not counted up, so that a wrong code hardly ever is another one that exists. That it
    was never issued before is for the caller's unique index to say.
    """
    number = draw(RANDOM_BITS)
    if not 0 <= number < 1 << RANDOM_BITS:
        raise ValueError(f"draw({RANDOM_BITS}) gave {number}")
    digits = (number >> shift & 31 for shift in range(RANDOM_BITS - 5, -1, -5))
    payload = kind.letter + "".join(ALPHABET[digit] for digit in digits)
    return payload + check_symbol(payload)


def read(text: str) -> Code:
    """The code in what a person typed or a scanner sent.

    Case, spaces and hyphens do not matter; i and l are read as 1, o as 0. Whether the code was
    ever issued is not known here.
    """
    if len(text) > _LONGEST_INPUT:
        raise _misread(text, f"A code has {LENGTH} symbols; this has {len(text)} characters.")
    symbols = "".join(text.translate(_SEPARATORS).split()).translate(_LOOK_ALIKES)
    if not symbols:
        raise _misread(text, "No code arrived.")
    # Upper case only within ASCII: elsewhere it would turn foreign letters into ours (ſ into S).
    symbols = symbols.upper() if symbols.isascii() else symbols
    if strange := next((symbol for symbol in symbols if symbol not in _VALUE), None):
        raise _misread(text, f"“{shown(strange)}” is not used in codes.")
    if len(symbols) != LENGTH:
        raise _misread(text, f"A code has {LENGTH} symbols; this has {len(symbols)}.")
    kind = _KIND.get(symbols[0])
    if kind is None:
        raise _misread(text, f"No code begins with “{symbols[0]}”.")
    if check_symbol(symbols[:-1]) != symbols[-1]:
        raise _misread(text, "A symbol is wrong, or two have changed places.")
    return Code(kind, symbols)


def grouped(code: str) -> str:
    """The code as people read it: `S12345678` is shown as `S12 345 678`."""
    return " ".join(code[start : start + 3] for start in range(0, len(code), 3))


def check_symbol(payload: str) -> str:
    """The symbol that brings the weighted sum of `payload` and itself to zero."""
    total = 0
    for symbol in payload:
        total = times_generator(total ^ _VALUE[symbol])
    return ALPHABET[total]


def times_generator(element: int) -> int:
    """`element` times x in GF(32): shift, and reduce when it grows out of five bits."""
    doubled = element << 1
    return doubled ^ _FIELD_POLYNOMIAL if doubled & 0b100000 else doubled


def _misread(text: str, fact: str) -> MisreadCode:
    arrived = shown(text)
    lead = f"“{arrived}”: " if arrived.strip() else ""
    return MisreadCode(
        f"{lead}{fact} Scan it again, or type the {LENGTH} symbols printed beside it.",
        arrived=arrived,
    )
