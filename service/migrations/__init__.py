"""The database's shape, version by version; it only ever goes forward."""

import logging
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
        connection = session.connection()
        config = configuration(connection)
        _refuse_newer(connection, config)
        command.upgrade(config, "head")


def configuration(connection: Connection) -> Config:
    """Alembic's configuration, working on this connection."""
    config = Config()
    config.set_main_option("script_location", str(HERE).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def _refuse_newer(connection: Connection, config: Config) -> None:
    scripts = ScriptDirectory.from_config(config)
    for revision in MigrationContext.configure(connection).get_current_heads():
        try:
            scripts.get_revision(revision)
        except CommandError as error:
            raise BookIsNewer(
                f"This book has the version {revision}, which this program does not know: it was "
                "written by a newer Rimebook. Install that version (or a later one) and start "
                "again. Nothing was changed."
            ) from error
