"""The ledger's tables and the statements that read them.

`entries` and `lines` are the book: added to, never changed (the database refuses). `straws` and
`stock` are what the book adds up to, kept beside it so that reading is quick; the check compares
them with a replay.
"""

from collections.abc import Collection
from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from sqlalchemy import (
    CheckConstraint,
    ColumnElement,
    Index,
    Text,
    UniqueConstraint,
    func,
    or_,
    text,
)
from sqlalchemy import select as sa_select
from sqlmodel import Field, Session, SQLModel, col, select

from service.kernel.columns import UtcMoment
from service.kernel.database import in_parts
from service.ledger.rules import StrawNow, Whose

STATES = (
    "prepared",
    "void",
    "stored",
    "lifted",
    "used",
    "tested",
    "discarded",
    "dispatched",
    "missing",
)
_STATES_SQL = ", ".join(f"'{state}'" for state in STATES)


class Entry(SQLModel, table=True):
    """One act in the book: who, what, when it is said to have happened, when it was written."""

    __tablename__ = "entries"

    seq: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    id: UUID = Field(unique=True)
    kind: str = Field(max_length=20)
    by_id: UUID = Field(index=True)
    by_name: str = Field(sa_type=Text)
    occurred_at: datetime = Field(sa_type=UtcMoment)
    recorded_at: datetime = Field(sa_type=UtcMoment)
    reason: str | None = Field(default=None, sa_type=Text)
    withdrawal_id: UUID | None = Field(default=None, index=True)
    #: The batch that the act is about, where it is about one as a whole.
    batch_id: UUID | None = Field(default=None, foreign_key="batches.id", index=True)
    #: Further facts as canonical JSON text, hashed as it stands.
    facts: str = Field(sa_type=Text)
    hash: str = Field(max_length=64, unique=True)


class Line(SQLModel, table=True):
    """One straw going from one place to another, as part of an entry.

    `provisional`: the act was by count, so which of the twins went is the book's choice.
    `withdrawal_id`: the withdrawal on whose account the straw leaves or comes back.
    """

    __tablename__ = "lines"
    __table_args__ = (
        CheckConstraint(f"from_state IN ('made', {_STATES_SQL})", name="line_from_state"),
        CheckConstraint(f"to_state IN ({_STATES_SQL})", name="line_to_state"),
        CheckConstraint(
            "(from_state = 'stored') = (from_goblet_id IS NOT NULL)", name="line_from_place"
        ),
        CheckConstraint("(to_state = 'stored') = (to_goblet_id IS NOT NULL)", name="line_to_place"),
        Index("lines_of_straw", "straw_code", "entry_seq", unique=True),
    )

    entry_seq: int = Field(primary_key=True, foreign_key="entries.seq")
    number: int = Field(primary_key=True)
    straw_code: str = Field(max_length=9, foreign_key="straws.code")
    from_state: str = Field(max_length=10)
    from_goblet_id: UUID | None = Field(default=None, foreign_key="goblets.id")
    to_state: str = Field(max_length=10)
    to_goblet_id: UUID | None = Field(default=None, foreign_key="goblets.id")
    withdrawal_id: UUID | None = None
    provisional: bool = False


class Straw(SQLModel, table=True):
    """Where one straw is now. `coded` is false for stock from before labels: its code is ours only.

    `left_goblet_id` is the goblet it stood in last, `since` when it came to where it is. `owner` is
    whose it is; null for the station's common stock.
    """

    __tablename__ = "straws"
    __table_args__ = (
        CheckConstraint(f"state IN ({_STATES_SQL})", name="straw_state"),
        CheckConstraint("(state = 'stored') = (goblet_id IS NOT NULL)", name="straw_place"),
        CheckConstraint("state <> 'lifted' OR withdrawal_id IS NOT NULL", name="straw_lifted_for"),
        Index("straws_of_batch", "batch_id", "state", "goblet_id", "code"),
        Index(
            "straws_owned",
            *("batch_id", "owner", "state", "goblet_id"),
            sqlite_where=text("owner IS NOT NULL"),
            postgresql_where=text("owner IS NOT NULL"),
        ),
    )

    code: str = Field(max_length=9, primary_key=True)
    batch_id: UUID = Field(foreign_key="batches.id")
    coded: bool = True
    state: str = Field(max_length=10)
    goblet_id: UUID | None = Field(default=None, foreign_key="goblets.id")
    left_goblet_id: UUID | None = Field(default=None, foreign_key="goblets.id")
    withdrawal_id: UUID | None = Field(default=None, index=True)
    provisional: bool = False
    since: datetime = Field(sa_type=UtcMoment)
    last_seq: int = Field(foreign_key="entries.seq")
    owner: str | None = Field(default=None, sa_type=Text)


class Stock(SQLModel, table=True):
    """How many straws of a batch stand in a goblet; no row where there are none."""

    __tablename__ = "stock"
    __table_args__ = (CheckConstraint("straws >= 1", name="stock_straws_positive"),)

    goblet_id: UUID = Field(primary_key=True, foreign_key="goblets.id")
    batch_id: UUID = Field(primary_key=True, foreign_key="batches.id", index=True)
    straws: int


class GobletMove(SQLModel, table=True):
    """A goblet that was hung elsewhere by an entry, and what its plate said before and after.

    Added to, never changed; with it an old entry is read with the addresses of its time.
    """

    __tablename__ = "goblet_moves"
    __table_args__ = (
        UniqueConstraint("goblet_id", "entry_seq", name="goblet_moved_once_an_entry"),
    )

    id: UUID = Field(primary_key=True)
    entry_seq: int = Field(foreign_key="entries.seq", index=True)
    goblet_id: UUID = Field(foreign_key="goblets.id")
    from_canister_id: UUID = Field(foreign_key="canisters.id")
    to_canister_id: UUID = Field(foreign_key="canisters.id")
    from_address: str = Field(sa_type=Text)
    to_address: str = Field(sa_type=Text)


class Head(NamedTuple):
    """The newest entry: what the next one follows."""

    seq: int
    hash: str
    recorded_at: datetime


def head_of(db: Session) -> Head | None:
    """The newest entry; None in an empty book."""
    row = db.exec(
        select(Entry.seq, Entry.hash, Entry.recorded_at).order_by(col(Entry.seq).desc()).limit(1)
    ).first()
    return Head(*row) if row else None


_STRAW_COLUMNS = [getattr(Straw, name) for name in StrawNow._fields]


def straws_where(db: Session, *conditions: ColumnElement[bool]) -> list[StrawNow]:
    """Straws as they stand, in order of their codes."""
    rows = db.execute(sa_select(*_STRAW_COLUMNS).where(*conditions).order_by(col(Straw.code)))
    return [StrawNow(*row) for row in rows]


def straws_by_code(db: Session, codes: Collection[str]) -> dict[str, StrawNow]:
    """The straws that exist under these codes."""
    found: dict[str, StrawNow] = {}
    for part in in_parts(codes):
        found |= {straw.code: straw for straw in straws_where(db, col(Straw.code).in_(part))}
    return found


def stored_twins(db: Session, batch_id: UUID, goblet_id: UUID) -> list[StrawNow]:
    """The straws of a batch that stand in a goblet: twins, which a hand cannot tell apart."""
    return straws_where(
        db,
        col(Straw.batch_id) == batch_id,
        col(Straw.state) == "stored",
        col(Straw.goblet_id) == goblet_id,
    )


def first_codes(
    db: Session, batch_id: UUID, goblet_id: UUID, number: int, whose: Whose
) -> list[str]:
    """Their first codes of a batch in a goblet, at most so many; straws before labels have none."""
    return list(
        db.exec(
            select(Straw.code)
            .where(
                Straw.batch_id == batch_id,
                Straw.state == "stored",
                Straw.goblet_id == goblet_id,
                col(Straw.coded).is_(True),
                col(Straw.owner).is_not_distinct_from(whose.owner),
            )
            .order_by(col(Straw.code))
            .limit(number)
        )
    )


def straws_in_stock(db: Session, batch_id: UUID, goblet_id: UUID) -> int:
    """How many straws of a batch stand in a goblet."""
    here = (col(Stock.goblet_id) == goblet_id, col(Stock.batch_id) == batch_id)
    return db.exec(select(Stock.straws).where(*here)).first() or 0


def twins_to_take(
    db: Session,
    batch_id: UUID,
    goblet_id: UUID,
    *,
    at: datetime,
    but: Collection[str],
    number: int,
    whose: Whose | None = None,
) -> list[StrawNow]:
    """Twins for an act by count, in order of their codes; of the common stock first.

    With `whose` only those. In a late entry those that were there at that time go first: one that
    came later cannot be the one that left then.
    """
    owned = () if whose is None else (col(Straw.owner).is_not_distinct_from(whose.owner),)
    rows = db.execute(
        sa_select(*_STRAW_COLUMNS)
        .where(
            col(Straw.batch_id) == batch_id,
            col(Straw.state) == "stored",
            col(Straw.goblet_id) == goblet_id,
            *owned,
        )
        .order_by(col(Straw.owner).is_not(None), col(Straw.since) > at, col(Straw.code))
        .limit(number + len(but))
    )
    twins = (StrawNow(*row) for row in rows)
    return [twin for twin in twins if twin.code not in but][:number]


def owned_straws(
    db: Session, batch_ids: Collection[UUID]
) -> dict[tuple[UUID, UUID], dict[str, int]]:
    """Stored straws that belong to somebody, by (batch, goblet) and owner."""
    found: dict[tuple[UUID, UUID], dict[str, int]] = {}
    counted = (
        sa_select(col(Straw.batch_id), col(Straw.goblet_id), col(Straw.owner), func.count())
        .where(col(Straw.owner).is_not(None), col(Straw.state) == "stored")
        .group_by(col(Straw.batch_id), col(Straw.goblet_id), col(Straw.owner))
    )
    for some in in_parts(batch_ids):
        for batch_id, goblet_id, owner, straws in db.execute(
            counted.where(col(Straw.batch_id).in_(some))
        ):
            found.setdefault((batch_id, goblet_id), {})[owner] = straws
    return found


def twins_in_doubt(db: Session, batch_id: UUID, goblet_id: UUID) -> bool:
    """Whether a twin that left this goblet by count may be one of those that seem to be here."""
    found = db.execute(
        sa_select(col(Straw.code))
        .where(
            col(Straw.batch_id) == batch_id,
            col(Straw.provisional).is_(True),
            or_(col(Straw.goblet_id) == goblet_id, col(Straw.left_goblet_id) == goblet_id),
        )
        .limit(1)
    )
    return found.first() is not None


def batch_in_doubt(db: Session, batch_id: UUID) -> bool:
    """Whether any straw of a batch is where the book chose: then none is surely where it says."""
    found = db.execute(
        sa_select(col(Straw.code))
        .where(col(Straw.batch_id) == batch_id, col(Straw.provisional).is_(True))
        .limit(1)
    )
    return found.first() is not None


def entry_numbered(db: Session, seq: int) -> Entry:
    """The entry with this number, which exists."""
    return db.exec(select(Entry).where(Entry.seq == seq)).one()


def lines_of(db: Session, seq: int) -> list[Line]:
    """An entry's lines, in order."""
    return list(db.exec(select(Line).where(Line.entry_seq == seq).order_by(col(Line.number))))


def next_step(db: Session, code: str, seq: int) -> tuple[Line, Entry]:
    """The straw's first line after entry `seq`, which exists, and its entry."""
    return db.exec(
        select(Line, Entry)
        .join(Entry, col(Entry.seq) == col(Line.entry_seq))
        .where(Line.straw_code == code, Line.entry_seq > seq)
        .order_by(col(Line.entry_seq))
        .limit(1)
    ).one()


def entry_with_facts(db: Session, kind: str, facts: str, *, after: int) -> Entry | None:
    """The entry of this kind with exactly these facts, after a number; None when there is none."""
    return db.exec(
        select(Entry).where(Entry.seq > after, Entry.kind == kind, Entry.facts == facts)
    ).first()
