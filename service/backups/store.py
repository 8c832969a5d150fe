"""What a book holds, asked in statements that every shape of it understands."""

from alembic.migration import MigrationContext
from sqlalchemy import Connection, bindparam, text

from service.backups.rules import Contents
from service.kernel.chain import GENESIS

_STRAWS = text("SELECT state, count(*) AS straws FROM straws GROUP BY state ORDER BY state")
_PEOPLE = text("SELECT count(*) FROM users")
_LAST_ENTRY = text("SELECT seq, hash FROM entries ORDER BY seq DESC LIMIT 1")
_LAST_EVENT = text("SELECT seq, hash FROM security_events ORDER BY seq DESC LIMIT 1")
_ENTRY = text("SELECT hash FROM entries WHERE seq = :seq").bindparams(bindparam("seq"))
_EVENT = text("SELECT hash FROM security_events WHERE seq = :seq").bindparams(bindparam("seq"))


def revision_of(connection: Connection) -> str | None:
    """The shape of a book; None when there is no book."""
    return MigrationContext.configure(connection).get_current_revision()


def contents_of(connection: Connection, revision: str) -> Contents:
    """What the book holds, by its own numbers; nothing is recomputed."""
    entry = connection.execute(_LAST_ENTRY).one_or_none() or (0, GENESIS)
    event = connection.execute(_LAST_EVENT).one_or_none() or (0, GENESIS)
    return Contents(
        revision=revision,
        entries=entry[0],
        head=entry[1],
        security_events=event[0],
        security_head=event[1],
        straws={row.state: row.straws for row in connection.execute(_STRAWS)},
        people=connection.execute(_PEOPLE).scalar_one(),
    )


def goes_on_from(connection: Connection, earlier: Contents) -> bool:
    """Whether this book is that one, as it was or with more written to it."""
    for statement, seq, head in (
        (_ENTRY, earlier.entries, earlier.head),
        (_EVENT, earlier.security_events, earlier.security_head),
    ):
        here = connection.execute(statement, {"seq": seq}).scalar() if seq else GENESIS
        if here != head:
            return False
    return True
