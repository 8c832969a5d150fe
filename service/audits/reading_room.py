"""What an auditor asks of the book: as it was on any day, and whatever was not plain sailing.

Each table is a header and rows, which are read as JSON on a page and as CSV in a spreadsheet.
"""

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import case, func, or_
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.audits import store
from service.audits.store import StockTake
from service.bank.store import Batch, Canister, Goblet, Stallion, Tank
from service.edge.versions import RecordChange
from service.kernel import clock
from service.kernel.codes import grouped
from service.ledger.store import Entry, Line, Straw
from service.spreadsheet.writing import Cell
from service.withdrawals.store import Withdrawal

#: An entry that was written so long after it happened is late.
LATE = timedelta(hours=24)

Row = Sequence[Cell]
Rows = Callable[[Session, datetime], Iterator[Row]]


@dataclass(frozen=True, slots=True)
class Table:
    """A table of the reading room; `rows(db, at)` gives them as they were known at a moment."""

    title: str
    columns: Sequence[str]
    rows: Rows


def _stock(db: Session, at: datetime) -> Iterator[Row]:
    """Straws by goblet and batch on a day, by when things happened."""
    into = case((col(Line.to_state) == "stored", 1), else_=0)
    out_of = case((col(Line.from_state) == "stored", 1), else_=0)
    until = col(Entry.occurred_at) <= at
    moves = [
        sa_select(goblet.label("goblet_id"), col(Line.straw_code).label("code"), sign.label("sign"))
        .join(Entry, col(Entry.seq) == col(Line.entry_seq))
        .where(until, goblet.is_not(None))
        for goblet, sign in (
            (col(Line.to_goblet_id), into),
            (col(Line.from_goblet_id), -out_of),
        )
    ]
    both = moves[0].union_all(moves[1]).subquery()
    rows = db.execute(
        sa_select(Goblet.address, Stallion.name, Batch.code, func.sum(both.c.sign))  # type: ignore[call-overload]
        .join(Straw, col(Straw.code) == both.c.code)
        .join(Batch, col(Batch.id) == col(Straw.batch_id))
        .join(Stallion, col(Stallion.id) == col(Batch.stallion_id))
        .join(Goblet, col(Goblet.id) == both.c.goblet_id)
        .group_by(Goblet.address, Stallion.name, Batch.code)
        .having(func.sum(both.c.sign) != 0)
        .order_by(Goblet.address, Batch.code)
    )
    for address, stallion, batch, straws in rows:
        yield address, stallion, grouped(batch), int(straws)


def _entries(db: Session, *conditions: Any) -> Iterator[Entry]:
    query = select(Entry).where(*conditions).order_by(col(Entry.seq).desc())
    yield from db.exec(query.execution_options(yield_per=1_000))


def _entry(entry: Entry) -> tuple[Cell, ...]:
    return (entry.seq, entry.kind, entry.occurred_at, entry.recorded_at, entry.by_name)


_ENTRY = ("entry", "kind", "occurred_at", "recorded_at", "by")


def _corrections(db: Session, at: datetime) -> Iterator[Row]:
    for entry in _entries(db, Entry.kind == "correct", Entry.recorded_at <= at):
        corrected = json.loads(entry.facts).get("corrects", {})
        yield *_entry(entry), corrected.get("seq"), corrected.get("kind"), entry.reason


def _exchanges(db: Session, at: datetime) -> Iterator[Row]:
    for entry in _entries(db, Entry.kind == "exchange", Entry.recorded_at <= at):
        codes = db.exec(select(Line.straw_code).where(Line.entry_seq == entry.seq))
        yield *_entry(entry), " ".join(grouped(code) for code in codes)


def _adjustments(db: Session, at: datetime) -> Iterator[Row]:
    for entry in _entries(db, Entry.kind == "adjust", Entry.recorded_at <= at):
        facts = json.loads(entry.facts)
        straws = db.exec(
            select(func.count()).select_from(Line).where(Line.entry_seq == entry.seq)
        ).one()
        yield (
            *_entry(entry),
            facts.get("reason_code"),
            straws,
            facts.get("proposed_by"),
            entry.reason,
        )


def _late(db: Session, at: datetime) -> Iterator[Row]:
    for entry in _entries(db, Entry.recorded_at <= at):
        behind = entry.recorded_at - entry.occurred_at
        if behind > LATE:
            yield *_entry(entry), round(behind / timedelta(hours=1)), entry.reason


def _overrides(db: Session, at: datetime) -> Iterator[Row]:
    """Doses outside of their rule, and last doses that were released."""
    query = (
        select(Withdrawal, Stallion.name)
        .join(Stallion, col(Stallion.id) == col(Withdrawal.stallion_id))
        .where(
            Withdrawal.recorded_at <= at,
            or_(
                col(Withdrawal.override_reason).is_not(None),
                col(Withdrawal.release_reserve).is_not(None),
            ),
        )
        .order_by(col(Withdrawal.recorded_at).desc())
    )
    for one, stallion in db.exec(query):
        yield (
            one.occurred_at,
            one.by_name,
            stallion,
            one.doses,
            one.override_reason,
            one.release_reserve,
        )


def _record_changes(db: Session, at: datetime) -> Iterator[Row]:
    """Records that people edited: each field that changed, old and new."""
    query = (
        select(RecordChange)
        .where(RecordChange.changed_at <= at)
        .order_by(col(RecordChange.changed_at).desc(), col(RecordChange.id).desc())
    )
    for change in db.exec(query.execution_options(yield_per=1_000)):
        name = change.after.get("name") or change.before.get("name")
        for field_name in sorted(change.after):
            before, after = change.before.get(field_name), change.after[field_name]
            yield (
                change.changed_at,
                change.changed_by_name,
                change.kind,
                None if name is None else str(name),
                field_name,
                _short(before),
                _short(after),
            )


def _short(value: Any) -> str | None:
    return None if value is None else value if isinstance(value, str) else json.dumps(value)


def _goblets(db: Session, at: datetime) -> Iterator[Row]:
    """How long ago each goblet was counted; the longest first, those never counted before all."""
    counted = store.last_counted(db)
    rows = db.exec(
        select(Goblet, Tank.name)
        .join(Canister, col(Canister.id) == col(Goblet.canister_id))
        .join(Tank, col(Tank.id) == col(Canister.tank_id))
        .where(col(Goblet.retired_at).is_(None))
    ).all()
    known = [(counted.get(goblet.id), goblet.address, tank) for goblet, tank in rows]
    for last, address, tank in sorted(known, key=lambda one: (one[0] is not None, one[0], one[1])):
        yield address, tank, last, None if last is None else max((at - last).days, 0)


def _accuracy(db: Session, at: datetime) -> Iterator[Row]:
    """Of each closed stock-take: which share of the goblets, and of the straws, was as booked."""
    query = select(StockTake).where(col(StockTake.closed_at) <= at)
    for take in db.exec(query.order_by(col(StockTake.closed_at).desc())):
        figures = accuracy(take.report or {})
        yield (
            take.closed_at,
            take.opened_by,
            figures["goblets"],
            figures["goblets_agreed"],
            figures["location_percent"],
            figures["straws_expected"],
            figures["straws_astray"],
            figures["straw_percent"],
        )


def accuracy(report: Mapping[str, Any]) -> dict[str, Any]:
    """Accuracy by location and by straw, of a report's first differences: before any adjustment.

    Overs and unders both count: nothing is netted.
    """
    goblets = report.get("goblets", [])
    wrong: dict[str, int] = {}
    for one in report.get("differences", []):
        if one["class"] != "disturbed":
            key = one["goblet_id"]
            wrong[key] = wrong.get(key, 0) + abs(one["counted"] - one["expected"])
    expected = sum(sum(one["expected"].values()) for one in goblets)
    astray = sum(wrong.values())
    agreed = len(goblets) - len(wrong)
    return {
        "goblets": len(goblets),
        "goblets_agreed": agreed,
        "location_percent": _percent(agreed, len(goblets)),
        "straws_expected": expected,
        "straws_astray": astray,
        "straw_percent": _percent(max(expected - astray, 0), expected),
    }


def _percent(part: int, whole: int) -> str | None:
    return f"{100 * part / whole:.2f}" if whole else None


TABLES: Mapping[str, Table] = {
    "stock": Table("What stood where", ("address", "stallion", "batch", "straws"), _stock),
    "corrections": Table(
        "Taken back", (*_ENTRY, "corrects_entry", "corrects_kind", "reason"), _corrections
    ),
    "overrides": Table(
        "Outside of the dose rule, or of the reserve",
        ("occurred_at", "by", "stallion", "doses", "override_reason", "release_reserve"),
        _overrides,
    ),
    "exchanges": Table("Twins that changed places", (*_ENTRY, "straws"), _exchanges),
    "late-entries": Table(
        "Written more than a day after", (*_ENTRY, "hours_late", "reason"), _late
    ),
    "adjustments": Table(
        "Adjusted after a stock-take",
        (*_ENTRY, "reason_code", "straws", "proposed_by", "note"),
        _adjustments,
    ),
    "record-changes": Table(
        "Records changed",
        ("changed_at", "by", "record", "name", "field", "before", "after"),
        _record_changes,
    ),
    "goblets": Table(
        "When each goblet was counted last",
        ("address", "tank", "counted_at", "days_ago"),
        _goblets,
    ),
    "accuracy": Table(
        "How often book and tanks agreed",
        (
            *("closed_at", "opened_by", "goblets", "goblets_agreed", "location_percent"),
            *("straws_expected", "straws_astray", "straw_percent"),
        ),
        _accuracy,
    ),
}


def as_json(row: Row, columns: Sequence[str]) -> dict[str, Any]:
    """A row as JSON has it."""
    return {
        name: clock.as_text(value) if isinstance(value, datetime) else value
        for name, value in zip(columns, row, strict=True)
    }
