"""What exists: station, tanks, stallions and their dose rules, mares, batches, holds.

Tables only keep; what may enter them is decided in `rules` and by the strict input of `api`. The
CHECK constraints stand behind both.
"""

from collections.abc import Collection
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy import (
    JSON,
    CheckConstraint,
    Index,
    Text,
    UniqueConstraint,
    case,
    func,
    or_,
    text,
    true,
)
from sqlmodel import Field, Session, SQLModel, col, select

import service.bank.rooms  # noqa: F401 (the table that tanks refer to)
from service.bank import marks, rules
from service.bank.doses import (
    BatchQuality,
    DoseRule,
    SpermRule,
    StrawsRule,
    progressive_million_per_straw,
)
from service.kernel.columns import ExactAmount, UtcMoment
from service.kernel.database import in_parts


class Station(SQLModel, table=True):
    """The one station this book belongs to (a single row with id 1)."""

    __tablename__ = "station"
    __table_args__ = (
        CheckConstraint("id = 1", name="station_is_one"),
        CheckConstraint("days_in_store >= 0", name="station_days_in_store"),
        CheckConstraint("printer_dpi IN (203, 300, 600)", name="station_printer_dpi"),
        CheckConstraint("label_style IN ('strip', 'flag')", name="station_label_style"),
        CheckConstraint("strip_form IN ('band', 'wrap')", name="station_strip_form"),
    )

    id: int = Field(default=1, primary_key=True)
    name: str = Field(sa_type=Text)
    country: str | None = Field(default=None, max_length=2)
    approval_number: str | None = Field(default=None, sa_type=Text)
    processing_approval_number: str | None = Field(default=None, sa_type=Text)
    time_zone: str = Field(sa_type=Text)
    mark_date_format: str = Field(sa_type=Text)
    level_unit: str = Field(sa_type=Text)
    #: Days from collection until straws leave the station, and what is tested until then.
    days_in_store: int = Field(
        default=rules.DAYS_IN_STORE, sa_column_kwargs={"server_default": "30"}
    )
    required_tests: list[str] = Field(
        default_factory=lambda: list(rules.REQUIRED_TESTS),
        sa_type=JSON,
        sa_column_kwargs={"server_default": '["EIA", "EVA", "CEM"]'},
    )
    #: What the local authority wants on every straw, and how the species is written there.
    required_marks: list[str] = Field(
        default_factory=lambda: list(marks.REQUIRED),
        sa_type=JSON,
        sa_column_kwargs={
            "server_default": '["collected_on", "species", "donor_identity", "approval_number"]'
        },
    )
    species_mark: str = Field(
        default=marks.SPECIES, sa_type=Text, sa_column_kwargs={"server_default": marks.SPECIES}
    )
    #: How labels are printed here unless somebody chooses otherwise.
    label_style: str = Field(
        default="strip", max_length=5, sa_column_kwargs={"server_default": "strip"}
    )
    printer_dpi: int = Field(default=300, sa_column_kwargs={"server_default": "300"})
    straw_diameter_mm: Decimal = Field(
        default=Decimal("2.8"), sa_type=ExactAmount, sa_column_kwargs={"server_default": "2.8"}
    )
    strip_length_mm: Decimal = Field(
        default=Decimal(100), sa_type=ExactAmount, sa_column_kwargs={"server_default": "100"}
    )
    #: `band`: on the visible side of the straw only; `wrap`: a label all round it.
    strip_form: str = Field(
        default="wrap", max_length=4, sa_column_kwargs={"server_default": "wrap"}
    )
    strip_symbol: bool = Field(default=True, sa_column_kwargs={"server_default": true()})


class Tank(SQLModel, table=True):
    """A nitrogen tank. `calibration` is a list of [level_cm, litres] as decimal text, rising.

    `short_name` (capitals and digits) is what its goblets' addresses begin with.
    """

    __tablename__ = "tanks"

    id: UUID = Field(primary_key=True)
    code: str = Field(max_length=9, unique=True)
    name: str = Field(sa_type=Text)
    short_name: str = Field(max_length=8)
    capacity_litres: Decimal = Field(sa_type=ExactAmount)
    rated_loss_litres_per_day: Decimal = Field(sa_type=ExactAmount)
    minimum_level_cm: Decimal = Field(sa_type=ExactAmount)
    empty_weight_kg: Decimal | None = Field(default=None, sa_type=ExactAmount)
    calibration: list[list[str]] = Field(sa_type=JSON)
    quarantine: bool = False
    room_id: UUID | None = Field(default=None, foreign_key="rooms.id", index=True)
    created_at: datetime = Field(sa_type=UtcMoment)
    retired_at: datetime | None = Field(default=None, sa_type=UtcMoment)


Index(
    "tank_names_in_use",
    Tank.__table__.c.name,  # type: ignore[attr-defined]
    unique=True,
    sqlite_where=text("retired_at IS NULL"),
    postgresql_where=text("retired_at IS NULL"),
)
Index(
    "tank_short_names_in_use",
    Tank.__table__.c.short_name,  # type: ignore[attr-defined]
    unique=True,
    sqlite_where=text("retired_at IS NULL"),
    postgresql_where=text("retired_at IS NULL"),
)


class Canister(SQLModel, table=True):
    """A canister that hangs in a tank and is lifted into its neck."""

    __tablename__ = "canisters"
    __table_args__ = (CheckConstraint("number >= 1", name="canister_number_positive"),)

    id: UUID = Field(primary_key=True)
    tank_id: UUID = Field(foreign_key="tanks.id", index=True)
    code: str = Field(max_length=9, unique=True)
    number: int
    retired_at: datetime | None = Field(default=None, sa_type=UtcMoment)


Index(
    "canister_numbers_in_use",
    Canister.__table__.c.tank_id,  # type: ignore[attr-defined]
    Canister.__table__.c.number,  # type: ignore[attr-defined]
    unique=True,
    sqlite_where=text("retired_at IS NULL"),
    postgresql_where=text("retired_at IS NULL"),
)


class Goblet(SQLModel, table=True):
    """A goblet in a canister; `address` is what a person reads on its plate."""

    __tablename__ = "goblets"
    __table_args__ = (
        CheckConstraint("tier IN ('upper', 'lower')", name="goblet_tier"),
        CheckConstraint("capacity_straws >= 1", name="goblet_capacity_positive"),
    )

    id: UUID = Field(primary_key=True)
    canister_id: UUID = Field(foreign_key="canisters.id", index=True)
    code: str = Field(max_length=9, unique=True)
    tier: str = Field(max_length=5)
    position: int  #: within its tier, from 1
    address: str = Field(sa_type=Text)
    capacity_straws: int
    retired_at: datetime | None = Field(default=None, sa_type=UtcMoment)


Index(
    "goblet_addresses_in_use",
    Goblet.__table__.c.address,  # type: ignore[attr-defined]
    unique=True,
    sqlite_where=text("retired_at IS NULL"),
    postgresql_where=text("retired_at IS NULL"),
)


class Stallion(SQLModel, table=True):
    """A stallion whose straws are kept, alive or long dead.

    `folded_name` is `rules.folded(name)`: what he is sorted and searched by.
    """

    __tablename__ = "stallions"
    __table_args__ = (
        CheckConstraint("low_stock_doses IS NULL OR low_stock_doses >= 0", name="low_stock_doses"),
        CheckConstraint("reserve_doses >= 0", name="reserve_doses"),
    )

    id: UUID = Field(primary_key=True)
    name: str = Field(sa_type=Text)
    folded_name: str = Field(sa_type=Text, index=True)
    ueln: str | None = Field(default=None, max_length=15, unique=True)
    microchip: str | None = Field(default=None, max_length=15, unique=True)
    breed: str | None = Field(default=None, sa_type=Text)
    foaled_on: date | None = None
    died_on: date | None = None
    owner: str | None = Field(default=None, sa_type=Text)
    straw_colour: str | None = Field(default=None, sa_type=Text)
    low_stock_doses: int | None = None
    reserve_doses: int = 0
    created_at: datetime = Field(sa_type=UtcMoment)


class DoseRuleRow(SQLModel, table=True):
    """A stallion's dose rule from `since` on; the newest one holds. Added to, never changed."""

    __tablename__ = "dose_rules"
    __table_args__ = (
        CheckConstraint(
            "(kind = 'straws' AND straws >= 1 AND progressive_million IS NULL"
            " AND minimum_post_thaw_percent IS NULL)"
            " OR (kind = 'sperm' AND straws IS NULL AND progressive_million IS NOT NULL"
            " AND minimum_post_thaw_percent IS NOT NULL)",
            name="dose_rule_kind",
        ),
        UniqueConstraint("stallion_id", "number", name="dose_rule_order"),
    )

    id: UUID = Field(primary_key=True)
    stallion_id: UUID = Field(foreign_key="stallions.id")
    number: int
    kind: str = Field(max_length=6)
    straws: int | None = None
    progressive_million: Decimal | None = Field(default=None, sa_type=ExactAmount)
    minimum_post_thaw_percent: Decimal | None = Field(default=None, sa_type=ExactAmount)
    since: datetime = Field(sa_type=UtcMoment)
    set_by: UUID
    set_by_name: str = Field(sa_type=Text)


class Mare(SQLModel, table=True):
    """A mare that was or will be inseminated; two may bear the same name.

    `folded_name` is `rules.folded(name)`: what she is sorted and searched by.
    """

    __tablename__ = "mares"

    id: UUID = Field(primary_key=True)
    name: str = Field(sa_type=Text)
    folded_name: str = Field(sa_type=Text, index=True)
    ueln: str | None = Field(default=None, max_length=15)
    owner: str | None = Field(default=None, sa_type=Text)
    created_at: datetime = Field(sa_type=UtcMoment)


class Batch(SQLModel, table=True):
    """All straws of one freeze of one collection; while `prepared`, only their marks exist.

    What is unknown is null. `thaw` is a list of {water_c, seconds} as decimal text. One that was
    not frozen under this book has another `origin`, and is filled by a receipt, not by a freeze.
    """

    __tablename__ = "batches"
    __table_args__ = (
        CheckConstraint("state IN ('prepared', 'frozen')", name="batch_state"),
        CheckConstraint("straws_planned >= 0", name="batch_straws_planned"),
        CheckConstraint("origin IN ('frozen', 'opening', 'received')", name="batch_origin"),
    )

    id: UUID = Field(primary_key=True)
    code: str = Field(max_length=9, unique=True)
    stallion_id: UUID = Field(foreign_key="stallions.id", index=True)
    state: str = Field(max_length=8)
    straws_planned: int
    created_at: datetime = Field(sa_type=UtcMoment)
    freeze_id: UUID | None = Field(default=None, unique=True)
    origin: str = Field(
        default="frozen", max_length=8, sa_column_kwargs={"server_default": "frozen"}
    )
    receipt_id: UUID | None = None
    received_from: str | None = Field(default=None, sa_type=Text)
    marks_as_read: str | None = Field(default=None, sa_type=Text)
    collected_on: date | None = None
    collected_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    collected_where: str | None = Field(default=None, sa_type=Text)
    approval_number: str | None = Field(default=None, sa_type=Text)
    collection_volume_ml: Decimal | None = Field(default=None, sa_type=ExactAmount)
    collection_concentration_million_per_ml: Decimal | None = Field(
        default=None, sa_type=ExactAmount
    )
    collection_progressive_motility_percent: Decimal | None = Field(
        default=None, sa_type=ExactAmount
    )
    recovery_percent: Decimal | None = Field(default=None, sa_type=ExactAmount)
    extender: str | None = Field(default=None, sa_type=Text)
    straw_volume_ml: Decimal | None = Field(default=None, sa_type=ExactAmount)
    straw_concentration_million_per_ml: Decimal | None = Field(default=None, sa_type=ExactAmount)
    straw_colour: str | None = Field(default=None, sa_type=Text)
    post_thaw_percent: Decimal | None = Field(default=None, sa_type=ExactAmount)
    post_thaw_minutes: Decimal | None = Field(default=None, sa_type=ExactAmount)
    thaw: list[dict[str, Any]] | None = Field(default=None, sa_type=JSON)
    note: str | None = Field(default=None, sa_type=Text)


# An index and no constraint: a column may be added to a table on every engine, a key may not.
Index("batch_receipts", Batch.__table__.c.receipt_id, unique=True)  # type: ignore[attr-defined]


class PostThaw(SQLModel, table=True):
    """A post-thaw result of a batch; the newest one counts. Added to, never changed."""

    __tablename__ = "post_thaw_results"

    id: UUID = Field(primary_key=True)
    batch_id: UUID = Field(foreign_key="batches.id", index=True)
    progressive_motility_percent: Decimal = Field(sa_type=ExactAmount)
    minutes: Decimal | None = Field(default=None, sa_type=ExactAmount)
    examined_at: datetime = Field(sa_type=UtcMoment)
    recorded_at: datetime = Field(sa_type=UtcMoment)
    recorded_by: UUID
    recorded_by_name: str = Field(sa_type=Text)


class Hold(SQLModel, table=True):
    """A batch held back, for a reason, until released or until a day (that day it is free)."""

    __tablename__ = "holds"
    __table_args__ = (
        CheckConstraint(
            "(released_at IS NULL) = (released_by IS NULL)", name="hold_release_complete"
        ),
    )

    id: UUID = Field(primary_key=True)
    batch_id: UUID = Field(foreign_key="batches.id", index=True)
    reason: str = Field(sa_type=Text)
    until: date | None = None
    placed_at: datetime = Field(sa_type=UtcMoment)
    placed_by: UUID
    placed_by_name: str = Field(sa_type=Text)
    released_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    released_by: UUID | None = None
    released_by_name: str | None = Field(default=None, sa_type=Text)
    release_reason: str | None = Field(default=None, sa_type=Text)


class BatchTest(SQLModel, table=True):
    """A health test that stands for a batch: which, sampled when, what it found.

    The one sampled last counts, of one day the one recorded last. Added to, never changed.
    """

    __tablename__ = "batch_tests"
    __table_args__ = (
        CheckConstraint("result IN ('negative', 'positive', 'pending')", name="batch_test_result"),
    )

    id: UUID = Field(primary_key=True)
    batch_id: UUID = Field(foreign_key="batches.id", index=True)
    test: str = Field(sa_type=Text)
    sampled_on: date
    result: str = Field(max_length=8)
    laboratory: str | None = Field(default=None, sa_type=Text)
    note: str | None = Field(default=None, sa_type=Text)
    recorded_at: datetime = Field(sa_type=UtcMoment)
    by_id: UUID
    by_name: str = Field(sa_type=Text)


class Promise(SQLModel, table=True):
    """So many doses of a stallion kept for a mare or an owner, until a day (that day included)."""

    __tablename__ = "promises"
    __table_args__ = (
        CheckConstraint("doses >= 1", name="promise_doses_positive"),
        CheckConstraint("(mare_id IS NULL) <> (owner IS NULL)", name="promise_to_one"),
        CheckConstraint("(ended_at IS NULL) = (ended_by_name IS NULL)", name="promise_ended"),
    )

    id: UUID = Field(primary_key=True)
    stallion_id: UUID = Field(foreign_key="stallions.id", index=True)
    mare_id: UUID | None = Field(default=None, foreign_key="mares.id", index=True)
    owner: str | None = Field(default=None, sa_type=Text)
    doses: int
    until: date | None = None
    note: str | None = Field(default=None, sa_type=Text)
    made_at: datetime = Field(sa_type=UtcMoment)
    by_id: UUID
    by_name: str = Field(sa_type=Text)
    ended_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    ended_by_name: str | None = Field(default=None, sa_type=Text)
    end_reason: str | None = Field(default=None, sa_type=Text)


def station_of(db: Session) -> Station:
    """The station, made at the first start."""
    return db.get_one(Station, 1)


def today_at(station: Station, now: datetime) -> date:
    """The day it is at the station, by its own clock on the wall."""
    return now.astimezone(ZoneInfo(station.time_zone)).date()


def day_of(db: Session, moment: datetime) -> date:
    """The day it was or is at the station at that moment."""
    return today_at(station_of(db), moment)


def dose_rule_of(db: Session, stallion_id: UUID) -> DoseRule:
    """The rule that holds for a stallion (KeyError for one that is not in the book)."""
    return dose_rules_of(db, [stallion_id])[stallion_id]


def dose_rules_of(db: Session, stallion_ids: Collection[UUID]) -> dict[UUID, DoseRule]:
    """The rule that holds for each stallion: the newest one."""
    newest = (
        select(DoseRuleRow.stallion_id, func.max(DoseRuleRow.number).label("number"))
        .group_by(col(DoseRuleRow.stallion_id))
        .subquery()
    )
    holding = select(DoseRuleRow).where(
        col(DoseRuleRow.stallion_id) == newest.c.stallion_id,
        col(DoseRuleRow.number) == newest.c.number,
    )
    return {
        row.stallion_id: rule_in(row)
        for some in in_parts(stallion_ids)
        for row in db.exec(holding.where(col(DoseRuleRow.stallion_id).in_(some)))
    }


def rule_in(row: DoseRuleRow) -> DoseRule:
    """The rule that a row keeps."""
    if row.straws is not None:
        return StrawsRule(straws=row.straws)
    assert row.progressive_million is not None
    assert row.minimum_post_thaw_percent is not None
    return SpermRule(
        progressive_million=Fraction(row.progressive_million),
        minimum_post_thaw_percent=Fraction(row.minimum_post_thaw_percent),
    )


def colour_of(batch: Batch, stallion: Stallion) -> str | None:
    """What colour the batch's straws have, if it is known.

    A stallion's own colour is that of straws frozen here; what came from elsewhere has what
    somebody saw.
    """
    if batch.origin == "frozen":
        return batch.straw_colour or stallion.straw_colour
    return batch.straw_colour


#: `colour_of` for a query that joins batches and stallions.
COLOUR = case(
    (
        col(Batch.origin) == "frozen",
        func.coalesce(col(Batch.straw_colour), col(Stallion.straw_colour)),
    ),
    else_=col(Batch.straw_colour),
)


def quality_of(batch: Batch) -> BatchQuality:
    """What a straw of the batch holds, as far as it is known."""
    per_straw = None
    if (
        batch.straw_volume_ml is not None
        and batch.straw_concentration_million_per_ml is not None
        and batch.post_thaw_percent is not None
    ):
        per_straw = progressive_million_per_straw(
            volume_ml=batch.straw_volume_ml,
            concentration_million_per_ml=batch.straw_concentration_million_per_ml,
            post_thaw_percent=batch.post_thaw_percent,
        )
    percent = batch.post_thaw_percent
    return BatchQuality(
        progressive_million_per_straw=per_straw,
        post_thaw_percent=None if percent is None else Fraction(percent),
    )


def holds_on(
    db: Session, today: date, batch_ids: Collection[UUID] | None = None
) -> dict[UUID, Hold]:
    """The hold that keeps each held batch back today; a batch without one may be used.

    A hold ends when it is released, or on its day (on which the batch is free). Where several
    stand, the one placed last is given. Without `batch_ids` of the whole bank.
    """
    standing = (
        select(Hold)
        .where(col(Hold.released_at).is_(None))
        .where(or_(col(Hold.until).is_(None), col(Hold.until) > today))
        .order_by(col(Hold.placed_at), col(Hold.id))
    )
    if batch_ids is None:
        return {hold.batch_id: hold for hold in db.exec(standing)}
    return {
        hold.batch_id: hold
        for some in in_parts(batch_ids)
        for hold in db.exec(standing.where(col(Hold.batch_id).in_(some)))
    }


def goblets_with_places(
    db: Session, goblet_ids: Collection[UUID] | None = None
) -> list[tuple[Goblet, Canister, Tank]]:
    """Goblets in use with canister and tank, in the order they hang; without ids all of them."""
    places = (
        select(Goblet, Canister, Tank)
        .where(col(Goblet.canister_id) == col(Canister.id))
        .where(col(Canister.tank_id) == col(Tank.id))
        .where(col(Goblet.retired_at).is_(None))
    )
    if goblet_ids is None:
        found = list(db.exec(places))
    else:
        found = [
            place
            for some in in_parts(goblet_ids)
            for place in db.exec(places.where(col(Goblet.id).in_(some)))
        ]
    return sorted(found, key=_as_they_hang)


def _as_they_hang(place: tuple[Goblet, Canister, Tank]) -> tuple[str, int, str, int, str]:
    goblet, canister, tank = place
    return tank.name, canister.number, goblet.tier, goblet.position, goblet.address
