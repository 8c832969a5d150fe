"""Who watches: exactly one process of all that serve this book, by a lease in the book itself.

Every claim of a message is a transaction of its own, so two that believe for a moment that they
hold the lease (a machine that slept, clocks that differ) still send nothing twice.
"""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.alerts.service_conditions import GAP
from service.alerts.store import watch_of

LEASE = timedelta(seconds=20)
RENEW_EVERY = timedelta(seconds=5)


def take(
    db: Session, *, holder: UUID, name: str, now: datetime, run: Mapping[str, Any] | None
) -> bool:
    """Take or renew the lease; False while another process holds it.

    `run` is what the last look did; a pause since the last one before is written down as a gap.
    """
    if not is_free(db, holder=holder, now=now):
        return False
    watch = watch_of(db)
    if watch.last_run_at and now - watch.last_run_at > GAP:
        watch.gap_from, watch.gap_until = watch.last_run_at, now
    watch.holder, watch.holder_name = holder, name
    watch.leased_until = now + LEASE
    watch.last_run_at = now
    if run is not None:
        watch.last_run = dict(run)
    db.add(watch)
    return True


def is_free(db: Session, *, holder: UUID, now: datetime) -> bool:
    """Whether this process may take the lease; asked without holding up any writer."""
    watch = watch_of(db)
    held = watch.leased_until is not None and watch.leased_until > now
    return not held or watch.holder == holder


def give_back(db: Session, *, holder: UUID, now: datetime) -> None:
    """An orderly stop: the next process need not wait for the lease to run out."""
    watch = watch_of(db)
    if watch.holder == holder:
        watch.leased_until = now
        db.add(watch)
