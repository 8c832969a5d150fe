"""Drafts the next migration from what the tables say; for developers, to read and mend."""

import re
import tempfile
from pathlib import Path

from alembic import command

from service.kernel.database import Database, sqlite_url
from service.migrations import HERE, configuration, upgrade


def draft(title: str) -> None:
    """Write `versions/NNNN_title.py` with the difference between the migrations and the tables."""
    known = [
        int(name[:4])
        for path in HERE.glob("versions/*.py")
        if re.match(r"\d{4}_", name := path.name)
    ]
    with tempfile.TemporaryDirectory() as folder:
        database = Database(sqlite_url(Path(folder)))
        if known:
            upgrade(database)
        with database.writing() as session:
            command.revision(
                configuration(session.connection()),
                title,
                autogenerate=True,
                rev_id=f"{max(known, default=0) + 1:04d}",
            )
        database.close()
