"""The folder of backups: which files in it count, how one is written so that it counts, and when.

Names of files and sentences without paths leave here; whose folder it is only the caller knows.
"""

import errno
import hashlib
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sqlalchemy.exc import DBAPIError

from service.backups import rules
from service.backups.rules import BackupDamaged, BackupFailed, Manifest
from service.kernel.errors import DatabaseUnfit

try:
    import fcntl
except ImportError:  # Windows: two backups at a time are two backups, no harm
    fcntl = None  # type: ignore[assignment]

LOCK = ".rimebook-backups.lock"

_WORDS = {
    errno.ENOSPC: "The folder for backups is full. Free some space there, or choose another.",
    errno.EDQUOT: "The folder for backups is full. Free some space there, or choose another.",
    errno.EACCES: "The folder for backups may not be written to. Let the service write there.",
    errno.EPERM: "The folder for backups may not be written to. Let the service write there.",
    errno.EROFS: "The folder for backups may not be written to: its disk is read-only.",
    errno.ENOENT: "The folder for backups is not there. Is its disk plugged in, or the share up?",
    errno.ENOTDIR: "What is named as the folder for backups is not a folder.",
}


def in_words(error: OSError | sqlite3.Error) -> str:
    """What went wrong with the folder, without a path."""
    if isinstance(error, sqlite3.Error):
        if "full" in str(error):
            return _WORDS[errno.ENOSPC]
        return f"SQLite could not write or read the copy: {error}."
    known = _WORDS.get(error.errno or 0)
    return known or f"The folder for backups cannot be used: {error.strerror}."


@contextmanager
def alone_in(folder: Path, *, wait: bool) -> Iterator[bool]:
    """Hold the folder's lock; False when another process holds it and there is no `wait`.

    What a broken-off backup left behind is cleared first. Raises OSError.
    """
    if not folder.is_dir():
        raise NotADirectoryError(errno.ENOTDIR if folder.exists() else errno.ENOENT, "", "")
    with os.fdopen(os.open(folder / LOCK, os.O_CREAT | os.O_RDWR, 0o600), "r+b") as lock:
        held = _lock(lock.fileno(), wait=wait)
        if held:
            for there in folder.iterdir():
                if rules.is_unfinished(there.name):
                    there.unlink(missing_ok=True)
        yield held


def _lock(file: int, *, wait: bool) -> bool:
    if fcntl is None:
        return True
    try:
        fcntl.flock(file, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except BlockingIOError:
        return False
    except OSError:
        return True  # a share without locks: the newest backup's age still decides
    return True


def manifests(folder: Path) -> list[Manifest]:
    """The backups that count, newest first: a file of ours, whole, with its manifest.

    Raises OSError when the folder cannot be read.
    """
    found = []
    for there in folder.iterdir():
        if not rules.is_ours(there.name):
            continue
        try:
            read = manifest_beside(there)
        except BackupDamaged:
            continue
        if read.file == there.name and there.stat().st_size == read.bytes:
            found.append(read)
    return sorted(found, key=lambda one: one.created_at, reverse=True)


def manifest_beside(file: Path) -> Manifest:
    """The manifest of a backup. Raises BackupDamaged when there is none, or it cannot be read."""
    try:
        text = (file.parent / rules.beside(file.name)).read_text(encoding="utf-8")
    except FileNotFoundError as error:
        raise BackupDamaged(
            f"Beside {file.name} there is no {rules.beside(file.name)}, which says what must be in "
            "it: it was not finished, or copied without it. Copy both files."
        ) from error
    except (OSError, UnicodeDecodeError) as error:
        raise BackupDamaged(f"{rules.beside(file.name)} cannot be read.") from error
    return rules.manifest_from(text)


def put_down(manifest: Manifest, folder: Path) -> None:
    """Give the finished file and its manifest their names, so that both survive a power cut."""
    part = folder / rules.unfinished(manifest.file)
    note = folder / rules.unfinished(rules.beside(manifest.file))
    with os.fdopen(os.open(note, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "w") as written:
        written.write(manifest.text())
        written.flush()
        os.fsync(written.fileno())
    to_disk(part)
    part.rename(folder / manifest.file)
    note.rename(folder / rules.beside(manifest.file))
    to_disk(folder)


def to_disk(path: Path) -> None:
    """Wait until a file, or the names in a folder, are on the disk."""
    opened = os.open(path, os.O_RDONLY)
    try:
        os.fsync(opened)
    except OSError as error:
        # Some shares cannot do it for folders.
        if not (path.is_dir() and error.errno in (errno.EINVAL, errno.ENOTSUP)):
            raise
    finally:
        os.close(opened)


def sha256_of(file: Path) -> str:
    """SHA-256 (FIPS 180-4, NIST, 2015) of a file, in hex."""
    with file.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


@contextmanager
def whole_or_nothing(folder: Path, name: str) -> Iterator[Path]:
    """The path to write a backup to; what is left of it goes when anything fails.

    Failures of the folder become BackupFailed.
    """
    part = folder / rules.unfinished(name)
    try:
        yield part
    except (OSError, sqlite3.Error) as error:
        raise BackupFailed(in_words(error)) from error
    except DBAPIError as error:
        if not isinstance(error.orig, sqlite3.Error):
            raise
        raise BackupFailed(in_words(error.orig)) from error
    except DatabaseUnfit as error:
        raise BackupFailed(f"The copy cannot be trusted: {error}.") from error
    finally:
        note = folder / rules.unfinished(rules.beside(name))
        for left in (part, Path(f"{part}-journal"), note):
            with suppress(OSError):  # a folder that is gone holds nothing
                left.unlink(missing_ok=True)


def newest_in(folder: Path) -> Path:
    """The newest backup that counts. Raises BackupDamaged when there is none."""
    found = manifests(folder)
    if not found:
        raise BackupDamaged(f"No backup is in {folder} (a .db file with a .json file beside it).")
    return folder / found[0].file
