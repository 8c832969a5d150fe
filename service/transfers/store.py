"""What is kept of straws that leave: dispatches and the seals on their containers."""

from datetime import datetime
from decimal import Decimal
from uuid import UUID

from sqlalchemy import CheckConstraint, Text
from sqlmodel import Field, SQLModel

from service.kernel.columns import ExactAmount, UtcMoment


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
