"""Withdrawals, what became of them, and the stock that a plan may use."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, CheckConstraint, Text, or_
from sqlalchemy import select as sa_select
from sqlmodel import Field, Session, SQLModel, col, select

from service.bank.store import Batch, Canister, Goblet, Tank, holds_on
from service.edge.listing import Page
from service.kernel.columns import UtcMoment
from service.ledger.rules import StrawNow, Whose
from service.ledger.store import Entry, Line, Stock, Straw, owned_straws, straws_where


class Withdrawal(SQLModel, table=True):
    """Straws lifted for a mare. `rule` is the stallion's dose rule as it stood then.

    `taken_by` is who left the station with them, `owner` whose straws were taken (null: of the
    common stock), `promise_id` the promise that they keep.
    """

    __tablename__ = "withdrawals"
    __table_args__ = (CheckConstraint("doses >= 1", name="withdrawal_doses_positive"),)

    id: UUID = Field(primary_key=True)
    stallion_id: UUID = Field(foreign_key="stallions.id", index=True)
    mare_id: UUID = Field(foreign_key="mares.id", index=True)
    doses: int
    rule: dict[str, Any] = Field(sa_type=JSON)
    override_reason: str | None = Field(default=None, sa_type=Text)
    release_reserve: str | None = Field(default=None, sa_type=Text)
    taken_by: str | None = Field(default=None, sa_type=Text)
    owner: str | None = Field(default=None, sa_type=Text)
    promise_id: UUID | None = Field(default=None, foreign_key="promises.id", index=True)
    occurred_at: datetime = Field(sa_type=UtcMoment)
    recorded_at: datetime = Field(sa_type=UtcMoment)
    by_id: UUID
    by_name: str = Field(sa_type=Text)


class Insemination(SQLModel, table=True):
    """One insemination out of a withdrawal; `corrected_at` when it was taken back."""

    __tablename__ = "inseminations"
    __table_args__ = (
        CheckConstraint("straws_used >= 0", name="insemination_used"),
        CheckConstraint("straws_thawed_unused >= 0", name="insemination_thawed_unused"),
        CheckConstraint("straws_used + straws_thawed_unused >= 1", name="insemination_of_straws"),
    )

    id: UUID = Field(primary_key=True)
    withdrawal_id: UUID = Field(foreign_key="withdrawals.id", index=True)
    inseminated_at: datetime = Field(sa_type=UtcMoment)
    straws_used: int
    straws_thawed_unused: int
    method: str | None = Field(default=None, sa_type=Text)
    note: str | None = Field(default=None, sa_type=Text)
    recorded_at: datetime = Field(sa_type=UtcMoment)
    by_id: UUID
    by_name: str = Field(sa_type=Text)
    corrected_at: datetime | None = Field(default=None, sa_type=UtcMoment)


class Outcome(SQLModel, table=True):
    """What a check of the mare found; the newest one counts. Added to, never changed."""

    __tablename__ = "outcomes"

    id: UUID = Field(primary_key=True)
    insemination_id: UUID = Field(foreign_key="inseminations.id", index=True)
    checked_on: date
    pregnant: bool
    recorded_at: datetime = Field(sa_type=UtcMoment)
    by_id: UUID
    by_name: str = Field(sa_type=Text)


def free_places(
    db: Session, stallion_id: UUID, today: date, whose: Whose
) -> list[tuple[Batch, Goblet, Canister, int]]:
    """Where their straws of a stallion stand that may be used: neither held nor in quarantine."""
    rows = db.execute(
        sa_select(Batch, Goblet, Canister, col(Stock.straws))
        .join(Stock, col(Stock.batch_id) == col(Batch.id))
        .join(Goblet, col(Goblet.id) == col(Stock.goblet_id))
        .join(Canister, col(Canister.id) == col(Goblet.canister_id))
        .join(Tank, col(Tank.id) == col(Canister.tank_id))
        .where(col(Batch.stallion_id) == stallion_id, ~col(Tank.quarantine))
    ).all()
    held = holds_on(db, today, {batch.id for batch, *_ in rows})
    owned = owned_straws(db, {batch.id for batch, *_ in rows})
    return [
        (batch, goblet, canister, theirs)
        for batch, goblet, canister, straws in rows
        if batch.id not in held
        and (theirs := whose.of(owned.get((batch.id, goblet.id), {}), straws)) > 0
    ]


def stored_batches(db: Session, stallion_id: UUID, batch_id: UUID | None = None) -> list[Batch]:
    """A stallion's batches that have straws in store, wherever they stand."""
    query = select(Batch).where(
        Batch.stallion_id == stallion_id, col(Batch.id).in_(sa_select(col(Stock.batch_id)))
    )
    if batch_id is not None:
        query = query.where(Batch.id == batch_id)
    return list(db.exec(query.order_by(col(Batch.code))))


def seq_of(db: Session, withdrawal_id: UUID) -> int:
    """The number of the entry that took a withdrawal's straws out."""
    return db.exec(select(Entry.seq).where(Entry.id == withdrawal_id)).one()


def batches(db: Session, batch_ids: Sequence[UUID]) -> dict[UUID, Batch]:
    """Batches by id."""
    found = db.exec(select(Batch).where(col(Batch.id).in_(batch_ids)))
    return {batch.id: batch for batch in found}


def straws_of(db: Session, withdrawal_id: UUID) -> list[StrawNow]:
    """The straws of a withdrawal: those still out or ended on its account, and those returned."""
    returned = (
        sa_select(col(Line.straw_code))
        .join(Entry, col(Entry.seq) == col(Line.entry_seq))
        .where(col(Entry.withdrawal_id) == withdrawal_id, col(Entry.kind) == "return")
    )
    return straws_where(
        db, or_(col(Straw.withdrawal_id) == withdrawal_id, col(Straw.code).in_(returned))
    )


def lifted_of(db: Session, withdrawal_id: UUID) -> list[StrawNow]:
    """The straws of a withdrawal that are still out."""
    return straws_where(db, col(Straw.withdrawal_id) == withdrawal_id, col(Straw.state) == "lifted")


def inseminations_of(db: Session, withdrawal_id: UUID) -> list[Insemination]:
    """The inseminations of a withdrawal, oldest first, those taken back left out."""
    return list(
        db.exec(
            select(Insemination)
            .where(
                Insemination.withdrawal_id == withdrawal_id,
                col(Insemination.corrected_at).is_(None),
            )
            .order_by(col(Insemination.recorded_at), col(Insemination.id))
        )
    )


def newest_outcome(db: Session, insemination_id: UUID) -> Outcome | None:
    """What the last check found."""
    return db.exec(
        select(Outcome)
        .where(Outcome.insemination_id == insemination_id)
        .order_by(col(Outcome.recorded_at).desc(), col(Outcome.id).desc())
        .limit(1)
    ).first()


def page_of_withdrawals(
    db: Session,
    page: Page,
    *,
    stallion_id: UUID | None = None,
    mare_id: UUID | None = None,
    lifted: bool = False,
) -> list[Withdrawal]:
    """Withdrawals, newest first, one more than the limit."""
    query = (
        select(Withdrawal)
        .order_by(col(Withdrawal.recorded_at).desc(), col(Withdrawal.id).desc())
        .where(*page.older(col(Withdrawal.recorded_at), col(Withdrawal.id)))
        .limit(page.limit + 1)
    )
    if stallion_id is not None:
        query = query.where(Withdrawal.stallion_id == stallion_id)
    if mare_id is not None:
        query = query.where(Withdrawal.mare_id == mare_id)
    if lifted:
        query = query.where(
            col(Withdrawal.id).in_(
                sa_select(col(Straw.withdrawal_id)).where(col(Straw.state) == "lifted")
            )
        )
    return list(db.exec(query))
