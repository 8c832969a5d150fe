"""What a straw must say, what is written there, and what is still lacking.

Commission Delegated Regulation (EU) 2020/686, Article 10 (OJ L 174, 2020): each straw lets one
readily establish the date of collection, the species and the identity of the donor, and the
approval number of the establishment of collection, processing and storage; one that processes what
another collected adds its own number. Commission Implementing Regulation (EU) 2020/999, Annex (OJ
L 221, 2020): the forms a date may have, the unique code as identity of equine donors, approval
numbers with the name or the two letters of the country. The local authority's own form is a
setting of the station.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Literal, get_args

if TYPE_CHECKING:
    from service.bank.store import Batch, Stallion, Station

MarkName = Literal[
    "collected_on",
    "species",
    "donor_identity",
    "approval_number",
    "processing_approval_number",
    "breed",
]

#: Everything a station may require; name, batch and code stand on every straw anyway.
MARK_NAMES: tuple[MarkName, ...] = get_args(MarkName)

#: What the regulation names; a station may ask for more.
REQUIRED: tuple[MarkName, ...] = ("collected_on", "species", "donor_identity", "approval_number")

#: How the species is written unless the station writes it otherwise (common practice, no source).
SPECIES = "EQUINE"

_WORDS: dict[str, str] = {
    "collected_on": "the day of collection",
    "species": "the species",
    "donor_identity": "the stallion's identity number (UELN or microchip)",
    "approval_number": "the approval number of the place of collection",
    "processing_approval_number": "the approval number of the processing establishment",
    "breed": "the stallion's breed",
}

_CENTURY = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class StrawMarks:
    """What is known of a batch that belongs on its straws.

    Who processes what was collected under the same number adds none: the two are equal then.
    """

    stallion_name: str
    donor_identity: str | None
    species: str | None
    breed: str | None
    collected_on: date | None
    approval_number: str | None
    processing_approval_number: str | None
    batch_code: str


def marks_of(batch: "Batch", stallion: "Stallion", station: "Station") -> StrawMarks:
    """The marks of a batch.

    One that was only prepared will be collected here, so the station's number stands for it; a
    frozen one has its own. What is frozen here is processed here: under the station's number, or
    under that of its processing establishment where that is another. A stallion without a UELN is
    known by his microchip.
    """
    ours = (station.approval_number, station.processing_approval_number)
    own = station.approval_number if batch.state == "prepared" else batch.approval_number
    processing = (ours[1] or ours[0]) if batch.origin == "frozen" else None
    return StrawMarks(
        stallion_name=stallion.name,
        donor_identity=stallion.ueln or stallion.microchip,
        species=station.species_mark.strip() or None,
        breed=stallion.breed,
        collected_on=batch.collected_on,
        approval_number=with_country(own, station.country if own in ours else None),
        processing_approval_number=with_country(processing, station.country),
        batch_code=batch.code,
    )


def with_country(number: str | None, country: str | None) -> str | None:
    """An approval number that says of which country it is, where that is known."""
    if not number or not country or number.upper().startswith(country):
        return number or None
    return f"{country} {number}"


def missing(marks: StrawMarks, required: Sequence[str]) -> list[str]:
    """Which of the required marks are not known."""
    return [name for name in required if getattr(marks, name) is None]


def in_words(names: Sequence[str]) -> str:
    """Marks as a person would list them."""
    words = [_WORDS[name] for name in names]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def written_day(day: date, mark_date_format: str) -> str:
    """A day as the station writes it on its straws: one of the forms of (EU) 2020/999, Annex."""
    return (
        mark_date_format.replace("dd", f"{day.day:02}")
        .replace("mm", f"{day.month:02}")
        .replace("yy", f"{day.year % _CENTURY:02}")
    )


def other_reading(day: date, *, earliest: date, latest: date) -> date | None:
    """The other day that the written one can be taken for, by who begins at its other end.

    The forms come in pairs (`dd.mm.yy` and `yy.mm.dd`), so a written day reads as two. None where
    both are the same, or the other is no day between `earliest` and `latest`.
    """
    swapped = _swapped(day, latest)
    if swapped is None or swapped == day or not earliest <= swapped <= latest:
        return None
    return swapped


def _swapped(day: date, latest: date) -> date | None:
    """The day whose year are the two digits that were the day, and the other way round."""
    year = latest.year - (latest.year - day.day) % _CENTURY
    try:
        return date(year, day.month, day.year % _CENTURY)
    except ValueError:
        return None
