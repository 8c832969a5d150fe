"""The report of a stock-take as JSON: what is in it, its canonical form, and its hash.

One form for all: it is kept, printed, and checked on other machines (`verify_report`). Ids are
UUIDs with hyphens, moments are UTC text as the ledger keeps it, percentages are decimal text. There
are no numbers but whole ones, so that the canonical form is the same in every language: keys in
order, no space, UTF-8, everything but `sha256`. That hash stands in the facts of a ledger entry,
`{"stock_take_id": ..., "report_sha256": ...}`, after the closing point.
"""

import hashlib
import json
from collections.abc import Mapping
from typing import Any, Literal, NoReturn, TypedDict

from service.audits.rules import DifferenceClass, ReasonCode

#: The version of this form; a reader refuses others.
FORM: Literal["rimebook-stock-take-1"] = "rimebook-stock-take-1"

#: What became of a difference.
End = Literal["adjusted", "explained", "open"]


class Person(TypedDict):
    """Somebody, with the name that was theirs then."""

    id: str
    name: str


class Point(TypedDict):
    """A place in the ledger: an entry (0: before the first), its hash, and when that was so."""

    seq: int
    head: str
    at: str


class Station(TypedDict):
    """The station; moments are printed in its time zone (an IANA name)."""

    name: str
    time_zone: str


class Scope(TypedDict):
    """What was to be counted: in words for people, and the goblets of which so many were asked."""

    words: str
    goblets: int


class SampleTank(TypedDict):
    """How many goblets a tank had, and how many of them were drawn."""

    tank_id: str
    tank: str
    goblets: int
    drawn: int


class Sample(TypedDict):
    """How a sample was sized and drawn: `sampling.allocation` and `sampling.draw`, with its claim.

    `algorithm` says in words how anybody draws the same goblets again.
    """

    seed: str
    detect_percent: str
    confidence_percent: str
    algorithm: str
    tanks: list[SampleTank]
    claim: str


class BatchSaid(TypedDict):
    """A batch that the report speaks of by its code."""

    code: str
    batch_id: str
    stallion: str


class CountBefore(TypedDict):
    """A count that a later one replaced; straws by batch code."""

    round: int
    counted_by: Person
    counted_at: str
    counted: dict[str, int]


class GobletCounted(TypedDict):
    """A goblet as the last count of it has it; straws by batch code.

    `expected` is what the book had there at the cut-off: a straw is where the last of its lines put
    it whose entry is numbered `cut_off_seq` or less, or is one up to the comparison that occurred
    at `cut_off_at` or before (null: by number alone). `counted` has the straws that were scanned,
    too. `unreadable` straws and `foreign` marks belong to no batch. `not_blind`: the counter had
    read what the book expects.
    """

    goblet_id: str
    address: str
    tank: str
    opened_at: str
    counted_at: str
    cut_off_seq: int
    cut_off_at: str | None
    counted_by: Person
    method: Literal["by number", "by scanning"]
    round: int
    not_blind: bool
    disturbed: bool
    expected: dict[str, int]
    counted: dict[str, int]
    unreadable: int
    foreign: list[str]
    counts_before: list[CountBefore]


# "class" is a word of Python's own.
DifferenceFound = TypedDict(
    "DifferenceFound",
    {
        "goblet_id": str,
        "address": str,
        "batch_code": str | None,
        "expected": int,
        "counted": int,
        "difference": int,
        "class": DifferenceClass,
        "codes": list[str],
        "foreign": list[str],
        "stories": list[str],
        "note": str,
        "end": End,
        "end_words": str,
        "adjustment_ids": list[str],
    },
)
DifferenceFound.__doc__ = """A difference of the last comparison; never netted with another.

The differences of a goblet and a batch add up to its counted less its expected straws. `batch_code`
is null for what cannot be named. `end_words` say how it was explained, or why it is open; the
booked adjustments of one that was adjusted add up to it.
"""


class AdjustmentBooked(TypedDict):
    """An adjustment: `difference` straws into (above 0) or out of the goblet, and its entry.

    `other_goblet_id` is where they went, or came from. Those that were not approved have None from
    `approved_by` on, and no straws.
    """

    id: str
    goblet_id: str
    address: str
    other_goblet_id: str | None
    batch_code: str
    difference: int
    reason_code: ReasonCode
    note: str
    proposed_by: Person
    proposed_at: str
    approved_by: Person | None
    approved_at: str | None
    entry_seq: int | None
    straw_codes: list[str]


class SettledCode(TypedDict):
    """A code that was read, and the twin that the book had in its place."""

    goblet_id: str
    seen: str
    instead_of: str


class Signed(TypedDict):
    """Who looked at it, as what, and what their signature means."""

    by: Person
    role: str
    meaning: str
    note: str
    at: str


class Report(TypedDict):
    """The whole report. `closing` is the newest entry when it was closed, before its own entry.

    `says` is what it allows one to say, `says_not` what not; `sha256` is `digest` of the rest.
    """

    form: Literal["rimebook-stock-take-1"]
    stock_take_id: str
    station: Station
    scope: Scope
    method: str
    blind: bool
    opened_by: Person
    opened_at: str
    closed_by: Person
    closed_at: str
    closing_note: str
    freeze: Point
    compared: Point
    closing: Point
    sample: Sample | None
    batches: list[BatchSaid]
    goblets: list[GobletCounted]
    differences: list[DifferenceFound]
    adjustments: list[AdjustmentBooked]
    settled: list[SettledCode]
    signatures: list[Signed]
    says: list[str]
    says_not: list[str]
    sha256: str


def canonical(report: Mapping[str, Any] | Report) -> bytes:
    """The report without its hash, as the one text that is hashed.

    Raises ValueError for numbers that are not whole: other languages write them otherwise.
    """
    hashed = {name: value for name, value in report.items() if name != "sha256"}
    text = json.dumps(hashed, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    json.loads(text, parse_float=_not_whole, parse_constant=_not_whole)
    return text.encode()


def _not_whole(number: str) -> NoReturn:
    raise ValueError(f"{number} is not a whole number: write it as text")


def digest(report: Mapping[str, Any] | Report) -> str:
    """The SHA-256 (FIPS 180-4, NIST, 2015) of the report's canonical form, in hex."""
    return hashlib.sha256(canonical(report)).hexdigest()
