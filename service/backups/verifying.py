"""Is a copy of the book whole and sound? SQLite's own look, the full check, the people's chain."""

import tempfile
from pathlib import Path
from shutil import copyfile

from sqlalchemy import Connection
from sqlmodel import Session

from service.backups import store
from service.backups.folder import manifest_beside, sha256_of
from service.backups.rules import BackupDamaged, Contents, Manifest
from service.kernel import bookfile
from service.kernel.database import Database
from service.ledger.check import check
from service.migrations import newest_revision, refuse_newer, upgrade
from service.people.events import check as check_people


def sound_contents(file: Path) -> Contents:
    """What a settled file holds, after everything that can be checked was.

    A book in an older shape is brought to the newest in a throw-away copy, and that is checked.
    Raises BackupDamaged, BookIsNewer.
    """
    _refuse(bookfile.faults(file))
    engine = bookfile.only_read(file)
    try:
        with engine.connect() as connection:
            contents = contents_now(connection)
            if contents.revision == newest_revision():
                _refuse(problems_in(connection))
    finally:
        engine.dispose()
    if contents.revision != newest_revision():
        _rehearse(file, contents)
    return contents


def contents_now(connection: Connection) -> Contents:
    """What this book holds. Raises BackupDamaged when there is none, and BookIsNewer."""
    revision = store.revision_of(connection)
    if revision is None:
        raise BackupDamaged("There is no book in it.")
    refuse_newer(connection)
    return store.contents_of(connection, revision)


def problems_in(connection: Connection) -> list[str]:
    """What the check of the book and of the people finds, and heads that no entry leads to."""
    with Session(connection) as db:
        found, people = check(db), check_people(db)
    return [*found.problems, *people.problems]


def _rehearse(file: Path, contents: Contents) -> None:
    with tempfile.TemporaryDirectory(prefix="rimebook-check-") as folder:
        copy = Path(folder) / "rimebook.db"
        copyfile(file, copy)
        refuse_upgraded(copy, contents)


def refuse_upgraded(file: Path, contents: Contents) -> None:
    """Bring a file to the newest shape; it must be sound then, and hold this.

    Raises BackupDamaged.
    """
    database = Database(f"sqlite:///{file}")
    try:
        upgrade(database)
        with database.reading() as db:
            held = contents_now(db.connection())
            problems = problems_in(db.connection())
    finally:
        database.close()
    if not held.same_book(contents):
        problems.append(f"It holds other things than it should: {held} instead of {contents}.")
    _refuse(problems)


def _refuse(problems: list[str]) -> None:
    if problems:
        raise BackupDamaged(" ".join(problems[:5]))


def same_bytes(file: Path) -> Manifest:
    """The manifest of a backup whose file is byte for byte what was written.

    Raises BackupDamaged.
    """
    manifest = manifest_beside(file)
    if not file.is_file():
        raise BackupDamaged(f"There is no file {file.name}.")
    size = file.stat().st_size
    if size != manifest.bytes:
        raise BackupDamaged(
            f"{file.name} has {size} bytes; {manifest.bytes} were written. It was cut off, or "
            "changed since. Take another backup."
        )
    if sha256_of(file) != manifest.sha256:
        raise BackupDamaged(
            f"{file.name} is not what was written: its SHA-256 differs. Take another backup."
        )
    return manifest


def verify(file: Path) -> Manifest:
    """Everything that can be said of a backup without restoring it. Raises BackupDamaged."""
    manifest = same_bytes(file)
    if sound_contents(file) != manifest.contents:
        raise BackupDamaged(f"{file.name} holds other things than its manifest says.")
    return manifest
