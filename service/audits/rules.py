"""The words of stock-takes: what is compared, what comes out, what is refused.

Pure: no HTTP, no database, no clock.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal, get_args
from uuid import UUID

from service.kernel.errors import Conflict, Forbidden, Invalid, Unknown

#: How a stock-take stands.
TakeState = Literal["counting", "compared", "closed"]

#: What a difference is (the contract's words).
DifferenceClass = Literal["missing", "surplus", "wrong-place", "ambiguous", "unknown", "disturbed"]
CLASSES: tuple[DifferenceClass, ...] = get_args(DifferenceClass)

#: Why stock is adjusted (the contract's words).
ReasonCode = Literal[
    "data-entry-error",
    "unrecorded-use",
    "label-lost",
    "destroyed",
    "found-elsewhere",
    "supplier-short",
    "unexplained",
]
REASON_CODES: tuple[ReasonCode, ...] = get_args(ReasonCode)

Sureness = Literal["certain", "likely", "possible"]
"""How sure a proposal is: by codes that were read; by numbers with one candidate; with several."""


@dataclass(frozen=True, slots=True)
class BookedStraw:
    """A straw with a code as the book has it at a goblet's cut-off.

    `sure` is false while the book only chose which twin stands there (an act by count).
    `goblet_id` is None for one that is not stored; `state` says where it is then.
    """

    code: str
    batch_id: UUID
    state: str
    goblet_id: UUID | None
    sure: bool


@dataclass(frozen=True, slots=True)
class Sheet:
    """One goblet: what the book expects at its cut-off, and what somebody counted.

    `expected` straws by batch; `expected_codes` the codes of those that have one (straws from
    before labels have none, so a batch may expect more straws than codes). Counted either by
    number (`counted`, `codes` None) or by scanning (`codes`; `counted` then holds only what was
    counted by number beside, straws without a code). `unreadable` straws were there and could not
    be read; `foreign` are marks or codes that are not of this bank, as they were read.
    `disturbed`: something was booked into or out of the goblet while it was counted.
    """

    goblet_id: UUID
    address: str
    tank_id: UUID
    expected: Mapping[UUID, int]
    expected_codes: Mapping[str, BookedStraw]
    counted: Mapping[UUID, int]
    codes: Sequence[str] | None = None
    unreadable: int = 0
    foreign: Sequence[str] = ()
    disturbed: bool = False


@dataclass(frozen=True, slots=True)
class Move:
    """Straws of a batch that seem to stand in another goblet than the book says."""

    from_goblet_id: UUID
    to_goblet_id: UUID
    batch_id: UUID
    straws: int
    sure: Sureness
    codes: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class Difference:
    """Where count and book do not agree; overs and unders stay two differences for ever.

    `difference` is counted less expected. `batch_id` is None for what cannot be named (unreadable
    or foreign straws). `codes` are those that are missing or too many, where codes were read.
    `candidates` are goblets (or batches) that may explain an ambiguous one.
    """

    goblet_id: UUID
    batch_id: UUID | None
    expected: int
    counted: int
    kind: DifferenceClass
    codes: Sequence[str] = ()
    foreign: Sequence[str] = ()
    candidates: Sequence[UUID] = ()
    move: Move | None = None
    note: str = ""

    @property
    def difference(self) -> int:
        """Counted less expected."""
        return self.counted - self.expected


@dataclass(frozen=True, slots=True)
class Settled:
    """A code that was read, where the book only knew that one of its twins stands there.

    `seen` is the code that stands in the goblet, `instead_of` the twin that the book had there and
    that stands where the book had `seen`.
    """

    goblet_id: UUID
    batch_id: UUID
    seen: str
    instead_of: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """What came out: differences in order of address, moves proposed, codes settled.

    `agreed` goblets were counted, undisturbed, and have no difference.
    """

    differences: Sequence[Difference]
    moves: Sequence[Move]
    settled: Sequence[Settled]
    agreed: Sequence[UUID]


@dataclass(frozen=True, slots=True)
class Act:
    """Something booked about a goblet and a batch, as stories are told from it.

    `change` is how many straws of the batch it brought into (above 0) or took out of the goblet.
    """

    seq: int
    kind: str
    occurred_at: datetime
    by: str
    change: int
    goblet_id: UUID
    facts: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Story:
    """What may have happened, the likelier the lower its `rank`; `words` for the people who ask."""

    rank: int
    kind: str
    words: str
    entry_seq: int | None = None


class UnknownStockTake(Unknown):
    """No such stock-take."""

    code = "unknown-stock-take"
    title = "There is no such stock-take"


class UnknownAdjustment(Unknown):
    """No such adjustment of this stock-take."""

    code = "unknown-adjustment"
    title = "There is no such adjustment"


class BadScope(Invalid):
    """Nothing to count, or a sample that cannot be drawn."""

    code = "bad-scope"
    title = "This cannot be counted"


class NotInScope(Invalid):
    """A goblet that this stock-take does not ask to be counted (any more)."""

    code = "not-in-scope"
    title = "This goblet is not to be counted"


class StockTakeClosed(Conflict):
    """It is closed: nothing in it changes any more."""

    code = "stock-take-closed"
    title = "This stock-take is closed"


class NotAllCounted(Conflict):
    """Some goblets were not counted yet, or have to be counted again."""

    code = "not-all-counted"
    title = "Not everything was counted"


class NotCompared(Conflict):
    """Differences are known only once the counts were compared."""

    code = "not-compared"
    title = "The counts were not compared yet"


class SamePerson(Forbidden):
    """Whoever proposed it, or counted that goblet, does not approve it."""

    code = "same-person"
    title = "Somebody else has to approve this"


class AlreadyApproved(Conflict):
    """It was approved and booked before."""

    code = "already-approved"
    title = "This was approved before"


class NoSuchDifference(Invalid):
    """An adjustment that no difference asks for."""

    code = "no-such-difference"
    title = "There is no such difference"


class RecountFirst(Conflict):
    """An unexplained loss of that size is counted again, by another person, before it is booked."""

    code = "recount-first"
    title = "Count it again first"


class TakeBackFirst(Conflict):
    """A straw stands there that the book has as gone: an entry is wrong, not the stock."""

    code = "take-back-first"
    title = "The book says that this straw is gone"


class NotExplained(Conflict):
    """Differences that nobody has dealt with."""

    code = "not-explained"
    title = "Some differences are still open"


class BadCount(Invalid):
    """A count that cannot be what somebody saw."""

    code = "bad-count"
    title = "This count cannot be right"
