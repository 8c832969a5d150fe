"""Stock-takes: what is counted, the counts, differences, adjustments, reviews; who read what."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, CheckConstraint, Index, Text, func
from sqlmodel import Field, Session, SQLModel, col, select

from service.audits.rules import CLASSES, REASON_CODES
from service.edge.listing import Page
from service.kernel.columns import ExactAmount, UtcMoment


def _one_of(column: str, words: Sequence[str]) -> str:
    return f"{column} IN ({', '.join(repr(word) for word in words)})"


class StockTake(SQLModel, table=True):
    """A count of some goblets against the book as it stood at entry `frozen_at_entry`.

    `scope` is what was asked for. Of a sample `seed` makes the draw repeatable and `sample` says
    how it was sized. `report` is what was signed; its hash stands in entry `report_entry`.
    """

    __tablename__ = "stock_takes"
    __table_args__ = (
        CheckConstraint("state IN ('counting', 'compared', 'closed')", name="stock_take_state"),
        CheckConstraint("(closed_at IS NULL) = (report IS NULL)", name="stock_take_report"),
    )

    id: UUID = Field(primary_key=True)
    state: str = Field(max_length=10)
    scope: dict[str, Any] = Field(sa_type=JSON)
    blind: bool
    seed: str | None = Field(default=None, max_length=64)
    sample: dict[str, Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    frozen_at_entry: int
    frozen_head: str = Field(max_length=64)
    opened_at: datetime = Field(sa_type=UtcMoment)
    opened_by_id: UUID
    opened_by: str = Field(sa_type=Text)
    comparisons: int = 0
    compared_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    compared_at_entry: int | None = None
    compared_head: str | None = Field(default=None, max_length=64)
    settled: list[dict[str, str]] = Field(default_factory=list, sa_type=JSON)
    closed_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    closed_by: str | None = Field(default=None, sa_type=Text)
    closing_note: str | None = Field(default=None, sa_type=Text)
    report: dict[str, Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    report_sha256: str | None = Field(default=None, max_length=64)
    report_entry: int | None = None


class TakeGoblet(SQLModel, table=True):
    """A goblet to count, with the address on its plate when the stock-take was opened.

    `rounds` is how often it has been asked for: once, and once more for each recount.
    """

    __tablename__ = "stock_take_goblets"
    __table_args__ = (CheckConstraint("rounds >= 1", name="stock_take_goblet_rounds"),)

    take_id: UUID = Field(primary_key=True, foreign_key="stock_takes.id")
    goblet_id: UUID = Field(primary_key=True, foreign_key="goblets.id", index=True)
    address: str = Field(sa_type=Text)
    tank_id: UUID = Field(foreign_key="tanks.id")
    tank_name: str = Field(sa_type=Text)
    rounds: int = 1


class Count(SQLModel, table=True):
    """What somebody saw in a goblet, and when. Added to, never changed.

    `batches` is a list of {batch_id, straws}; `codes` those that were scanned (null: counted by
    number). `not_blind`: they had read what the book has there since the freeze point.
    """

    __tablename__ = "counts"
    __table_args__ = (
        CheckConstraint("unreadable >= 0", name="count_unreadable"),
        CheckConstraint("round >= 1", name="count_round"),
        Index("counts_of_take", "take_id", "goblet_id"),
    )

    id: UUID = Field(primary_key=True)
    take_id: UUID = Field(foreign_key="stock_takes.id")
    goblet_id: UUID = Field(foreign_key="goblets.id")
    round: int
    started_at: datetime = Field(sa_type=UtcMoment)
    counted_at: datetime = Field(sa_type=UtcMoment)
    recorded_at: datetime = Field(sa_type=UtcMoment)
    by_id: UUID = Field(index=True)
    by_name: str = Field(sa_type=Text)
    batches: list[dict[str, Any]] = Field(sa_type=JSON)
    codes: list[str] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    unreadable: int = 0
    foreign: list[str] = Field(sa_type=JSON)
    not_blind: bool = False


class Difference(SQLModel, table=True):
    """Where a count and the book did not agree at one comparison. Added to, never changed."""

    __tablename__ = "differences"
    __table_args__ = (
        CheckConstraint(_one_of("kind", CLASSES), name="difference_kind"),
        Index("differences_of_take", "take_id", "comparison"),
    )

    id: UUID = Field(primary_key=True)
    take_id: UUID = Field(foreign_key="stock_takes.id")
    comparison: int
    goblet_id: UUID = Field(foreign_key="goblets.id")
    batch_id: UUID | None = Field(default=None, foreign_key="batches.id")
    count_id: UUID = Field(foreign_key="counts.id")
    expected: int
    counted: int
    kind: str = Field(max_length=12)
    codes: list[str] = Field(sa_type=JSON)
    foreign: list[str] = Field(sa_type=JSON)
    candidates: list[str] = Field(sa_type=JSON)
    move: dict[str, Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    note: str = Field(default="", sa_type=Text)
    recent: list[dict[str, Any]] = Field(sa_type=JSON)
    stories: list[dict[str, Any]] = Field(sa_type=JSON)

    @property
    def difference(self) -> int:
        """Counted less expected."""
        return self.counted - self.expected


class Adjustment(SQLModel, table=True):
    """What somebody proposes to do about a difference. Added to, never changed.

    With `other_goblet_id` the straws are moved there (or from there) instead of lost (or found).
    """

    __tablename__ = "adjustments"
    __table_args__ = (
        CheckConstraint(_one_of("reason_code", REASON_CODES), name="adjustment_reason"),
        CheckConstraint("difference <> 0", name="adjustment_of_something"),
        Index("adjustments_of_take", "take_id"),
    )

    id: UUID = Field(primary_key=True)
    take_id: UUID = Field(foreign_key="stock_takes.id")
    goblet_id: UUID = Field(foreign_key="goblets.id")
    batch_id: UUID = Field(foreign_key="batches.id")
    other_goblet_id: UUID | None = Field(default=None, foreign_key="goblets.id")
    difference: int
    reason_code: str = Field(max_length=20)
    note: str = Field(sa_type=Text)
    proposed_by_id: UUID
    proposed_by: str = Field(sa_type=Text)
    proposed_at: datetime = Field(sa_type=UtcMoment)


class Approval(SQLModel, table=True):
    """A manager approved an adjustment, and it was booked. Added to, never changed.

    The database refuses it of whoever proposed it or counted one of its goblets (migration 0006).
    """

    __tablename__ = "adjustment_approvals"

    adjustment_id: UUID = Field(primary_key=True, foreign_key="adjustments.id")
    approved_by_id: UUID
    approved_by: str = Field(sa_type=Text)
    approved_at: datetime = Field(sa_type=UtcMoment)
    entry_seq: int = Field(foreign_key="entries.seq")
    straw_codes: list[str] = Field(sa_type=JSON)


class Review(SQLModel, table=True):
    """An auditor's signature: what it means, and a note. Added to, never changed."""

    __tablename__ = "stock_take_reviews"

    id: UUID = Field(primary_key=True)
    take_id: UUID = Field(foreign_key="stock_takes.id", index=True)
    by_id: UUID
    by_name: str = Field(sa_type=Text)
    role: str = Field(max_length=20)
    meaning: str = Field(sa_type=Text)
    note: str | None = Field(default=None, sa_type=Text)
    at: datetime = Field(sa_type=UtcMoment)


class ContentRead(SQLModel, table=True):
    """Somebody read what the book has in a goblet (null: in many) while it was to be counted."""

    __tablename__ = "content_reads"
    __table_args__ = (Index("content_reads_by", "take_id", "person_id"),)

    id: UUID = Field(primary_key=True)
    take_id: UUID = Field(foreign_key="stock_takes.id")
    person_id: UUID
    goblet_id: UUID | None = None
    route: str = Field(sa_type=Text)
    at: datetime = Field(sa_type=UtcMoment)


class CountPlan(SQLModel, table=True):
    """How this station counts (a single row with id 1)."""

    __tablename__ = "count_plan"
    __table_args__ = (CheckConstraint("id = 1", name="count_plan_is_one"),)

    id: int = Field(default=1, primary_key=True)
    #: An unexplained loss of more straws than this is counted again before it is booked.
    unexplained_straws: int = 2
    #: More straws lost unexplained in a year than this raise an alert.
    unexplained_straws_a_year: int = 4
    #: Each goblet is counted at least this often, in days.
    count_every_days: int = 180
    confidence_percent: Decimal = Field(default=Decimal(95), sa_type=ExactAmount)
    detect_percent: Decimal = Field(default=Decimal(2), sa_type=ExactAmount)


def plan_of(db: Session) -> CountPlan:
    """How this station counts; the usual way until a manager changes it."""
    return db.get(CountPlan, 1) or CountPlan(id=1)


def page_of_takes(db: Session, page: Page) -> list[StockTake]:
    """Stock-takes, newest first, one more than the limit."""
    query = (
        select(StockTake)
        .where(*page.older(col(StockTake.opened_at), col(StockTake.id)))
        .order_by(col(StockTake.opened_at).desc(), col(StockTake.id).desc())
        .limit(page.limit + 1)
    )
    return list(db.exec(query))


def counting(db: Session) -> list[UUID]:
    """The stock-takes in which is still counted."""
    return list(db.exec(select(StockTake.id).where(col(StockTake.state) != "closed")))


def goblets_of(db: Session, take_id: UUID) -> list[TakeGoblet]:
    """The goblets of a stock-take, in order of address."""
    query = select(TakeGoblet).where(TakeGoblet.take_id == take_id)
    return list(db.exec(query.order_by(col(TakeGoblet.address), col(TakeGoblet.goblet_id))))


def counts_of(db: Session, take_id: UUID) -> list[Count]:
    """Every count of a stock-take, in order of time."""
    query = select(Count).where(Count.take_id == take_id)
    return list(db.exec(query.order_by(col(Count.counted_at), col(Count.id))))


def latest(counts: Sequence[Count]) -> dict[UUID, Count]:
    """By goblet the count that holds: of the last round, the one that was made last."""
    found: dict[UUID, Count] = {}
    for count in counts:
        before = found.get(count.goblet_id)
        if before is None or count.round >= before.round:
            found[count.goblet_id] = count
    return found


def differences_of(db: Session, take_id: UUID, comparison: int | None = None) -> list[Difference]:
    """The differences of one comparison, or of all of them."""
    query = select(Difference).where(Difference.take_id == take_id)
    if comparison is not None:
        query = query.where(Difference.comparison == comparison)
    return list(db.exec(query.order_by(col(Difference.comparison), col(Difference.id))))


def adjustments_of(db: Session, take_id: UUID) -> list[tuple[Adjustment, Approval | None]]:
    """What was proposed, each with its approval, in order of time."""
    rows = db.exec(
        select(Adjustment, Approval)
        .outerjoin(Approval, col(Approval.adjustment_id) == col(Adjustment.id))
        .where(Adjustment.take_id == take_id)
        .order_by(col(Adjustment.proposed_at), col(Adjustment.id))
    )
    return [(adjustment, approval) for adjustment, approval in rows]


def reviews_of(db: Session, take_id: UUID) -> list[Review]:
    """The signatures of a stock-take, in order of time."""
    query = select(Review).where(Review.take_id == take_id)
    return list(db.exec(query.order_by(col(Review.at), col(Review.id))))


def has_read(
    db: Session, take_id: UUID, person_id: UUID, goblet_id: UUID, *, until: datetime
) -> bool:
    """Whether this person read the goblet's contents (or many goblets') until then."""
    mine = (ContentRead.take_id == take_id, ContentRead.person_id == person_id)
    query = select(ContentRead.id).where(
        *mine,
        col(ContentRead.at) <= until,
        (col(ContentRead.goblet_id) == goblet_id) | col(ContentRead.goblet_id).is_(None),
    )
    return db.exec(query.limit(1)).first() is not None


def last_counted(db: Session) -> dict[UUID, datetime]:
    """By goblet: when it was counted last, in whatever stock-take."""
    rows = db.exec(
        select(Count.goblet_id, func.max(Count.counted_at)).group_by(col(Count.goblet_id))
    )
    found = {}
    for goblet_id, at in rows:
        found[goblet_id] = datetime.fromisoformat(at) if isinstance(at, str) else at
    return found
