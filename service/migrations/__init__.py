"""The database's shape, version by version; it only ever goes forward."""

import logging
from functools import cache
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from alembic.util import CommandError
from sqlalchemy import Connection

from service.kernel.database import Database
from service.kernel.errors import DatabaseUnfit

HERE = Path(__file__).parent

# It announces itself at every start, in words that mean nothing to the station.
logging.getLogger("alembic").setLevel(logging.WARNING)


class BookIsNewer(DatabaseUnfit):
    """The book was written by a newer version of the service."""


def upgrade(database: Database) -> None:
    """Bring the database to the newest shape, or make it; in one transaction.

    Raises BookIsNewer, and changes nothing, when the book's version is not known here.
    """
    with database.writing() as session:
        upgrade_within(session.connection())


def upgrade_within(connection: Connection) -> None:
    """The same, inside the connection's open transaction."""
    refuse_newer(connection)
    if newest_revision() not in MigrationContext.configure(connection).get_current_heads():
        command.upgrade(configuration(connection), "head")


def make_shape(connection: Connection, revision: str) -> None:
    """Make the tables of this revision in an empty database, inside its open transaction."""
    command.upgrade(configuration(connection), revision)


def newest_revision() -> str:
    """The newest shape that is known here."""
    head = _scripts().get_current_head()
    assert head is not None
    return head


@cache
def _scripts() -> ScriptDirectory:
    """Every version; they are read once, which is most of the time of an ordinary start."""
    return ScriptDirectory(str(HERE))


def configuration(connection: Connection) -> Config:
    """Alembic's configuration, working on this connection."""
    config = Config()
    config.set_main_option("script_location", str(HERE).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def refuse_newer(connection: Connection) -> None:
    """Raise BookIsNewer when the book's version is not known here."""
    for revision in MigrationContext.configure(connection).get_current_heads():
        try:
            _scripts().get_revision(revision)
        except CommandError as error:
            raise BookIsNewer(
                f"This book has the version {revision}, which this program does not know: it was "
                "written by a newer Rimebook. Install that version (or a later one) and start "
                "again. Nothing was changed."
            ) from error
