"""What becomes of every row: booked into its goblet as a part of a batch, or refused and why.

Pure: what the book knows is an argument. Rows are taken in order, and each goblet counts what rows
before have put into it.
"""

import difflib
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from typing import NamedTuple
from uuid import UUID

from service.bank import identity, plausibility
from service.bank.plausibility import Impossible
from service.bank.rules import Warned, folded
from service.kernel import codes
from service.kernel.errors import Invalid
from service.kernel.quoting import shown
from service.spreadsheet.rules import LONGEST_NOTE
from service.spreadsheet.understanding import Said, figures_of

#: How a fate begins that could be another one if stallions were made.
UNKNOWN = "There is no stallion"

#: How alike two names are before one is asked for the other (0 to 1; our choice).
_ALIKE = 0.75


class KnownStallion(NamedTuple):
    """A stallion of the book, or one that the file makes (his `id` is null)."""

    id: UUID | None
    name: str
    ueln: str | None
    foaled_on: date | None = None
    died_on: date | None = None


class KnownGoblet(NamedTuple):
    """A goblet and how full it is."""

    id: UUID
    code: str
    address: str
    capacity_straws: int
    filled_straws: int
    retired: bool
    quarantine: bool


class Standing(NamedTuple):
    """What stands in a goblet, as far as its neighbours mind: whose, how it thaws, held or not."""

    stallion: str
    thaw: str | None
    held: bool


@dataclass(frozen=True, slots=True)
class Known:
    """What the book knows that rows may be about."""

    today: date
    stallions: Sequence[KnownStallion]
    goblets: Sequence[KnownGoblet]
    standing: Mapping[UUID, frozenset[Standing]]
    batch_codes: frozenset[str]
    straw_codes: frozenset[str]
    #: Batches that came in before: stallion, mark, day.
    earlier: frozenset[tuple[UUID, str | None, date | None]]


class Share(NamedTuple):
    """So many straws of a batch in a goblet, with their codes where they have some."""

    goblet_id: UUID
    straws: int
    owner: str | None
    codes: tuple[str, ...]


@dataclass(slots=True)
class PlannedBatch:
    """Rows that are one batch; what they say of it stands in `said`."""

    stallion: KnownStallion
    said: Said
    line: int
    shares: list[Share] = field(default_factory=list)
    notes: dict[str, None] = field(default_factory=dict)

    @property
    def straws(self) -> int:
        """All its straws."""
        return sum(share.straws for share in self.shares)


class Fate(NamedTuple):
    """What becomes of a row."""

    line: int
    booked: bool
    message: str
    straws: int
    warnings: tuple[str, ...] = ()


@dataclass(slots=True)
class Plan:
    """Every row's fate, and the batches that come of them."""

    fates: list[Fate] = field(default_factory=list)
    batches: list[PlannedBatch] = field(default_factory=list)
    new_stallions: list[KnownStallion] = field(default_factory=list)

    @property
    def refused(self) -> list[Fate]:
        """Rows that cannot be booked."""
        return [fate for fate in self.fates if not fate.booked]


def plan(
    said: Sequence[Said], complaints: Mapping[int, str], known: Known, *, make_stallions: bool
) -> Plan:
    """The fate of every row, in order of the lines."""
    planner = _Planner(known, make_stallions=make_stallions)
    for row in said:
        planner.take(row)
    for line, complaint in complaints.items():
        planner.plan.fates.append(Fate(line, False, complaint, 0))
    planner.plan.fates.sort()
    return planner.plan


class _Refused(ValueError):
    """Why a row is not booked."""


class _Planner:
    """Takes rows one after the other."""

    def __init__(self, known: Known, *, make_stallions: bool) -> None:
        self.plan = Plan()
        self._known = known
        self._make = make_stallions
        self._horses = _Horses(known.stallions)
        self._places = _Places(known.goblets)
        self._free = {g.id: g.capacity_straws - g.filled_straws for g in known.goblets}
        self._filled: set[UUID] = set()
        self._standing = {id: set(some) for id, some in known.standing.items()}
        self._batches: dict[object, PlannedBatch] = {}
        self._codes: dict[str, int] = {}
        self._weighed: dict[tuple[object, ...], tuple[list[str], list[str]]] = {}

    def take(self, row: Said) -> None:
        """Book a row, or say why not."""
        try:
            fate = self._booked(row)
        except _Refused as refused:
            fate = Fate(row.line, False, str(refused), 0)
        self.plan.fates.append(fate)

    def _booked(self, row: Said) -> Fate:
        stallion, warnings = self._stallion(row)
        goblet = self._places.find(row.place or "")
        warnings += self._weigh(row, stallion)
        self._refuse_codes(row)
        key, batch = self._batch(row, stallion)
        if goblet.quarantine and row.hold_reason is None:
            raise _Refused(
                f"Goblet {goblet.address} hangs in a quarantined tank, and the row is not on hold. "
                "Choose another goblet, or say why the straws are held (hold_reason)."
            )
        if row.straws > self._free[goblet.id]:
            raise _Refused(
                f"Goblet {goblet.address} has room for {self._free[goblet.id]} straws, not "
                f"{row.straws}"
                + (", counting the rows above." if goblet.id in self._filled else ".")
            )
        if row.note is not None and len("\n".join((*batch.notes, row.note))) > LONGEST_NOTE:
            raise _Refused(
                f"The notes of this batch (from line {batch.line} on) make more than "
                f"{LONGEST_NOTE:,} signs together. Shorten them."
            )
        warnings += self._beside(row, stallion, goblet)
        self._free[goblet.id] -= row.straws
        self._filled.add(goblet.id)
        self._codes |= dict.fromkeys(row.straw_codes, row.line)
        if key not in self._batches:
            self._batches[key] = batch
            self.plan.batches.append(batch)
        batch.shares.append(Share(goblet.id, row.straws, row.owner, row.straw_codes))
        if row.note is not None:
            batch.notes[row.note] = None
        new = " (a new stallion)" if stallion.id is None else ""
        straws = "1 straw" if row.straws == 1 else f"{row.straws:,} straws"
        message = f"books {straws} of {stallion.name}{new} into {goblet.address}"
        return Fate(row.line, True, message, row.straws, tuple(warnings))

    def _stallion(self, row: Said) -> tuple[KnownStallion, list[str]]:
        try:
            ueln = None if row.ueln is None else identity.read_ueln(row.ueln)
        except Invalid as wrong:
            raise _Refused(wrong.detail) from None
        found, warnings = self._horses.find(row.stallion, ueln)
        if found is not None:
            return found, warnings
        if row.stallion is None:
            raise _Refused(f"No stallion has the UELN {ueln}, and the row names none.")
        if not self._make:
            raise _Refused(self._horses.unknown(row.stallion))
        new = KnownStallion(None, row.stallion, ueln)
        self._horses.add(new)
        self.plan.new_stallions.append(new)
        return new, []

    def _weigh(self, row: Said, stallion: KnownStallion) -> list[str]:
        key = (
            *(row.straw_volume_ml, row.concentration_million_per_ml, row.post_thaw_percent),
            row.post_thaw_minutes,
            *(row.collected_on, row.hold_until, stallion.foaled_on, stallion.died_on),
        )
        if key not in self._weighed:
            remarks = _remarks(row, stallion, self._known.today)
            self._weighed[key] = (
                [one.message for one in remarks if isinstance(one, Impossible)],
                [one.message for one in remarks if isinstance(one, Warned)],
            )
        impossible, warnings = self._weighed[key]
        if impossible:
            raise _Refused(" ".join(impossible))
        return list(warnings)

    def _refuse_codes(self, row: Said) -> None:
        if row.batch_code in self._known.batch_codes:
            raise _Refused(f"Batch {codes.grouped(row.batch_code or '')} is in the book already.")
        for code in row.straw_codes:
            if code in self._known.straw_codes:
                raise _Refused(f"Straw {codes.grouped(code)} is in the book already.")
            if code in self._codes:
                raise _Refused(
                    f"Straw {codes.grouped(code)} stands in line {self._codes[code]} already."
                )

    def _batch(self, row: Said, stallion: KnownStallion) -> tuple[object, PlannedBatch]:
        """The batch that a row is of. Rows without mark and day say nothing of belonging together.

        With a code of this book the code tells; without, the same stallion, mark, day and figures.
        """
        figures = figures_of(row)
        horse = _key(stallion)
        key: object
        if row.batch_code is not None:
            key = row.batch_code
        elif row.marks_as_read is None and row.collected_on is None:
            key = row.line
        else:
            key = (horse, figures.marks_as_read, figures.collected_on, figures)
        batch = self._batches.get(key)
        if batch is None:
            return key, PlannedBatch(stallion, figures, row.line)
        if _key(batch.stallion) != horse or (row.batch_code and batch.said != figures):
            raise _Refused(
                f"Batch {codes.grouped(row.batch_code or '')} is said to be otherwise in line "
                f"{batch.line}. Correct one of the two."
            )
        return key, batch

    def _beside(self, row: Said, stallion: KnownStallion, goblet: KnownGoblet) -> list[str]:
        standing = self._standing.setdefault(goblet.id, set())
        mine = Standing(_key(stallion), row.thaw, row.hold_reason is not None)
        warnings = []
        if any(other.stallion != mine.stallion for other in standing):
            warnings.append(f"Goblet {goblet.address} also holds straws of another stallion.")
        if any(other.thaw != mine.thaw for other in standing):
            warnings.append(
                f"Goblet {goblet.address} also holds straws that thaw otherwise, or of which it "
                "is not known."
            )
        if any(other.held != mine.held for other in standing):
            warnings.append(
                f"In goblet {goblet.address} straws on hold stand beside straws that are free."
            )
        standing.add(mine)
        known = (stallion.id, row.marks_as_read, row.collected_on)
        if stallion.id is not None and known in self._known.earlier:
            warnings.append("A batch with this mark and day came in before. Is it the same one?")
        return warnings


def _key(stallion: KnownStallion) -> str:
    if stallion.id is not None:
        return str(stallion.id)
    return stallion.ueln or folded(stallion.name)


def _remarks(row: Said, stallion: KnownStallion, today: date) -> list[Warned | Impossible]:
    remarks = plausibility.weigh_incoming(
        straw_volume_ml=row.straw_volume_ml,
        concentration_million_per_ml=row.concentration_million_per_ml,
        post_thaw_percent=row.post_thaw_percent,
        collected_on=row.collected_on,
        received_on=today,
        today=today,
        foaled_on=stallion.foaled_on,
        died_on=stallion.died_on,
    )
    if row.post_thaw_minutes is not None and row.post_thaw_minutes < 0:
        remarks.append(Impossible("post_thaw_minutes", "Minutes after thawing are at least 0."))
    if row.hold_until is not None and row.hold_until <= today:
        message = f"A hold until {row.hold_until} is over. Leave it out, or correct the day."
        remarks.append(Impossible("hold_until", message))
    return remarks


class _Horses:
    """Stallions by number and by name."""

    def __init__(self, stallions: Sequence[KnownStallion]) -> None:
        self._by_ueln: dict[str, KnownStallion] = {}
        self._by_name: dict[str, list[KnownStallion]] = defaultdict(list)
        self._unknown: dict[str, str] = {}
        #: Folding a name takes longer than all else, and a list names each stallion often.
        self._folded = cache(folded)
        for one in stallions:
            self.add(one)

    def add(self, one: KnownStallion) -> None:
        """One more of them."""
        self._by_name[self._folded(one.name)].append(one)
        if one.ueln is not None:
            self._by_ueln[one.ueln] = one

    def find(self, name: str | None, ueln: str | None) -> tuple[KnownStallion | None, list[str]]:
        """The one that is meant, with what is unusual; None when he is not in the book.

        Raises _Refused when number and name speak of two, or the name of several.
        """
        namesakes = self._by_name.get(self._folded(name), []) if name is not None else []
        if ueln is not None:
            return self._numbered(name, ueln, namesakes)
        if len(namesakes) > 1:
            raise _Refused(
                f"{len(namesakes)} stallions are called {name}. Give his UELN in the row."
            )
        return (namesakes[0] if namesakes else None), []

    def _numbered(
        self, name: str | None, ueln: str, namesakes: Sequence[KnownStallion]
    ) -> tuple[KnownStallion | None, list[str]]:
        bearer = self._by_ueln.get(ueln)
        if bearer is not None:
            if name is not None and self._folded(bearer.name) != self._folded(name):
                raise _Refused(f"The UELN {ueln} is {bearer.name}’s, and the row names {name}.")
            return bearer, []
        without = [one for one in namesakes if one.ueln is None]
        if len(without) == 1:
            return without[0], [f"The book does not have {name}’s UELN. Enter it at his record."]
        return None, []

    def unknown(self, name: str) -> str:
        """Words for a name that is not in the book, with the one that was probably meant."""
        plain = self._folded(name)
        if plain not in self._unknown:
            near = difflib.get_close_matches(plain, self._by_name, n=1, cutoff=_ALIKE)
            meant = f" Is {self._by_name[near[0]][0].name} meant?" if near else ""
            self._unknown[plain] = f"{UNKNOWN} {name} in the book.{meant}"
        return self._unknown[plain] + (
            " Correct the name, enter him first, or let stallions be made that are not there."
        )


class _Places:
    """Goblets by address and by code."""

    def __init__(self, goblets: Sequence[KnownGoblet]) -> None:
        self._found: dict[str, KnownGoblet] = {}
        # One that is retired gives its address to another; those in use come last and stay.
        for goblet in sorted(goblets, key=lambda one: not one.retired):
            self._found[goblet.address] = self._found[goblet.code] = goblet

    def find(self, place: str) -> KnownGoblet:
        """The goblet that a cell means. Raises _Refused."""
        plain = place.strip().upper()
        goblet = self._found.get(plain) or self._found.get("-".join(plain.split()))
        if goblet is None:
            try:
                goblet = self._found.get(codes.read(place).code)
            except Invalid:
                goblet = None
        if goblet is None:
            raise _Refused(
                f"There is no goblet {shown(place)}. Copy the address from its plate again."
            )
        if goblet.retired:
            raise _Refused(f"Goblet {goblet.address} is no longer in use. Choose another one.")
        return goblet
