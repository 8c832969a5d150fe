"""What stock-takes found: differences that nobody has dealt with, and losses nobody explained."""

from collections.abc import Iterator
from datetime import datetime, timedelta

from sqlmodel import Session, col, select

from service.alerts.rules import Finding, Subject
from service.audits import adjusting, store
from service.audits.store import StockTake

_YEAR = timedelta(days=365)


def find(db: Session, now: datetime) -> Iterator[Finding]:
    """Everything that stock-takes found and that is open."""
    for take in db.exec(select(StockTake).where(col(StockTake.state) == "compared")):
        yield from _differences(db, take)
    yield from _unexplained(db, now)


def _differences(db: Session, take: StockTake) -> Iterator[Finding]:
    """One alert for a stock-take; overs and unders are told beside each other, never as a sum."""
    left = [number for _, number in adjusting.open_differences(db, take, approved_only=True)]
    missing = -sum(number for number in left if number < 0)
    surplus = sum(number for number in left if number > 0)
    if not (missing or surplus):
        return
    name = f"Stock-take of {take.opened_at.day} {take.opened_at:%b %Y}"
    yield Finding(
        kind="stock-difference",
        subject=Subject("stock-take", str(take.id), name),
        priority="medium",
        words=f"{name}: {missing} straws are missing and {surplus} too many where nobody has said "
        "why yet.",
        facts={"missing": missing, "surplus": surplus},
    )


def _unexplained(db: Session, now: datetime) -> Iterator[Finding]:
    limit = store.plan_of(db).unexplained_straws_a_year
    lost = adjusting.unexplained_in_a_year(db, now - _YEAR)
    if lost > limit:
        yield Finding(
            kind="stock-difference",
            subject=Subject("service", "unexplained", "Unexplained losses"),
            priority="medium",
            words=f"{lost} straws were lost unexplained within a year; accepted are {limit}.",
            facts={"straws": lost, "accepted": limit},
        )
