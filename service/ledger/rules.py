"""What may be booked, in words and refusals; the text of an entry that is hashed.

Pure: no HTTP, no database, no clock.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple
from uuid import UUID

from service.kernel.acts import Person
from service.kernel.errors import Conflict, Forbidden, Invalid, Unknown

#: Where straws come from when they are marked: the place before all places.
MADE = "made"


class GobletFull(Conflict):
    """A goblet has no room for what is to be put there."""

    code = "goblet-full"
    title = "This goblet is full"


class UnknownGoblet(Unknown):
    """There is no such goblet."""

    code = "unknown-goblet"
    title = "There is no such goblet"


class PlacementsDoNotAddUp(Invalid):
    """Straws stored, their places and the straws there are do not agree."""

    code = "placements-do-not-add-up"
    title = "The straws and their places do not add up"


class GobletRetired(Conflict):
    """A goblet that is no longer in use."""

    code = "goblet-retired"
    title = "This goblet is no longer in use"


class OwnedByAnother(Conflict):
    """A straw that belongs to somebody else than the one it is taken for."""

    code = "owned-by-another"
    title = "This straw belongs to somebody else"


class StrawGone(Conflict):
    """A straw that is no longer in store."""

    code = "straw-gone"
    title = "This straw is no longer in store"


class StrawElsewhere(Conflict):
    """A straw that was seen in one goblet while the book is sure of another."""

    code = "straw-elsewhere"
    title = "The book has this straw in another goblet"


class NotEnoughStraws(Conflict):
    """Fewer straws than are asked for."""

    code = "not-enough-straws"
    title = "There are not enough straws"


class OnHold(Conflict):
    """Straws that are held back."""

    code = "on-hold"
    title = "These straws are on hold"


class ReserveReached(Conflict):
    """What would be left is less than the stallion's reserve."""

    code = "reserve-reached"
    title = "These are his last doses"


class ReserveNotYours(Forbidden):
    """A reserve released by somebody who may not."""

    code = "forbidden"
    title = "Your role does not allow this"


class UnknownCode(Unknown):
    """A well-formed code that this bank never issued."""

    code = "unknown-code"
    title = "This code is not in this bank"


class BeforeWhatItFollows(Invalid):
    """An event said to have happened before the one it follows."""

    code = "before-what-it-follows"
    title = "This is said to have happened too early"


class SameCodeTwice(Invalid):
    """One straw named twice in one act."""

    code = "same-code-twice"
    title = "The same straw was named twice"


class NotAStraw(Invalid):
    """A code of another kind where a straw's is needed."""

    code = "not-a-straw"
    title = "This is not the code of a straw"


class NothingNamed(Invalid):
    """Neither picks nor codes, or both."""

    code = "name-the-straws"
    title = "Say which straws"


class StrawNow(NamedTuple):
    """One straw as it stands; `state` is `made` for one that is about to exist."""

    code: str
    batch_id: UUID
    coded: bool
    state: str
    goblet_id: UUID | None
    left_goblet_id: UUID | None
    withdrawal_id: UUID | None
    provisional: bool
    since: datetime
    last_seq: int
    owner: str | None = None


def refuse_release_of_others(who: Person, release_reserve: str | None) -> None:
    """Raise ReserveNotYours when anybody but a manager releases last doses."""
    if release_reserve is not None and who.role != "manager":
        raise ReserveNotYours(
            "Only a manager releases a stallion's reserve. Ask one to sign in.",
            field="release_reserve",
        )


@dataclass(frozen=True, slots=True)
class Whose:
    """Whose straws an act may take; owner None is the station's common stock."""

    owner: str | None

    def of(self, owned: Mapping[str, int], straws: int) -> int:
        """How many of so many straws are theirs, some of them `owned` by somebody."""
        if self.owner is None:
            return straws - sum(owned.values())
        return owned.get(self.owner, 0)


COMMON = Whose(None)


def new_straw(
    code: str,
    batch_id: UUID,
    *,
    since: datetime,
    coded: bool = True,
    owner: str | None = None,
) -> StrawNow:
    """A straw that is about to exist; the first movement makes it."""
    return StrawNow(
        code=code,
        batch_id=batch_id,
        coded=coded,
        state=MADE,
        goblet_id=None,
        left_goblet_id=None,
        withdrawal_id=None,
        provisional=False,
        since=since,
        last_seq=0,
        owner=owner,
    )


@dataclass(frozen=True, slots=True)
class Place:
    """Where a straw can be: a state, with its goblet when stored, its withdrawal when lifted."""

    state: str
    goblet_id: UUID | None = None
    withdrawal_id: UUID | None = None


def place_of(straw: StrawNow) -> Place:
    """Where a straw is now."""
    return Place(straw.state, straw.goblet_id, straw.withdrawal_id)


@dataclass(frozen=True, slots=True)
class Movement:
    """One straw on its way. `since` overrides the time it counts from (exchanges keep the old).

    Afterwards it belongs to `straw.owner`.
    """

    straw: StrawNow
    to: Place
    provisional: bool = False
    since: datetime | None = None


def hold_words(code: str, reason: str, until: date | None) -> str:
    """Why a batch is held, for the person who wants it."""
    ends = f" until {until:%d %b %Y}" if until else ""
    return (
        f"Batch {code} is on hold{ends}: {reason}. "
        "Take another batch, or let a vet or manager release it."
    )


def too_early(fact: str, *, since: datetime, **facts: object) -> BeforeWhatItFollows:
    """The refusal of an act that is said to have happened before what it follows."""
    return BeforeWhatItFollows(
        f"{fact} Check occurred_at.",
        errors=[{"field": "occurred_at", "message": "before the event it follows"}],
        since=since,
        **facts,
    )


def refuse_too_early(movements: Iterable[Movement], occurred_at: datetime) -> None:
    """Raise BeforeWhatItFollows when a straw came to its place only after this event."""
    for movement in movements:
        if movement.since is None and occurred_at < movement.straw.since:
            raise too_early(
                "A straw came to its place only after the time you give.",
                since=movement.straw.since,
                straw_code=movement.straw.code,
            )


def entry_text(
    *,
    seq: int,
    id_hex: str,
    kind: str,
    by_id_hex: str,
    by_name: str,
    occurred_at: str,
    recorded_at: str,
    reason: str | None,
    withdrawal_hex: str | None,
    batch_hex: str | None,
    facts: str,
) -> str:
    """The head of an entry as it is hashed: eleven fields, tabs between them.

    No field contains a tab or a line break: names and reasons are single lines, facts are JSON.
    """
    return (
        f"{seq}\t{id_hex}\t{kind}\t{by_id_hex}\t{by_name}\t{occurred_at}\t{recorded_at}\t"
        f"{reason or ''}\t{withdrawal_hex or ''}\t{batch_hex or ''}\t{facts}"
    )


#: Straw, from (state, goblet), to (state, goblet), withdrawal, provisional; ids as 32 hex digits.
LineFields = tuple[str, str, str | None, str, str | None, str | None, bool]


def line_text(line: LineFields) -> str:
    """A line as it is hashed: seven fields, tabs between them."""
    straw, from_state, from_goblet, to_state, to_goblet, withdrawal, provisional = line
    return (
        f"{straw}\t{from_state}\t{from_goblet or ''}\t{to_state}\t{to_goblet or ''}\t"
        f"{withdrawal or ''}\t{int(provisional)}"
    )
