"""The book as it is read: entries with their lines, and one straw's way through it.

Addresses are those of the entry's time: a goblet that was hung elsewhere since is told where it
hung then. A plate that was only changed by hand is told as it is now.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from sqlalchemy import ColumnElement, exists, or_
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.bank.store import Batch, Goblet
from service.kernel.database import in_parts
from service.ledger.store import Entry, GobletMove, Line, Straw


class Step(NamedTuple):
    """One straw's part in one entry; `from_` and `to` are states, or addresses when stored.

    A straw from before labels has no code here: nobody could read it.
    """

    entry_seq: int
    entry_id: UUID
    kind: str
    occurred_at: datetime
    recorded_at: datetime
    by: str
    reason: str | None
    withdrawal_id: UUID | None
    straw_code: str | None
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
        sa_select(Entry, Line, col(Batch.code), col(Straw.coded))
        .join(Line, col(Line.entry_seq) == col(Entry.seq))
        .join(Straw, col(Straw.code) == col(Line.straw_code))
        .join(Batch, col(Batch.id) == col(Straw.batch_id))
        .where(condition)
        .order_by(col(Line.entry_seq), col(Line.number))
    ).all()
    plates = plates_of(
        db, {id for _, line, *_ in rows for id in (line.from_goblet_id, line.to_goblet_id) if id}
    )
    return [
        _step(entry, line, batch, plates, line.straw_code if coded else None)
        for entry, line, batch, coded in rows
    ]


class Plates:
    """What stood on goblets' plates, entry by entry."""

    def __init__(
        self, now: Mapping[UUID, str], moves: Mapping[UUID, Sequence[tuple[int, str]]]
    ) -> None:
        self._now = now
        self._moves = moves

    def now(self, goblet_id: UUID) -> str:
        """The address of today."""
        return self._now[goblet_id]

    def after(self, seq: int, goblet_id: UUID) -> str:
        """The address once entry `seq` was written: the next move took it away, if there is one."""
        for moved, address in self._moves.get(goblet_id, ()):
            if moved > seq:
                return address
        return self.now(goblet_id)


def plates_of(db: Session, goblet_ids: Collection[UUID]) -> Plates:
    """The plates of these goblets: two statements, however many entries are read with them."""
    now: dict[UUID, str] = {}
    moves: dict[UUID, list[tuple[int, str]]] = defaultdict(list)
    for some in in_parts(goblet_ids):
        now |= db.exec(select(Goblet.id, Goblet.address).where(col(Goblet.id).in_(some))).all()
        for goblet_id, seq, address in db.exec(
            select(GobletMove.goblet_id, GobletMove.entry_seq, GobletMove.from_address)
            .where(col(GobletMove.goblet_id).in_(some))
            .order_by(col(GobletMove.entry_seq))
        ):
            moves[goblet_id].append((seq, address))
    return Plates(now, moves)


class PlateChanged(NamedTuple):
    """A goblet that an entry hung elsewhere."""

    goblet_id: UUID
    from_address: str
    address: str


def goblets_moved(db: Session, entry_seqs: Sequence[int]) -> dict[int, list[PlateChanged]]:
    """The goblets that these entries hung elsewhere, by entry."""
    found: dict[int, list[PlateChanged]] = defaultdict(list)
    for some in in_parts(entry_seqs):
        for move in db.exec(
            select(GobletMove)
            .where(col(GobletMove.entry_seq).in_(some))
            .order_by(col(GobletMove.to_address))
        ):
            found[move.entry_seq].append(
                PlateChanged(move.goblet_id, move.from_address, move.to_address)
            )
    return found


def _step(
    entry: Entry, line: Line, batch_code: str, plates: Plates, straw_code: str | None
) -> Step:
    start, end = line.from_goblet_id, line.to_goblet_id
    return Step(
        entry_seq=entry.seq,
        entry_id=entry.id,
        kind=entry.kind,
        occurred_at=entry.occurred_at,
        recorded_at=entry.recorded_at,
        by=entry.by_name,
        reason=entry.reason,
        withdrawal_id=line.withdrawal_id,
        straw_code=straw_code,
        batch_code=batch_code,
        from_=plates.after(entry.seq - 1, start) if start else line.from_state,
        to=plates.after(entry.seq, end) if end else line.to_state,
        provisional=line.provisional,
    )
