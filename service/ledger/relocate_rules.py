"""Where a goblet hangs next: refusals, the next free place and its address, an act as it is kept.

Pure: no HTTP, no database, no clock.
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import count
from typing import Any
from uuid import UUID

from service.kernel.errors import Conflict, Invalid


class HangsThereAlready(Invalid):
    """A goblet or canister that is to go where it is."""

    code = "already-there"
    title = "It hangs there already"


class WhereTo(Invalid):
    """Neither a tank nor a canister to go to, or both."""

    code = "name-the-place"
    title = "Say where it goes"


class NothingToMove(Invalid):
    """A canister without goblets, whose goblets are to go elsewhere."""

    code = "nothing-to-move"
    title = "There is no goblet in it"


class CanisterRetired(Conflict):
    """A canister that is no longer in use."""

    code = "canister-retired"
    title = "This canister is no longer in use"


class NumberTaken(Conflict):
    """Another canister of the tank has this number."""

    code = "number-taken"
    title = "Another canister has this number"


class PlaceTaken(Conflict):
    """Another goblet stands where this one is to go back to."""

    code = "place-taken"
    title = "Another goblet stands there by now"


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a goblet hangs: `position` counts within its tier, from 1; the address is its plate."""

    canister_id: UUID
    tier: str
    position: int
    address: str


@dataclass(frozen=True, slots=True)
class Rehung:
    """A goblet that hangs elsewhere now. `by_hand`: a person chose the address it had before."""

    goblet_id: UUID
    before: Spot
    after: Spot
    by_hand: bool


@dataclass(frozen=True, slots=True)
class CanisterRehung:
    """A canister that hangs elsewhere with all its goblets: (tank, number) before and after."""

    canister_id: UUID
    before: tuple[UUID, int]
    after: tuple[UUID, int]


@dataclass(frozen=True, slots=True)
class Relocation:
    """One act: the goblets that changed their places, and the canister when it went as a whole."""

    goblets: Sequence[Rehung]
    canister: CanisterRehung | None = None


def next_spot(
    tier: str,
    wanted: int | None,
    *,
    taken: Collection[tuple[str, int]],
    addresses: Collection[str],
    address_of: Callable[[str, int], str],
) -> tuple[int, str]:
    """The position and address that a goblet gets: the wanted one if free, else the lowest.

    Free is a position where no goblet stands (`taken`) and whose address no other goblet has
    (`addresses`): one may have been given by hand.
    """
    for position in (*([wanted] if wanted else []), *range(1, len(taken) + len(addresses) + 2)):
        address = address_of(tier, position)
        if (tier, position) not in taken and address not in addresses:
            return position, address
    raise AssertionError("more positions were tried than can be taken")


def next_number(taken: Collection[int]) -> int:
    """The lowest number that no canister of a tank has."""
    return next(number for number in count(1) if number not in taken)


def facts_of(act: Relocation) -> dict[str, Any]:
    """The act as an entry keeps it: hashed, and enough to take it back."""
    facts: dict[str, Any] = {
        "goblets": [
            {
                "goblet": one.goblet_id.hex,
                "from": _spot_facts(one.before),
                "to": _spot_facts(one.after),
                "by_hand": one.by_hand,
            }
            for one in act.goblets
        ]
    }
    if act.canister is not None:
        facts["canister"] = {
            "canister": act.canister.canister_id.hex,
            "from": _hook_facts(act.canister.before),
            "to": _hook_facts(act.canister.after),
        }
    return facts


def relocation_in(facts: Mapping[str, Any]) -> Relocation:
    """The act that an entry keeps."""
    canister = facts.get("canister")
    return Relocation(
        [
            Rehung(UUID(one["goblet"]), _spot(one["from"]), _spot(one["to"]), one["by_hand"])
            for one in facts["goblets"]
        ],
        canister
        and CanisterRehung(
            UUID(canister["canister"]), _hook(canister["from"]), _hook(canister["to"])
        ),
    )


def _spot_facts(spot: Spot) -> dict[str, Any]:
    return {
        "canister": spot.canister_id.hex,
        "tier": spot.tier,
        "position": spot.position,
        "address": spot.address,
    }


def _spot(facts: Mapping[str, Any]) -> Spot:
    return Spot(UUID(facts["canister"]), facts["tier"], facts["position"], facts["address"])


def _hook_facts(hook: tuple[UUID, int]) -> dict[str, Any]:
    return {"tank": hook[0].hex, "number": hook[1]}


def _hook(facts: Mapping[str, Any]) -> tuple[UUID, int]:
    return UUID(facts["tank"]), facts["number"]
