"""PostgreSQL as the engine: what is asked of it, and its two kinds of transaction.

A write takes one advisory lock before its first statement, so that writers of all processes and
machines follow each other as they do on SQLite, and each statement sees what the one before
committed (READ COMMITTED, whose statements each look anew). A read is REPEATABLE READ: one picture.
"""

from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.pool import ConnectionPoolEntry

from service.kernel.errors import DatabaseUnfit

#: The lock that every writer of a book takes ("RIME" in ASCII); such locks are a database's own.
WRITE_LOCK = 0x52494D45

#: How long a writer waits for the one before, in milliseconds.
LOCK_TIMEOUT_MS = 5_000

#: SHOW server_version_num of the oldest version that is tested against.
OLDEST = 140_000

#: What a session is set to, whatever the server, the database or the role have as their default:
#: with `synchronous_commit` off a crash takes back what was already answered; a machine that left
#: without a word must not hold the lock for hours; days as text enter the check.
_SETTINGS = {
    "synchronous_commit": "on",
    "default_transaction_read_only": "off",
    "lock_timeout": f"{LOCK_TIMEOUT_MS}ms",
    "idle_in_transaction_session_timeout": "5min",
    "tcp_keepalives_idle": "30",
    "tcp_keepalives_interval": "10",
    "tcp_keepalives_count": "3",
    "datestyle": "ISO",
    "timezone": "UTC",
    "jit": "off",
}

CONNECT_TIMEOUT_SECONDS = 10

_HOW_TO_CREATE = "Create it so:  createdb --encoding=UTF8 --locale=C --template=template0 rimebook"


def open_engine(url: URL, *, write: str) -> Engine:
    """An engine on this database; `write` is the execution option that marks a write.

    Raises DatabaseUnfit at the first connection when the database sorts or keeps text otherwise
    than the book needs, is too old, or loses what it was given when the power fails.
    """
    engine = create_engine(
        url,
        pool_pre_ping=True,
        # Of a write, also where another level is the database's default: a picture that was taken
        # while waiting for the lock would be older than what the writer before committed.
        isolation_level="READ COMMITTED",
        connect_args=_connect_args(url),
    )

    def begin(connection: Connection) -> None:
        if connection.get_execution_options().get(write, False):
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITE_LOCK})")
        else:
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")

    event.listen(engine, "connect", _refuse_unfit)
    event.listen(engine, "begin", begin)
    return engine


def _connect_args(url: URL) -> dict[str, str]:
    """Ours beside those of the address: its `options` stay, but ours come last and win."""
    theirs = url.query.get("options", "")
    options = [theirs] if isinstance(theirs, str) else [*theirs]
    options += [f"-c {name}={value}" for name, value in _SETTINGS.items()]
    timeout = url.query.get("connect_timeout", str(CONNECT_TIMEOUT_SECONDS))
    return {
        "options": " ".join(options).strip(),
        "client_encoding": "utf8",
        "connect_timeout": timeout if isinstance(timeout, str) else timeout[-1],
    }


def _refuse_unfit(connection: Any, _record: ConnectionPoolEntry) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT current_setting('server_version_num')::int, current_setting('server_encoding'),"
            " 'B' < 'a' AND 'Z' < 'a' AND 'a-c' < 'aab' AND 'a' < 'É',"
            " current_setting('synchronous_commit') <> 'off' AND current_setting('fsync') = 'on'"
        )
        version, encoding, by_code, durable = cursor.fetchone()
    connection.rollback()
    if reason := unfit(version=version, encoding=encoding, by_code=by_code, durable=durable):
        connection.close()
        raise DatabaseUnfit(reason)


def unfit(*, version: int, encoding: str, by_code: bool, durable: bool) -> str | None:
    """Why a database cannot keep the book, and what to do about it; None when it can.

    `by_code`: it sorts text by the codes of its signs; `durable`: what it commits is on the disk.
    """
    if version < OLDEST:
        return f"PostgreSQL {OLDEST // 10_000} or newer is needed."
    if encoding != "UTF8":
        return f"The database keeps text as {encoding}, not UTF8. {_HOW_TO_CREATE}"
    if not by_code:
        return (
            "The database sorts text as a language does, not by its codes, so lists would differ "
            f"from those of other books. {_HOW_TO_CREATE}"
        )
    if not durable:
        return (
            "The server would lose straws that were booked when the power fails: "
            "set fsync = on and synchronous_commit = on."
        )
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
