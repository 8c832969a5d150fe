"""Queries of freezing: batches with their straws, codes not issued before, rooms for straws."""

from collections import Counter
from collections.abc import Callable, Collection, Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, exists, func, or_
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.bank.search import fresh_codes
from service.bank.store import Batch, Canister, Goblet, Hold, PostThaw, Stallion, Tank
from service.edge.listing import Page
from service.freezing.placing import Room
from service.kernel import clock
from service.kernel.codes import Kind
from service.kernel.database import in_parts
from service.ledger.rules import StrawNow
from service.ledger.store import Entry, Stock, Straw, straws_where


def new_straw_codes(db: Session, number: int, draw: Callable[[int], int]) -> list[str]:
    """So many codes that this bank never issued, sorted: lists and labels come in this order."""
    return sorted(fresh_codes(db, col(Straw.code), Kind.STRAW, number, draw))


def new_batch_code(db: Session, draw: Callable[[int], int]) -> str:
    """A batch code that this bank never issued."""
    return fresh_codes(db, col(Batch.code), Kind.BATCH, 1, draw)[0]


def straws_of(db: Session, batch_id: UUID) -> list[StrawNow]:
    """Every straw of a batch, in order of the codes."""
    return straws_where(db, col(Straw.batch_id) == batch_id)


def prepared_by_batch(db: Session, batch_ids: Collection[UUID]) -> dict[UUID, int]:
    """Straws that are marked and not yet filled, by batch; none for a batch without."""
    counted = (
        sa_select(col(Straw.batch_id), func.count())
        .where(col(Straw.state) == "prepared")
        .group_by(col(Straw.batch_id))
    )
    return {
        batch_id: int(straws)
        for some in in_parts(batch_ids)
        for batch_id, straws in db.execute(counted.where(col(Straw.batch_id).in_(some)))
    }


def batches_page(
    db: Session, page: Page, *, stallion_id: UUID | None, state: str | None
) -> list[tuple[Batch, Stallion]]:
    """Batches with their stallions, newest first, one more than the limit.

    A prepared batch whose marks were all taken back is void, and waits for nothing.
    """
    query = (
        select(Batch, Stallion)
        .join(Stallion, col(Stallion.id) == col(Batch.stallion_id))
        .where(*page.older(col(Batch.created_at), col(Batch.id)))
        .order_by(col(Batch.created_at).desc(), col(Batch.id).desc())
        .limit(page.limit + 1)
    )
    if stallion_id is not None:
        query = query.where(Batch.stallion_id == stallion_id)
    if state is not None:
        query = query.where(Batch.state == state)
    if state == "prepared":
        query = query.where(
            exists().where(col(Straw.batch_id) == col(Batch.id), col(Straw.state) == "prepared")
        )
    return list(db.exec(query))


def batch_key(batch: Batch) -> tuple[str, str]:
    """What a list of batches is sorted by, as a page marker."""
    return clock.as_text(batch.created_at), str(batch.id)


def frozen_at(db: Session, batch: Batch) -> datetime | None:
    """When the batch was frozen; None for stock that was not frozen under this book."""
    return db.exec(select(Entry.occurred_at).where(Entry.id == batch.freeze_id)).first()


def latest_result(db: Session, batch: Batch) -> PostThaw | None:
    """The post-thaw result that was examined last; of entries taken back none counts."""
    return db.exec(
        select(PostThaw)
        .join(Entry, col(Entry.id) == col(PostThaw.id))
        .where(PostThaw.batch_id == batch.id)
        .where(
            or_(
                col(Entry.kind) == "test",
                col(Entry.id).in_([id for id in (batch.freeze_id, batch.receipt_id) if id]),
            )
        )
        .order_by(
            *(col(PostThaw.examined_at).desc(), col(PostThaw.recorded_at).desc()),
            col(Entry.seq).desc(),
        )
    ).first()


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


def standing_holds(db: Session, batch_id: UUID, today: date) -> list[Hold]:
    """Every hold that keeps a batch back today."""
    return list(
        db.exec(
            select(Hold)
            .where(Hold.batch_id == batch_id, col(Hold.released_at).is_(None))
            .where(or_(col(Hold.until).is_(None), col(Hold.until) > today))
        )
    )


def straws_in_quarantine(db: Session, batch_id: UUID) -> int:
    """How many straws of a batch stand in quarantined tanks."""
    found = db.execute(
        sa_select(func.coalesce(func.sum(Stock.straws), 0))
        .join(Goblet, col(Goblet.id) == col(Stock.goblet_id))
        .join(Canister, col(Canister.id) == col(Goblet.canister_id))
        .join(Tank, col(Tank.id) == col(Canister.tank_id))
        .where(col(Stock.batch_id) == batch_id, col(Tank.quarantine))
    )
    return int(found.scalar_one())


def rooms(
    db: Session, *, stallion_id: UUID | None, batch_id: UUID | None, held: Collection[UUID]
) -> list[Room]:
    """Every goblet in use with room left, as this batch of this stallion sees it.

    A big bank has tens of thousands, and reading their ids is most of the work: what few goblets
    hold is asked for apart, and canisters are told apart by their codes.
    """
    ours = _straws_by_goblet(db, col(Batch.stallion_id) == stallion_id) if stallion_id else {}
    same = _straws_by_goblet(db, col(Batch.id) == batch_id) if batch_id else {}
    held_straws: Counter[UUID] = Counter()
    for some in in_parts(held):
        held_straws.update(_straws_by_goblet(db, col(Batch.id).in_(some)))
    canisters = {code: (id, tank_id, apart) for code, id, tank_id, apart in _canisters(db)}
    near = {canisters[code][:2] for code in _canister_codes(db, list(ours))}
    near_tanks = {tank_id for _, tank_id in near}
    found = []
    for goblet_id, address, capacity, canister_code, filled in db.execute(_with_room()):
        canister_id, tank_id, quarantine = canisters[canister_code]
        held_here = held_straws.get(goblet_id, 0)
        found.append(
            Room(
                goblet_id=goblet_id,
                canister_id=canister_id,
                tank_id=tank_id,
                address=address,
                capacity_straws=capacity,
                free_straws=capacity - filled,
                straws_of_batch=same.get(goblet_id, 0),
                straws_of_stallion=ours.get(goblet_id, 0),
                canister_has_stallion=(canister_id, tank_id) in near,
                tank_has_stallion=tank_id in near_tanks,
                quarantine=quarantine,
                has_released_stock=filled > held_here,
                has_held_stock=held_here > 0,
            )
        )
    return found


def _canisters(db: Session) -> Sequence[Any]:
    return db.execute(
        sa_select(col(Canister.code), col(Canister.id), col(Tank.id), col(Tank.quarantine)).join(
            Tank, col(Tank.id) == col(Canister.tank_id)
        )
    ).all()


def _canister_codes(db: Session, goblet_ids: Collection[UUID]) -> set[str]:
    """The canisters that these goblets hang in."""
    return {
        code
        for some in in_parts(goblet_ids)
        for code in db.exec(
            select(Canister.code)
            .join(Goblet, col(Goblet.canister_id) == col(Canister.id))
            .where(col(Goblet.id).in_(some))
        )
    }


def _straws_by_goblet(db: Session, of: ColumnElement[bool]) -> dict[UUID, int]:
    rows = db.execute(
        sa_select(col(Stock.goblet_id), func.sum(Stock.straws))
        .join(Batch, col(Batch.id) == col(Stock.batch_id))
        .where(of)
        .group_by(col(Stock.goblet_id))
    )
    return {goblet_id: int(straws) for goblet_id, straws in rows}


def _with_room() -> Any:
    filled = (
        sa_select(col(Stock.goblet_id).label("goblet_id"), func.sum(Stock.straws).label("straws"))
        .group_by(col(Stock.goblet_id))
        .subquery()
    )
    straws = func.coalesce(filled.c.straws, 0)
    return (
        sa_select(
            *(col(Goblet.id), col(Goblet.address), col(Goblet.capacity_straws)),
            *(col(Canister.code), straws),
        )
        .join(Canister, col(Canister.id) == col(Goblet.canister_id))
        .outerjoin(filled, filled.c.goblet_id == col(Goblet.id))
        .where(col(Goblet.retired_at).is_(None), col(Goblet.capacity_straws) > straws)
    )
