"""Levels and top-ups as they are found: in pages with what was struck, or all that counts.

What counts is fetched column by column: a year of readings as whole records takes three times as
long.
"""

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.edge.listing import Page
from service.kernel.database import in_parts
from service.nitrogen import rules
from service.nitrogen.rules import Figure, ReadAs
from service.nitrogen.store import Level, Strike, TopUp


@dataclass(frozen=True, slots=True)
class Counted:
    """A level that counts, as it was read."""

    id: UUID
    at: datetime
    figure: Figure
    signs: list[str]
    by: str


@dataclass(frozen=True, slots=True)
class Filling:
    """A top-up that counts: one of the two figures is known."""

    id: UUID
    at: datetime
    litres_added: Decimal | None
    level_after_cm: Decimal | None
    by: str


@dataclass(slots=True)
class Series:
    """All that counts of one tank, in order of time."""

    levels: list[Counted] = field(default_factory=list)
    fillings: list[Filling] = field(default_factory=list)


def figure_of(
    level_cm: Decimal | None, litres: Decimal | None, weight_kg: Decimal | None
) -> Figure:
    """The one figure of a level; the others are None."""
    found: dict[ReadAs, Decimal | None] = {
        "level_cm": level_cm,
        "litres": litres,
        "weight_kg": weight_kg,
    }
    [figure] = [Figure(read_as=way, amount=one) for way, one in found.items() if one is not None]
    return figure


def counted(
    db: Session, tank_ids: Collection[UUID], *, since: datetime | None = None, until: datetime
) -> dict[UUID, Series]:
    """What counts of these tanks from `since` until this moment, whenever it was entered."""
    found: dict[UUID, Series] = defaultdict(Series)
    for some in in_parts(tank_ids):
        for tank_id, *facts in db.execute(_query(Level, some, since, until)):
            found[tank_id].levels.append(_counted(facts))
        for tank_id, *facts in db.execute(_query(TopUp, some, since, until)):
            found[tank_id].fillings.append(Filling(*facts))
    return {tank_id: found[tank_id] for tank_id in tank_ids}


def struck(db: Session, tank_id: UUID, *, since: datetime, until: datetime) -> Series:
    """What was struck of a tank between these moments."""
    of = ([tank_id], since, until)
    return Series(
        [_counted(facts) for _, *facts in db.execute(_query(Level, *of, was_struck=True))],
        [Filling(*facts) for _, *facts in db.execute(_query(TopUp, *of, was_struck=True))],
    )


_LEVEL_COLUMNS: tuple[Any, ...] = (
    *(Level.tank_id, Level.id, Level.measured_at),
    *(Level.level_cm, Level.litres, Level.weight_kg, Level.signs, Level.by_name),
)
_TOP_UP_COLUMNS: tuple[Any, ...] = (
    *(TopUp.tank_id, TopUp.id, TopUp.filled_at),
    *(TopUp.litres_added, TopUp.level_after_cm, TopUp.by_name),
)


def _query(
    table: type[Level] | type[TopUp],
    tank_ids: Collection[UUID],
    since: datetime | None,
    until: datetime,
    *,
    was_struck: bool = False,
) -> Any:
    """The query of rows that stand, or of those that were struck, in order of time."""
    columns = _LEVEL_COLUMNS if table is Level else _TOP_UP_COLUMNS
    tank_id, id, at = columns[:3]
    query = (
        sa_select(*columns)
        .outerjoin(Strike, _strikes(table))
        .where(col(tank_id).in_(tank_ids), col(at) <= until)
        .where(col(Strike.id).is_not(None) if was_struck else col(Strike.id).is_(None))
        .order_by(col(at), col(id))
    )
    return query if since is None else query.where(col(at) >= since)


def _counted(facts: Sequence[Any]) -> Counted:
    id, at, level_cm, litres, weight_kg, signs, by = facts
    return Counted(id, at, figure_of(level_cm, litres, weight_kg), signs, by)


def _strikes(table: type[Level] | type[TopUp]) -> ColumnElement[bool]:
    if table is Level:
        return col(Strike.level_id) == col(Level.id)
    return col(Strike.top_up_id) == col(TopUp.id)


def levels_page(db: Session, tank_id: UUID, page: Page) -> list[tuple[Level, Strike | None]]:
    """Levels of a tank, newest first, each with how it was struck."""
    query = (
        select(Level, Strike)
        .outerjoin(Strike, _strikes(Level))
        .where(Level.tank_id == tank_id)
        .where(*page.older(col(Level.measured_at), col(Level.id)))
        .order_by(col(Level.measured_at).desc(), col(Level.id).desc())
        .limit(page.limit + 1)
    )
    return [(level, strike) for level, strike in db.exec(query)]


def top_ups_page(db: Session, tank_id: UUID, page: Page) -> list[tuple[TopUp, Strike | None]]:
    """Top-ups of a tank, newest first, each with how it was struck."""
    query = (
        select(TopUp, Strike)
        .outerjoin(Strike, _strikes(TopUp))
        .where(TopUp.tank_id == tank_id)
        .where(*page.older(col(TopUp.filled_at), col(TopUp.id)))
        .order_by(col(TopUp.filled_at).desc(), col(TopUp.id).desc())
        .limit(page.limit + 1)
    )
    return [(top_up, strike) for top_up, strike in db.exec(query)]


def level_of(db: Session, tank_id: UUID, level_id: UUID) -> Level:
    """The level of this tank. Raises UnknownLevel."""
    level = db.get(Level, level_id)
    if level is None or level.tank_id != tank_id:
        raise rules.UnknownLevel("No level of this tank has this id. Choose one of the list.")
    return level


def top_up_of(db: Session, tank_id: UUID, top_up_id: UUID) -> TopUp:
    """The top-up of this tank. Raises UnknownTopUp."""
    top_up = db.get(TopUp, top_up_id)
    if top_up is None or top_up.tank_id != tank_id:
        raise rules.UnknownTopUp("No top-up of this tank has this id. Choose one of the list.")
    return top_up


def strike_of(
    db: Session, *, level_id: UUID | None = None, top_up_id: UUID | None = None
) -> Strike | None:
    """How this level or top-up was struck."""
    return db.exec(
        select(Strike).where(
            col(Strike.level_id) == level_id
            if level_id is not None
            else col(Strike.top_up_id) == top_up_id
        )
    ).one_or_none()
