"""One counted goblet held against the book: what it lacks, what it has too many.

Pure. What can be said of a goblet by itself stands here; `compare` then looks across goblets.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from uuid import UUID

from service.audits.rules import BookedStraw, Settled, Sheet


@dataclass(slots=True)
class Gap:
    """Straws of one batch that one goblet lacks, or has too many (`over`).

    `named`: the codes are surely these. Otherwise it is a number of straws; `codes` are then those
    it fell upon among twins that the book had not told apart, or none. `by_number`: somebody
    counted and read no code, so it may be any straw of the batch. `doubts` are goblets or batches
    that may explain it without any straw having gone from goblet to goblet; `because` says how.
    """

    sheet: Sheet
    batch_id: UUID
    straws: int
    over: bool
    named: bool = False
    by_number: bool = False
    codes: tuple[str, ...] = ()
    doubts: list[UUID] = field(default_factory=list)
    because: list[str] = field(default_factory=list)

    def doubt(self, explained_by: Iterable[UUID], because: str) -> None:
        """Note what else may explain it."""
        self.doubts += [id for id in explained_by if id not in self.doubts]
        self.because.append(because)


@dataclass(slots=True)
class Twins:
    """Codes of one batch in one goblet that the book was not sure of.

    `seen` were read here and not expected, `unseen` expected and not read; `beside` is how many
    straws without a code there are more (below 0: fewer) than expected.
    """

    sheet: Sheet
    batch_id: UUID
    seen: set[str] = field(default_factory=set)
    unseen: set[str] = field(default_factory=set)
    beside: int = 0


@dataclass(slots=True)
class Sighting:
    """A scanned goblet where something is not as expected; by batch where a batch is known."""

    sheet: Sheet
    codes: Collection[str]
    extra: list[str]
    unseen: list[str]
    unknown: list[str]
    beside: Mapping[UUID, int]


def count_gaps(sheet: Sheet) -> list[Gap]:
    """A goblet counted by number: each batch by itself, in order of the batches' ids."""
    if sheet.expected == sheet.counted:
        return []
    gaps = []
    for batch_id in sorted({*sheet.expected, *sheet.counted}):
        more = sheet.counted.get(batch_id, 0) - sheet.expected.get(batch_id, 0)
        if more:
            gaps.append(Gap(sheet, batch_id, abs(more), over=more > 0, by_number=True))
    return gaps


def sight(sheet: Sheet, elsewhere: Mapping[str, BookedStraw]) -> Sighting | None:
    """A scanned goblet; None when it holds exactly what is expected.

    A code that was read twice in one goblet is one straw.
    """
    assert sheet.codes is not None
    codes, expected = set(sheet.codes), sheet.expected_codes.keys()
    whole = not any(sheet.counted.values()) and sum(sheet.expected.values()) == len(expected)
    if whole and codes == expected:
        return None
    extra = sorted(codes - expected)
    return Sighting(
        sheet=sheet,
        codes=codes,
        extra=[code for code in extra if code in elsewhere],
        unseen=sorted(expected - codes),
        unknown=[code for code in extra if code not in elsewhere],
        beside=_beside(sheet),
    )


def _beside(sheet: Sheet) -> dict[UUID, int]:
    """Straws without a code, by batch: counted less expected, where that is not 0."""
    coded = Counter(straw.batch_id for straw in sheet.expected_codes.values())
    more = {
        id: sheet.counted.get(id, 0) - max(sheet.expected.get(id, 0) - coded[id], 0)
        for id in sorted({*sheet.expected, *sheet.counted})
    }
    return {id: straws for id, straws in more.items() if straws}


def settle(twins: Sequence[Twins], elsewhere: Mapping[str, BookedStraw]) -> list[Settled]:
    """Let codes that were read change places with twins that were not, in the order given.

    Each exchange is meant after those before it, so a pair that sets two goblets right comes once.
    What is left in `seen` or `unseen` afterwards (never in both) is a matter of numbers.
    """
    by_place = {(one.sheet.goblet_id, one.batch_id): one for one in twins}
    place = {code: elsewhere[code].goblet_id for one in twins for code in one.seen}
    settled = []
    for one in twins:
        while one.seen and one.unseen:
            code, twin, home = _pair(one, by_place, place)
            one.seen.discard(code)
            one.unseen.discard(twin)
            if home is not None and code in home.unseen:
                home.unseen.discard(code)
                if twin in home.seen:
                    home.seen.discard(twin)
                else:
                    home.unseen.add(twin)
            place[twin], place[code] = place[code], one.sheet.goblet_id
            settled.append(Settled(one.sheet.goblet_id, one.batch_id, code, twin))
    return settled


def _pair(
    one: Twins,
    by_place: Mapping[tuple[UUID, UUID], Twins],
    place: Mapping[str, UUID | None],
) -> tuple[str, str, Twins | None]:
    """Which code goes for which twin, and where the book had that code.

    First those that stand in each other's place; then a code that the book let go, because one that
    it has in store is told best as a straw in the wrong place.
    """

    def home(code: str) -> Twins | None:
        goblet_id = place[code]
        return by_place.get((goblet_id, one.batch_id)) if goblet_id else None

    def rank(code: str) -> tuple[bool, bool, str]:
        there = home(code)
        return there is None or not one.unseen & there.seen, place[code] is not None, code

    code = min(one.seen, key=rank)
    there = home(code)
    twin = min(
        one.unseen, key=lambda twin: (there is None or twin not in there.seen, twin in place, twin)
    )
    return code, twin, there


def left_over(one: Twins) -> Gap | None:
    """What twins lack, or have too many, by number; `codes` are those it fell upon.

    Whether a coded or an uncoded twin left was the book's choice too, as long as it was not sure:
    a code in place of one without, or the other way round, is no difference.
    """
    more = len(one.seen) - len(one.unseen) + one.beside
    if not more:
        return None
    codes = sorted(one.seen if more > 0 else one.unseen)[: abs(more)]
    return Gap(one.sheet, one.batch_id, abs(more), over=more > 0, codes=tuple(codes))
