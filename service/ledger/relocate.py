"""Moving house: a goblet or a canister as a whole goes elsewhere, in one act and one entry.

The straws stay in their goblets, so numbers never move; each gets a line all the same, so that its
history tells of it. Goblets keep id and code, and get the address of their new place.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import func
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.bank import tanks_rules
from service.bank.rules import TankRetired, Warned
from service.bank.store import Canister, Goblet, Tank
from service.kernel.acts import Act
from service.kernel.database import in_parts
from service.ledger import relocate_rules, relocate_warnings
from service.ledger.book import book
from service.ledger.places import UnknownPlace, count_straws, goblet_of
from service.ledger.relocate_rules import (
    CanisterRehung,
    CanisterRetired,
    HangsThereAlready,
    NothingToMove,
    NumberTaken,
    Rehung,
    Relocation,
    Spot,
)
from service.ledger.rules import GobletRetired, Movement, Place, StrawNow, too_early
from service.ledger.rules import refuse_too_early as refuse_straws_too_early
from service.ledger.store import Entry, GobletMove, Straw, straws_where


@dataclass(frozen=True, slots=True)
class Planned:
    """What is to hang elsewhere: in which tank, and under which field of the request that is."""

    tank: Tank
    goblets: Sequence[Goblet]
    relocation: Relocation
    field: str


@dataclass(frozen=True, slots=True)
class Relocated:
    """Where each goblet hangs then, how many straws are in them, and what to look at."""

    goblets: Sequence[tuple[Goblet, Rehung]]
    straws: int
    warnings: list[Warned]


def goblet_into(
    db: Session, goblet_id: UUID, *, canister_id: UUID, tier: str | None = None
) -> Planned:
    """A goblet goes into a canister, in its own tier unless another is named.

    Raises UnknownPlace, GobletRetired, CanisterRetired, TankRetired, HangsThereAlready.
    """
    goblet = goblet_of(db, goblet_id)
    if goblet.retired_at is not None:
        raise GobletRetired(
            f"Goblet {goblet.address} is no longer in use.",
            goblet_id=goblet.id,
            address=goblet.address,
        )
    canister, tank = canister_in_use(db, canister_id)
    if goblet.canister_id == canister.id and tier in (None, goblet.tier):
        raise HangsThereAlready(
            f"Goblet {goblet.address} hangs in this canister already. Choose another one.",
            address=goblet.address,
        )
    rehung = _into(db, tank, canister, [goblet], tier=tier)
    return Planned(tank, [goblet], Relocation(rehung), "canister_id")


def goblets_into(db: Session, canister_id: UUID, *, into_canister_id: UUID) -> Planned:
    """All goblets of a canister go into another one; the emptied canister stays where it is.

    Raises UnknownPlace, CanisterRetired, TankRetired, HangsThereAlready, NothingToMove.
    """
    source, _ = canister_in_use(db, canister_id)
    target, tank = canister_in_use(db, into_canister_id)
    if source.id == target.id:
        raise HangsThereAlready("The goblets hang in this canister already. Choose another one.")
    goblets = goblets_in(db, source.id)
    if not goblets:
        raise NothingToMove("There is no goblet in this canister. Hang the canister itself.")
    rehung = _into(db, tank, target, goblets, tier=None)
    return Planned(tank, goblets, Relocation(rehung), "canister_id")


def canister_into(
    db: Session, canister_id: UUID, *, tank_id: UUID, number: int | None = None
) -> Planned:
    """A canister with its goblets goes into a tank, under this number or the lowest free one.

    Raises UnknownPlace, CanisterRetired, TankRetired, HangsThereAlready, NumberTaken.
    """
    canister, _ = canister_in_use(db, canister_id)
    tank = _tank_in_use(db, tank_id)
    if tank.id == canister.tank_id and number in (None, canister.number):
        raise HangsThereAlready(
            f"This canister hangs in {tank.name} as number {canister.number} already. "
            "Choose another tank, or another number.",
            number=canister.number,
        )
    taken = numbers_in(db, tank.id)
    if number in taken:
        raise NumberTaken(
            f"{tank.name} has a canister {number} already. "
            f"{relocate_rules.next_number(taken)} is free.",
            number=number,
            next_number=relocate_rules.next_number(taken),
        )
    hook = (tank.id, number or relocate_rules.next_number(taken))
    goblets = goblets_in(db, canister.id)
    rehung = _hung_with(db, tank, canister, hook[1], goblets)
    whole = CanisterRehung(canister.id, (canister.tank_id, canister.number), hook)
    return Planned(tank, goblets, Relocation(rehung, whole), "tank_id")


def foreseen(db: Session, planned: Planned, now: datetime) -> Relocated:
    """What it would come to; nothing is changed. Raises QuarantinedTank."""
    warnings = relocate_warnings.weigh(
        db, planned.tank, planned.goblets, planned.relocation, now=now, field=planned.field
    )
    straws = count_straws(db, col(Goblet.id).in_([goblet.id for goblet in planned.goblets]))
    return Relocated(_beside(planned), straws, warnings)


def carry_out(db: Session, act: Act, planned: Planned, reason: str | None) -> Relocated:
    """Do it: one entry, the map after it. Raises QuarantinedTank, BeforeWhatItFollows."""
    done = foreseen(db, planned, act.recorded_at)
    movements = lines_for(db, act, [goblet.id for goblet in planned.goblets])
    facts = relocate_rules.facts_of(planned.relocation)
    seq = book(db, act, "relocate", movements, reason=reason, facts=facts)
    hang(db, act, seq, planned.relocation)
    return done


def _beside(planned: Planned) -> list[tuple[Goblet, Rehung]]:
    return list(zip(planned.goblets, planned.relocation.goblets, strict=True))


def canister_in_use(db: Session, canister_id: UUID) -> tuple[Canister, Tank]:
    """The canister and its tank. Raises UnknownPlace, CanisterRetired, TankRetired."""
    canister = db.get(Canister, canister_id)
    if canister is None:
        raise UnknownPlace("There is no such canister.", canister_id=canister_id)
    tank = _tank_in_use(db, canister.tank_id)
    if canister.retired_at is not None:
        raise CanisterRetired(
            f"Canister {canister.number} of {tank.name} is no longer in use.",
            canister_id=canister.id,
        )
    return canister, tank


def _tank_in_use(db: Session, tank_id: UUID) -> Tank:
    tank = db.get(Tank, tank_id)
    if tank is None:
        raise UnknownPlace("There is no such tank.", tank_id=tank_id)
    if tank.retired_at is not None:
        raise TankRetired(f"{tank.name} is no longer in use.", tank_id=tank.id)
    return tank


def goblets_in(db: Session, canister_id: UUID) -> list[Goblet]:
    """The goblets in use in a canister, as they hang."""
    return list(
        db.exec(
            select(Goblet)
            .where(Goblet.canister_id == canister_id, col(Goblet.retired_at).is_(None))
            .order_by(col(Goblet.tier), col(Goblet.position), col(Goblet.address))
        )
    )


def numbers_in(db: Session, tank_id: UUID) -> set[int]:
    """The numbers of the canisters in use in a tank."""
    in_use = (Canister.tank_id == tank_id, col(Canister.retired_at).is_(None))
    return set(db.exec(select(Canister.number).where(*in_use)))


def _into(
    db: Session, tank: Tank, canister: Canister, goblets: Sequence[Goblet], *, tier: str | None
) -> list[Rehung]:
    """Each goblet at the next free position of its tier in another's canister."""
    moving = {goblet.id for goblet in goblets}
    stay = [one for one in goblets_in(db, canister.id) if one.id not in moving]
    taken = {(one.tier, one.position) for one in stay}
    wanted = [(one, tier or one.tier, None) for one in goblets]
    return _spots(db, tank, canister, canister.number, wanted=wanted, taken=taken)


def _hung_with(
    db: Session, tank: Tank, canister: Canister, number: int, goblets: Sequence[Goblet]
) -> list[Rehung]:
    """Each goblet where it stands in its canister, which goes to another place."""
    wanted = [(one, one.tier, one.position) for one in goblets]
    return _spots(db, tank, canister, number, wanted=wanted, taken=set())


def _spots(
    db: Session,
    tank: Tank,
    canister: Canister,
    number: int,
    *,
    wanted: Sequence[tuple[Goblet, str, int | None]],
    taken: set[tuple[str, int]],
) -> list[Rehung]:
    """Where each goblet hangs next.

    No new address is one that any goblet has now, also of those that move: so the addresses can be
    written one by one.
    """
    start = f"{tank.short_name}-{number}-"
    addresses = set(
        db.exec(
            select(Goblet.address).where(
                col(Goblet.retired_at).is_(None), col(Goblet.address).startswith(start)
            )
        )
    )
    rehung = []
    for goblet, tier, position in wanted:
        place, address = relocate_rules.next_spot(
            tier,
            position,
            taken=taken,
            addresses=addresses - {goblet.address},
            address_of=lambda tier, place: tanks_rules.goblet_address(
                tank.short_name, number, tier, place
            ),
        )
        taken.add((tier, place))
        addresses.add(address)
        rehung.append(
            Rehung(
                goblet.id,
                spot_of(goblet),
                Spot(canister.id, tier, place, address),
                by_hand=goblet.address != _address_by_rule(db, goblet),
            )
        )
    return rehung


def spot_of(goblet: Goblet) -> Spot:
    """Where a goblet hangs now."""
    return Spot(goblet.canister_id, goblet.tier, goblet.position, goblet.address)


def _address_by_rule(db: Session, goblet: Goblet) -> str:
    canister = db.get_one(Canister, goblet.canister_id)
    short_name = db.get_one(Tank, canister.tank_id).short_name
    return tanks_rules.goblet_address(short_name, canister.number, goblet.tier, goblet.position)


def lines_for(db: Session, act: Act, goblet_ids: Sequence[UUID]) -> list[Movement]:
    """A line for each straw in these goblets: it stays there, and all that is known of it.

    Raises BeforeWhatItFollows when the act is said to be earlier than what put them there.
    """
    straws = straws_standing_in(db, goblet_ids)
    stays = [
        Movement(straw, Place("stored", straw.goblet_id), straw.provisional, straw.since)
        for straw in straws
    ]
    refuse_straws_too_early([Movement(one.straw, one.to) for one in stays], act.occurred_at)
    hung_at = last_hung_at(db, goblet_ids)
    if hung_at is not None and act.occurred_at < hung_at:
        raise too_early("It came to its place only after the time you give.", since=hung_at)
    return stays


def straws_standing_in(db: Session, goblet_ids: Sequence[UUID]) -> list[StrawNow]:
    """The straws in these goblets."""
    return [
        straw
        for some in in_parts(goblet_ids)
        for straw in straws_where(
            db, col(Straw.state) == "stored", col(Straw.goblet_id).in_(some)
        )
    ]  # fmt: skip


def last_hung_at(db: Session, goblet_ids: Sequence[UUID]) -> datetime | None:
    """When any of these goblets came to its place; None for those of the first layout."""
    moments = [
        moment
        for some in in_parts(goblet_ids)
        for moment in db.execute(
            sa_select(func.max(Entry.occurred_at))
            .join(GobletMove, col(GobletMove.entry_seq) == col(Entry.seq))
            .where(col(GobletMove.goblet_id).in_(some))
        ).scalars()
        if moment is not None
    ]
    return max(moments, default=None)


def hang(db: Session, act: Act, seq: int, relocation: Relocation) -> None:
    """Change the map, and keep beside entry `seq` where each goblet was before."""
    if relocation.canister is not None:
        canister = db.get_one(Canister, relocation.canister.canister_id)
        canister.tank_id, canister.number = relocation.canister.after
        db.add(canister)
    for one in relocation.goblets:
        goblet = db.get_one(Goblet, one.goblet_id)
        for name in ("canister_id", "tier", "position", "address"):
            setattr(goblet, name, getattr(one.after, name))
        db.add(goblet)
        db.add(_move(act, seq, one))
    db.flush()


def _move(act: Act, seq: int, one: Rehung) -> Any:
    return GobletMove(
        id=act.new_id(),
        entry_seq=seq,
        goblet_id=one.goblet_id,
        from_canister_id=one.before.canister_id,
        to_canister_id=one.after.canister_id,
        from_address=one.before.address,
        to_address=one.after.address,
    )
