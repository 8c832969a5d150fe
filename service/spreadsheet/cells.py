"""Text that a spreadsheet program must not run or recompute, out and in again. Pure.

A cell that begins with = + - @, TAB, CR, LF or NUL may be run as a formula (OWASP, "CSV Injection",
owasp.org; ASVS 5.0.0, OWASP, 2025, 1.2.10; the full-width signs from memory). Such a cell goes out
with an apostrophe before it, and so does one that a program would turn into a number (3E10). What
begins with an apostrophe already gets a second one, so nothing is lost; numbers stay numbers.
"""

import re

_DANGEROUS = "=+-@\t\r\n\0＝＋－＠"

#: What a spreadsheet program turns into a number that no one can turn back.
_POWER = re.compile(r"[0-9]+(?:[.,][0-9]+)?[eE][+-]?[0-9]{1,4}")

_APOSTROPHE = "'"


def _guarded(text: str) -> bool:
    return bool(text) and (text[0] in _DANGEROUS or text[0] == _APOSTROPHE or is_power(text))


def is_power(text: str) -> bool:
    """Whether this is a number with a power of ten, as programs write a code like 3E10 (3E+10)."""
    return _POWER.fullmatch(text.strip()) is not None


def guarded(text: str) -> str:
    """Text as it goes out into a cell."""
    return _APOSTROPHE + text if _guarded(text) else text


def unguarded(cell: str) -> str:
    """Text as it was before it went out; what a person wrote ('t Zand) stays as it is."""
    if cell.startswith(_APOSTROPHE) and _guarded(cell[1:]):
        return cell[1:]
    return cell
