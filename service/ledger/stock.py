"""What is in store now, and how many doses it makes.

`straws` counts everything that stands in a goblet; what may be used (`free`) leaves out batches on
hold and straws in quarantined tanks.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import ColumnElement, case, func, tuple_
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.bank import store as bank
from service.bank.doses import BatchQuality, most_doses, straws_per_dose
from service.bank.store import Batch, Canister, Goblet, Stallion, Tank
from service.edge.listing import Page
from service.kernel.database import in_parts
from service.ledger.store import Stock, Straw


@dataclass(frozen=True, slots=True)
class Scope:
    """Which part of the bank is meant; all of it by default."""

    stallion_id: UUID | None = None
    batch_id: UUID | None = None
    tank_id: UUID | None = None

    def conditions(self) -> list[ColumnElement[bool]]:
        """As conditions on batches and canisters."""
        wanted: list[ColumnElement[bool]] = []
        if self.stallion_id:
            wanted.append(col(Batch.stallion_id) == self.stallion_id)
        if self.batch_id:
            wanted.append(col(Batch.id) == self.batch_id)
        if self.tank_id:
            wanted.append(col(Canister.tank_id) == self.tank_id)
        return wanted


class StockRow(NamedTuple):
    """Straws of one batch in one goblet."""

    goblet_id: UUID
    address: str
    batch_id: UUID
    batch_code: str
    stallion_id: UUID
    stallion_name: str
    straw_colour: str | None
    straws: int
    collected_on: date | None
    quarantine: bool


@dataclass(slots=True)
class StallionStock:
    """A stallion's straws and doses; `doses` may be used without a manager's release.

    Straws that belong to somebody are counted in `straws_owned`, and make no `doses` here.
    """

    stallion: Stallion
    straws: int = 0
    straws_on_hold: int = 0
    straws_not_plannable: int = 0
    straws_owned: int = 0
    doses: int = 0
    doses_in_reserve: int = 0
    free: list[tuple[BatchQuality, int]] = field(default_factory=list)


def rows(db: Session, scope: Scope, page: Page | None = None) -> list[StockRow]:
    """Stock by goblet and batch, in order of address and batch code.

    With a page, up to one row more than its limit, from its marker on.
    """
    query = (
        sa_select(
            *(Stock.goblet_id, Goblet.address, Batch.id, Batch.code),  # type: ignore[call-overload]
            *(Stallion.id, Stallion.name, bank.COLOUR, Stock.straws, Batch.collected_on),
            Tank.quarantine,
        )
        .join(Batch, col(Batch.id) == col(Stock.batch_id))
        .join(Stallion, col(Stallion.id) == col(Batch.stallion_id))
        .join(Goblet, col(Goblet.id) == col(Stock.goblet_id))
        .join(Canister, col(Canister.id) == col(Goblet.canister_id))
        .join(Tank, col(Tank.id) == col(Canister.tank_id))
        .where(*scope.conditions())
        .order_by(Goblet.address, Batch.code)
    )
    if page is not None:
        query = query.limit(page.limit + 1)
        if after := page.after_as(str, str):
            query = query.where(tuple_(col(Goblet.address), col(Batch.code)) > after)
    return [StockRow(*row) for row in db.execute(query)]


def by_stallion(db: Session, today: date, scope: Scope) -> list[StallionStock]:
    """Every stallion with straws in the scope, by name; his reserve counts over the whole bank."""
    found = _counted(db, today, scope)
    if scope.batch_id or scope.tank_id:
        _cap_by_the_whole(db, today, found)
    return sorted(found.values(), key=lambda one: (one.stallion.name, str(one.stallion.id)))


def _counted(db: Session, today: date, scope: Scope) -> dict[UUID, StallionStock]:
    held = bank.holds_on(db, today)
    found: dict[UUID, StallionStock] = {}
    batches = _batches(db, scope)
    owned = _owned(db, scope)
    stallions = _stallions(db, {batch.stallion_id for batch, _, _ in batches})
    rules = bank.dose_rules_of(db, list(stallions))
    for batch, straws, quarantined in batches:
        stallion = stallions[batch.stallion_id]
        one = found.setdefault(stallion.id, StallionStock(stallion))
        free = 0 if batch.id in held else straws - quarantined
        one.straws += straws
        one.straws_on_hold += straws - free
        of_owners, of_owners_free = owned.get(batch.id, (0, 0))
        one.straws_owned += of_owners
        free -= of_owners_free if free else 0
        quality = bank.quality_of(batch)
        if straws_per_dose(rules[stallion.id], quality) is None:
            one.straws_not_plannable += free
        elif free:
            one.free.append((quality, free))
    for one in found.values():
        _split_reserve(one, most_doses(rules[one.stallion.id], one.free))
    return found


def _split_reserve(one: StallionStock, doses: int) -> None:
    one.doses_in_reserve = min(doses, one.stallion.reserve_doses)
    one.doses = doses - one.doses_in_reserve


def _cap_by_the_whole(db: Session, today: date, found: Mapping[UUID, StallionStock]) -> None:
    """In a part of the bank the reserve is not counted again: the stallion's own limit holds."""
    for stallion_id, one in found.items():
        whole = _counted(db, today, Scope(stallion_id=stallion_id))[stallion_id]
        here = one.doses + one.doses_in_reserve
        one.doses = min(here, whole.doses)
        one.doses_in_reserve = here - one.doses


def _batches(db: Session, scope: Scope) -> Sequence[tuple[Batch, int, int]]:
    """Batches in the scope with their straws, and how many of those stand in quarantine."""
    counted = (
        sa_select(
            col(Stock.batch_id).label("batch_id"),
            func.sum(Stock.straws).label("straws"),
            func.sum(case((col(Tank.quarantine), Stock.straws), else_=0)).label("quarantined"),
        )
        .join(Goblet, col(Goblet.id) == col(Stock.goblet_id))
        .join(Canister, col(Canister.id) == col(Goblet.canister_id))
        .join(Tank, col(Tank.id) == col(Canister.tank_id))
        .join(Batch, col(Batch.id) == col(Stock.batch_id))
        .where(*scope.conditions())
        .group_by(col(Stock.batch_id))
        .subquery()
    )
    query: Any = sa_select(Batch, counted.c.straws, counted.c.quarantined).join(
        counted, counted.c.batch_id == col(Batch.id)
    )
    return [(batch, int(straws), int(held)) for batch, straws, held in db.execute(query)]


def _owned(db: Session, scope: Scope) -> dict[UUID, tuple[int, int]]:
    """By batch: straws in store that belong to somebody, and those of them not in quarantine."""
    rows = db.execute(
        sa_select(
            col(Straw.batch_id),
            func.count(),
            func.sum(case((col(Tank.quarantine), 0), else_=1)),
        )
        .join(Batch, col(Batch.id) == col(Straw.batch_id))
        .join(Goblet, col(Goblet.id) == col(Straw.goblet_id))
        .join(Canister, col(Canister.id) == col(Goblet.canister_id))
        .join(Tank, col(Tank.id) == col(Canister.tank_id))
        .where(col(Straw.owner).is_not(None), col(Straw.state) == "stored", *scope.conditions())
        .group_by(col(Straw.batch_id))
    )
    return {batch_id: (int(straws), int(free)) for batch_id, straws, free in rows}


def _stallions(db: Session, ids: set[UUID]) -> dict[UUID, Stallion]:
    return {
        stallion.id: stallion
        for some in in_parts(ids)
        for stallion in db.exec(select(Stallion).where(col(Stallion.id).in_(some)))
    }
