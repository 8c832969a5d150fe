"""What is done to rooms: entering one, changing it, taking it out of use; which tanks stand where.

Inside the write transaction of the caller.
"""

from collections import defaultdict
from collections.abc import Collection
from uuid import UUID

from sqlmodel import Session, col, select, tuple_

from service.bank import rooms_rules, rules
from service.bank.records import Changes, Facts, apply, facts_of, kept
from service.bank.rooms import Room
from service.bank.rooms_rules import NewRoom
from service.bank.search import After
from service.bank.store import Tank
from service.kernel.acts import Act
from service.kernel.database import in_parts


def add_room(db: Session, act: Act, new: NewRoom) -> Room:
    """Enter a room. Raises RoomNameTaken."""
    _refuse_taken(db, new.name, but=act.id)
    room = Room(
        id=act.id,
        name=new.name,
        volume_m3=new.volume_m3,
        air_changes_per_hour=new.air_changes_per_hour,
        ventilation=new.ventilation,
        expansion_ratio=new.expansion_ratio,
        oxygen_percent=new.oxygen_percent,
        ageing_factor=new.ageing_factor,
        created_at=act.recorded_at,
    )
    db.add(room)
    db.flush()
    return room


def change_room(db: Session, act: Act, room: Room, changes: Changes) -> Room:
    """Change what is given. Raises RoomRetired, RoomNameTaken."""
    refuse_retired(room)
    with kept(db, act, "room", room.id, lambda: facts_of(room)):
        apply(room, changes)
        _refuse_taken(db, room.name, but=room.id)
    return room


def retire_room(db: Session, act: Act, room: Room, reason: str) -> Room:
    """Take a room out of use in which no tank stands. Raises RoomRetired, TanksStandHere."""
    refuse_retired(room)
    rooms_rules.refuse_over_tanks(
        room.name, [tank.name for tank in tanks_in(db, [room.id])[room.id]]
    )

    def facts() -> Facts:
        return facts_of(room) | ({"reason": reason} if room.retired_at else {})

    with kept(db, act, "room", room.id, facts):
        room.retired_at = act.recorded_at
    return room


def room_of(db: Session, room_id: UUID) -> Room:
    """The room. Raises UnknownRoom."""
    room = db.get(Room, room_id)
    if room is None:
        raise rules.UnknownRoom("No room has this id. Choose one of the list.", room_id=room_id)
    return room


def refuse_unfit(db: Session, room_id: UUID | None) -> None:
    """Raise UnknownRoom or RoomRetired unless a tank may stand there; None is no room."""
    if room_id is not None:
        refuse_retired(room_of(db, room_id))


def refuse_retired(room: Room) -> None:
    """Raise RoomRetired for a room that is no longer in use."""
    if room.retired_at is not None:
        raise rooms_rules.RoomRetired(f"{room.name} was retired.", room_id=room.id)


def rooms_after(db: Session, after: After, limit: int) -> list[Room]:
    """Rooms by name, retired ones among them; one more than `limit` when there are more."""
    key = tuple_(col(Room.name), col(Room.id))
    some = select(Room).order_by(col(Room.name), col(Room.id)).limit(limit + 1)
    return list(db.exec(some if after is None else some.where(key > after)))


def tanks_in(db: Session, room_ids: Collection[UUID]) -> dict[UUID, list[Tank]]:
    """The tanks in use that stand in these rooms, by name."""
    found: dict[UUID, list[Tank]] = defaultdict(list)
    for some in in_parts(room_ids):
        for tank in db.exec(
            select(Tank)
            .where(col(Tank.room_id).in_(some), col(Tank.retired_at).is_(None))
            .order_by(col(Tank.name), col(Tank.id))
        ):
            assert tank.room_id is not None
            found[tank.room_id].append(tank)
    return found


def _refuse_taken(db: Session, name: str, *, but: UUID) -> None:
    for room in db.exec(select(Room).where(col(Room.retired_at).is_(None))):
        if room.id != but and rules.folded(room.name) == rules.folded(name):
            raise rooms_rules.RoomNameTaken(
                f"A room is called {room.name} already. Names of rooms differ in more than "
                "capitals and accents; choose another.",
                room_id=room.id,
            )
