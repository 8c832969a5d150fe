"""When each stallion's doses run out, by what was used of all of them in each month."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import ceil
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy import func
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.alerts import run_out
from service.alerts.rules import Finding, Subject
from service.alerts.run_out import Habits, Month, RunOut
from service.alerts.store import AlertPlan
from service.bank.store import Batch, Stallion, station_of, today_at
from service.kernel import clock
from service.kernel.database import in_parts
from service.ledger import stock
from service.ledger.batch_doses import doses_of_all
from service.ledger.store import Straw
from service.withdrawals.store import Withdrawal

_YEAR = timedelta(days=365)

Taken = Counter[date]
"""Doses by the day they were taken on."""


@dataclass(frozen=True, slots=True)
class Use:
    """How all stallions' doses were used until `today`."""

    today: date
    months: Mapping[UUID, Sequence[Month]]
    taken: Mapping[UUID, Taken]
    habits: Habits

    def run_out(self, stallion_id: UUID, left: int) -> RunOut | None:
        """When this many doses of his run out; None for a stallion who never had stock here."""
        months = self.months.get(stallion_id)
        if months is None:
            return None
        return run_out.run_out(
            months, left, self.habits, doses_last_year=self.last_year(stallion_id)
        )

    def last_year(self, stallion_id: UUID) -> int:
        """His doses of the last 365 days."""
        taken = self.taken.get(stallion_id, Taken())
        return sum(doses for on, doses in taken.items() if on > self.today - _YEAR)


def use_of(db: Session, now: datetime) -> Use:
    """What was used, as the book has it now.

    A withdrawal counts unless all its straws were put back. Straws that were dispatched count as
    the doses they made: they empty the bank as well.
    """
    station = station_of(db)
    zone, today = ZoneInfo(station.time_zone), today_at(station, now)
    taken = _taken(db, zone)
    for stallion_id, sent in _dispatched(db, zone).items():
        taken[stallion_id].update(sent)
    months = {
        stallion_id: run_out.observed(since, today, _by_month(taken[stallion_id]))
        for stallion_id, since in _since(db, zone).items()
    }
    return Use(today, months, taken, run_out.habits(list(months.values()), today))


def _taken(db: Session, zone: ZoneInfo) -> dict[UUID, Taken]:
    kept = sa_select(col(Straw.withdrawal_id)).where(
        col(Straw.withdrawal_id).is_not(None), col(Straw.state) != "stored"
    )
    columns: Any = (Withdrawal.stallion_id, Withdrawal.doses, Withdrawal.occurred_at)
    found: dict[UUID, Taken] = defaultdict(Counter)
    for stallion_id, doses, at in db.execute(
        sa_select(*columns).where(col(Withdrawal.id).in_(kept))
    ):
        found[stallion_id][at.astimezone(zone).date()] += doses
    return found


def _dispatched(db: Session, zone: ZoneInfo) -> dict[UUID, Taken]:
    """The doses that the straws of each dispatch made; what is left over of one counts as one."""
    columns: Any = (Straw.batch_id, Straw.last_seq, func.max(Straw.since), func.count())
    rows = db.execute(
        sa_select(*columns)
        .where(col(Straw.state) == "dispatched")
        .group_by(col(Straw.batch_id), col(Straw.last_seq))
    ).all()
    batches = _batches(db, {batch_id for batch_id, *_ in rows})
    per_dose = doses_of_all(db, batches)
    stallions = {batch.id: batch.stallion_id for batch in batches}
    found: dict[UUID, Taken] = defaultdict(Counter)
    for batch_id, _, since, straws in rows:
        on = clock.from_text(since) if isinstance(since, str) else since
        doses = ceil(straws / (per_dose[batch_id].straws_per_dose or straws))
        found[stallions[batch_id]][on.astimezone(zone).date()] += doses
    return found


def _batches(db: Session, ids: set[UUID]) -> list[Batch]:
    return [
        batch
        for some in in_parts(ids)
        for batch in db.exec(select(Batch).where(col(Batch.id).in_(some)))
    ]


def _since(db: Session, zone: ZoneInfo) -> dict[UUID, date]:
    """The day from which the book knows of each stallion's straws."""
    first = sa_select(col(Batch.stallion_id), func.min(col(Batch.created_at)))
    rows = db.execute(first.where(col(Batch.state) == "frozen").group_by(col(Batch.stallion_id)))
    return {stallion_id: at.astimezone(zone).date() for stallion_id, at in rows}


def _by_month(taken: Taken) -> dict[tuple[int, int], int]:
    found: Counter[tuple[int, int]] = Counter()
    for on, doses in taken.items():
        found[on.year, on.month] += doses
    return found


def find(db: Session, now: datetime, plan: AlertPlan) -> Iterator[Finding]:
    """Stallions of whom the last dose is likely used within the time the station looks ahead."""
    use = use_of(db, now)
    for one in stock.by_stallion(db, use.today, stock.Scope()):
        found = use.run_out(one.stallion.id, one.doses) if one.doses else None
        if found is None or found.likely is None:
            continue
        days = (found.likely - use.today).days
        if days <= 2 * plan.run_out_days:
            yield _finding(one.stallion, one.doses, found, opens=days <= plan.run_out_days)


def _finding(stallion: Stallion, doses: int, found: RunOut, *, opens: bool) -> Finding:
    return Finding(
        kind="run-out-forecast",
        subject=Subject("stallion", str(stallion.id), stallion.name),
        priority="low",
        words=f"{stallion.name}: {found.why}",
        facts={
            "doses": doses,
            "runs_out_on": _iso(found.likely),
            "earliest_on": _iso(found.earliest),
            "latest_on": _iso(found.latest),
            "doses_last_year": found.doses_last_year,
            "doses_next_year": found.doses_next_year,
        },
        opens=opens,
    )


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
