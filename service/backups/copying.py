"""Every row of a bank from one engine to another, in one picture and one transaction.

Generic over the tables as they are found, so that a book in an older shape goes too. Values are
kept as they stand; only what the engines keep in different types is converted.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import Any
from uuid import UUID

from sqlalchemy import (
    JSON,
    Column,
    ColumnElement,
    Connection,
    MetaData,
    Table,
    Text,
    Uuid,
    bindparam,
    cast,
    make_url,
    select,
)
from sqlalchemy import inspect as inspected
from sqlalchemy.types import TypeEngine, UserDefinedType
from sqlmodel import Session

from service.backups.rules import Contents, NotCopied
from service.backups.verifying import contents_now, problems_in
from service.kernel import bookfile
from service.kernel.database import Database
from service.migrations import make_shape, newest_revision, upgrade_within

ROWS_AT_A_TIME = 1_000

#: Alembic writes its own row when it makes the shape.
_NOT_COPIED = "alembic_version"


def move(source_url: str, target_url: str) -> Contents:
    """Copy the bank into an empty database, in one transaction; gives what was copied.

    Raises NotCopied (BackupDamaged when there is no book in the source), and leaves the target as
    it was.
    """
    there_file = _file_of(source_url)
    if there_file is not None and not there_file.exists():
        raise NotCopied("There is no book in the folder to copy from.")
    made = _file_to_make(target_url)
    source, target = Database(source_url), Database(target_url)
    try:
        with source.reading() as there, target.writing() as here:
            contents = copy_picture(there.connection(), here)
            if problems := _problems_of_newest(here):
                raise NotCopied(" ".join(problems[:5]))
        made = None
        return contents
    finally:
        source.close()
        target.close()
        if made:
            for left in (made, Path(f"{made}-wal"), Path(f"{made}-shm")):
                left.unlink(missing_ok=True)


def _file_of(url: str) -> Path | None:
    address = make_url(url)
    if address.get_backend_name() != "sqlite":
        return None
    return Path(address.database or "")


def _file_to_make(target_url: str) -> Path | None:
    """The file that the target will be, claimed; None for a database on a server."""
    file = _file_of(target_url)
    if file is None:
        return None
    if file.exists():
        raise NotCopied("In the folder to copy to there is a book already. Name a new folder.")
    file.parent.mkdir(parents=True, exist_ok=True)
    bookfile.claim(file)
    return file


def copy_picture(source: Connection, session: Session) -> Contents:
    """Every row out of an open picture into an open transaction; whether it is sound is for the
    caller to check. Raises NotCopied when the target is not empty, or does not hold the same.
    """
    target = session.connection()
    contents = contents_now(source)
    taken = [name for name in inspected(target).get_table_names() if name != _NOT_COPIED]
    if taken:
        raise NotCopied("The target is not empty. Name a new folder, or a new and empty database.")
    make_shape(target, contents.revision)
    for table, there in _tables(source, target):
        _copy_rows(source, target, table, there)
    held = contents_now(target)
    if held != contents:
        raise NotCopied(f"The copy does not hold what the book does: {held}, not {contents}.")
    return contents


def _problems_of_newest(session: Session) -> list[str]:
    """What the check finds; for an older shape, in the newest one, which is then taken back."""
    connection = session.connection()
    if contents_now(connection).revision == newest_revision():
        return problems_in(connection)
    with _taken_back(connection):
        upgrade_within(connection)
        return problems_in(connection)


@contextmanager
def _taken_back(connection: Connection) -> Iterator[None]:
    rehearsal = connection.begin_nested()
    try:
        yield
    finally:
        rehearsal.rollback()


def _tables(source: Connection, target: Connection) -> list[tuple[Table, Table]]:
    """Each table here and there, so that what is referred to comes first."""
    ours, theirs = MetaData(), MetaData()
    ours.reflect(source)
    theirs.reflect(target)
    pairs = []
    for table in theirs.sorted_tables:
        if table.name == _NOT_COPIED:
            continue
        here = ours.tables.get(table.name)
        if here is None or set(here.columns.keys()) != set(table.columns.keys()):
            raise NotCopied(f"The table {table.name} has not the columns of its version.")
        pairs.append((here, table))
    if strangers := ours.tables.keys() - theirs.tables.keys():
        raise NotCopied(f"The book has tables that are not Rimebook's: {', '.join(strangers)}.")
    return pairs


def _copy_rows(source: Connection, target: Connection, table: Table, there: Table) -> None:
    pairs = [(table.columns[name], column) for name, column in there.columns.items()]
    convert = [_converted(here, column) for here, column in pairs]
    statement = select(*(_as_kept(here) for here, _ in pairs)).order_by(*table.primary_key)
    rows = iter(source.execution_options(yield_per=ROWS_AT_A_TIME).execute(statement))
    binds = {column.name: f"new_{column.name}" for _, column in pairs}
    insert = there.insert().values(
        {column.name: bindparam(binds[column.name], type_=_taken_as(column)) for _, column in pairs}
    )
    while part := list(islice(rows, ROWS_AT_A_TIME)):
        target.execute(insert, [_row(list(binds.values()), convert, row) for row in part])


def _as_kept(column: Column[Any]) -> ColumnElement[Any]:
    """JSON is read as the text that it is: a null in it is not an empty field."""
    return cast(column, Text) if isinstance(column.type, JSON) else column


def _taken_as(column: Column[Any]) -> TypeEngine[Any]:
    """That text goes in as it came, and the engine makes of it what it keeps."""
    return _AsItCame() if isinstance(column.type, JSON) else column.type


class _AsItCame(UserDefinedType[str]):
    """A type of no engine: nothing is done to the value, and no type is named in the statement."""

    cache_ok = True

    def get_col_spec(self, **_: object) -> str:
        """Never asked for: no column is made of it."""
        raise NotImplementedError


def _row(
    names: Sequence[str], convert: Sequence[Callable[[Any], Any]], row: Sequence[Any]
) -> dict[str, Any]:
    return {
        name: None if value is None else change(value)
        for name, change, value in zip(names, convert, row, strict=True)
    }


def _converted(here: Column[Any], there: Column[Any]) -> Callable[[Any], Any]:
    """How an id goes from one engine's type to the other's; all else they read alike."""
    if isinstance(there.type, Uuid) and not isinstance(here.type, Uuid):
        return UUID
    if isinstance(here.type, Uuid) and not isinstance(there.type, Uuid):
        return lambda value: UUID(str(value)).hex
    return lambda value: value
