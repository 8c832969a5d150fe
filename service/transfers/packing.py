"""The packing list: what a container holds, one row for each donor, mark and day of collection.

The columns are those of the table in the animal health certificate of Implementing Regulation (EU)
2021/403, from memory, and what the vet who receives the straws needs to thaw and use them: straws
per dose, date, concentration before freezing and the stallion's name travel with a dose (advice of
the World Breeding Federation for Sport Horses, second-hand), the thaw with its straws.

Pure: no HTTP, no database, no clock.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from service.bank.clearance import Found

#: Of what animal, and what it is: this book keeps nothing else.
SPECIES = "Equus caballus"
TYPE = "semen, frozen"

#: Said wherever the list is shown.
COLUMNS_AFTER = (
    "Columns after the animal health certificate of Implementing Regulation (EU) 2021/403, from "
    "memory. The certificate itself is the official vet's; compare with your authority's form."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What is known of some straws of one kind; what is unknown is None."""

    donor_name: str
    donor_identity: str | None
    donor_microchip: str | None
    breed: str | None
    straw_mark: str
    collected_on: date | None
    approval_number: str | None
    processing_approval_number: str | None
    straw_colour: str | None
    straw_volume_ml: Decimal | None
    concentration_million_per_ml: Decimal | None
    post_thaw_percent: Decimal | None
    straws_per_dose: int | None
    thaw: tuple[tuple[str, str], ...] | None
    tests: tuple[Found, ...]

    @property
    def missing(self) -> list[str]:
        """What the mark on a straw stands for and nobody knows, in words."""
        known = {
            "the day of collection": self.collected_on,
            "the identity number of the donor": self.donor_identity,
            "the approval number of the place of collection": self.approval_number,
        }
        return [name for name, value in known.items() if value is None]


@dataclass(frozen=True, slots=True)
class Row:
    """So many straws that have all of this in common, of one batch or of several."""

    contents: Contents
    batch_codes: tuple[str, ...]
    straws: int


def rows(counted: Iterable[tuple[Contents, str, int]]) -> list[Row]:
    """The rows out of (contents, batch code, straws), by donor, day and mark.

    What bears one mark and yet differs in anything else stays apart: a row says nothing untrue.
    """
    codes: dict[Contents, list[str]] = {}
    straws: Counter[Contents] = Counter()
    for contents, code, number in counted:
        codes.setdefault(contents, []).append(code)
        straws[contents] += number
    found = [Row(one, tuple(sorted(codes[one])), straws[one]) for one in codes]
    return sorted(found, key=lambda row: (*_order(row.contents), row.batch_codes))


def _order(contents: Contents) -> tuple[str, str, date, str]:
    day = contents.collected_on or date.min
    identity = contents.donor_identity or ""
    return contents.donor_name, identity, day, contents.straw_mark
