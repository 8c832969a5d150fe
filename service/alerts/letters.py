"""What is sent, and how sending can fail: the words that every way of sending speaks in."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """One message to one receiver; sent again, it is the same letter under the same id.

    `subject` is one line, `text` plain text, `data` what a program is told (JSON). `attempt` counts
    from 1. `urgent`: somebody has to act within the hour.
    """

    id: UUID
    kind: str
    subject: str
    text: str
    data: Mapping[str, Any]
    created_at: datetime
    attempt: int
    urgent: bool = False


class NotSent(Exception):
    """The receiver did not take it; `detail` is a sentence for a manager, without any secret.

    `for_good`: trying again changes nothing (no such mailbox, a wrong key). `gone`: the receiver
    asks never to be sent to again.
    """

    def __init__(self, detail: str, *, for_good: bool = False, gone: bool = False) -> None:
        super().__init__(detail)
        self.detail = detail
        self.for_good = for_good
        self.gone = gone
