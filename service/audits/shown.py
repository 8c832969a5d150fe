"""A stock-take put into what is answered."""

from collections.abc import Sequence
from uuid import UUID

from sqlmodel import Session, col, select

from service.audits import adjusting, store, wire
from service.audits.store import Adjustment, Approval, Count, StockTake, TakeGoblet
from service.bank.store import Batch, Goblet, Stallion
from service.kernel.database import in_parts


def stock_take_out(db: Session, take: StockTake) -> wire.StockTakeOut:
    """A stock-take as it is read; while it is counted, without a word of what the book expects."""
    goblets, counts = store.goblets_of(db, take.id), store.counts_of(db, take.id)
    latest = store.latest(counts)
    same = set(wire.StockTakeOut.model_fields) & set(StockTake.model_fields)
    return wire.StockTakeOut(
        **take.model_dump(include=same),
        goblets=[_goblet(one, latest.get(one.goblet_id)) for one in goblets],
        counts=[_count(one) for one in counts],
        differences=[] if take.state == "counting" else _differences(db, take),
        adjustments=adjustments_out(db, take),
        reviews=[
            wire.ReviewOut(by=one.by_name, **one.model_dump(include=_REVIEW))
            for one in store.reviews_of(db, take.id)
        ],
    )


_REVIEW = {"id", "role", "meaning", "note", "at"}


def line_out(db: Session, take: StockTake) -> wire.StockTakeLine:
    """A stock-take in a list."""
    goblets = store.goblets_of(db, take.id)
    latest = store.latest(store.counts_of(db, take.id))
    same = set(wire.StockTakeLine.model_fields) & set(StockTake.model_fields)
    return wire.StockTakeLine(
        **take.model_dump(include=same),
        goblets=len(goblets),
        counted=sum(_is_counted(one, latest.get(one.goblet_id)) for one in goblets),
    )


def _is_counted(goblet: TakeGoblet, count: Count | None) -> bool:
    return count is not None and count.round == goblet.rounds


def left_to_count(db: Session, take: StockTake) -> int:
    """How many goblets were not counted in this round yet."""
    latest = store.latest(store.counts_of(db, take.id))
    goblets = store.goblets_of(db, take.id)
    return sum(not _is_counted(one, latest.get(one.goblet_id)) for one in goblets)


def _goblet(goblet: TakeGoblet, count: Count | None) -> wire.TakeGobletOut:
    counted = _is_counted(goblet, count)
    return wire.TakeGobletOut(
        goblet_id=goblet.goblet_id,
        address=goblet.address,
        tank_id=goblet.tank_id,
        tank_name=goblet.tank_name,
        rounds=goblet.rounds,
        state="counted" if counted else "to-count",
        counted_by=count.by_name if counted and count else None,
        counted_at=count.counted_at if counted and count else None,
    )


def _count(count: Count) -> wire.CountOut:
    same = set(wire.CountOut.model_fields) & set(Count.model_fields)
    return wire.CountOut(by=count.by_name, **count.model_dump(include=same))


def _differences(db: Session, take: StockTake) -> list[wire.DifferenceOut]:
    found = adjusting.open_differences(db, take, approved_only=False)
    addresses = {one.goblet_id: one.address for one in store.goblets_of(db, take.id)}
    batches = _batches(db, {one.batch_id for one, _ in found if one.batch_id})
    shown = []
    for one, left in found:
        batch, stallion = batches[one.batch_id] if one.batch_id else (None, None)
        shown.append(
            wire.DifferenceOut(
                id=one.id,
                goblet_id=one.goblet_id,
                address=addresses[one.goblet_id],
                batch_id=one.batch_id,
                batch_code=batch and batch.code,
                stallion_name=stallion,
                expected=one.expected,
                counted=one.counted,
                difference=one.counted - one.expected,
                kind=one.kind,
                codes=one.codes,
                foreign=one.foreign,
                candidates=one.candidates,
                move=one.move,
                note=one.note,
                open=left,
                recent_entries=one.recent,
                stories=one.stories,
            )
        )
    return sorted(shown, key=lambda one: (one.address, one.batch_code or ""))


def _batches(db: Session, ids: set[UUID]) -> dict[UUID, tuple[Batch, str]]:
    return {
        batch.id: (batch, name)
        for some in in_parts(ids)
        for batch, name in db.exec(
            select(Batch, Stallion.name)
            .join(Stallion, col(Stallion.id) == col(Batch.stallion_id))
            .where(col(Batch.id).in_(some))
        )
    }


def adjustments_out(db: Session, take: StockTake) -> list[wire.AdjustmentOut]:
    """Everything that was proposed in a stock-take."""
    return _adjustments(db, store.adjustments_of(db, take.id))


def adjustment_out(
    db: Session, adjustment: Adjustment, approval: Approval | None
) -> wire.AdjustmentOut:
    """One adjustment."""
    return _adjustments(db, [(adjustment, approval)])[0]


def _adjustments(
    db: Session, rows: Sequence[tuple[Adjustment, Approval | None]]
) -> list[wire.AdjustmentOut]:
    batches = _batches(db, {one.batch_id for one, _ in rows})
    shown = []
    for one, approval in rows:
        same = set(wire.AdjustmentOut.model_fields) & set(Adjustment.model_fields)
        shown.append(
            wire.AdjustmentOut(
                **one.model_dump(include=same),
                state="approved" if approval else "proposed",
                address=db.get_one(Goblet, one.goblet_id).address,
                batch_code=batches[one.batch_id][0].code,
                approved_by=approval and approval.approved_by,
                approved_at=approval and approval.approved_at,
                entry_seq=approval and approval.entry_seq,
            )
        )
    return shown
