"""Backups by the clock, made by a thread inside the server, and what is known of them.

Every minute it looks whether one is due, so that a laptop that slept is caught up with.
"""

import logging
import threading
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from service.backups import folder as folders
from service.backups import rules
from service.backups.actions import back_up_if_due
from service.backups.rules import BackupFailed, Manifest
from service.kernel.clock import Clock
from service.kernel.database import Database

log = logging.getLogger("rimebook")

SECONDS_BETWEEN_LOOKS = 60.0


@dataclass(frozen=True, slots=True)
class Failure:
    """The last try that failed since the last that worked."""

    at: datetime
    detail: str


@dataclass(frozen=True, slots=True)
class Standing:
    """How things stand with the backups; `items` are those that count, the newest first."""

    folder_set: bool
    every_hours: float
    overdue: bool
    overdue_since: datetime | None
    last_failure: Failure | None
    items: list[Manifest]


class Automatic:
    """Makes backups into the folder every so often, between `start` and `stop`."""

    def __init__(
        self,
        database: Database,
        *,
        folder: Path,
        folder_set: bool,
        every: timedelta,
        clock: Clock,
        version: str,
    ) -> None:
        self._database = database
        self._folder = folder
        self._folder_set = folder_set
        self._every = every
        self._clock = clock
        self._version = version
        self._stop = threading.Event()
        self._failure: Failure | None = None
        self._thread = threading.Thread(target=self._run, name="backups", daemon=True)

    def start(self) -> None:
        """Begin, if a folder was set."""
        if self._folder_set:
            self._thread.start()
        else:
            log.info("no automatic backup: RIMEBOOK_BACKUP_FOLDER is not set")

    def stop(self) -> None:
        """End; a backup that is being made is finished first."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join()

    def _run(self) -> None:
        while not self._stop.is_set():
            self.look()
            self._stop.wait(SECONDS_BETWEEN_LOOKS)

    def look(self) -> None:
        """Make a backup if one is due; what goes wrong is logged and kept for `standing`."""
        now = self._clock()
        failed = self._failure
        if failed and failed.at <= now < rules.next_try(failed.at, every=self._every):
            return
        try:
            made = back_up_if_due(
                self._database, self._folder, every=self._every, now=now, version=self._version
            )
        except BackupFailed as failure:
            self._note(now, failure.detail)
        except Exception:
            log.exception("the automatic backup failed")
            self._note(now, "It failed for a reason that only the log of the service tells.")
        else:
            self._failure = None
            if made is not None:
                log.info(
                    "backup %s: %d entries, verified; %d old ones deleted",
                    *(made.manifest.file, made.manifest.contents.entries, len(made.rotated)),
                )

    def _note(self, at: datetime, detail: str) -> None:
        log.error("no automatic backup was made: %s", detail)
        self._failure = Failure(at, detail)

    def standing(self) -> Standing:
        """How things stand now; a folder that cannot be read is a failure too."""
        now, failure = self._clock(), self._failure
        try:
            items = folders.manifests(self._folder)
        except FileNotFoundError as error:
            items = []
            if self._folder_set and failure is None:
                failure = Failure(now, folders.in_words(error))
        except OSError as error:
            items = []
            failure = failure or Failure(now, folders.in_words(error))
        newest = items[0].created_at if items else None
        since = rules.overdue_since(newest, every=self._every, now=now)
        return Standing(
            folder_set=self._folder_set,
            every_hours=self._every / timedelta(hours=1),
            overdue=self._folder_set and (newest is None or since is not None),
            overdue_since=since if self._folder_set else None,
            last_failure=failure,
            items=items,
        )
