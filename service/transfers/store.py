"""What is kept of straws that leave: dispatches and the seals on their containers."""

from collections.abc import Collection
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from sqlalchemy import CheckConstraint, Text
from sqlmodel import Field, Session, SQLModel, col, select

from service.bank.store import Batch
from service.edge.listing import Page
from service.kernel.columns import ExactAmount, UtcMoment
from service.kernel.database import in_parts
from service.ledger.store import Entry, Line, Straw


class Dispatch(SQLModel, table=True):
    """Straws that left for another place; `id` is the entry's. What is unknown is null.

    `holding_days_rated` is what the container's maker says it stays cold, `filled_at` when it was
    filled with nitrogen.
    """

    __tablename__ = "dispatches"
    __table_args__ = (CheckConstraint("straws >= 1", name="dispatch_of_straws"),)

    id: UUID = Field(primary_key=True)
    to: str = Field(sa_type=Text)
    to_approval_number: str | None = Field(default=None, sa_type=Text)
    container: str | None = Field(default=None, sa_type=Text)
    carrier: str | None = Field(default=None, sa_type=Text)
    holding_days_rated: Decimal | None = Field(default=None, sa_type=ExactAmount)
    filled_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    note: str | None = Field(default=None, sa_type=Text)
    straws: int
    occurred_at: datetime = Field(sa_type=UtcMoment)
    recorded_at: datetime = Field(sa_type=UtcMoment, index=True)
    by_id: UUID
    by_name: str = Field(sa_type=Text)


class DispatchSeal(SQLModel, table=True):
    """A seal on a dispatch's container; the one put on last is on it. Added to, never changed."""

    __tablename__ = "dispatch_seals"

    id: UUID = Field(primary_key=True)
    dispatch_id: UUID = Field(foreign_key="dispatches.id", index=True)
    number: str = Field(sa_type=Text)
    applied_at: datetime = Field(sa_type=UtcMoment)
    reason: str | None = Field(default=None, sa_type=Text)
    recorded_at: datetime = Field(sa_type=UtcMoment)
    by_id: UUID
    by_name: str = Field(sa_type=Text)


def page_of_dispatches(db: Session, page: Page) -> list[Dispatch]:
    """Dispatches, newest first, one more than the limit."""
    query = (
        select(Dispatch)
        .order_by(col(Dispatch.recorded_at).desc(), col(Dispatch.id).desc())
        .where(*page.older(col(Dispatch.recorded_at), col(Dispatch.id)))
        .limit(page.limit + 1)
    )
    return list(db.exec(query))


def seals_of(db: Session, dispatch_ids: Collection[UUID]) -> dict[UUID, list[DispatchSeal]]:
    """The seals of each dispatch, the one that is on it last."""
    found: dict[UUID, list[DispatchSeal]] = {id: [] for id in dispatch_ids}
    for some in in_parts(dispatch_ids):
        for seal in db.exec(
            select(DispatchSeal)
            .where(col(DispatchSeal.dispatch_id).in_(some))
            .order_by(
                col(DispatchSeal.applied_at), col(DispatchSeal.recorded_at), col(DispatchSeal.id)
            )
        ):
            found[seal.dispatch_id].append(seal)
    return found


def entries_of(db: Session, dispatch_ids: Collection[UUID]) -> list[Entry]:
    """The entries by which these dispatches were booked: an entry bears its dispatch's id."""
    return [
        entry
        for some in in_parts(dispatch_ids)
        for entry in db.exec(select(Entry).where(col(Entry.id).in_(some)))
    ]


def stallion_ids_of(db: Session, dispatch_id: UUID) -> list[UUID]:
    """Whose straws a dispatch took. A twin that went instead is of the same batch."""
    return list(
        db.exec(
            select(Batch.stallion_id)
            .join(Straw, col(Straw.batch_id) == col(Batch.id))
            .join(Line, col(Line.straw_code) == col(Straw.code))
            .join(Entry, col(Entry.seq) == col(Line.entry_seq))
            .where(Entry.id == dispatch_id)
            .distinct()
        )
    )
