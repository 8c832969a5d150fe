"""What was printed: each print, and each label on it. Added to, never changed."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal
from uuid import UUID

from sqlalchemy import JSON, CheckConstraint, ColumnElement, Text, case, func
from sqlalchemy import select as sa_select
from sqlmodel import Field, Session, SQLModel, col, select

from service.bank.store import Batch, Canister, Goblet, Tank
from service.edge.listing import Page
from service.kernel.codes import Code, Kind
from service.kernel.columns import UtcMoment
from service.kernel.database import in_parts
from service.ledger.store import Entry, Straw

#: A straw that was marked and never filled; its label is worth nothing.
VOID = "void"


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

    `number` counts the prints of this label in its style from 1 on: a 2 says that there may be two.
    """

    __tablename__ = "printed_labels"
    __table_args__ = (CheckConstraint("number >= 1", name="printed_label_number"),)

    print_id: UUID = Field(foreign_key="prints.id", primary_key=True)
    position: int = Field(primary_key=True)
    code: str = Field(max_length=9, index=True)
    number: int


@dataclass(frozen=True, slots=True)
class Place:
    """A place as its plate shows it."""

    kind: Literal["goblet", "canister", "tank"]
    code: str
    title: str
    line: str | None


def id_of_code(db: Session, read: Code) -> UUID | None:
    """The id of the batch or place with this code."""
    tables: dict[Kind, Any] = {
        Kind.BATCH: Batch,
        Kind.GOBLET: Goblet,
        Kind.CANISTER: Canister,
        Kind.TANK: Tank,
    }
    table = tables[read.kind]
    found: UUID | None = db.exec(select(table.id).where(table.code == read.code)).one_or_none()
    return found


def is_batch(db: Session, batch_id: UUID) -> bool:
    """Whether there is such a batch."""
    return db.get(Batch, batch_id) is not None


def straw_of_code(db: Session, code: str) -> Straw | None:
    """The straw with this code."""
    return db.exec(select(Straw).where(col(Straw.code) == code)).one_or_none()


def codes_of_batch(db: Session, batch_id: UUID) -> tuple[str, ...]:
    """The codes of a batch's straws that labels are printed for, in their order."""
    query = (
        select(Straw.code)
        .where(
            col(Straw.batch_id) == batch_id, col(Straw.coded).is_(True), col(Straw.state) != VOID
        )
        .order_by(col(Straw.code))
    )
    return tuple(db.exec(query))


def places(db: Session, kind: str, id: UUID, *, inside: bool) -> tuple[Place, ...]:
    """A place, and with `inside` all that hangs in it and is in use, from the outside inwards."""
    if kind == "tank":
        return _tank(db, id, inside=inside)
    if kind == "canister":
        return _canister(db, id, inside=inside)
    return _goblets(db, col(Goblet.id) == id)


def _tank(db: Session, tank_id: UUID, *, inside: bool) -> tuple[Place, ...]:
    tank = db.get(Tank, tank_id)
    if tank is None:
        return ()
    litres, least = tank.capacity_litres.normalize(), tank.minimum_level_cm.normalize()
    size = f"{litres:f} L, minimum level {least:f} cm"
    plate = Place("tank", tank.code, tank.name, "QUARANTINE" if tank.quarantine else size)
    if not inside:
        return (plate,)
    canisters = db.exec(
        select(Canister.id)
        .where(col(Canister.tank_id) == tank_id, col(Canister.retired_at).is_(None))
        .order_by(col(Canister.number))
    )
    hung = [place for one in canisters.all() for place in _canister(db, one, inside=True)]
    return (plate, *hung)


def _canister(db: Session, canister_id: UUID, *, inside: bool) -> tuple[Place, ...]:
    canister = db.get(Canister, canister_id)
    if canister is None:
        return ()
    tank = db.get_one(Tank, canister.tank_id)
    title = f"{tank.short_name}-{canister.number}"
    plate = Place("canister", canister.code, title, f"Canister {canister.number} of {tank.name}")
    if not inside:
        return (plate,)
    return (plate, *_goblets(db, col(Goblet.canister_id) == canister_id, in_use=True))


def _goblets(db: Session, which: ColumnElement[bool], *, in_use: bool = False) -> tuple[Place, ...]:
    query = select(Goblet).where(which).order_by(col(Goblet.tier), col(Goblet.position))
    if in_use:
        query = query.where(col(Goblet.retired_at).is_(None))
    return tuple(
        Place("goblet", one.code, one.address, f"{one.capacity_straws} straws, {one.tier}")
        for one in db.exec(query)
    )


@dataclass(frozen=True, slots=True)
class LastPrint:
    """How often a label was printed, and when and by whom the last time."""

    number: int
    at: datetime
    by: str


def printed_before(db: Session, labels: Sequence[str], style: str) -> dict[str, LastPrint]:
    """The last print of each label that was printed before in this style.

    A strip and a flag are two carriers that one straw may have; a plate is a plate, alone or with
    those inside.
    """
    styles = ("plate", "plates") if style in {"plate", "plates"} else (style,)
    found: dict[str, LastPrint] = {}
    query = select(PrintedLabel.code, PrintedLabel.number, Print.printed_at, Print.by_name).join(
        Print, col(Print.id) == col(PrintedLabel.print_id)
    )
    query = query.where(col(Print.style).in_(styles))
    for some in in_parts(labels):
        rows = db.exec(query.where(col(PrintedLabel.code).in_(some)))
        for code, number, at, by in rows:
            if code not in found or found[code].number < number:
                found[code] = LastPrint(number, at, by)
    return found


def prints_page(
    db: Session, page: Page, *, batch_id: UUID | None, code: str | None
) -> list[tuple[Print, int, int]]:
    """Prints, newest first, each with how many labels it had and how many of them anew."""
    again = func.sum(case((col(PrintedLabel.number) > 1, 1), else_=0))
    query = (
        sa_select(Print, func.count(), again)
        .join(PrintedLabel, col(PrintedLabel.print_id) == col(Print.id))
        .group_by(col(Print.id))
        .order_by(col(Print.recorded_at).desc(), col(Print.id).desc())
        .limit(page.limit + 1)
        .where(*page.older(col(Print.recorded_at), col(Print.id)))
    )
    of = select(PrintedLabel.print_id)
    if batch_id is not None:
        straws = select(Straw.code).where(col(Straw.batch_id) == batch_id)
        query = query.where(col(Print.id).in_(of.where(col(PrintedLabel.code).in_(straws))))
    if code is not None:
        query = query.where(col(Print.id).in_(of.where(col(PrintedLabel.code) == code)))
    return [(one, labels, anew) for one, labels, anew in db.execute(query)]


def facts_of(db: Session, print_id: UUID) -> dict[str, Any]:
    """What the book says of a print."""
    found = db.exec(select(Entry.facts).where(Entry.id == print_id)).one()
    facts: dict[str, Any] = json.loads(found)
    return facts


def labels_of(db: Session, print_id: UUID) -> tuple[str, ...]:
    """The codes of a print, in the order they were printed."""
    query = (
        select(PrintedLabel.code)
        .where(col(PrintedLabel.print_id) == print_id)
        .order_by(col(PrintedLabel.position))
    )
    return tuple(db.exec(query))
