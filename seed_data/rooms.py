"""Where the tanks stand, and how they are filled: two rooms, fill days, a supply vessel.

The small room has no fan, so what would be left to breathe in it is worth looking at.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from decimal import Decimal

from seed_data.chronicle import Chronicle, Moment, Step
from service.bank.rooms_actions import add_room
from service.bank.rooms_rules import NewRoom
from service.bank.search import tanks_in_use
from service.bank.tanks_actions import change_tank
from service.kernel.acts import Act
from service.nitrogen.rounds_plan import change_plan


@dataclass(frozen=True, slots=True)
class RoomEntered:
    """A room came into the book, and which tanks stand in it."""

    room: NewRoom
    tanks: tuple[str, ...]
    wall: str

    def steps(self) -> Iterator[Step]:
        """The manager measured it."""
        yield Step(Moment(400, self.wall), "magnus", self._do)

    def _do(self, chronicle: Chronicle, act: Act) -> None:
        room = add_room(chronicle.db, act, self.room)
        for tank in tanks_in_use(chronicle.db):
            if tank.name in self.tanks:
                own = replace(act, id=act.new_id())
                change_tank(chronicle.db, own, tank, {"room_id": room.id})


@dataclass(frozen=True, slots=True)
class RoundsPlanned:
    """Mondays and Thursdays, out of a vessel that a lorry fills every four weeks."""

    days_ago: int
    lorry_in_days: tuple[int, ...]

    def steps(self) -> Iterator[Step]:
        """The manager read the vessel's gauge."""
        yield Step(Moment(self.days_ago, "16:10"), "magnus", self._do)

    def _do(self, chronicle: Chronicle, act: Act) -> None:
        days = [chronicle.today + timedelta(days=days) for days in self.lorry_in_days]
        changes = {
            "fill_weekdays": [0, 3],
            "supply_capacity_litres": Decimal(180),
            "supply_litres": Decimal(96),
            "supply_loss_litres_per_day": Decimal("1.8"),
            "deliveries": [{"on": day.isoformat(), "litres": "120"} for day in days],
        }
        change_plan(chronicle.db, act, changes)


COLD_STORE = NewRoom(
    name="Cold store",
    volume_m3=Decimal(54),
    air_changes_per_hour=Decimal(4),
    ventilation="exhaust",
)
QUARANTINE = NewRoom(
    name="Quarantine closet",
    volume_m3=Decimal(16),
    air_changes_per_hour=Decimal(0),
    ventilation="none",
)

ROOMS = (
    RoomEntered(COLD_STORE, ("Heron", "Kestrel", "Plover"), "10:20"),
    RoomEntered(QUARANTINE, ("Wren",), "10:40"),
)
ROUNDS = RoundsPlanned(days_ago=1, lorry_in_days=(12, 40, 68))
