"""Decisions about tanks: a dipstick table that can be right, a layout, addresses for plates.

Pure: no HTTP, no database, no clock. Levels are in cm, contents in litres of liquid nitrogen.
"""

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from uuid import UUID

from service.bank.rules import BadAddress, BadCalibration, BadLayout, Tier, Warned, folded

#: A tank of more places than this is a typing error, and would make an answer of many megabytes.
MOST_GOBLETS = 10_000

SHORT_NAME_LENGTH = 8

_LONGEST_ADDRESS = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationPoint:
    """So many litres when the dipstick shows so many cm."""

    level_cm: Decimal
    litres: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class NewGoblet:
    """A goblet to be hung: `position` counts within its tier, from 1."""

    tier: Tier
    position: int
    capacity_straws: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NewTank:
    """A tank to be set up, with all that hangs in it (canisters by number, from 1)."""

    name: str
    short_name: str | None
    capacity_litres: Decimal
    rated_loss_litres_per_day: Decimal
    minimum_level_cm: Decimal
    empty_weight_kg: Decimal | None
    calibration: Sequence[CalibrationPoint]
    quarantine: bool
    canisters: Sequence[Sequence[NewGoblet]]
    room_id: UUID | None = None


def check_calibration(
    points: Sequence[CalibrationPoint], *, capacity_litres: Decimal, minimum_level_cm: Decimal
) -> None:
    """Raise BadCalibration unless every level between the ends has exactly one volume.

    Both columns rise; the top may pass the capacity by 2 %, since makers round it (our choice);
    the minimum level lies within the table, or the alarm could never be reckoned.
    """
    errors = list(_faults(points, capacity_litres))
    if len(points) < 2:
        errors.append(("calibration", "needs at least two points"))
    elif not points[0].level_cm <= minimum_level_cm <= points[-1].level_cm:
        errors.append(("minimum_level_cm", "lies outside the calibration table"))
    if errors:
        raise BadCalibration(
            f"{errors[0][0]}: {errors[0][1]}. Copy the table from the tank's papers, lowest level "
            "first.",
            errors=[{"field": field, "message": message} for field, message in errors],
        )


def _faults(
    points: Sequence[CalibrationPoint], capacity_litres: Decimal
) -> Iterator[tuple[str, str]]:
    for place, point in enumerate(points):
        for name in ("level_cm", "litres"):
            field, value = f"calibration[{place}].{name}", getattr(point, name)
            if value < 0:
                yield field, "is negative"
            if place and value <= getattr(points[place - 1], name):
                yield field, "must be above the point before it"
        if point.litres > capacity_litres * Decimal("1.02"):
            yield f"calibration[{place}].litres", "is more than the tank holds"


def weigh_tank(
    points: Sequence[CalibrationPoint],
    *,
    capacity_litres: Decimal,
    rated_loss_litres_per_day: Decimal,
) -> list[Warned]:
    """What is unusual about a tank. The limits are our own choice.

    A table that ends well below the capacity refuses the reading of a full tank. Storage dewars
    hold their nitrogen for weeks to a year (common practice, no source).
    """
    warnings = []
    top = points[-1].litres
    if top < capacity_litres * Decimal("0.95"):
        message = (
            f"The table ends at {plain(top)} L, the tank holds {plain(capacity_litres)} L: "
            "a fuller tank cannot be read."
        )
        warnings.append(Warned("calibration-ends-low", "calibration", message))
    days = capacity_litres / rated_loss_litres_per_day
    if not 7 <= days <= 600:
        message = f"By these figures a full tank lasts {days:.0f} days. Check both."
        warnings.append(Warned("unusual-loss", "rated_loss_litres_per_day", message))
    return warnings


def even_layout(
    *, canisters: int, goblets_per_canister: int, straws_per_goblet: int
) -> list[list[NewGoblet]]:
    """The same goblets in every canister, half of them in each tier."""
    one = in_tiers([(None, straws_per_goblet)] * goblets_per_canister)
    return [one] * canisters


def in_tiers(goblets: Sequence[tuple[Tier | None, int]]) -> list[NewGoblet]:
    """A canister's goblets, each (tier, capacity), numbered within their tiers.

    Where the tier is not told, the first half (the larger one when odd) stands in the lower tier:
    that one hangs deepest in the nitrogen.
    """
    lower = (len(goblets) + 1) // 2
    counts = {"lower": 0, "upper": 0}
    hung = []
    for place, (told, capacity) in enumerate(goblets):
        tier: Tier = told or ("lower" if place < lower else "upper")
        counts[tier] += 1
        hung.append(NewGoblet(tier=tier, position=counts[tier], capacity_straws=capacity))
    return hung


def refuse_huge_layout(goblets: int) -> None:
    """Raise BadLayout for more places than any tank has."""
    if goblets > MOST_GOBLETS:
        raise BadLayout(
            f"These are {goblets} goblets; a tank has at most {MOST_GOBLETS}. "
            "Check the number of canisters and of goblets in each.",
            errors=[{"field": "layout", "message": f"more than {MOST_GOBLETS} goblets"}],
        )


def goblet_address(short_name: str, canister_number: int, tier: str, position: int) -> str:
    """What stands on a goblet's plate: tank, canister, tier and place in it, as `NORTH-2-U1`.

    The last two parts are always canister and place, so as long as short names differ, addresses
    do. Only capitals, digits and hyphens: anyone can type it, and read it through fog.
    """
    return f"{short_name}-{canister_number}-{tier[0].upper()}{position}"


def short_name(name: str, taken: Collection[str]) -> str:
    """What a tank's addresses begin with: the name's first letters and digits, not yet taken.

    A name without any letter A to Z or digit (in another script, say) becomes `T`; a number after
    it tells alike ones apart.
    """
    plain_name = "".join(re.findall("[A-Z0-9]", folded(name).upper()))
    stem = plain_name[:SHORT_NAME_LENGTH] or "T"
    candidate, number = stem, 1
    while candidate in taken:
        number += 1
        candidate = f"{stem[: SHORT_NAME_LENGTH - len(str(number))]}{number}"
    return candidate


def weigh_readdressing(goblets: int, short_name: str) -> list[Warned]:
    """What a new short name asks of the people in the cold store."""
    if not goblets:
        return []
    message = (
        f"{goblets} addresses now begin with {short_name}. Print their plates anew and change them "
        "before anyone looks for straws here."
    )
    return [Warned("plates-out-of-date", "name", message)]


def read_address(text: str) -> str:
    """An address that a person chose, in its one spelling. Raises BadAddress."""
    address = text.strip().upper()
    if len(address) > _LONGEST_ADDRESS or not re.fullmatch("[A-Z0-9]+([-./][A-Z0-9]+)*", address):
        raise BadAddress(
            f"An address has at most {_LONGEST_ADDRESS} letters A to Z and digits, in parts with "
            "a hyphen, point or slash between them, such as NORTH-2-U1.",
            errors=[{"field": "address", "message": "cannot stand on a plate"}],
        )
    return address


def plain(amount: Decimal) -> str:
    """A figure in a sentence: no exponent, no trailing zeros."""
    return format(amount.normalize(), "f")
