"""Nitrogen: levels that were read, top-ups, what was struck, and how the rounds are made.

Levels and top-ups are kept as they were read, in the unit they were read in: litres follow from the
tank's table, which may be put right later. They are added to and never changed; a wrong one is
struck by a row of its own.
"""

from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, CheckConstraint, Index, Text
from sqlmodel import Field, SQLModel

from service.kernel.columns import ExactAmount, UtcMoment


class Level(SQLModel, table=True):
    """A level as somebody read it: a dipstick, litres, or the tank on a balance; and what they saw.

    `signs` are outward signs of a lost vacuum: frost, sweat, noise.
    """

    __tablename__ = "levels"
    __table_args__ = (
        CheckConstraint(
            "(CASE WHEN level_cm IS NULL THEN 0 ELSE 1 END)"
            " + (CASE WHEN litres IS NULL THEN 0 ELSE 1 END)"
            " + (CASE WHEN weight_kg IS NULL THEN 0 ELSE 1 END) = 1",
            name="level_read_one_way",
        ),
        Index("levels_of_tank", "tank_id", "measured_at"),
    )

    id: UUID = Field(primary_key=True)
    tank_id: UUID = Field(foreign_key="tanks.id")
    measured_at: datetime = Field(sa_type=UtcMoment)
    level_cm: Decimal | None = Field(default=None, sa_type=ExactAmount)
    litres: Decimal | None = Field(default=None, sa_type=ExactAmount)
    weight_kg: Decimal | None = Field(default=None, sa_type=ExactAmount)
    signs: list[str] = Field(sa_type=JSON)
    note: str | None = Field(default=None, sa_type=Text)
    recorded_at: datetime = Field(sa_type=UtcMoment)
    by_id: UUID
    by_name: str = Field(sa_type=Text)


class TopUp(SQLModel, table=True):
    """Nitrogen that was filled in: how many litres, or what the dipstick said afterwards."""

    __tablename__ = "top_ups"
    __table_args__ = (
        CheckConstraint(
            "(level_after_cm IS NULL) <> (litres_added IS NULL)", name="top_up_read_one_way"
        ),
        Index("top_ups_of_tank", "tank_id", "filled_at"),
    )

    id: UUID = Field(primary_key=True)
    tank_id: UUID = Field(foreign_key="tanks.id")
    filled_at: datetime = Field(sa_type=UtcMoment)
    level_after_cm: Decimal | None = Field(default=None, sa_type=ExactAmount)
    litres_added: Decimal | None = Field(default=None, sa_type=ExactAmount)
    note: str | None = Field(default=None, sa_type=Text)
    recorded_at: datetime = Field(sa_type=UtcMoment)
    by_id: UUID
    by_name: str = Field(sa_type=Text)


class Strike(SQLModel, table=True):
    """A level or a top-up that does not count, and why."""

    __tablename__ = "nitrogen_strikes"
    __table_args__ = (
        CheckConstraint("(level_id IS NULL) <> (top_up_id IS NULL)", name="strike_of_one"),
    )

    id: UUID = Field(primary_key=True)
    level_id: UUID | None = Field(default=None, foreign_key="levels.id", unique=True)
    top_up_id: UUID | None = Field(default=None, foreign_key="top_ups.id", unique=True)
    reason: str = Field(sa_type=Text)
    struck_at: datetime = Field(sa_type=UtcMoment)
    by_id: UUID
    by_name: str = Field(sa_type=Text)


class RoundPlan(SQLModel, table=True):
    """How the station fills its tanks (a single row with id 1).

    `fill_weekdays` count from Monday, 0. `deliveries` is a list of {on, litres}. The supply vessel
    held `supply_litres` on the day `supply_measured_on`.
    """

    __tablename__ = "round_plan"
    __table_args__ = (CheckConstraint("id = 1", name="round_plan_is_one"),)

    id: int = Field(default=1, primary_key=True)
    fill_weekdays: list[int] = Field(sa_type=JSON)
    confidence_percent: Decimal = Field(sa_type=ExactAmount)
    level_every_days: int
    supply_capacity_litres: Decimal | None = Field(default=None, sa_type=ExactAmount)
    supply_litres: Decimal | None = Field(default=None, sa_type=ExactAmount)
    supply_measured_on: date | None = None
    supply_loss_litres_per_day: Decimal | None = Field(default=None, sa_type=ExactAmount)
    deliveries: list[dict[str, Any]] = Field(sa_type=JSON)


class CalendarKey(SQLModel, table=True):
    """A key in the address of a calendar feed; kept hashed, and anybody's to revoke."""

    __tablename__ = "calendar_keys"

    id: UUID = Field(primary_key=True)
    user_id: UUID = Field(foreign_key="users.id", index=True)
    key_hash: str = Field(max_length=64, unique=True)
    created_at: datetime = Field(sa_type=UtcMoment)
    revoked_at: datetime | None = Field(default=None, sa_type=UtcMoment)
