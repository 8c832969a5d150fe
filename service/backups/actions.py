"""Making backups: by command, by the clock, and before the book changes its shape."""

import logging
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from time import monotonic

from sqlmodel import Session

from service.backups import folder as folders
from service.backups import rules, store
from service.backups.copying import copy_picture
from service.backups.rules import BackupDamaged, BackupFailed, Contents, Manifest
from service.backups.verifying import sound_contents
from service.kernel import bookfile
from service.kernel.database import Database
from service.migrations import newest_revision, refuse_newer

log = logging.getLogger("rimebook")


@dataclass(frozen=True, slots=True)
class Made:
    """A backup that was made: its manifest, how long it took, and which old ones went."""

    manifest: Manifest
    picture_seconds: float
    verify_seconds: float
    rotated: tuple[str, ...] = ()


def back_up(database: Database, folder: Path, *, now: datetime, version: str) -> Made:
    """Make a verified backup in the folder, then let the old ones go that are not kept.

    Others go on writing meanwhile. Raises BackupFailed, and leaves nothing half done.
    """
    try:
        with folders.alone_in(folder, wait=True):
            return _made(database, folder, now, version)
    except OSError as error:
        raise BackupFailed(folders.in_words(error)) from error


def back_up_if_due(
    database: Database, folder: Path, *, every: timedelta, now: datetime, version: str
) -> Made | None:
    """The same when it is time and nobody else is at it; otherwise None.

    Several server processes ask, and one of them does it: the folder's lock and the newest
    backup's age decide. Raises BackupFailed.
    """
    try:
        with folders.alone_in(folder, wait=False) as held:
            found = folders.manifests(folder) if held else []
            newest = found[0].created_at if found else None
            if not held or not rules.due(newest, every=every, now=now):
                return None
            return _made(database, folder, now, version)
    except OSError as error:
        raise BackupFailed(folders.in_words(error)) from error


def _made(database: Database, folder: Path, now: datetime, version: str) -> Made:
    name = rules.name_of(now)
    if (folder / name).exists():
        raise BackupFailed("A backup was made in this very moment already.")
    made = write_verified(database, folder, name, now=now, version=version)
    gone = _rotate(database, folder, made.manifest)
    return Made(made.manifest, made.picture_seconds, made.verify_seconds, gone)


def write_verified(
    database: Database, folder: Path, name: str, *, now: datetime, version: str
) -> Made:
    """Write one backup under this name, verified and with its manifest. Raises BackupFailed."""
    with folders.whole_or_nothing(folder, name) as part:
        began = monotonic()
        _take(database, part)
        taken = monotonic()
        contents = _verified(database, part)
        manifest = Manifest(
            file=name,
            created_at=now,
            rimebook=version,
            engine=database.engine.dialect.name,
            bytes=part.stat().st_size,
            sha256=folders.sha256_of(part),
            contents=contents,
        )
        folders.put_down(manifest, folder)
        return Made(manifest, taken - began, monotonic() - taken)


def _take(database: Database, part: Path) -> None:
    """The book in one file: SQLite's own online copy, or every row out of one picture."""
    if database.engine.dialect.name == "sqlite":
        bookfile.picture(database, part)
        return
    bookfile.claim(part)
    target = Database(f"sqlite:///{part}")
    try:
        with database.reading() as there, target.writing() as here:
            copy_picture(there.connection(), here)
    finally:
        target.close()
    bookfile.settle(part)


def _verified(database: Database, part: Path) -> Contents:
    """What is in the copy, which is sound and is this book as it was a moment ago."""
    try:
        contents = sound_contents(part)
    except BackupDamaged as found:
        raise BackupFailed(
            f"The copy is not sound: {found.detail} If “check” finds the same in the book itself, "
            "keep your older backups and do not go on."
        ) from found
    with database.reading() as db:
        if not store.goes_on_from(db.connection(), contents):
            raise BackupFailed("The copy does not end where the book once did.")
    return contents


def _rotate(database: Database, folder: Path, newest: Manifest) -> tuple[str, ...]:
    """Delete what is not kept: only verified backups of this very book, as it still is.

    A backup that the book does not go on from (of another station, or of what was there before a
    restore) is never deleted here.
    """
    with database.reading() as db:
        ours = [
            one
            for one in folders.manifests(folder)
            if store.goes_on_from(db.connection(), one.contents)
        ]
    stay = rules.kept(one.created_at for one in ours) | {newest.created_at}
    gone = [one.file for one in ours if one.created_at not in stay]
    for name in gone:
        # The manifest first: a file without one does not count.
        (folder / rules.beside(name)).unlink(missing_ok=True)
        (folder / name).unlink(missing_ok=True)
    return tuple(gone)


def back_up_before_upgrade(
    database: Database, folder: Path, *, now: datetime, version: str
) -> Made | None:
    """A verified backup of a book that is about to change its shape; None when it is not.

    Raises BackupFailed: without a backup the shape is not changed. Raises BookIsNewer.
    """
    with database.reading() as db:
        revision = store.revision_of(db.connection())
        if revision is None or revision == newest_revision():
            return None
        refuse_newer(db.connection())
        if _is_empty(db):
            return None
    name = rules.name_before(revision, now)
    log.info("the book has the shape %s; it is backed up before it changes", revision)
    made = write_verified(database, folder, name, now=now, version=version)
    log.info("the backup is %s, verified, in the folder of the book", name)
    return made


def _is_empty(db: Session) -> bool:
    held = store.contents_of(db.connection(), "")
    return held.entries == 0 and held.people == 0
