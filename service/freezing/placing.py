"""Where the straws of a batch could go: free places proposed, best first.

Pure. The order of what counts:

1. Never quarantined beside released stock. A batch on hold shares no goblet with straws that are
   free to use, and goes into quarantine tanks if they have room for all of it; a batch that is
   free to use goes neither into a quarantine tank nor into a goblet with straws on hold.
2. The batch together: as few goblets as can be (exact), then in one canister, then in one tank.
3. Beside what belongs there, by `Nearness`: beside the same batch, then near the stallion's other
   straws, and in a goblet with another stallion's straws only where nothing else serves.
4. Little space left over: tight goblets before roomy ones, and all but the last are filled. Not an
   exact minimum over all combinations; the person may choose otherwise.
5. The order of addresses, so that the same bank gets the same answer.
"""

import re
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from uuid import UUID


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """A goblet as seen by one batch of one stallion that needs a place.

    Straws of the batch count among the stallion's too. `has_released_stock` and `has_held_stock`
    speak of this goblet, `quarantine` of its tank.
    """

    goblet_id: UUID
    canister_id: UUID
    tank_id: UUID
    address: str
    capacity_straws: int
    free_straws: int
    straws_of_batch: int = 0
    straws_of_stallion: int = 0
    canister_has_stallion: bool = False
    tank_has_stallion: bool = False
    quarantine: bool = False
    has_released_stock: bool = False
    has_held_stock: bool = False


class Nearness(IntEnum):
    """How well a goblet suits a batch by what is in it and around it, best first."""

    BATCH = 0
    STALLION = 1
    EMPTY_IN_CANISTER = 2
    EMPTY_IN_TANK = 3
    EMPTY = 4
    SHARED_WITH_STALLION = 5
    SHARED_IN_CANISTER = 6
    SHARED_IN_TANK = 7
    SHARED = 8


_WHY = {
    Nearness.BATCH: "beside straws of this batch",
    Nearness.STALLION: "beside the stallion's other straws",
    Nearness.EMPTY_IN_CANISTER: "an empty goblet in a canister with the stallion's straws",
    Nearness.EMPTY_IN_TANK: "an empty goblet in a tank with the stallion's straws",
    Nearness.EMPTY: "an empty goblet",
    Nearness.SHARED_WITH_STALLION: "holds the stallion's straws, and another stallion's too",
    Nearness.SHARED_IN_CANISTER: "shared with another stallion; the stallion's are in the canister",
    Nearness.SHARED_IN_TANK: "shared with another stallion; the stallion's are in the tank",
    Nearness.SHARED: "shared with another stallion",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """So many straws into this goblet, and why there."""

    goblet_id: UUID
    address: str
    straws: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """Places for all straws but `missing_straws`, for which the bank has no room."""

    places: tuple[Place, ...]
    missing_straws: int


def propose(rooms: Iterable[Room], *, straws: int, held: bool) -> Proposal:
    """Places for `straws` straws of a batch that is on hold (`held`) or free to use."""
    if straws < 1:
        raise ValueError(f"places for {straws} straws")
    open_rooms = _rooms_open_to(rooms, straws=straws, held=held)
    space = sum(room.free_straws for room in open_rooms)
    placed = min(straws, space)
    chosen = _choose(open_rooms, placed) if placed else []
    return Proposal(places=tuple(_fill(chosen, placed, held=held)), missing_straws=straws - placed)


def nearness(room: Room) -> Nearness:
    """The goblet's rank for this batch."""
    if room.straws_of_batch:
        return Nearness.BATCH
    taken = room.capacity_straws - room.free_straws
    shared = taken > room.straws_of_stallion
    if room.straws_of_stallion:
        return Nearness.SHARED_WITH_STALLION if shared else Nearness.STALLION
    if room.canister_has_stallion:
        return Nearness.SHARED_IN_CANISTER if shared else Nearness.EMPTY_IN_CANISTER
    if room.tank_has_stallion:
        return Nearness.SHARED_IN_TANK if shared else Nearness.EMPTY_IN_TANK
    return Nearness.SHARED if shared else Nearness.EMPTY


def _rooms_open_to(rooms: Iterable[Room], *, straws: int, held: bool) -> list[Room]:
    free = [room for room in rooms if room.free_straws > 0]
    if not held:
        return [room for room in free if not (room.quarantine or room.has_held_stock)]
    apart = [room for room in free if not room.has_released_stock]
    quarantine = [room for room in apart if room.quarantine]
    suffices = sum(room.free_straws for room in quarantine) >= straws
    return quarantine if suffices else apart


def _choose(rooms: Sequence[Room], straws: int) -> list[Room]:
    """The fewest goblets with room for `straws`, within the narrowest part of the bank."""
    goblets = _fewest_goblets(rooms, straws)
    canisters = _split(rooms, lambda room: room.canister_id)
    tanks = _split(rooms, lambda room: room.tank_id)
    selections = next(
        found
        for parts in (canisters, tanks, [list(rooms)])
        if (
            found := [
                _choose_within(inside, straws=straws, goblets=goblets)
                for inside in parts
                if _largest(inside, goblets) >= straws
            ]
        )
    )
    return min(selections, key=lambda selection: _rank(selection, straws))


def _fewest_goblets(rooms: Sequence[Room], straws: int) -> int:
    """Exact: no other set of as many goblets has more room than the roomiest ones."""
    space = 0
    for number, free in enumerate(sorted((room.free_straws for room in rooms), reverse=True), 1):
        space += free
        if space >= straws:
            return number
    raise ValueError(f"no room for {straws} straws")


def _choose_within(rooms: Sequence[Room], *, straws: int, goblets: int) -> list[Room]:
    """`goblets` of the rooms, together roomy enough: the nearest (exact), then the tightest."""
    nearest = _nearest(rooms, straws=straws, goblets=goblets)
    return sorted(_tightened(nearest, rooms, straws=straws), key=_suitability)


def _nearest(rooms: Iterable[Room], *, straws: int, goblets: int) -> list[Room]:
    """As many goblets of the best rank as can be part of a solution, then of the next, and so on.

    A goblet can be part if the roomiest others make up for what it lacks; of equal rank the
    roomiest leave the most to the ranks below. One pass is enough: what a goblet has to hold never
    shrinks as others are chosen, so none passed over fits later.
    """
    roomiest_first = sorted(
        rooms, key=lambda room: (-room.free_straws, _in_address_order(room.address))
    )
    others = [room.free_straws for room in reversed(roomiest_first[: goblets - 1])]
    others_space = sum(others)
    chosen: list[Room] = []
    for room in sorted(roomiest_first, key=nearness):
        if room.free_straws < straws - others_space:
            continue
        chosen.append(room)
        straws -= room.free_straws
        if not others:
            break
        # It was one of the roomiest itself, or takes the place of the least of them.
        others_space -= others.pop(max(0, bisect_right(others, room.free_straws) - 1))
    return chosen


def _tightened(chosen: Iterable[Room], rooms: Iterable[Room], *, straws: int) -> list[Room]:
    """Each goblet exchanged for the tightest of its rank that still leaves room for all."""
    tight = list(chosen)
    taken = {room.goblet_id for room in tight}
    unused = sum(room.free_straws for room in tight) - straws
    spare: defaultdict[Nearness, list[Room]] = defaultdict(list)
    for room in sorted(rooms, key=_suitability):
        if room.goblet_id not in taken:
            spare[nearness(room)].append(room)
    for index, room in enumerate(tight):
        alike = spare[nearness(room)]
        least = room.free_straws - unused
        found = bisect_left(alike, least, key=lambda other: other.free_straws)
        if found < len(alike) and _suitability(alike[found]) < _suitability(room):
            tight[index] = alike.pop(found)
            unused -= room.free_straws - tight[index].free_straws
    return tight


def _suitability(room: Room) -> tuple[object, ...]:
    return nearness(room), room.free_straws, _in_address_order(room.address)


def _rank(chosen: Sequence[Room], straws: int) -> tuple[object, ...]:
    return (
        [nearness(room) for room in chosen],
        sum(room.free_straws for room in chosen) - straws,
        [_in_address_order(room.address) for room in chosen],
    )


def _fill(chosen: Iterable[Room], straws: int, *, held: bool) -> Iterable[Place]:
    for room in chosen:
        here = min(straws, room.free_straws)
        straws -= here
        why = _WHY[nearness(room)]
        if held and room.quarantine:
            why = f"in quarantine, {why}"
        yield Place(goblet_id=room.goblet_id, address=room.address, straws=here, why=why)


def _split(rooms: Iterable[Room], part: Callable[[Room], UUID]) -> list[list[Room]]:
    parts: defaultdict[UUID, list[Room]] = defaultdict(list)
    for room in rooms:
        parts[part(room)].append(room)
    return list(parts.values())


def _largest(rooms: Iterable[Room], number: int) -> int:
    """The room of the `number` roomiest goblets together."""
    return sum(sorted((room.free_straws for room in rooms), reverse=True)[:number])


def _in_address_order(address: str) -> tuple[list[str | int], str]:
    """Numbers by value: canister 10 comes after canister 9."""
    parts: list[str | int] = [*re.split(r"([0-9]+)", address)]
    parts[1::2] = map(int, parts[1::2])
    return parts, address
