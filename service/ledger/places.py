"""Places that hold straws: what is in a goblet, changing it, and retiring what is empty."""

from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import func
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.bank.records import facts_of, kept
from service.bank.rules import AddressTaken
from service.bank.search import goblet_at
from service.bank.store import Batch, Canister, Goblet, Stallion, Tank
from service.bank.tanks_rules import read_address
from service.kernel.acts import Act
from service.kernel.errors import Conflict, Unknown
from service.ledger.book import book
from service.ledger.rules import GobletRetired
from service.ledger.store import Stock


class UnknownPlace(Unknown):
    """There is no such goblet, canister or tank."""

    code = "unknown-place"
    title = "There is no such place"


class NotEmpty(Conflict):
    """A place that still holds straws cannot be retired."""

    code = "not-empty"
    title = "There are still straws in it"


class AlreadyRetired(Conflict):
    """A place that is no longer in use."""

    code = "already-retired"
    title = "It is no longer in use"


class HoldsMore(Conflict):
    """A capacity below what stands in the goblet."""

    code = "holds-more"
    title = "More straws stand in it than that"


def goblet_of(db: Session, goblet_id: UUID) -> Goblet:
    """The goblet, or UnknownPlace."""
    goblet = db.get(Goblet, goblet_id)
    if goblet is None:
        raise UnknownPlace("There is no such goblet. Scan its plate again.", goblet_id=goblet_id)
    return goblet


def contents(db: Session, goblet_id: UUID) -> list[tuple[Batch, Stallion, int]]:
    """What stands in a goblet, by batch."""
    rows = db.execute(
        sa_select(Batch, Stallion, col(Stock.straws))
        .join(Stock, col(Stock.batch_id) == col(Batch.id))
        .join(Stallion, col(Stallion.id) == col(Batch.stallion_id))
        .where(col(Stock.goblet_id) == goblet_id)
        .order_by(col(Stallion.name), col(Batch.code))
    )
    return [(batch, stallion, straws) for batch, stallion, straws in rows]


def straws_in(db: Session, goblet_id: UUID) -> int:
    """How many straws stand in a goblet."""
    return count_straws(db, col(Goblet.id) == goblet_id)


def count_straws(db: Session, condition: Any) -> int:
    """How many straws stand in the goblets that the condition finds."""
    found = db.execute(
        sa_select(func.coalesce(func.sum(Stock.straws), 0))
        .join(Goblet, col(Goblet.id) == col(Stock.goblet_id))
        .join(Canister, col(Canister.id) == col(Goblet.canister_id))
        .where(condition)
    )
    return int(found.scalar_one())


def change_goblet(db: Session, act: Act, goblet: Goblet, changes: dict[str, Any]) -> None:
    """Give a goblet another address or capacity.

    Raises GobletRetired, BadAddress, AddressTaken, HoldsMore.
    """
    if goblet.retired_at is not None:
        raise GobletRetired(
            f"Goblet {goblet.address} is no longer in use; its record stays as it was.",
            goblet_id=goblet.id,
            address=goblet.address,
        )
    if "address" in changes:
        changes = changes | {"address": read_address(changes["address"])}
    address = changes.get("address", goblet.address)
    other = goblet_at(db, [address], but=[goblet.id])
    if other is not None:
        raise AddressTaken(
            f"Another goblet has the address {address}. Choose another one.", address=address
        )
    straws = straws_in(db, goblet.id)
    if changes.get("capacity_straws", straws) < straws:
        raise HoldsMore(
            f"{straws} straws stand in goblet {goblet.address}. Move some out first.",
            straws=straws,
        )
    with kept(db, act, "goblet", goblet.id, lambda: facts_of(goblet)):
        for name, value in changes.items():
            setattr(goblet, name, value)
    db.flush()


def retire_goblet(db: Session, act: Act, goblet_id: UUID, reason: str) -> datetime:
    """Take an empty goblet out of use. Raises UnknownPlace, AlreadyRetired, NotEmpty."""
    goblet = goblet_of(db, goblet_id)
    _refuse_in_use(goblet.retired_at, straws_in(db, goblet.id), f"Goblet {goblet.address}")
    return _retired(db, act, [goblet], reason, {"goblet": goblet.address})


def retire_canister(db: Session, act: Act, canister_id: UUID, reason: str) -> datetime:
    """Take an empty canister with its goblets out of use."""
    canister = db.get(Canister, canister_id)
    if canister is None:
        raise UnknownPlace("There is no such canister.", canister_id=canister_id)
    tank = db.get_one(Tank, canister.tank_id)
    straws = count_straws(db, col(Canister.id) == canister.id)
    name = f"Canister {canister.number} of {tank.name}"
    _refuse_in_use(canister.retired_at, straws, name)
    return _retired(
        db, act, [canister, *_goblets_in(db, [canister.id])], reason, {"canister": name}
    )


def retire_tank(db: Session, act: Act, tank_id: UUID, reason: str) -> datetime:
    """Take an empty tank with all that hangs in it out of use."""
    tank = db.get(Tank, tank_id)
    if tank is None:
        raise UnknownPlace("There is no such tank.", tank_id=tank_id)
    straws = count_straws(db, col(Canister.tank_id) == tank.id)
    _refuse_in_use(tank.retired_at, straws, f"Tank {tank.name}")
    canisters = list(db.exec(select(Canister).where(Canister.tank_id == tank.id)))
    goblets = _goblets_in(db, [canister.id for canister in canisters])
    return _retired(db, act, [tank, *canisters, *goblets], reason, {"tank": tank.name})


def _goblets_in(db: Session, canister_ids: list[UUID]) -> list[Goblet]:
    return list(db.exec(select(Goblet).where(col(Goblet.canister_id).in_(canister_ids))))


def _refuse_in_use(retired_at: datetime | None, straws: int, name: str) -> None:
    if retired_at is not None:
        raise AlreadyRetired(f"{name} is no longer in use.", retired_at=retired_at)
    if straws:
        raise NotEmpty(f"{name} still holds {straws} straws. Move them out first.", straws=straws)


def _retired(
    db: Session,
    act: Act,
    places: list[Any],
    reason: str,
    facts: dict[str, str],
) -> datetime:
    for place in places:
        if place.retired_at is None:
            place.retired_at = act.recorded_at
            db.add(place)
    db.flush()
    book(db, act, "retire", [], reason=reason, facts=facts)
    return act.recorded_at
