"""PostgreSQL as the engine: what is asked of it, and its two kinds of transaction.

A write takes one advisory lock before its first statement, so that writers of all processes and
machines follow each other as they do on SQLite, and each statement sees what the one before
committed (READ COMMITTED, whose statements each look anew). A read is REPEATABLE READ: one picture.
"""

from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.pool import ConnectionPoolEntry

from service.kernel.errors import DatabaseUnfit

#: The lock that every writer of a book takes ("RIME" in ASCII); such locks are a database's own.
WRITE_LOCK = 0x52494D45

#: How long a writer waits for the one before, in milliseconds.
LOCK_TIMEOUT_MS = 5_000

#: SHOW server_version_num of the oldest version that is tested against.
OLDEST = 140_000

#: With `synchronous_commit` off a crash takes back what was already answered.
_OPTIONS = f"-c synchronous_commit=on -c lock_timeout={LOCK_TIMEOUT_MS} -c timezone=UTC"

_HOW_TO_CREATE = "Create it so:  createdb --encoding=UTF8 --locale=C --template=template0 rimebook"


def open_engine(url: str, *, write: str) -> Engine:
    """An engine on this database; `write` is the execution option that marks a write.

    Raises DatabaseUnfit at the first connection when the database sorts or keeps text otherwise
    than the book needs, or is too old.
    """
    engine = create_engine(url, pool_pre_ping=True, connect_args={"options": _OPTIONS})

    def begin(connection: Connection) -> None:
        if connection.get_execution_options().get(write, False):
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITE_LOCK})")
        else:
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")

    event.listen(engine, "connect", _refuse_unfit)
    event.listen(engine, "begin", begin)
    return engine


def _refuse_unfit(connection: Any, _record: ConnectionPoolEntry) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT current_setting('server_version_num')::int, current_setting('server_encoding'),"
            " current_setting('synchronous_commit'), 'B' < 'a' AND 'Z' < 'a' AND 'a-c' < 'aab'"
        )
        version, encoding, commit, by_code = cursor.fetchone()
    connection.rollback()
    if reason := _unfit(version, encoding, commit, by_code):
        connection.close()
        raise DatabaseUnfit(reason)


def _unfit(version: int, encoding: str, commit: str, by_code: bool) -> str | None:  # noqa: FBT001
    if version < OLDEST:
        return f"PostgreSQL {OLDEST // 10_000} or newer is needed."
    if encoding != "UTF8":
        return f"The database keeps text as {encoding}, not UTF8. {_HOW_TO_CREATE}"
    if not by_code:
        return (
            "The database sorts text as a language does, not by its codes, so lists would differ "
            f"from those of other books. {_HOW_TO_CREATE}"
        )
    if commit == "off":
        return "The server does not hold synchronous_commit = on."
    return None


def append_only(table: str) -> list[str]:
    """The statements that make a table one that is added to and never changed.

    A row that exists is refused by its key; `ON CONFLICT DO UPDATE` runs into the trigger.
    """
    return [
        f"CREATE FUNCTION {table}_is_append_only() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{table} is append-only' USING ERRCODE = 'restrict_violation'; "
        "END $$",
        f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION {table}_is_append_only()",
        f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION {table}_is_append_only()",
    ]
