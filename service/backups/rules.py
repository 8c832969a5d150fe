"""What a backup is, what it is called, which are kept, and when one is overdue. Pure."""

import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, ClassVar

from service.kernel.clock import as_text, from_text
from service.kernel.errors import Conflict

#: The form of the manifest; one that is newer is not read.
FORMAT = 1

HOURS_KEPT, DAYS_KEPT, MONTHS_KEPT = 24, 30, 12

#: So many intervals without a backup are too many.
INTERVALS_UNTIL_OVERDUE = 2

#: After a failure it is tried again so soon, or after one interval if that is shorter.
RETRY_AFTER = timedelta(minutes=10)

_NAME = re.compile(r"rimebook-\d{8}T\d{6}\.\d{3}Z\.db", re.ASCII)


class BackupFailed(Conflict):
    """No backup was made; the sentence names no path, for it is shown over HTTP."""

    code: ClassVar[str] = "backup-failed"
    title: ClassVar[str] = "The backup was not made"


class BackupDamaged(Conflict):
    """The backup is not what was written."""

    code: ClassVar[str] = "backup-damaged"
    title: ClassVar[str] = "This backup cannot be trusted"


class NotRestored(Conflict):
    """Nothing was restored, and nothing was changed."""

    code: ClassVar[str] = "not-restored"
    title: ClassVar[str] = "Nothing was restored"


class NotCopied(Conflict):
    """The bank was not moved; the target is as it was."""

    code: ClassVar[str] = "not-copied"
    title: ClassVar[str] = "Nothing was copied"


@dataclass(frozen=True, slots=True)
class Contents:
    """What a book holds, as numbers that two copies of it must share.

    `head` and `security_head` are the last hashes of the two chains, `straws` counts by state.
    """

    revision: str
    entries: int
    head: str
    security_events: int
    security_head: str
    straws: Mapping[str, int]
    people: int

    def same_book(self, other: "Contents") -> bool:
        """Whether two copies say the same, in whatever shape each is kept."""
        return {**asdict(self), "revision": ""} == {**asdict(other), "revision": ""}


@dataclass(frozen=True, slots=True)
class Manifest:
    """What is written beside a backup; without it the file does not count."""

    file: str
    created_at: datetime
    rimebook: str
    engine: str
    bytes: int
    sha256: str
    contents: Contents

    def text(self) -> str:
        """As JSON."""
        said = {"format": FORMAT, **asdict(self), "created_at": as_text(self.created_at)}
        return json.dumps(said, indent=2, sort_keys=True) + "\n"


def manifest_from(text: str) -> Manifest:
    """The manifest that `text` wrote. Raises BackupDamaged for anything else."""
    try:
        said: dict[str, Any] = json.loads(text)
        if said["format"] > FORMAT:
            raise BackupDamaged(
                "It was made by a newer Rimebook. Install that version (or a later one) first."
            )
        held = said["contents"]
        return Manifest(
            file=str(said["file"]),
            created_at=from_text(said["created_at"]),
            rimebook=str(said["rimebook"]),
            engine=str(said["engine"]),
            bytes=int(said["bytes"]),
            sha256=str(said["sha256"]),
            contents=Contents(
                revision=str(held["revision"]),
                entries=int(held["entries"]),
                head=str(held["head"]),
                security_events=int(held["security_events"]),
                security_head=str(held["security_head"]),
                straws={str(state): int(straws) for state, straws in held["straws"].items()},
                people=int(held["people"]),
            ),
        )
    except (ValueError, LookupError, TypeError, AttributeError) as error:
        raise BackupDamaged("What is written beside it (the .json file) cannot be read.") from error


def name_of(at: datetime) -> str:
    """The name of a backup made at this moment; names sort as the moments do."""
    moment = at.astimezone(UTC)
    return f"rimebook-{moment:%Y%m%dT%H%M%S}.{moment.microsecond // 1000:03}Z.db"


def name_before(revision: str, at: datetime) -> str:
    """The name of the backup made before the book leaves this revision."""
    return f"before-{revision}-{at.astimezone(UTC):%Y%m%dT%H%M%S}.db"


def is_ours(name: str) -> bool:
    """Whether a file was named by `name_of`."""
    return _NAME.fullmatch(name) is not None


def beside(name: str) -> str:
    """The manifest's name."""
    return f"{name.removesuffix('.db')}.json"


def unfinished(name: str) -> str:
    """What a file is called while it is written; never taken for a backup."""
    return f".{name}.part"


def is_unfinished(name: str) -> bool:
    """Whether a file was left by a backup that was broken off (a journal of it too)."""
    ours = re.match(r"\.(rimebook-[\dT.]+Z)\.(db|json)\.part", name, re.ASCII)
    return ours is not None and is_ours(f"{ours[1]}.db")


def kept(moments: Iterable[datetime]) -> set[datetime]:
    """Which backups stay: the newest of each hour, day and month (UTC) that has one.

    Counted are hours, days and months with a backup, not those of the calendar: a clock that runs
    ahead, or a year without backups, never makes the old ones go all at once. The newest of all
    always stays.
    """
    newest_first = sorted(moments, reverse=True)
    stay: set[datetime] = set()
    periods: tuple[tuple[Callable[[datetime], object], int], ...] = (
        (lambda at: (at.date(), at.hour), HOURS_KEPT),
        (lambda at: at.date(), DAYS_KEPT),
        (lambda at: (at.year, at.month), MONTHS_KEPT),
    )
    for period, number in periods:
        newest: dict[object, datetime] = {}
        for at in newest_first:
            newest.setdefault(period(at.astimezone(UTC)), at)
        stay |= set(list(newest.values())[:number])
    return stay


def due(newest: datetime | None, *, every: timedelta, now: datetime) -> bool:
    """Whether it is time for the next backup. One from the future does not put it off for ever."""
    return newest is None or not newest <= now < newest + every


def overdue_since(newest: datetime | None, *, every: timedelta, now: datetime) -> datetime | None:
    """Since when there should have been another backup; None when all is well (or none exists)."""
    if newest is None:
        return None
    limit = newest + INTERVALS_UNTIL_OVERDUE * every
    return limit if limit <= now else None


def next_try(failed_at: datetime, *, every: timedelta) -> datetime:
    """When a backup that failed is tried again."""
    return failed_at + min(every, RETRY_AFTER)
