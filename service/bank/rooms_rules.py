"""Decisions about rooms: what a room is taken to be unless its record says otherwise.

Pure: no HTTP, no database, no clock. What oxygen is left in a room is reckoned above.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from service.bank.rules import Warned
from service.kernel.errors import Conflict

#: Which way a fan moves the air that is counted; `none`: no fan, whatever leaks.
Ventilation = Literal["supply", "exhaust", "none"]

#: Litres of gas that a litre of liquid nitrogen becomes: Lawrence Berkeley National Laboratory,
#: PUB-3000, chapter 29. Others say 680 (worksheet), 682 (a university's guideline, 2014), 700
#: (University of Oxford; Fermilab); in the mountains it is more.
EXPANSION_RATIO = Decimal(696)

#: Oxygen in fresh air: sources say 20.9 to 21 %; the lowest is the safe one.
OXYGEN_PERCENT = Decimal("20.9")

#: The rated loss is doubled as an allowance for insulation that has aged: University of Oxford,
#: Policy Statement S4/03, Appendix 1.
AGEING_FACTOR = Decimal(2)

#: A fan that changes the air more often than this is a slip of the hand, or a wind (our choice).
MANY_AIR_CHANGES = 30


class RoomNameTaken(Conflict):
    """A room in use has this name already."""

    code = "name-taken"
    title = "Another room has this name"


class RoomRetired(Conflict):
    """A room that is no longer in use."""

    code = "room-retired"
    title = "This room is no longer in use"


class TanksStandHere(Conflict):
    """A room is not closed over its tanks."""

    code = "tanks-stand-here"
    title = "Tanks stand in this room"


@dataclass(frozen=True, slots=True, kw_only=True)
class NewRoom:
    """A room to be entered."""

    name: str
    volume_m3: Decimal
    air_changes_per_hour: Decimal
    ventilation: Ventilation
    expansion_ratio: Decimal = EXPANSION_RATIO
    oxygen_percent: Decimal = OXYGEN_PERCENT
    ageing_factor: Decimal = AGEING_FACTOR


def weigh_room(*, ventilation: str, air_changes_per_hour: Decimal) -> list[Warned]:
    """What is unusual about a room: a fan that stands still, changes of air without one."""
    field = "air_changes_per_hour"
    if ventilation == "none" and air_changes_per_hour > 0:
        message = "Without a fan no change of air is counted: an open door is not ventilation."
        return [Warned("air-changes-without-fan", field, message)]
    if ventilation != "none" and air_changes_per_hour == 0:
        message = "A fan that changes no air counts as none."
        return [Warned("fan-without-air-changes", field, message)]
    if air_changes_per_hour > MANY_AIR_CHANGES:
        message = f"{air_changes_per_hour} changes of air an hour are many. Check the figure."
        return [Warned("many-air-changes", field, message)]
    return []


def refuse_over_tanks(room_name: str, tank_names: Sequence[str]) -> None:
    """Raise TanksStandHere while any does."""
    if tank_names:
        raise TanksStandHere(
            f"{', '.join(tank_names)} stand in {room_name}. Say where they stand now, in each "
            "tank's record, then retire the room.",
            tanks=list(tank_names),
        )
