"""How far each import is: kept in memory, for whoever waits; the book itself knows what is done."""

import threading
from collections import OrderedDict
from typing import NamedTuple
from uuid import UUID

#: Imports that are remembered; the oldest is forgotten.
_REMEMBERED = 100


class Progress(NamedTuple):
    """`state` is waiting (not heard of yet), reading, booking, done or refused."""

    state: str
    rows_done: int = 0
    rows: int = 0


class ProgressBoard:
    """Written by the thread that imports, read by those that ask."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._seen: OrderedDict[UUID, Progress] = OrderedDict()

    def tell(self, import_id: UUID, progress: Progress) -> None:
        """What goes on now."""
        with self._lock:
            self._seen[import_id] = progress
            self._seen.move_to_end(import_id)
            while len(self._seen) > _REMEMBERED:
                self._seen.popitem(last=False)

    def of(self, import_id: UUID) -> Progress:
        """How far an import is; `waiting` for one that nobody has heard of."""
        with self._lock:
            return self._seen.get(import_id, Progress("waiting"))
