"""What was printed: each print, and each label on it. Added to, never changed."""

from datetime import datetime
from uuid import UUID

from sqlalchemy import JSON, CheckConstraint, Text
from sqlmodel import Field, SQLModel

from service.kernel.columns import UtcMoment


class Print(SQLModel, table=True):
    """One act of printing; its id is its entry's in the ledger.

    `what_kind` and `what_id` name what it was asked for: a batch, a straw (by code), a place.
    """

    __tablename__ = "prints"
    __table_args__ = (
        CheckConstraint(
            "what_kind IN ('batch', 'straw', 'goblet', 'canister', 'tank')", name="print_what"
        ),
        CheckConstraint("style IN ('strip', 'flag', 'plate', 'plates')", name="print_style"),
    )

    id: UUID = Field(primary_key=True)
    what_kind: str = Field(max_length=8)
    what_id: str = Field(max_length=32, index=True)
    style: str = Field(max_length=6)
    reason: str | None = Field(default=None, sa_type=Text)
    missing_marks: list[str] = Field(sa_type=JSON)
    printed_at: datetime = Field(sa_type=UtcMoment)
    recorded_at: datetime = Field(sa_type=UtcMoment)
    by_id: UUID
    by_name: str = Field(sa_type=Text)


class PrintedLabel(SQLModel, table=True):
    """One label of a print, in the order they were printed; `code` is what its symbol says.

    `number` counts the prints of this label from 1 on: a 2 says that there may be two of them.
    """

    __tablename__ = "printed_labels"
    __table_args__ = (CheckConstraint("number >= 1", name="printed_label_number"),)

    print_id: UUID = Field(foreign_key="prints.id", primary_key=True)
    position: int = Field(primary_key=True)
    code: str = Field(max_length=9, index=True)
    number: int
