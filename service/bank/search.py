"""Finding what exists: tanks with all that hangs in them, horses by name or number, free codes."""

import re
from collections import defaultdict
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, and_, func, or_, tuple_
from sqlalchemy.orm import Mapped
from sqlmodel import Session, col, select

from service.bank.rules import folded
from service.bank.store import Canister, DoseRuleRow, Goblet, Mare, Stallion, Tank
from service.kernel import codes
from service.kernel.database import in_parts

#: A name (as it is sorted) and an id: where a page of a list begins.
After = tuple[str, UUID] | None

_TRIES = 20


@dataclass(frozen=True, slots=True)
class TankTree:
    """A tank and what is in use in it: canisters by number, each with its goblets, lowest first."""

    tank: Tank
    canisters: list[tuple[Canister, list[Goblet]]]


def tanks_after(db: Session, after: After, limit: int) -> list[Tank]:
    """Tanks by name, retired ones among them; one more than `limit` when there are more."""
    key = tuple_(col(Tank.name), col(Tank.id))
    some = select(Tank).order_by(col(Tank.name), col(Tank.id)).limit(limit + 1)
    return list(db.exec(some if after is None else some.where(key > after)))


def trees_of(db: Session, tanks: Sequence[Tank]) -> list[TankTree]:
    """The tanks with all that hangs in them, in the order given."""
    goblets: dict[UUID, list[Goblet]] = defaultdict(list)
    canisters: dict[UUID, list[Canister]] = defaultdict(list)
    for some in in_parts([tank.id for tank in tanks]):
        for canister in db.exec(
            select(Canister)
            .where(col(Canister.tank_id).in_(some), col(Canister.retired_at).is_(None))
            .order_by(col(Canister.number))
        ):
            canisters[canister.tank_id].append(canister)
        for goblet in db.exec(
            select(Goblet)
            .join(Canister, col(Canister.id) == col(Goblet.canister_id))
            .where(col(Canister.tank_id).in_(some), col(Goblet.retired_at).is_(None))
            .order_by(col(Goblet.tier), col(Goblet.position), col(Goblet.address))
        ):
            goblets[goblet.canister_id].append(goblet)
    return [
        TankTree(tank, [(canister, goblets[canister.id]) for canister in canisters[tank.id]])
        for tank in tanks
    ]


def tanks_in_use(db: Session) -> list[Tank]:
    """Every tank that is not retired."""
    return list(db.exec(select(Tank).where(col(Tank.retired_at).is_(None))))


def goblet_at(db: Session, addresses: Collection[str], *, but: Collection[UUID]) -> Goblet | None:
    """A goblet in use that has one of these addresses already, `but` for the named ones."""
    for some in in_parts(addresses):
        for goblet in db.exec(
            select(Goblet).where(col(Goblet.address).in_(some), col(Goblet.retired_at).is_(None))
        ):
            if goblet.id not in but:
                return goblet
    return None


def stallions_after(db: Session, query: str, after: After, limit: int) -> list[Stallion]:
    """Stallions by name that answer to `query`; one more than `limit` when there are more."""
    numbers = (col(Stallion.ueln), col(Stallion.microchip))
    some = select(Stallion).where(*_answering(query, col(Stallion.folded_name), numbers))
    key = tuple_(col(Stallion.folded_name), col(Stallion.id))
    some = some.order_by(col(Stallion.folded_name), col(Stallion.id)).limit(limit + 1)
    return list(db.exec(some if after is None else some.where(key > after)))


def mares_after(db: Session, query: str, after: After, limit: int) -> list[Mare]:
    """Mares by name that answer to `query`; one more than `limit` when there are more."""
    some = select(Mare).where(*_answering(query, col(Mare.folded_name), (col(Mare.ueln),)))
    key = tuple_(col(Mare.folded_name), col(Mare.id))
    some = some.order_by(col(Mare.folded_name), col(Mare.id)).limit(limit + 1)
    return list(db.exec(some if after is None else some.where(key > after)))


def _answering(
    query: str, name: Any, numbers: Collection[Mapped[Any]]
) -> list[ColumnElement[bool]]:
    """Every word of the query stands in the name, or all of it in a number.

    Without regard to case, accents and spacing (see `rules.folded`); both engines compare text
    that was folded before.
    """
    words = folded(query).split()
    if not words:
        return []
    in_name = and_(*(name.contains(word, autoescape=True) for word in words))
    number = "".join(re.findall("[0-9A-Z]", "".join(words).upper()))
    if not any(sign.isdigit() for sign in number):
        return [in_name]
    return [or_(in_name, *(column.contains(number) for column in numbers))]


def shared_names(db: Session, folded_names: Collection[str]) -> set[str]:
    """Those of these (folded) names that several stallions bear."""
    name = col(Stallion.folded_name)
    return {
        found
        for some in in_parts(folded_names)
        for found in db.exec(
            select(name).where(name.in_(some)).group_by(name).having(func.count() > 1)
        )
    }


def stallion_with(db: Session, *, ueln: str | None, microchip: str | None) -> Sequence[Stallion]:
    """Stallions that bear either number."""
    wanted = [
        column == number
        for column, number in ((col(Stallion.ueln), ueln), (col(Stallion.microchip), microchip))
        if number is not None
    ]
    return list(db.exec(select(Stallion).where(or_(*wanted)))) if wanted else []


def mares_with(db: Session, uelns: Collection[str]) -> dict[str, list[Mare]]:
    """The mares that bear each of these numbers, by name."""
    found: dict[str, list[Mare]] = defaultdict(list)
    for some in in_parts(uelns):
        for mare in db.exec(
            select(Mare)
            .where(col(Mare.ueln).in_(some))
            .order_by(col(Mare.folded_name), col(Mare.id))
        ):
            found[mare.ueln or ""].append(mare)
    return found


def rules_of(db: Session, stallion_id: UUID) -> list[DoseRuleRow]:
    """Every dose rule a stallion has had, the one that holds first."""
    return list(
        db.exec(
            select(DoseRuleRow)
            .where(DoseRuleRow.stallion_id == stallion_id)
            .order_by(col(DoseRuleRow.number).desc())
        )
    )


def fresh_codes(
    db: Session,
    column: Mapped[str],
    kind: codes.Kind,
    count: int,
    draw: Callable[[int], int],
    *,
    but: Collection[str] = (),
) -> list[str]:
    """New codes of a kind that `column` (where those issued stand) does not have yet.

    None is one of `but`: codes that labels bear, and that are about to be issued.
    Called inside a write transaction, so nobody else can issue one of them meanwhile.
    """
    fresh: dict[str, None] = {}
    for _ in range(_TRIES):
        while len(fresh) < count:
            code = codes.make(kind, draw)
            if code not in but:
                fresh[code] = None
        issued = [
            code
            for some in in_parts(fresh)
            for code in db.exec(select(column).where(column.in_(some)))
        ]
        if not issued:
            return list(fresh)
        for code in issued:
            del fresh[code]
    raise RuntimeError(f"{_TRIES} draws gave only codes that were issued before")
