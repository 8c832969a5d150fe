"""Holds what was counted against what the book expects, and says what each difference is.

Pure: a function of its arguments, in the order of addresses, then batches, what has no batch last.

Every goblet is compared with the book at its own cut-off, every batch in it by itself: an over is
never set off against an under, neither between goblets nor between the batches of one. Looking
across goblets changes what a difference is called and what may explain it, never a number.

By scan a code decides, as long as the book was sure of it. Twins that it was not sure of change
places without a difference; what remains of them is a number, like a count without codes.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from uuid import UUID

from service.audits.matching import classify, difference, grouped
from service.audits.rules import BookedStraw, Comparison, Difference, Move, Settled, Sheet
from service.audits.sighting import Gap, Sighting, Twins, count_gaps, left_over, settle, sight


def compare(sheets: Sequence[Sheet], elsewhere: Mapping[str, BookedStraw]) -> Comparison:
    """What came out of these counts.

    `elsewhere` has every code that was read, is not among its own goblet's expected ones, and is
    known to this bank: its place or state in the book at that goblet's cut-off. A code in neither
    is unknown. `sure` must be false for all twins that stood together when some of them were taken
    by number, those that stayed as well: otherwise a twin's exchange is told as a loss.

    A batch may have several differences in one goblet (one code missing, another too many). Each is
    told as if it were alone, `expected` being what the book expects of the batch there; together
    they add up to what was counted less what was expected. Of a number of straws that cannot be
    told apart `codes` may name more than are missing: any of them. A difference of 0 is about marks
    that cannot be read any more.
    """
    ordered = sorted(sheets, key=lambda sheet: (sheet.address, sheet.goblet_id))
    found = _Found(elsewhere)
    for sheet in ordered:
        if sheet.disturbed:
            found.differences += _disturbed(sheet, elsewhere)
        else:
            found.take(sheet)
    settled = found.settle_twins()
    found.trace()
    found.look_inside()
    found.differences += classify(found.gaps, elsewhere, found.goblets)
    return _comparison(ordered, found.differences, settled)


def _comparison(
    sheets: Sequence[Sheet], differences: Iterable[Difference], settled: Sequence[Settled]
) -> Comparison:
    place = {sheet.goblet_id: number for number, sheet in enumerate(sheets)}

    def order(one: Difference) -> tuple[int, bool, int, int, tuple[str, ...]]:
        batch = one.batch_id.int if one.batch_id else 0
        return place[one.goblet_id], not batch, batch, one.difference, tuple(one.codes)

    told = sorted(differences, key=order)
    differing = {one.goblet_id for one in told}
    return Comparison(
        differences=told,
        moves=list(dict.fromkeys(one.move for one in told if one.move)),
        settled=settled,
        agreed=[sheet.goblet_id for sheet in sheets if sheet.goblet_id not in differing],
    )


def _disturbed(sheet: Sheet, elsewhere: Mapping[str, BookedStraw]) -> list[Difference]:
    """Nothing is concluded from it: each batch with what was counted, to be counted again."""
    counted = defaultdict(int, sheet.counted)
    for code in set(sheet.codes or ()):
        straw = sheet.expected_codes.get(code) or elsewhere.get(code)
        if straw is not None:
            counted[straw.batch_id] += 1
    note = "Something was booked here while it was counted. Count this goblet again."
    batches: list[UUID | None] = [
        id for id in sorted({*sheet.expected, *counted}) if sheet.expected.get(id) or counted[id]
    ]
    return [
        Difference(
            goblet_id=sheet.goblet_id,
            batch_id=batch_id,
            expected=sheet.expected.get(batch_id, 0) if batch_id else 0,
            counted=counted[batch_id] if batch_id else 0,
            kind="disturbed",
            note=note,
        )
        for batch_id in batches or [None]
    ]


@dataclass(slots=True)
class _Found:
    """What is known so far of the counted goblets, disturbed ones left out."""

    elsewhere: Mapping[str, BookedStraw]
    goblets: dict[UUID, Sheet] = field(default_factory=dict)
    sightings: dict[UUID, Sighting] = field(default_factory=dict)
    gaps: list[Gap] = field(default_factory=list)
    #: By code that was read where it is not expected: the goblets.
    seen_in: dict[str, list[UUID]] = field(default_factory=lambda: defaultdict(list))
    differences: list[Difference] = field(default_factory=list)

    def take(self, sheet: Sheet) -> None:
        """Look at a goblet by itself."""
        self.goblets[sheet.goblet_id] = sheet
        if sheet.codes is None:
            self.gaps += count_gaps(sheet)
            unknown: Sequence[str] = ()
        else:
            sighting = sight(sheet, self.elsewhere)
            unknown = sighting.unknown if sighting else ()
            if sighting is not None:
                self.sightings[sheet.goblet_id] = sighting
                for code in sighting.extra:
                    self.seen_in[code].append(sheet.goblet_id)
        if foreign := (*sheet.foreign, *unknown):
            self.differences.append(_foreign(sheet, foreign))

    def settle_twins(self) -> list[Settled]:
        """Exchange twins; what is missing or too many by then becomes a gap."""
        twins: list[Twins] = []
        for sighting in self.sightings.values():
            twins += self._twins(sighting)
        settled = settle(twins, self.elsewhere)
        self.gaps += [gap for one in twins if (gap := left_over(one))]
        return settled

    def _twins(self, sighting: Sighting) -> list[Twins]:
        """The twins in doubt of a goblet; its sure codes become gaps by name."""
        sheet = sighting.sheet
        twins = {id: Twins(sheet, id, beside=n) for id, n in sighting.beside.items()}
        lost: dict[UUID, list[str]] = defaultdict(list)
        for code in sighting.unseen:
            straw = sheet.expected_codes[code]
            if straw.sure:
                lost[straw.batch_id].append(code)
            else:
                twins.setdefault(straw.batch_id, Twins(sheet, straw.batch_id)).unseen.add(code)
        for code in sighting.extra:
            straw = self.elsewhere[code]
            if not self._sure(code):
                twins.setdefault(straw.batch_id, Twins(sheet, straw.batch_id)).seen.add(code)
        for id, codes in lost.items():
            self.gaps.append(Gap(sheet, id, len(codes), over=False, named=True, codes=(*codes,)))
        return [twins[id] for id in sorted(twins)]

    def _sure(self, code: str) -> bool:
        """Whether the book is sure of a code, or was when its own goblet was scanned without it."""
        straw = self.elsewhere[code]
        home = self._home(straw)
        if straw.sure or home is None or home.codes is None:
            return straw.sure
        expected = home.expected_codes.get(code)
        return expected is not None and expected.sure and not self._read_at(home.goblet_id, code)

    def _read_at(self, goblet_id: UUID | None, code: str) -> bool:
        """Whether a code was read in a counted goblet."""
        if goblet_id is None or goblet_id not in self.goblets:
            return False
        sighting = self.sightings.get(goblet_id)
        return code in (sighting.codes if sighting else self.goblets[goblet_id].codes or ())

    def _home(self, straw: BookedStraw) -> Sheet | None:
        """The counted goblet where the book has a straw."""
        return self.goblets.get(straw.goblet_id) if straw.goblet_id else None

    def trace(self) -> None:
        """Say where sure codes that were read in another goblet came from."""
        lacking: dict[tuple[UUID, UUID], list[Gap]] = defaultdict(list)
        for gap in self.gaps:
            if not gap.over:
                lacking[gap.sheet.goblet_id, gap.batch_id].append(gap)
        for sighting in self.sightings.values():
            sure = [code for code in sighting.extra if self._sure(code)]
            for origin, codes in grouped(sure, self._origin):
                self._tell(sighting.sheet, origin, codes, lacking)
        self._seen_after_all()
        self.gaps = [gap for gap in self.gaps if gap.straws]

    def _origin(self, code: str) -> tuple[UUID, str, UUID | None, tuple[UUID, ...]]:
        """(batch, state, goblet, where else it was read) of a code."""
        straw = self.elsewhere[code]
        where = (straw.goblet_id,) if self._read_at(straw.goblet_id, code) else ()
        seen = tuple(id for id in dict.fromkeys((*where, *self.seen_in[code])) if id)
        state = straw.state if straw.goblet_id is None else ""
        return straw.batch_id, state, straw.goblet_id, seen if len(seen) > 1 else ()

    def _tell(
        self,
        sheet: Sheet,
        origin: tuple[UUID, str, UUID | None, tuple[UUID, ...]],
        codes: Sequence[str],
        lacking: Mapping[tuple[UUID, UUID], Sequence[Gap]],
    ) -> None:
        batch_id, state, goblet_id, twice = origin
        over = Gap(sheet, batch_id, len(codes), over=True, named=True, codes=tuple(codes))
        if twice:
            note = "Read in more than one goblet: look where it is now."
            self._say(difference(over, "ambiguous", candidates=twice, note=note))
        elif goblet_id is None:
            self._say(difference(over, "surplus", note=f"The book has it as {state}."))
        else:
            home = self.goblets.get(goblet_id)
            expected = [code for code in codes if home and code in home.expected_codes]
            came_later = [code for code in codes if code not in expected]
            if came_later:
                self._moved(over, goblet_id, came_later, None)
            self._from_counted(over, goblet_id, expected, lacking[goblet_id, batch_id])

    def _from_counted(
        self, over: Gap, goblet_id: UUID, codes: Sequence[str], lacking: Iterable[Gap]
    ) -> None:
        """Codes that a counted goblet expects: it lacks them, or the counts do not go together."""
        left = list(codes)
        for gap in lacking:
            if gap.named:
                here = [code for code in left if code in gap.codes]
            else:  # by number: any of them; of twins in doubt first those it fell upon
                here = sorted(left, key=lambda code: (code not in gap.codes, code))[: gap.straws]
            if here:
                self._moved(over, goblet_id, here, gap)
                _lessen(gap, here)
                left = [code for code in left if code not in here]
        if left:
            note = "The book has it in a goblet that was counted and lacks none."
            part = _part(over, left)
            self._say(difference(part, "ambiguous", candidates=(goblet_id,), note=note))

    def _moved(self, over: Gap, from_id: UUID, codes: Sequence[str], lack: Gap | None) -> None:
        """`lack`: what it explains there; None where that goblet does not lack it."""
        to = over.sheet
        move = Move(from_id, to.goblet_id, over.batch_id, len(codes), "certain", (*codes,))
        self._say(difference(_part(over, codes), "wrong-place", move=move))
        if lack is not None:
            gap = _part(lack, codes)
            note = f"Read in {to.address}."
            self._say(difference(gap, "wrong-place", move=move, note=note))

    def _seen_after_all(self) -> None:
        """Sure codes that their goblet lacks and another goblet saw, where that explains nothing.

        The book moved them after this count, by its own choice or not, or they were read in several
        goblets.
        """
        lost = {code for gap in self.gaps if gap.named for code in gap.codes}
        if not lost:
            return
        seen_in = {code: list(self.seen_in.get(code, ())) for code in lost}
        for sheet in self.goblets.values():
            for code in lost.intersection(sheet.codes or ()):
                if sheet.goblet_id not in seen_in[code]:
                    seen_in[code].append(sheet.goblet_id)
        over = {code: gap for gap in self.gaps if gap.over for code in gap.codes}
        for gap in [gap for gap in self.gaps if gap.named]:
            for code in [code for code in gap.codes if code in over]:
                self._moved(over[code], gap.sheet.goblet_id, [code], gap)
                _lessen(over[code], [code])
                _lessen(gap, [code])
            for where, codes in grouped(gap.codes, lambda code: tuple(seen_in[code])):
                if where:
                    note = "Read in another goblet, where the book does not look for it from here."
                    part = _part(gap, codes)
                    self._say(difference(part, "ambiguous", candidates=where, note=note))
                    _lessen(gap, codes)

    def look_inside(self) -> None:
        """What may explain the gaps of a goblet within it: unreadable straws, neighbours, marks."""
        by_goblet: dict[UUID, list[Gap]] = defaultdict(list)
        for gap in self.gaps:
            by_goblet[gap.sheet.goblet_id].append(gap)
        for goblet_id, sheet in self.goblets.items():
            gaps = by_goblet.get(goblet_id, [])
            if sheet.unreadable:
                self._unreadable(sheet, [gap for gap in gaps if not gap.over])
            _neighbours(gaps)
            _lost_marks(gaps)
        self.gaps = [gap for gap in self.gaps if gap.straws]

    def _unreadable(self, sheet: Sheet, lacks: Sequence[Gap]) -> None:
        """Straws that nobody could read may be any that are lacking.

        If one batch lacks just as many they are taken to be those. That is told nevertheless, as a
        difference of 0: nothing is missing, yet somebody has to give these straws a mark again.
        """
        batches = sorted({gap.batch_id for gap in lacks})
        if len(batches) == 1 and sum(gap.straws for gap in lacks) == sheet.unreadable:
            codes = tuple(sorted(code for gap in lacks for code in gap.codes))
            expected = sheet.expected.get(batches[0], 0)
            note = (
                f"{sheet.unreadable} could not be read, and just as many of this batch were not "
                "seen: taken to be those. Mark them again."
            )
            self._say(
                Difference(
                    sheet.goblet_id, batches[0], expected, expected, "unknown", codes, note=note
                )
            )
            for gap in lacks:
                gap.straws = 0
            return
        for gap in lacks:
            gap.doubt([sheet.goblet_id], f"up to {sheet.unreadable} could not be read here")
        note = "Could not be read." + (" May be some of those missing here." if batches else "")
        self._say(
            Difference(
                sheet.goblet_id,
                None,
                0,
                sheet.unreadable,
                "unknown",
                candidates=(*batches,),
                note=note,
            )
        )

    def _say(self, one: Difference) -> None:
        self.differences.append(one)


def _foreign(sheet: Sheet, marks: Sequence[str]) -> Difference:
    return Difference(
        sheet.goblet_id, None, 0, len(marks), "unknown", foreign=marks, note="Not of this bank."
    )


def _part(gap: Gap, codes: Sequence[str]) -> Gap:
    return Gap(gap.sheet, gap.batch_id, len(codes), gap.over, named=True, codes=tuple(codes))


def _lessen(gap: Gap, codes: Sequence[str]) -> None:
    """So many straws of a gap are explained."""
    gap.straws -= len(codes)
    gap.codes = tuple(code for code in gap.codes if code not in codes)[: gap.straws]


def _neighbours(gaps: Sequence[Gap]) -> None:
    """One batch short by as many as another is over, both by number: they may be mixed up."""
    blind = [gap for gap in gaps if gap.by_number or not gap.codes]
    for lack in blind:
        for over in blind:
            fits = over.over and not lack.over and lack.straws == over.straws > 0
            if fits and lack.batch_id != over.batch_id:
                lack.doubt([over.batch_id], "another batch here has as many too many")
                over.doubt([lack.batch_id], "another batch here lacks as many")


def _lost_marks(gaps: Sequence[Gap]) -> None:
    """A sure code was not seen, and a straw of its batch that has none, or is its twin, is over."""
    for lack in gaps:
        for over in gaps:
            unnamed = over.over and not over.named and lack.named and not lack.over
            if unnamed and lack.straws and lack.batch_id == over.batch_id:
                lack.doubt([over.batch_id], "a straw of this batch is too many here")
                over.doubt([over.batch_id], "a code of this batch was not seen here")
