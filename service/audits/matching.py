"""Looks for the other half of a gap: straws of a batch missing here and too many there.

Pure. Numbers alone say "likely" when there is one goblet each with as many; all else is left open,
with the goblets that may explain it.
"""

from collections import defaultdict
from collections.abc import Callable, Container, Iterable, Mapping, Sequence
from typing import TypeVar
from uuid import UUID

from service.audits.rules import BookedStraw, Difference, DifferenceClass, Move
from service.audits.sighting import Gap

_Key = TypeVar("_Key")


def difference(
    gap: Gap,
    kind: DifferenceClass,
    *,
    candidates: Sequence[UUID] = (),
    move: Move | None = None,
    note: str = "",
) -> Difference:
    """A gap as it is told."""
    expected = gap.sheet.expected.get(gap.batch_id, 0)
    return Difference(
        goblet_id=gap.sheet.goblet_id,
        batch_id=gap.batch_id,
        expected=expected,
        counted=expected + (gap.straws if gap.over else -gap.straws),
        kind=kind,
        codes=gap.codes,
        candidates=candidates,
        move=move,
        note=note,
    )


def grouped(codes: Iterable[str], by: Callable[[str], _Key]) -> list[tuple[_Key, list[str]]]:
    """Codes by what they have in common, in order of appearance."""
    groups: dict[_Key, list[str]] = {}
    for code in codes:
        groups.setdefault(by(code), []).append(code)
    return list(groups.items())


def classify(
    gaps: Sequence[Gap], elsewhere: Mapping[str, BookedStraw], counted: Container[UUID]
) -> list[Difference]:
    """What each gap is, batch by batch; `counted` are the goblets that were compared."""
    by_batch: dict[UUID, list[Gap]] = defaultdict(list)
    for gap in gaps:
        by_batch[gap.batch_id].append(gap)
    told = []
    for of_batch in by_batch.values():
        halves = _Halves(of_batch)
        for gap in of_batch:
            told += _classified(gap, halves, elsewhere, counted)
    return told


class _Halves:
    """The gaps of one batch: each over may be the other half of each lack.

    Of a sure code that nobody saw, too: the hand may have taken it, where it did not belong, for a
    twin that was counted instead.
    """

    def __init__(self, gaps: Sequence[Gap]) -> None:
        self._overs = [gap for gap in gaps if gap.over]
        self._lacks = [gap for gap in gaps if not gap.over]
        self._with_overs = _goblets(self._overs)
        self._with_lacks = _goblets(self._lacks)

    def of(self, gap: Gap) -> Sequence[Gap]:
        """What may be the other half of this gap."""
        return self._lacks if gap.over else self._overs

    def goblets(self, gap: Gap) -> tuple[UUID, ...]:
        """Where those are."""
        return self._with_lacks if gap.over else self._with_overs

    def only(self, gap: Gap) -> Gap | None:
        """The one gap that can be the other half, if it can be that of no other."""
        if len(self._overs) != 1 or len(self._lacks) != 1:
            return None
        [other] = self.of(gap)
        return None if other.sheet is gap.sheet else other


def _goblets(gaps: Sequence[Gap]) -> tuple[UUID, ...]:
    return tuple(dict.fromkeys(gap.sheet.goblet_id for gap in gaps))


def _classified(
    gap: Gap, halves: _Halves, elsewhere: Mapping[str, BookedStraw], counted: Container[UUID]
) -> list[Difference]:
    other = halves.only(gap)
    if other and other.straws == gap.straws and not gap.doubts and not other.doubts:
        there = f"As many are {'missing' if gap.over else 'too many'} in {other.sheet.address}."
        return [difference(gap, "wrong-place", move=_move(gap, other), note=there)]
    if halves.of(gap):
        return [_open(gap, other, halves)]
    if gap.doubts:
        return _doubted(gap)
    if gap.over:
        return list(_surplus(gap, elsewhere, counted))
    return [difference(gap, "missing")]


def _move(gap: Gap, other: Gap) -> Move:
    lack, over = (other, gap) if gap.over else (gap, other)
    ends = lack.sheet.goblet_id, over.sheet.goblet_id, gap.batch_id
    straws = min(lack.straws, over.straws)
    if gap.doubts or other.doubts or lack.straws != over.straws:
        return Move(*ends, straws, "possible")
    read = bool(over.codes) and set(over.codes) <= lack.sheet.expected_codes.keys()
    return Move(*ends, straws, "certain" if read else "likely", over.codes if read else ())


def _open(gap: Gap, other: Gap | None, halves: _Halves) -> Difference:
    """Several things may explain it, or one explains a part of it."""
    candidates = (*halves.goblets(gap), *gap.doubts) if gap.doubts else halves.goblets(gap)
    because = list(gap.because)
    if other is None:
        there = "are missing" if gap.over else "are too many"
        because.append(f"straws of this batch {there} in {len(halves.goblets(gap))} other goblets")
        if len(halves.goblets(gap)) == 1:
            because[-1] = f"straws of this batch {there} in another goblet"
    else:
        there = f"{other.straws} {'missing' if gap.over else 'too many'} in {other.sheet.address}"
        because.append(f"{there}, {gap.straws} {'too many' if gap.over else 'missing'} here")
    move = _move(gap, other) if other else None
    return difference(gap, "ambiguous", candidates=candidates, move=move, note=_sentence(because))


def _doubted(gap: Gap) -> list[Difference]:
    """It may be explained within its goblet; what unreadable straws cannot explain is missing."""
    note = _sentence(gap.because)
    unreadable = gap.sheet.unreadable
    if gap.over or gap.doubts != [gap.sheet.goblet_id] or gap.straws <= unreadable:
        return [difference(gap, "ambiguous", candidates=tuple(gap.doubts), note=note)]
    parts = [
        Gap(gap.sheet, gap.batch_id, straws, over=False, named=gap.named, codes=gap.codes)
        for straws in (unreadable, gap.straws - unreadable)
    ]
    return [
        difference(parts[0], "ambiguous", candidates=tuple(gap.doubts), note=note),
        difference(parts[1], "missing", note="More are missing than could not be read."),
    ]


def _surplus(
    gap: Gap, elsewhere: Mapping[str, BookedStraw], counted: Container[UUID]
) -> Iterable[Difference]:
    """Too many, and no counted goblet lacks one: by what the book says of the codes, if any."""
    bare = gap.straws - len(gap.codes)
    if bare:
        yield difference(Gap(gap.sheet, gap.batch_id, bare, over=True), "surplus")

    def origin(code: str) -> tuple[str, UUID | None]:
        straw = elsewhere[code]
        return straw.state, None if straw.goblet_id in counted else straw.goblet_id

    for (state, from_id), codes in grouped(gap.codes, origin):
        part = Gap(gap.sheet, gap.batch_id, len(codes), over=True, codes=tuple(codes))
        if from_id is not None:
            ends = from_id, gap.sheet.goblet_id, gap.batch_id
            move = Move(*ends, len(codes), "likely", part.codes)
            yield difference(part, "wrong-place", move=move, note="The book chose among twins.")
        elif state == "stored":
            yield difference(part, "surplus", note="The book has a twin of it in another goblet.")
        else:
            yield difference(part, "surplus", note=f"The book has it, or a twin of it, as {state}.")


def _sentence(because: Sequence[str]) -> str:
    text = "; ".join(because)
    return text[:1].upper() + text[1:] + "."
