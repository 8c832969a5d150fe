"""Moving house taken back: what was hung elsewhere hangs where it was, if that is still free."""

import json
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from sqlalchemy import func
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.bank import tanks_rules
from service.bank.rules import AddressTaken, TankRetired
from service.bank.store import Canister, Goblet, Tank
from service.kernel.acts import Act
from service.kernel.database import in_parts
from service.ledger import relocate
from service.ledger.book import book
from service.ledger.relocate_rules import (
    CanisterRehung,
    CanisterRetired,
    NumberTaken,
    PlaceTaken,
    Rehung,
    Relocation,
    Spot,
    relocation_in,
)
from service.ledger.rules import GobletRetired, too_early
from service.ledger.store import Entry, GobletMove


def moved_since(db: Session, entry: Entry) -> str | None:
    """Why an entry is not the last word on where its goblets hang; None when it is."""
    done = relocation_in(json.loads(entry.facts))
    gone = _goblet_moved_since(db, entry.seq, done)
    if gone is not None:
        return f"Goblet {gone.address} was moved by a later entry. Take that one back first."
    if done.canister is None:
        return None
    canister = db.get_one(Canister, done.canister.canister_id)
    if (canister.tank_id, canister.number) != done.canister.after:
        return "The canister was moved by a later entry. Take that one back first."
    with_it = {one.goblet_id for one in done.goblets}
    for goblet in relocate.goblets_in(db, canister.id):
        if goblet.id not in with_it:
            return (
                f"Goblet {goblet.address} came into the canister by a later entry. "
                "Take that one back first."
            )
    return None


def _goblet_moved_since(db: Session, seq: int, done: Relocation) -> Goblet | None:
    newest = (
        sa_select(col(GobletMove.goblet_id))
        .group_by(col(GobletMove.goblet_id))
        .having(func.max(GobletMove.entry_seq) > seq)
    )
    for some in in_parts([one.goblet_id for one in done.goblets]):
        gone = select(Goblet).where(col(Goblet.id).in_(some), col(Goblet.id).in_(newest))
        if (goblet := db.exec(gone.limit(1)).first()) is not None:
            return goblet
    return None


def hang_back(db: Session, act: Act, entry: Entry, *, reason: str, facts: Mapping[str, Any]) -> int:
    """Write the counter-entry of one that `moved_since` says nothing of; returns its number.

    What stands in the goblets goes with them, also straws that came meanwhile: they never left
    their goblet. Addresses by the place come by the names of today, one that was given by hand
    comes back as it was. Raises GobletRetired, CanisterRetired, TankRetired, NumberTaken,
    PlaceTaken, AddressTaken, BeforeWhatItFollows.
    """
    if act.occurred_at < entry.occurred_at:
        raise too_early(
            "It came to its place only after the time you give.", since=entry.occurred_at
        )
    done = relocation_in(json.loads(entry.facts))
    back = Relocation(
        [_spot_again(db, one, done.canister) for one in done.goblets],
        done.canister and _hook_again(db, done.canister),
    )
    _refuse_taken(db, back)
    movements = relocate.lines_for(db, act, [one.goblet_id for one in done.goblets])
    seq = book(db, act, "correct", movements, reason=reason, facts=facts)
    relocate.hang(db, act, seq, back)
    return seq


def _hook_again(db: Session, whole: CanisterRehung) -> CanisterRehung:
    relocate.canister_in_use(db, whole.canister_id)
    tank_id, number = whole.before
    tank = db.get_one(Tank, tank_id)
    if tank.retired_at is not None:
        raise TankRetired(f"{tank.name} is no longer in use.", tank_id=tank.id)
    if number in relocate.numbers_in(db, tank.id):
        raise NumberTaken(
            f"{tank.name} has another canister {number} by now. Move that one first.",
            number=number,
        )
    return CanisterRehung(whole.canister_id, whole.after, whole.before)


def _spot_again(db: Session, one: Rehung, whole: CanisterRehung | None) -> Rehung:
    goblet = db.get_one(Goblet, one.goblet_id)
    if goblet.retired_at is not None:
        raise GobletRetired(
            f"Goblet {goblet.address} is no longer in use.",
            goblet_id=goblet.id,
            address=goblet.address,
        )
    canister = db.get_one(Canister, one.before.canister_id)
    tank_id, number = whole.before if whole else (canister.tank_id, canister.number)
    tank = db.get_one(Tank, tank_id)
    if canister.retired_at is not None:
        raise CanisterRetired(
            f"Canister {canister.number} of {tank.name} is no longer in use.",
            canister_id=canister.id,
        )
    address = one.before.address
    if not one.by_hand:
        tier, position = one.before.tier, one.before.position
        address = tanks_rules.goblet_address(tank.short_name, number, tier, position)
    there = Spot(canister.id, one.before.tier, one.before.position, address)
    return Rehung(goblet.id, relocate.spot_of(goblet), there, one.by_hand)


def _refuse_taken(db: Session, back: Relocation) -> None:
    """Raise PlaceTaken or AddressTaken where another goblet hangs by now, or has the address."""
    moving = {one.goblet_id for one in back.goblets}
    for canister_id in {one.after.canister_id for one in back.goblets}:
        there = {
            (one.tier, one.position): one
            for one in relocate.goblets_in(db, canister_id)
            if one.id not in moving
        }
        for one in back.goblets:
            other = there.get((one.after.tier, one.after.position))
            if one.after.canister_id == canister_id and other is not None:
                raise PlaceTaken(
                    f"Goblet {other.address} hangs there by now. Move that one first.",
                    goblet_id=other.id,
                    address=other.address,
                )
    wanted = {one.after.address: one.goblet_id for one in back.goblets}
    for goblet in _in_use_at(db, wanted):
        if goblet.id != wanted[goblet.address]:
            raise AddressTaken(
                f"{goblet.address} is the address of another goblet by now. Change that one first.",
                goblet_id=goblet.id,
                address=goblet.address,
            )


def _in_use_at(db: Session, addresses: Mapping[str, UUID]) -> list[Goblet]:
    return [
        goblet
        for some in in_parts(addresses)
        for goblet in db.exec(
            select(Goblet).where(col(Goblet.address).in_(some), col(Goblet.retired_at).is_(None))
        )
    ]
