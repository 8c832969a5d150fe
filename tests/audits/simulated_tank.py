"""A true tank with a book beside it: what hands did, and what the book knows of it.

The oracle of the comparison. An act by count moves the same number in both, but which twin the hand
took is its own choice and the book's is another; then the book is sure of none of them. As long as
nothing is injected the two agree in every number, and in every code that the book is sure of.
"""

import random
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from uuid import UUID

from service.audits.rules import BookedStraw, Sheet

TANK = UUID(int=7)

#: Places that are no goblets.
GONE = ("lifted", "used")


@dataclass(eq=False, slots=True)
class Straw:
    """One straw: where it is, and where the book has it. `code` is empty from before labels."""

    code: str
    batch: UUID
    at: object
    booked: object
    sure: bool = True
    readable: bool = True


@dataclass(frozen=True, slots=True)
class Injected:
    """One error: its kind and what it does to (goblet, batch), straws there less straws booked."""

    kind: str
    effects: Mapping[tuple[UUID, UUID], int]


@dataclass
class SimulatedTank:
    """A tank that is worked in, and counted while work goes on."""

    dice: random.Random
    goblets: list[UUID] = field(default_factory=list)
    straws: list[Straw] = field(default_factory=list)
    foreign: dict[UUID, list[str]] = field(default_factory=lambda: defaultdict(list))
    slips: Counter[tuple[UUID, UUID]] = field(default_factory=Counter)
    injected: list[Injected] = field(default_factory=list)
    touched: set[UUID] = field(default_factory=set)

    @classmethod
    def drawn(
        cls,
        seed: int,
        *,
        goblets: int = 6,
        batches: int = 8,
        coded: Sequence[float] = (1.0, 1.0, 1.0, 0.0, 0.5),
    ) -> "SimulatedTank":
        """Batches over some goblets each, with a share of `coded` straws each; then work."""
        dice = random.Random(seed)
        tank = cls(dice, [UUID(int=1000 + n) for n in range(goblets)])
        for number in range(batches):
            batch = UUID(int=1 + number)
            share = dice.choice(coded)
            for goblet in dice.sample(tank.goblets, dice.randint(1, min(3, goblets))):
                for _ in range(dice.randint(2, 12)):
                    code = f"S{len(tank.straws):05d}" if dice.random() < share else ""
                    tank.straws.append(Straw(code, batch, goblet, goblet))
        for _ in range(dice.randint(0, 12)):
            tank.work()
        return tank

    # --- work -----------------------------------------------------------------------------------

    def work(self) -> None:
        """One act of a day: a withdrawal, a move, a return, a use, by count or by code."""
        self.touched = set()
        batch = self.dice.choice(self.straws).batch
        source = self.dice.choice([*self.goblets, *self.goblets, "lifted"])
        aims = {"lifted": [*self.goblets, "used"]}.get(str(source), [*self.goblets, "lifted"])
        aim = self.dice.choice([one for one in aims if one != source])
        if self.dice.random() < 0.3:
            self.by_code(batch, source, aim)
        else:
            self.by_count(batch, source, aim)

    def by_count(self, batch: UUID, source: object, aim: object) -> None:
        """So many of a batch: the hand takes any, the book chooses any."""
        there, booked = self.there(batch, source), self.booked(batch, source)
        if not there or not booked:
            return
        number = self.dice.randint(1, min(len(there), len(booked)))
        if number < len(booked) or not all(straw.sure for straw in booked):
            for straw in booked:
                straw.sure = False
        for straw in self.dice.sample(there, number):
            straw.at = aim
        for straw in self.dice.sample(booked, number):
            straw.booked = aim
        self._touch(source, aim)

    def by_code(self, batch: UUID, source: object, aim: object) -> None:
        """One straw that was read; where the book has a twin that it is not sure of, they change.

        What the book would refuse does not happen.
        """
        readable = [one for one in self.there(batch, source) if one.code and one.readable]
        if not readable:
            return
        straw = self.dice.choice(readable)
        if straw.booked != source:
            twins = [one for one in self.booked(batch, source) if one.code and not one.sure]
            if straw.sure or not twins:
                return
            twin = self.dice.choice(twins)
            twin.booked, straw.booked = straw.booked, source
        straw.at = straw.booked = aim
        straw.sure = True
        self._touch(source, aim)

    def _touch(self, *places: object) -> None:
        self.touched |= {place for place in places if isinstance(place, UUID)}

    def there(self, batch: UUID, place: object) -> list[Straw]:
        return [one for one in self.straws if one.batch == batch and one.at == place]

    def booked(self, batch: UUID, place: object) -> list[Straw]:
        return [one for one in self.straws if one.batch == batch and one.booked == place]

    # --- counting -------------------------------------------------------------------------------

    def count(
        self,
        *,
        scan: Callable[[], bool],
        acts: int = 0,
        during: float = 0.0,
        only: Sequence[UUID] | None = None,
    ) -> tuple[list[Sheet], dict[str, BookedStraw]]:
        """Count goblet after goblet, up to `acts` acts between two.

        `during` is the chance of an act while one is counted; when it touches that goblet, the
        counter saw what was there before, and the sheet is marked as disturbed.
        """
        sheets, elsewhere = [], {}
        for goblet in self.dice.sample(only or self.goblets, len(only or self.goblets)):
            seen = [one for one in self.straws if one.at == goblet]
            disturbed = False
            if self.dice.random() < during:
                self.work()
                disturbed = goblet in self.touched
            sheet = self._sheet(goblet, seen, scan=scan())
            sheets.append(replace(sheet, disturbed=disturbed))
            by_code = {one.code: one for one in seen}
            for code in sheet.codes or ():
                if code not in sheet.expected_codes and code in by_code:
                    elsewhere[code] = self._as_booked(by_code[code])
            for _ in range(self.dice.randint(0, acts)):
                self.work()
        return sheets, elsewhere

    def _sheet(self, goblet: UUID, seen: Sequence[Straw], *, scan: bool) -> Sheet:
        booked = [one for one in self.straws if one.booked == goblet]
        by_number = [one for one in seen if not (scan and one.code)]
        counted = Counter(one.batch for one in by_number)
        if not scan:
            for (where, batch), slip in self.slips.items():
                counted[batch] += slip if where == goblet else 0
        codes = [one.code for one in seen if one.code and one.readable]
        self.dice.shuffle(codes)
        return Sheet(
            goblet_id=goblet,
            address=f"T1/{goblet.int}",
            tank_id=TANK,
            expected=Counter(one.batch for one in booked),
            expected_codes={one.code: self._as_booked(one) for one in booked if one.code},
            counted=counted,
            codes=codes + codes[:1] if scan else None,  # one straw is read twice
            unreadable=sum(not one.readable for one in seen) if scan else 0,
            foreign=list(self.foreign[goblet]),
        )

    def _as_booked(self, straw: Straw) -> BookedStraw:
        stored = isinstance(straw.booked, UUID)
        return BookedStraw(
            code=straw.code,
            batch_id=straw.batch,
            state="stored" if stored else str(straw.booked),
            goblet_id=straw.booked if isinstance(straw.booked, UUID) else None,
            sure=straw.sure,
        )

    # --- errors ---------------------------------------------------------------------------------

    def inject(self, kinds: Sequence[str]) -> None:
        """Each of these errors once where it can be, each with batches of its own."""
        fresh = sorted({one.batch for one in self.straws})
        self.dice.shuffle(fresh)
        for kind in kinds:
            done: Injected | None = getattr(self, f"_{kind}")(fresh)
            if done is not None:
                self.injected.append(done)
                used = {batch for _, batch in done.effects}
                fresh = [batch for batch in fresh if batch not in used]

    def _cells(self, batches: Sequence[UUID]) -> list[tuple[UUID, UUID, list[Straw]]]:
        """(goblet, batch, straws there) where there is something."""
        cells = [(g, b, self.there(b, g)) for b in batches for g in self.goblets]
        return [cell for cell in cells if cell[2]]

    def _taken(self, batches: Sequence[UUID]) -> Injected | None:
        """Straws that somebody took and never recorded."""
        if not (cells := self._cells(batches)):
            return None
        goblet, batch, there = self.dice.choice(cells)
        some = self.dice.sample(there, self.dice.randint(1, min(3, len(there))))
        for straw in some:
            straw.at = "taken"
        return Injected("taken", {(goblet, batch): -len(some)})

    def _misplaced(self, batches: Sequence[UUID]) -> Injected | None:
        """Straws put into another goblet than was recorded."""
        if not (cells := self._cells(batches)):
            return None
        goblet, batch, there = self.dice.choice(cells)
        other = self.dice.choice([one for one in self.goblets if one != goblet])
        some = self.dice.sample(there, self.dice.randint(1, min(3, len(there))))
        for straw in some:
            straw.at = other
        effects = {(goblet, batch): -len(some), (other, batch): len(some)}
        return Injected("misplaced", effects)

    def _swapped(self, batches: Sequence[UUID]) -> Injected | None:
        """A straw of one goblet and one of another batch in another goblet changed places."""
        cells = self._cells(batches)
        pairs = [(a, b) for a in cells for b in cells if a[0] < b[0] and a[1] != b[1]]
        if not pairs:
            return None
        (here, one, ones), (there, two, twos) = self.dice.choice(pairs)
        self.dice.choice(ones).at, self.dice.choice(twos).at = there, here
        effects = {(here, one): -1, (there, one): 1, (there, two): -1, (here, two): 1}
        return Injected("swapped", effects)

    def _neighbour(self, batches: Sequence[UUID]) -> Injected | None:
        """The book let a straw of one batch go, and the hand took its neighbour of another."""
        cells = [cell for cell in self._cells(batches) if self.booked(cell[1], cell[0])]
        pairs = [(a, b) for a in cells for b in cells if a[0] == b[0] and a[1] != b[1]]
        if not pairs:
            return None
        (goblet, one, _), (_, two, twos) = self.dice.choice(pairs)
        self._book_away(one, goblet)
        self.dice.choice(twos).at = "taken"
        return Injected("neighbour", {(goblet, one): 1, (goblet, two): -1})

    def _twice(self, batches: Sequence[UUID]) -> Injected | None:
        """A use that was recorded twice."""
        cells = [cell for cell in self._cells(batches) if self.booked(cell[1], cell[0])]
        if not cells:
            return None
        goblet, batch, _ = self.dice.choice(cells)
        self._book_away(batch, goblet)
        return Injected("twice", {(goblet, batch): 1})

    def _book_away(self, batch: UUID, goblet: UUID) -> None:
        booked = self.booked(batch, goblet)
        for straw in booked:
            straw.sure = False
        self.dice.choice(booked).booked = "used"

    def _stranger(self, batches: Sequence[UUID]) -> Injected | None:
        """A straw of another bank."""
        goblet = self.dice.choice(self.goblets)
        self.foreign[goblet].append("KB 17/3")
        return Injected("stranger", {})

    def _unreadable(self, batches: Sequence[UUID]) -> Injected | None:
        """A mark that was rubbed off."""
        cells = [(g, b, [s for s in there if s.code]) for g, b, there in self._cells(batches)]
        cells = [cell for cell in cells if cell[2]]
        if not cells:
            return None
        goblet, batch, there = self.dice.choice(cells)
        self.dice.choice(there).readable = False
        return Injected("unreadable", {(goblet, batch): 0})

    def _slip(self, batches: Sequence[UUID]) -> Injected | None:
        """A hand that counted one too many or too few."""
        if not (cells := self._cells(batches)):
            return None
        goblet, batch, _ = self.dice.choice(cells)
        self.slips[goblet, batch] = by = self.dice.choice((-1, 1))
        return Injected("slip", {(goblet, batch): by})
