"""What may be wrong with Rimebook itself: backups, the book, its own watch, the disk, delivery."""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from sqlmodel import Session

from service.alerts.rules import Finding, Subject
from service.alerts.store import WatchRun, channels, watch_of
from service.backups.automatic import Standing
from service.ledger.check import Soundness

#: Free space in per cent, from which it is told, and from which hours are left.
DISK_LOW_PERCENT, DISK_CRITICAL_PERCENT = 15, 5
#: It is well again so much above.
_DISK_BAND = 2

#: A channel that fails for a moment is tried again before anybody is told.
FAILING_FOR = timedelta(minutes=2)

#: A pause in the watch that is told: a restart is quicker.
GAP = timedelta(minutes=15)
#: A gap is told for so long after it.
_GAP_NEWS = timedelta(hours=12)

#: The book is read as a whole at each start and every night.
CHECK_EVERY = timedelta(hours=36)


@dataclass(frozen=True, slots=True)
class Machine:
    """What is known of the service outside of its database.

    `folder` holds the book; None where it is not a file on this machine.
    """

    backups: Standing
    soundness: Soundness | None
    folder: Path | None


def find_around(machine: Machine) -> Iterator[Finding]:
    """What is wrong around the database: backups, the last check of the book, the disk."""
    yield from _backups(machine.backups)
    yield from _book(machine.soundness)
    if machine.folder is not None:
        yield from _disk(machine.folder)


def find_within(db: Session, now: datetime) -> Iterator[Finding]:
    """What is wrong with watching and telling, as the database has it."""
    watch = watch_of(db)
    yield from _pauses(watch, now)
    yield from _delivery(db, now)
    yield from _outside(watch, now)


def _backups(standing: Standing) -> Iterator[Finding]:
    if not standing.overdue:
        return
    newest = standing.items[0].created_at if standing.items else None
    failed = standing.last_failure
    if newest is None:
        words = "There is no backup of the book yet."
    else:
        words = "No backup was made in time."
    if failed:
        words = f"{words} The last try failed: {failed.detail}"
    yield Finding(
        kind="backup-overdue",
        subject=Subject("service", "backups", "Backups"),
        priority="medium",
        words=words,
        facts={
            "newest_at": newest and newest.isoformat(),
            "every_hours": standing.every_hours,
            "last_failure": failed and failed.detail,
        },
    )


def _book(soundness: Soundness | None) -> Iterator[Finding]:
    if soundness is None or soundness.sound:
        return
    yield Finding(
        kind="ledger-not-sound",
        subject=Subject("service", "book", "The book"),
        priority="critical",
        words=f"The check of the book failed: {soundness.problems[0]}",
        facts={
            "problems": soundness.problems[:20],
            "entries": soundness.entries,
            "head": soundness.head,
        },
    )


def _pauses(watch: WatchRun, now: datetime) -> Iterator[Finding]:
    if watch.gap_from and watch.gap_until and now - watch.gap_until < _GAP_NEWS:
        hours = (watch.gap_until - watch.gap_from) / timedelta(hours=1)
        yield Finding(
            kind="service-heartbeat",
            subject=Subject("service", "watch", "The watch"),
            priority="medium",
            words=f"Rimebook did not run for {hours:.1f} hours: nobody watched tanks and stock.",
            facts={
                "from": watch.gap_from.isoformat(),
                "until": watch.gap_until.isoformat(),
                "hours": hours,
            },
        )
    if watch.last_check_at and now - watch.last_check_at > CHECK_EVERY:
        yield Finding(
            kind="service-heartbeat",
            subject=Subject("service", "check", "The nightly check"),
            priority="medium",
            words="The book was not read as a whole for more than a day.",
            facts={"last_check_at": watch.last_check_at.isoformat()},
        )


def _disk(folder: Path) -> Iterator[Finding]:
    try:
        usage = shutil.disk_usage(folder)
    except OSError:
        return  # the book itself will say so
    free = usage.free / usage.total * 100
    if free >= DISK_LOW_PERCENT + _DISK_BAND:
        return
    yield Finding(
        kind="disk-filling",
        subject=Subject("service", "disk", "The disk of the book"),
        priority="critical" if free < DISK_CRITICAL_PERCENT else "medium",
        words=f"The disk of the book has {free:.0f} % left ({usage.free / 1e9:.1f} GB).",
        facts={"free_percent": free, "free_bytes": usage.free},
        opens=free < DISK_LOW_PERCENT,
    )


def _delivery(db: Session, now: datetime) -> Iterator[Finding]:
    for channel in channels(db):
        since = channel.failing_since
        # Also one that was switched off because its receiver is gone; by hand, nothing fails.
        if since and now - since >= FAILING_FOR:
            yield Finding(
                kind="delivery-failing",
                subject=Subject("channel", str(channel.id), channel.name),
                priority="medium",
                words=f"{channel.name} takes no messages: {channel.last_error}",
                facts={
                    "since": since.isoformat(),
                    "failures": channel.failures,
                    "last_error": channel.last_error,
                },
            )


def _outside(watch: WatchRun, now: datetime) -> Iterator[Finding]:
    since = watch.ping_failing_since
    if since and now - since >= FAILING_FOR:
        yield Finding(
            kind="delivery-failing",
            subject=Subject("service", "outside-watch", "The outside watch"),
            priority="medium",
            words=f"The outside watch cannot be reached: {watch.ping_error}",
            facts={"since": since.isoformat(), "last_error": watch.ping_error},
        )
