"""Queries of freezing: batches with their straws, codes not issued before, rooms for straws."""

from collections.abc import Callable, Collection
from typing import Any
from uuid import UUID

from sqlalchemy import case, func
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.bank.store import Batch, Canister, Goblet, Hold, Stallion, Tank
from service.edge.listing import Page
from service.freezing.placing import Room
from service.kernel.codes import Kind, make
from service.ledger.rules import StrawNow
from service.ledger.store import Stock, Straw, straws_by_code, straws_where


def new_straw_codes(db: Session, number: int, draw: Callable[[int], int]) -> list[str]:
    """So many codes that this bank never issued, sorted: lists and labels come in this order."""
    codes: set[str] = set()
    while len(codes) < number:
        drawn = {make(Kind.STRAW, draw) for _ in range(number - len(codes))}
        codes |= drawn - straws_by_code(db, drawn).keys()
    return sorted(codes)


def new_batch_code(db: Session, draw: Callable[[int], int]) -> str:
    """A batch code that this bank never issued."""
    while True:
        code = make(Kind.BATCH, draw)
        if db.exec(select(Batch.id).where(Batch.code == code)).first() is None:
            return code


def straws_of(db: Session, batch_id: UUID) -> list[StrawNow]:
    """Every straw of a batch, in order of the codes."""
    return straws_where(db, col(Straw.batch_id) == batch_id)


def stored_by_batch(db: Session, batch_ids: Collection[UUID]) -> dict[UUID, int]:
    """Straws in store by batch; none for a batch without."""
    rows = db.execute(
        sa_select(col(Stock.batch_id), func.sum(Stock.straws))
        .where(col(Stock.batch_id).in_(batch_ids))
        .group_by(col(Stock.batch_id))
    )
    return {batch_id: int(straws) for batch_id, straws in rows}


def batches_page(
    db: Session, page: Page, *, stallion_id: UUID | None, state: str | None
) -> list[tuple[Batch, Stallion]]:
    """Batches with their stallions, newest first, one more than the limit."""
    query = (
        select(Batch, Stallion)
        .join(Stallion, col(Stallion.id) == col(Batch.stallion_id))
        .order_by(col(Batch.id).desc())
        .limit(page.limit + 1)
    )
    if stallion_id is not None:
        query = query.where(Batch.stallion_id == stallion_id)
    if state is not None:
        query = query.where(Batch.state == state)
    after = page.after_one(UUID)
    if after is not None:
        query = query.where(col(Batch.id) < after)
    return list(db.exec(query))


def addresses(db: Session, batch_id: UUID) -> dict[UUID, str]:
    """The addresses of the goblets that a batch stands in."""
    rows = db.exec(
        select(Goblet.id, Goblet.address)
        .join(Stock, col(Stock.goblet_id) == col(Goblet.id))
        .where(col(Stock.batch_id) == batch_id)
    )
    return dict(rows.all())


def goblets(db: Session, goblet_ids: Collection[UUID]) -> dict[UUID, Goblet]:
    """Goblets by id."""
    found = db.exec(select(Goblet).where(col(Goblet.id).in_(goblet_ids)))
    return {goblet.id: goblet for goblet in found}


def standing_holds(db: Session, batch_id: UUID) -> list[Hold]:
    """The holds of a batch that nobody released."""
    return list(
        db.exec(select(Hold).where(Hold.batch_id == batch_id, col(Hold.released_at).is_(None)))
    )


def rooms(
    db: Session, *, stallion_id: UUID | None, batch_id: UUID | None, held: Collection[UUID]
) -> list[Room]:
    """Every goblet in use with room left, as this batch of this stallion sees it."""
    rows = db.execute(_rooms(stallion_id, batch_id, held)).all()
    canisters = {row.canister_id for row in rows if row.of_stallion}
    tanks = {row.tank_id for row in rows if row.of_stallion}
    return [
        Room(
            goblet_id=row.id,
            canister_id=row.canister_id,
            tank_id=row.tank_id,
            address=row.address,
            capacity_straws=row.capacity_straws,
            free_straws=row.capacity_straws - row.filled,
            straws_of_batch=row.of_batch,
            straws_of_stallion=row.of_stallion,
            canister_has_stallion=row.canister_id in canisters,
            tank_has_stallion=row.tank_id in tanks,
            quarantine=row.quarantine,
            has_released_stock=row.filled > row.held,
            has_held_stock=row.held > 0,
        )
        for row in rows
    ]


def _rooms(stallion_id: UUID | None, batch_id: UUID | None, held: Collection[UUID]) -> Any:
    def straws(condition: Any) -> Any:
        return func.coalesce(func.sum(case((condition, Stock.straws), else_=0)), 0)

    return (
        sa_select(
            *(col(Goblet.id), col(Goblet.address), col(Goblet.capacity_straws)),
            *(col(Goblet.canister_id), col(Canister.tank_id), col(Tank.quarantine)),
            func.coalesce(func.sum(Stock.straws), 0).label("filled"),
            straws(col(Stock.batch_id) == batch_id).label("of_batch"),
            straws(col(Batch.stallion_id) == stallion_id).label("of_stallion"),
            straws(col(Stock.batch_id).in_(held)).label("held"),
        )
        .join(Canister, col(Canister.id) == col(Goblet.canister_id))
        .join(Tank, col(Tank.id) == col(Canister.tank_id))
        .outerjoin(Stock, col(Stock.goblet_id) == col(Goblet.id))
        .outerjoin(Batch, col(Batch.id) == col(Stock.batch_id))
        .where(col(Goblet.retired_at).is_(None))
        .group_by(
            *(col(Goblet.id), col(Goblet.address), col(Goblet.capacity_straws)),
            *(col(Goblet.canister_id), col(Canister.tank_id), col(Tank.quarantine)),
        )
    )
