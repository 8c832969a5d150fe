"""The book as it is read: entries with their lines, and one straw's way through it."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import ColumnElement, exists, or_
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.bank.store import Batch, Goblet
from service.kernel.database import in_parts
from service.ledger.store import Entry, Line, Straw


class Step(NamedTuple):
    """One straw's part in one entry; `from_` and `to` are states, or addresses when stored."""

    entry_seq: int
    entry_id: UUID
    kind: str
    occurred_at: datetime
    recorded_at: datetime
    by: str
    reason: str | None
    withdrawal_id: UUID | None
    straw_code: str
    batch_code: str
    from_: str
    to: str
    provisional: bool


def straw_steps(db: Session, code: str) -> list[Step]:
    """Everything that happened to a straw, oldest first."""
    return _steps(db, col(Line.straw_code) == code)


def lines_of(db: Session, entry_seqs: Sequence[int]) -> dict[int, list[Step]]:
    """The lines of these entries, by entry."""
    found: dict[int, list[Step]] = {seq: [] for seq in entry_seqs}
    for some in in_parts(entry_seqs):
        for step in _steps(db, col(Line.entry_seq).in_(some)):
            found[step.entry_seq].append(step)
    return found


def entries(
    db: Session,
    *,
    straw: str | None = None,
    stallion_id: UUID | None = None,
    by_id: UUID | None = None,
    after: int | None = None,
    newest_first: bool = False,
    limit: int,
) -> list[Entry]:
    """Up to `limit` entries after number `after` (before it, when the newest come first)."""
    query = select(Entry).limit(limit)
    query = query.order_by(col(Entry.seq).desc() if newest_first else col(Entry.seq))
    if after is not None:
        query = query.where(col(Entry.seq) < after if newest_first else col(Entry.seq) > after)
    if by_id is not None:
        query = query.where(Entry.by_id == by_id)
    if straw is not None:
        query = query.where(_has_line(col(Line.straw_code) == straw))
    if stallion_id is not None:
        query = query.where(or_(_has_line(_of_stallion(stallion_id)), _about(stallion_id)))
    return list(db.exec(query))


def _has_line(condition: ColumnElement[bool]) -> ColumnElement[bool]:
    return exists().where(col(Line.entry_seq) == col(Entry.seq), condition)


def _about(stallion_id: UUID) -> ColumnElement[bool]:
    """Acts about a batch of his that move no straw: holds, releases, results."""
    return col(Entry.batch_id).in_(
        sa_select(col(Batch.id)).where(col(Batch.stallion_id) == stallion_id)
    )


def _of_stallion(stallion_id: UUID) -> ColumnElement[bool]:
    return col(Line.straw_code).in_(
        sa_select(col(Straw.code))
        .join(Batch, col(Batch.id) == col(Straw.batch_id))
        .where(col(Batch.stallion_id) == stallion_id)
    )


def _steps(db: Session, condition: ColumnElement[bool]) -> list[Step]:
    rows = db.execute(
        sa_select(Entry, Line, col(Batch.code))
        .join(Line, col(Line.entry_seq) == col(Entry.seq))
        .join(Straw, col(Straw.code) == col(Line.straw_code))
        .join(Batch, col(Batch.id) == col(Straw.batch_id))
        .where(condition)
        .order_by(col(Line.entry_seq), col(Line.number))
    ).all()
    addresses = _addresses(db, rows)
    return [_step(entry, line, code, addresses) for entry, line, code in rows]


def _addresses(db: Session, rows: Sequence[Any]) -> dict[UUID, str]:
    goblets = {id for _, line, _ in rows for id in (line.from_goblet_id, line.to_goblet_id) if id}
    return {
        id: address
        for some in in_parts(goblets)
        for id, address in db.exec(
            select(Goblet.id, Goblet.address).where(col(Goblet.id).in_(some))
        )
    }


def _step(entry: Entry, line: Line, batch_code: str, addresses: dict[UUID, str]) -> Step:
    return Step(
        entry_seq=entry.seq,
        entry_id=entry.id,
        kind=entry.kind,
        occurred_at=entry.occurred_at,
        recorded_at=entry.recorded_at,
        by=entry.by_name,
        reason=entry.reason,
        withdrawal_id=line.withdrawal_id,
        straw_code=line.straw_code,
        batch_code=batch_code,
        from_=addresses[line.from_goblet_id] if line.from_goblet_id else line.from_state,
        to=addresses[line.to_goblet_id] if line.to_goblet_id else line.to_state,
        provisional=line.provisional,
    )
