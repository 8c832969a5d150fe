"""What an import asks of the book, and the rows that go out: queries only."""

import json
from collections import defaultdict
from collections.abc import Collection, Iterator
from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, func
from sqlalchemy import select as sa_select
from sqlmodel import Session, col

from service.bank.store import Batch, Canister, Goblet, Mare, Stallion, Tank, holds_on
from service.kernel.database import in_parts
from service.ledger.store import Entry, Line, Stock, Straw
from service.spreadsheet.fates import Known, KnownGoblet, KnownStallion, Standing
from service.spreadsheet.thaws import written_thaw
from service.spreadsheet.understanding import Said
from service.withdrawals.store import Insemination, Outcome, Withdrawal

#: Rows that are fetched at once while a file goes out.
ROWS_AT_ONCE = 1_000


def known_for(db: Session, said: Collection[Said], today: date) -> Known:
    """What the book knows that these rows may be about."""
    return Known(
        today=today,
        stallions=[KnownStallion(*row) for row in db.execute(_STALLIONS)],
        goblets=[KnownGoblet(*row) for row in db.execute(_goblets())],
        standing=_standing(db, today),
        batch_codes=_issued(db, col(Batch.code), {row.batch_code for row in said}),
        straw_codes=_issued(
            db, col(Straw.code), {code for row in said for code in row.straw_codes}
        ),
        earlier=frozenset((who, mark, day) for who, mark, day in db.execute(_EARLIER)),
    )


_STALLIONS = sa_select(
    *(col(Stallion.id), col(Stallion.name), col(Stallion.ueln)),
    *(col(Stallion.foaled_on), col(Stallion.died_on)),
)

_EARLIER = sa_select(
    col(Batch.stallion_id), col(Batch.marks_as_read), col(Batch.collected_on)
).where(col(Batch.origin) != "frozen")


def _goblets() -> Any:
    filled = (
        sa_select(col(Stock.goblet_id).label("goblet_id"), func.sum(Stock.straws).label("straws"))
        .group_by(col(Stock.goblet_id))
        .subquery()
    )
    return (
        sa_select(
            *(col(Goblet.id), col(Goblet.code), col(Goblet.address), col(Goblet.capacity_straws)),
            func.coalesce(filled.c.straws, 0),
            *(col(Goblet.retired_at).is_not(None), col(Tank.quarantine)),
        )
        .join(Canister, col(Canister.id) == col(Goblet.canister_id))
        .join(Tank, col(Tank.id) == col(Canister.tank_id))
        .outerjoin(filled, filled.c.goblet_id == col(Goblet.id))
    )


def _standing(db: Session, today: date) -> dict[UUID, frozenset[Standing]]:
    held = holds_on(db, today)
    found: dict[UUID, set[Standing]] = defaultdict(set)
    rows = db.execute(
        sa_select(
            col(Stock.goblet_id), col(Batch.id), col(Batch.stallion_id), col(Batch.thaw)
        ).join(Batch, col(Batch.id) == col(Stock.batch_id))
    )
    for goblet_id, batch_id, stallion_id, thaw in rows:
        steps = None if thaw is None else written_thaw(thaw)
        found[goblet_id].add(Standing(str(stallion_id), steps, batch_id in held))
    return {goblet_id: frozenset(some) for goblet_id, some in found.items()}


def _issued(db: Session, column: Any, codes: Collection[str | None]) -> frozenset[str]:
    wanted = [code for code in codes if code is not None]
    return frozenset(
        code
        for some in in_parts(wanted)
        for code in db.scalars(sa_select(column).where(column.in_(some)))
    )


def _streamed(db: Session, query: Any) -> Iterator[Any]:
    return iter(db.execute(query.execution_options(yield_per=ROWS_AT_ONCE)))


def stored_straws(db: Session) -> Iterator[Any]:
    """Every straw in store with its batch, in order of address, batch, owner and code."""
    return _streamed(
        db,
        sa_select(
            *(Goblet.address, Batch, Stallion.name, Stallion.ueln),  # type: ignore[call-overload]
            *(Straw.owner, Straw.code, Straw.coded),
        )
        .join(Batch, col(Batch.id) == col(Straw.batch_id))
        .join(Stallion, col(Stallion.id) == col(Batch.stallion_id))
        .join(Goblet, col(Goblet.id) == col(Straw.goblet_id))
        .where(col(Straw.state) == "stored")
        # Engines disagree on where nobody's straws come.
        .order_by(
            *(Goblet.address, Batch.code, col(Straw.owner).nulls_first()),
            *(Straw.coded, Straw.code),
        ),
    )


def entries(db: Session) -> Iterator[Any]:
    """Every line of the book with its entry; an entry without lines once."""
    return _streamed(
        db,
        sa_select(
            *(Entry, Line.straw_code, Batch.code, Stallion.name),  # type: ignore[call-overload]
            *(Line.from_state, Line.from_goblet_id, Line.to_state, Line.to_goblet_id),
            Line.provisional,
        )
        .outerjoin(Line, col(Line.entry_seq) == col(Entry.seq))
        .outerjoin(Straw, col(Straw.code) == col(Line.straw_code))
        .outerjoin(Batch, col(Batch.id) == func.coalesce(Straw.batch_id, Entry.batch_id))
        .outerjoin(Stallion, col(Stallion.id) == col(Batch.stallion_id))
        .order_by(Entry.seq, Line.number),
    )


def addresses(db: Session) -> dict[UUID, str]:
    """Every goblet's address."""
    rows = db.execute(sa_select(col(Goblet.id), col(Goblet.address)))
    return {goblet_id: address for goblet_id, address in rows}  # noqa: C416 (typed so)


def freezes(db: Session) -> Iterator[Any]:
    """Every freeze that stands, with its batch and what the entry says of the straws."""
    return _streamed(
        db,
        sa_select(Entry, Batch, Stallion.name, Stallion.ueln)  # type: ignore[call-overload]
        .join(Batch, col(Batch.freeze_id) == col(Entry.id))
        .join(Stallion, col(Stallion.id) == col(Batch.stallion_id))
        .order_by(Entry.seq),
    )


def facts_of(entry: Entry) -> dict[str, Any]:
    """What an entry says besides its lines."""
    facts: dict[str, Any] = json.loads(entry.facts)
    return facts


def withdrawals(db: Session) -> Iterator[Any]:
    """Every withdrawal with its inseminations that stand, and the newest outcome of each."""
    lifted = _counted(col(Line.to_state) == "lifted", "lifted")
    newest = (
        sa_select(
            col(Outcome.insemination_id).label("insemination_id"),
            func.max(Outcome.recorded_at).label("recorded_at"),
        )
        .group_by(col(Outcome.insemination_id))
        .subquery()
    )
    return _streamed(
        db,
        sa_select(
            *(Withdrawal, Stallion.name, Stallion.ueln, Mare.name, Mare.ueln),  # type: ignore[call-overload]
            *(func.coalesce(lifted.c.straws, 0), Insemination, Outcome),
        )
        .join(Stallion, col(Stallion.id) == col(Withdrawal.stallion_id))
        .join(Mare, col(Mare.id) == col(Withdrawal.mare_id))
        .outerjoin(lifted, lifted.c.withdrawal_id == col(Withdrawal.id))
        .outerjoin(
            Insemination,
            (col(Insemination.withdrawal_id) == col(Withdrawal.id))
            & col(Insemination.corrected_at).is_(None),
        )
        .outerjoin(newest, newest.c.insemination_id == col(Insemination.id))
        .outerjoin(
            Outcome,
            (col(Outcome.insemination_id) == newest.c.insemination_id)
            & (col(Outcome.recorded_at) == newest.c.recorded_at),
        )
        .order_by(
            *(Withdrawal.occurred_at, Withdrawal.id),
            *(Insemination.inseminated_at, Insemination.id),
        ),
    )


def _counted(condition: ColumnElement[bool], name: str) -> Any:
    return (
        sa_select(
            col(Entry.withdrawal_id).label("withdrawal_id"),
            func.count().label("straws"),
        )
        .join(Line, col(Line.entry_seq) == col(Entry.seq))
        .where(condition, col(Entry.kind) == "withdraw")
        .group_by(col(Entry.withdrawal_id))
        .subquery(name)
    )
