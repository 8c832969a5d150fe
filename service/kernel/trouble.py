"""When the database itself fails: which of the three things that are nobody's fault it is.

What is none of them is a fault of ours. The texts are SQLite's, the five signs PostgreSQL's
(appendix "PostgreSQL Error Codes" of its documentation, PostgreSQL Global Development Group, 2025).
"""

from enum import Enum

from sqlalchemy.exc import DBAPIError, InterfaceError, OperationalError


class Trouble(Enum):
    """What fails, and what is known of the transaction it happened in."""

    FULL = "no room to write: rolled back"
    BUSY = "others were in the way for too long: rolled back"
    AWAY = "no answer: if it was the commit that got none, it may have been done or not"


#: SQLite's errors have no state.
_OF_SQLITE = ""

_FULL = "53100"

#: Not free in time, stopped by the server, in each other's way, too little memory.
_BUSY = ("55P03", "57014", "40001", "40P01", "53200")

#: Classes 08 (connection) and 57P0 (shutting down, starting up); too many connections; a
#: transaction that stood idle for too long.
_AWAY = ("08", "57P0", "53300", "25P03", "25P04")


def trouble_of(error: DBAPIError) -> Trouble | None:
    """What an error of the driver's means; None for a fault of ours."""
    if error.connection_invalidated:
        return Trouble.AWAY
    state: str | None = getattr(error.orig, "sqlstate", _OF_SQLITE)
    if state is _OF_SQLITE:
        return _of_sqlite(str(error.orig))
    if state is None:
        # The driver's own: no connection, or it was closed. A value it cannot send is our fault.
        return Trouble.AWAY if isinstance(error, OperationalError | InterfaceError) else None
    if state == _FULL:
        return Trouble.FULL
    if state in _BUSY:
        return Trouble.BUSY
    return Trouble.AWAY if state.startswith(_AWAY) else None


def _of_sqlite(words: str) -> Trouble | None:
    if "disk is full" in words:
        return Trouble.FULL
    return Trouble.BUSY if "locked" in words else None
