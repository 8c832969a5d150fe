"""The book as one file: a picture of it taken while it is in use, and a look that changes nothing.

What is true of SQLite only, for files that nobody writes to any more. The live file is opened by
`database` alone; a plain copy of it while somebody writes is torn (`tests/proof`).
"""

import os
import sqlite3
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.pool import ConnectionPoolEntry, NullPool

from service.kernel.database import APPLICATION_ID, Database
from service.kernel.errors import DatabaseUnfit


def picture(database: Database, file: Path) -> None:
    """Write the whole book into a new file, readable by its owner only, while others write.

    All in one step: a copy in small steps begins anew whenever somebody writes. Raises OSError or
    sqlite3.Error when the file cannot be written.
    """
    claim(file)
    source = database.engine.raw_connection()
    try:
        held = source.driver_connection
        if not isinstance(held, sqlite3.Connection):
            raise DatabaseUnfit("only a SQLite book is a file")
        with closing(sqlite3.connect(file, isolation_level=None)) as target:
            # Nobody needs to roll this file back: it counts only when it is whole.
            target.execute("PRAGMA journal_mode = OFF")
            target.execute("PRAGMA synchronous = OFF")
            held.backup(target, pages=-1)
    finally:
        source.close()
    settle(file)


def claim(file: Path) -> None:
    """Make an empty file that only its owner reads. Raises FileExistsError when there is one."""
    os.close(os.open(file, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))


def settle(file: Path) -> None:
    """Make one file of it, without a write-ahead log, that can be read where nothing is written."""
    with closing(sqlite3.connect(file, isolation_level=None)) as book:
        # Without shared memory beside it, which folders over a network do not have.
        book.execute("PRAGMA locking_mode = EXCLUSIVE")
        book.execute("PRAGMA journal_mode = DELETE")


def only_read(file: Path) -> Engine:
    """An engine on a settled file, which is not changed, nor anything beside it.

    Raises DatabaseUnfit at the first connection when the file is not Rimebook's.
    """
    address = f"file:{quote(str(file.absolute()))}?mode=ro&immutable=1"
    engine = create_engine(f"sqlite:///{address}&uri=true", poolclass=NullPool)
    event.listen(engine, "connect", _trust_little)
    return engine


def _trust_little(connection: sqlite3.Connection, _record: ConnectionPoolEntry) -> None:
    connection.execute("PRAGMA trusted_schema = OFF")
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise DatabaseUnfit("the file is not a Rimebook database")


def faults(file: Path) -> list[str]:
    """What SQLite itself finds wrong in a settled file: pages, indexes, keys. Empty when sound."""
    address = f"file:{quote(str(file.absolute()))}?mode=ro&immutable=1"
    try:
        with closing(sqlite3.connect(address, uri=True)) as book:
            pages = [line for (line,) in book.execute("PRAGMA integrity_check(20)")]
            keys = book.execute("PRAGMA foreign_key_check").fetchmany(20)
    except sqlite3.DatabaseError as error:
        return [f"SQLite cannot read it: {error}."]
    return [
        *(f"SQLite says: {line}." for line in pages if line != "ok"),
        *(f"A row of {row[0]} refers to one of {row[2]} that is not there." for row in keys),
    ]
