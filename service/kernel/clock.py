"""Time: one clock, handed down as an argument, and the text form in which moments are kept."""

from collections.abc import Callable
from datetime import UTC, datetime

Clock = Callable[[], datetime]


def utc_now() -> datetime:
    """The present moment in UTC. Only the HTTP edge and the command line call it."""
    return datetime.now(UTC)


def as_text(moment: datetime) -> str:
    """A moment as fixed-width RFC 3339 text in UTC (`2026-03-03T14:05:00.000000Z`).

    Fixed width, so that the text sorts as the moments do; the same text goes into the hash chain,
    whatever database keeps it.
    """
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def from_text(text: str) -> datetime:
    """The moment that `as_text` wrote."""
    return datetime.fromisoformat(text)
