"""What may be wrong with the stock: few doses, holds that ended, straws that are out too long."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import func
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.alerts.rules import Finding, Subject
from service.alerts.store import AlertPlan
from service.bank.store import (
    Batch,
    Hold,
    Mare,
    Stallion,
    holds_on,
    station_of,
    today_at,
)
from service.kernel.codes import grouped
from service.ledger import stock
from service.ledger.batch_doses import stored_by_batch
from service.ledger.stock import StallionStock
from service.ledger.store import Straw
from service.withdrawals.store import Withdrawal

#: A hold that ended longer ago is not news any more.
_HOLD_NEWS_DAYS = 14


def find(db: Session, now: datetime, plan: AlertPlan) -> Iterator[Finding]:
    """Everything that is wrong with the stock now."""
    station = station_of(db)
    today = today_at(station, now)
    yield from _few_doses(db, today)
    yield from _holds_ended(db, today)
    yield from _out_too_long(db, now, plan.straws_out_hours, ZoneInfo(station.time_zone))


def _few_doses(db: Session, today: date) -> Iterator[Finding]:
    """Stallions that ever had stock, with fewer doses than their limit."""
    in_store = {one.stallion.id: one for one in stock.by_stallion(db, today, stock.Scope())}
    for stallion in _with_a_limit(db):
        one = in_store.get(stallion.id) or StallionStock(stallion)
        limit = stallion.low_stock_doses or 0
        if one.doses < limit:
            reserve = f", {one.doses_in_reserve} more in the reserve" * bool(one.doses_in_reserve)
            yield Finding(
                kind="low-stock",
                subject=Subject("stallion", str(stallion.id), stallion.name),
                priority="medium",
                words=f"{stallion.name} has {_count(one.doses, 'dose')} left{reserve}; his limit "
                f"is {limit}.",
                facts={
                    "doses": one.doses,
                    "low_stock_doses": limit,
                    "doses_in_reserve": one.doses_in_reserve,
                    "straws": one.straws,
                    "straws_on_hold": one.straws_on_hold,
                    "died_on": stallion.died_on and stallion.died_on.isoformat(),
                },
            )


def _with_a_limit(db: Session) -> list[Stallion]:
    had_stock = sa_select(col(Batch.stallion_id)).where(col(Batch.state) == "frozen")
    return list(
        db.exec(
            select(Stallion).where(
                col(Stallion.low_stock_doses) > 0, col(Stallion.id).in_(had_stock)
            )
        )
    )


def _holds_ended(db: Session, today: date) -> Iterator[Finding]:
    """Holds whose day has come, of batches in store that nothing else holds back."""
    rows = db.execute(
        sa_select(Hold, Batch, Stallion.name)  # type: ignore[call-overload]
        .join(Batch, col(Batch.id) == col(Hold.batch_id))
        .join(Stallion, col(Stallion.id) == col(Batch.stallion_id))
        .where(
            col(Hold.released_at).is_(None),
            col(Hold.until) <= today,
            col(Hold.until) > today - timedelta(days=_HOLD_NEWS_DAYS),
        )
    ).all()
    batches = {batch.id for _, batch, _ in rows}
    held, stored = holds_on(db, today, batches), stored_by_batch(db, batches)
    for hold, batch, stallion in rows:
        if batch.id not in held and stored.get(batch.id):
            code = grouped(batch.code)
            yield Finding(
                kind="hold-ended",
                subject=Subject("batch", str(batch.id), f"{stallion}, batch {code}"),
                priority="low",
                words=f"The hold on batch {code} of {stallion} ended on {_day(hold.until)}: "
                f"{hold.reason}",
                facts={
                    "batch_code": batch.code,
                    "until": hold.until.isoformat(),
                    "reason": hold.reason,
                    "straws": stored[batch.id],
                },
            )


def _out_too_long(db: Session, now: datetime, hours: int, zone: ZoneInfo) -> Iterator[Finding]:
    """Withdrawals of which straws are still out after so many hours."""
    rows = db.execute(
        sa_select(Withdrawal, Stallion.name, Mare.name, func.count())  # type: ignore[call-overload]
        .join(Straw, col(Straw.withdrawal_id) == col(Withdrawal.id))
        .join(Stallion, col(Stallion.id) == col(Withdrawal.stallion_id))
        .join(Mare, col(Mare.id) == col(Withdrawal.mare_id))
        .where(
            col(Straw.state) == "lifted",
            col(Withdrawal.occurred_at) <= now - timedelta(hours=hours),
        )
        .group_by(col(Withdrawal.id), col(Stallion.name), col(Mare.name))
    )
    for withdrawal, stallion, mare, straws in rows:
        since = withdrawal.occurred_at.astimezone(zone)
        yield Finding(
            kind="straws-out-too-long",
            subject=Subject("withdrawal", str(withdrawal.id), f"{stallion} for {mare}"),
            priority="medium",
            words=f"{_count(int(straws), 'straw')} of {stallion} for {mare} are out since "
            f"{_day(since.date())}, {since:%H:%M}, taken by {withdrawal.by_name}.",
            facts={
                "straws": int(straws),
                "since": withdrawal.occurred_at.isoformat(),
                "by": withdrawal.by_name,
                "hours_allowed": hours,
            },
        )


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"
