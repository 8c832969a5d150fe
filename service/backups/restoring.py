"""A backup becomes a book again, in a new folder, and proves itself before it gets its name."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from time import monotonic

from service.backups import folder as folders
from service.backups import store
from service.backups.drill import Drilled, OpenApp, drill
from service.backups.rules import BackupDamaged, Contents, Manifest, NotRestored
from service.backups.verifying import contents_now, refuse_upgraded, same_bytes, verify
from service.kernel import bookfile
from service.kernel.database import Database, sqlite_url
from service.kernel.errors import DatabaseUnfit
from service.migrations import newest_revision
from service.people.events import Occasion

#: Where the book grows before it counts.
_UNFINISHED = ".restoring"


@dataclass(frozen=True, slots=True)
class Restored:
    """What was proved of a backup; `upgraded_to` when it was in an older shape."""

    manifest: Manifest
    drilled: Drilled
    upgraded_to: str | None
    seconds: float


def the_backup(named: Path) -> Path:
    """The file that is meant: itself, or the newest backup in a folder. Raises BackupDamaged."""
    if named.is_dir():
        return folders.newest_in(named)
    if named.suffix == ".json":
        named = named.with_suffix(".db")
    if not named.exists():
        raise BackupDamaged(f"There is no file or folder {named}.")
    return named


def only_drill(named: Path, occasion: Occasion, open_app: OpenApp) -> Restored:
    """Prove that a backup could be restored, and restore nothing. Raises BackupDamaged."""
    began = monotonic()
    file = the_backup(named)
    manifest = verify(file)
    drilled = drill(file, occasion, open_app)
    _refuse_other(drilled, manifest)
    return Restored(manifest, drilled, _upgraded(manifest), monotonic() - began)


def restore(named: Path, data: Path, occasion: Occasion, open_app: OpenApp) -> Restored:
    """Make a book of a backup in a new or empty folder, after it has proved itself.

    Raises BackupDamaged, NotRestored; then nothing is left in the folder.
    """
    began = monotonic()
    file = the_backup(named)
    manifest = same_bytes(file)
    _refuse_occupied(data, manifest, file)
    with _growing(data) as folder:
        book = folder / "rimebook.db"
        bookfile.claim(book)
        shutil.copyfile(file, book)
        if folders.sha256_of(book) != manifest.sha256:
            raise NotRestored("The copy differs from the backup. Is the disk sound?")
        verify_restored(book, manifest.contents)
        drilled = drill(book, occasion, open_app)
        _refuse_other(drilled, manifest)
        folders.to_disk(book)
        book.rename(data / book.name)
        folders.to_disk(data)
    return Restored(manifest, drilled, _upgraded(manifest), monotonic() - began)


def _upgraded(manifest: Manifest) -> str | None:
    newest = newest_revision()
    return None if manifest.contents.revision == newest else newest


def verify_restored(book: Path, contents: Contents) -> None:
    """Bring the file to the newest shape and check it whole. Raises BackupDamaged."""
    if problems := bookfile.faults(book):
        raise BackupDamaged(" ".join(problems[:5]))
    refuse_upgraded(book, contents)
    bookfile.settle(book)


def _refuse_other(drilled: Drilled, manifest: Manifest) -> None:
    held = manifest.contents
    said = (drilled.entries, drilled.head, drilled.straws_stored)
    if said != (held.entries, held.head, held.straws.get("stored", 0)):
        raise BackupDamaged("The application reads other numbers from it than it should hold.")


@contextmanager
def _growing(data: Path) -> Iterator[Path]:
    """A folder inside the new one, gone at the end; the new one too if nothing came of it."""
    made = not data.exists()
    growing = data / _UNFINISHED
    try:
        data.mkdir(parents=True, exist_ok=True)
        shutil.rmtree(growing, ignore_errors=True)
        growing.mkdir(mode=0o700)
        yield growing
    except OSError as error:
        raise NotRestored(f"{data} cannot be written to: {error.strerror or error}.") from error
    finally:
        shutil.rmtree(growing, ignore_errors=True)
        if made and data.is_dir() and not any(data.iterdir()):
            data.rmdir()


def _refuse_occupied(data: Path, manifest: Manifest, backup: Path) -> None:
    """Only into a new or empty folder; over a book never, and it is said which is newer."""
    if not data.exists():
        return
    if not data.is_dir():
        raise NotRestored(f"{data} is not a folder. Name a new one.")
    there = [name.name for name in data.iterdir() if name.name != _UNFINISHED]
    if "rimebook.db" in there:
        raise NotRestored(
            f"In {data} there is a book already. {_what_is_there(data, manifest, backup)} "
            "Name a new folder with --data, look at what was restored there, and only then decide "
            "which one to serve."
        )
    if there:
        raise NotRestored(f"{data} is not empty ({len(there)} names in it). Name a new folder.")


def _what_is_there(data: Path, manifest: Manifest, backup: Path) -> str:
    database = Database(sqlite_url(data))
    try:
        with database.reading() as db:
            there = contents_now(db.connection())
            ahead = store.goes_on_from(db.connection(), manifest.contents)
    except (BackupDamaged, DatabaseUnfit, OSError) as error:
        return f"It cannot be read ({error})."
    finally:
        database.close()
    said = f"It has {there.entries} entries, head {there.head}."
    if ahead:
        more = there.entries - manifest.contents.entries
        events = there.security_events - manifest.contents.security_events
        if not more and not events:
            return f"{said} The backup holds the same."
        return (
            f"{said} It is NEWER than the backup: {more} entries and {events} account events came "
            "since."
        )
    if _holds(backup, there):
        return f"{said} It is older than the backup, which goes on from it."
    return f"{said} It is another book than the backup, or parted from it at some entry."


def _holds(backup: Path, there: Contents) -> bool:
    engine = bookfile.only_read(backup)
    try:
        with engine.connect() as connection:
            return store.goes_on_from(connection, there)
    finally:
        engine.dispose()
