"""Rooms that tanks stand in."""

from datetime import datetime
from decimal import Decimal
from uuid import UUID

from sqlalchemy import CheckConstraint, Index, Text, text
from sqlmodel import Field, SQLModel

from service.kernel.columns import ExactAmount, UtcMoment


class Room(SQLModel, table=True):
    """A room that tanks stand in: how much air, how much of it is changed, and by which fan."""

    __tablename__ = "rooms"
    __table_args__ = (
        CheckConstraint("ventilation IN ('supply', 'exhaust', 'none')", name="room_ventilation"),
    )

    id: UUID = Field(primary_key=True)
    name: str = Field(sa_type=Text)
    volume_m3: Decimal = Field(sa_type=ExactAmount)
    air_changes_per_hour: Decimal = Field(sa_type=ExactAmount)
    ventilation: str = Field(max_length=7)
    expansion_ratio: Decimal = Field(sa_type=ExactAmount)
    oxygen_percent: Decimal = Field(sa_type=ExactAmount)
    ageing_factor: Decimal = Field(sa_type=ExactAmount)
    created_at: datetime = Field(sa_type=UtcMoment)
    retired_at: datetime | None = Field(default=None, sa_type=UtcMoment)


Index(
    "room_names_in_use",
    Room.__table__.c.name,  # type: ignore[attr-defined]
    unique=True,
    sqlite_where=text("retired_at IS NULL"),
    postgresql_where=text("retired_at IS NULL"),
)
