"""Whose straws are whose: a manager gives them to somebody, by an entry."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from sqlalchemy import func
from sqlalchemy import select as sa_select
from sqlmodel import Session, col

from service.bank import store as bank
from service.bank.doses import BatchQuality, most_doses
from service.bank.rules import folded
from service.bank.store import Batch, Canister, Goblet, Stallion, Tank
from service.kernel.acts import Act
from service.ledger import picking
from service.ledger.book import book
from service.ledger.picking import Pick
from service.ledger.rules import Movement, Whose, place_of
from service.ledger.store import Straw
from service.transfers.rules import OwnedAlready


@dataclass(slots=True)
class Owned:
    """What somebody owns of a stallion: all straws in store, and what may be used of them."""

    owner: str
    stallion: Stallion
    straws: int = 0
    free: list[tuple[BatchQuality, int]] = field(default_factory=list)
    doses: int = 0


def give(
    db: Session,
    act: Act,
    *,
    picks: Sequence[Pick],
    codes: Sequence[str],
    owner: str | None,
    from_owner: str | None,
    reason: str,
) -> int:
    """Let straws belong to `owner` from now on (None: the common stock); returns how many.

    They stay where they stand. Of twins a number is given, not certain codes. Raises OwnedAlready,
    and what `picking.take` raises.
    """
    if owner is not None and from_owner is not None and folded(owner) == folded(from_owner):
        raise OwnedAlready(f"These straws belong to {owner} already. Name another owner.")
    if owner is None and from_owner is None:
        raise OwnedAlready("These straws are common stock already. Name an owner.")
    taken = picking.take(db, act, picks=picks, codes=codes, whose=Whose(from_owner))
    movements = [
        Movement(straw._replace(owner=owner), place_of(straw), straw.provisional, straw.since)
        for straw in taken.straws
    ]
    facts = {"owner": owner, "from_owner": from_owner}
    book(db, act, "owner", movements, reason=reason, facts=facts)
    return len(movements)


def spelled(db: Session, name: str) -> str:
    """An owner's name as it is in use already, so that two spellings are not two owners."""
    in_use = db.execute(sa_select(col(Straw.owner)).where(col(Straw.owner).is_not(None)).distinct())
    for (known,) in in_use:
        if folded(known) == folded(name):
            return str(known)
    return name


def owned(db: Session, today: date) -> list[Owned]:
    """What belongs to whom, by owner and stallion."""
    rows = db.execute(
        sa_select(Batch, col(Straw.owner), col(Tank.quarantine), func.count())
        .join(Straw, col(Straw.batch_id) == col(Batch.id))
        .join(Goblet, col(Goblet.id) == col(Straw.goblet_id))
        .join(Canister, col(Canister.id) == col(Goblet.canister_id))
        .join(Tank, col(Tank.id) == col(Canister.tank_id))
        .where(col(Straw.owner).is_not(None), col(Straw.state) == "stored")
        .group_by(col(Batch.id), col(Straw.owner), col(Tank.quarantine))
    ).all()
    held = bank.holds_on(db, today, {batch.id for batch, *_ in rows})
    rules = bank.dose_rules_of(db, {batch.stallion_id for batch, *_ in rows})
    found: dict[tuple[str, object], Owned] = {}
    for batch, owner, quarantined, straws in rows:
        stallion = db.get_one(Stallion, batch.stallion_id)
        one = found.setdefault((owner, stallion.id), Owned(owner, stallion))
        one.straws += straws
        if batch.id not in held and not quarantined:
            one.free.append((bank.quality_of(batch), straws))
    for one in found.values():
        one.doses = most_doses(rules[one.stallion.id], one.free)
    return sorted(found.values(), key=lambda one: (folded(one.owner), one.stallion.folded_name))
