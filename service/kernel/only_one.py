"""One server a data folder: a second one is told so instead of sharing the SQLite file.

Older SQLite versions have a rare race between a write-ahead log's reset and another process's
commit; one server process keeps clear of it, and the write queue of `edge.transaction` works
inside one process only.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from service.kernel.errors import DatabaseUnfit

try:
    import fcntl
except ImportError:  # Windows: SQLite's own locks still keep the book sound
    fcntl = None  # type: ignore[assignment]


@contextmanager
def only_server(folder: Path) -> Iterator[None]:
    """Hold the folder's lock while serving. Raises DatabaseUnfit when another server holds it."""
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / "server.lock").open("a") as lock:
        if fcntl is not None:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError as error:
                raise DatabaseUnfit(
                    f"Another Rimebook already serves {folder}. Stop it first, or choose another "
                    "folder with --data."
                ) from error
        yield
