"""What the book had in a goblet at its cut-off, and what touched it while it was counted.

Work goes on while a stock-take runs, so each goblet is compared with the book as it stood when that
goblet was counted: everything up to the freeze point, and of what was booked afterwards that which
happened until the count ended, by the time people gave for it. A withdrawal that is entered a
quarter of an hour late is thereby known, a later one is not.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import ColumnElement, String, cast, or_
from sqlalchemy import select as sa_select
from sqlmodel import Session, col

from service.audits.rules import Act, BookedStraw, Sheet
from service.audits.store import Count, StockTake, TakeGoblet
from service.kernel.database import in_parts
from service.ledger.store import Entry, Line, Straw

#: Entries that say more of straws and leave them where they are.
STAYS = frozenset({"exchange", "identify", "doubt", "owner"})

#: So many acts are told beside a difference.
RECENT = 10


class Step(NamedTuple):
    """One line of a straw's way, with when it happened."""

    seq: int
    kind: str
    occurred_at: datetime
    from_goblet_id: UUID | None
    to_state: str
    to_goblet_id: UUID | None
    provisional: bool


class Row(NamedTuple):
    """A straw as it stands now."""

    code: str
    batch_id: UUID
    coded: bool
    state: str
    goblet_id: UUID | None
    provisional: bool


#: Ids as the text they are kept as: making a UUID of each takes longer than all the rest.
_ROW: Any = (
    *(Straw.code, cast(col(Straw.batch_id), String), Straw.coded, Straw.state),
    *(cast(col(Straw.goblet_id), String), Straw.provisional),
)


def _read(db: Session, condition: ColumnElement[bool]) -> Iterator[Row]:
    """Straws as they stand; equal ids are made once."""
    ids: dict[str | None, UUID | None] = {None: None}
    for code, batch, coded, state, goblet, provisional in db.execute(
        sa_select(*_ROW).where(condition)
    ):
        for text in (batch, goblet):
            if text not in ids:
                ids[text] = UUID(text)
        batch_id = ids[batch]
        assert batch_id is not None
        yield Row(code, batch_id, coded, state, ids[goblet], provisional)


@dataclass(frozen=True, slots=True)
class Past:
    """The straws that moved since the freeze point, each with its whole way; the others stood.

    What was booked after entry `until` is not known. Of a batch `in_doubt` some straw left or came
    by count: then the book is sure of none of them, also of those that it did not choose.
    """

    frozen_at: int
    until: int
    ways: Mapping[str, Sequence[Step]]
    in_doubt: Collection[UUID] = frozenset()

    def place(self, row: Row, at: datetime) -> BookedStraw:
        """Where a straw was at this moment."""
        way = self.ways.get(row.code)
        if way is None:
            return BookedStraw(
                row.code, row.batch_id, row.state, row.goblet_id, sure=self._sure(row)
            )
        known = [
            step
            for step in way
            if step.seq <= self.frozen_at or (step.seq <= self.until and step.occurred_at <= at)
        ]
        if not known:
            return BookedStraw(row.code, row.batch_id, "made", None, sure=True)
        last = known[-1]
        return BookedStraw(
            row.code, row.batch_id, last.to_state, last.to_goblet_id, sure=self._sure(row)
        )

    def _sure(self, row: Row) -> bool:
        return not self.in_doubt or row.batch_id not in self.in_doubt


def sheets(
    db: Session,
    take: StockTake,
    goblets: Sequence[TakeGoblet],
    counts: Mapping[UUID, Count],
    *,
    until: int,
) -> tuple[list[Sheet], dict[str, BookedStraw]]:
    """A sheet for each counted goblet, and where scanned codes were that are not expected there.

    `until` is the number of the newest entry that is known.
    """
    past = _past(db, take.frozen_at_entry, until)
    rows = _rows(db, [one.goblet_id for one in goblets], past.ways)
    codes = {code for count in counts.values() for code in count.codes or ()}
    scanned = {code: row for code, row in rows.items() if code in codes}
    scanned |= _by_code(db, codes - rows.keys())
    past = replace(past, in_doubt=_in_doubt(db, past, rows | scanned))
    touched = _touched(past)
    found, elsewhere = [], {}
    by_goblet = _by_goblet(rows, past, counts)
    for goblet in goblets:
        count = counts.get(goblet.goblet_id)
        if count is None:
            continue
        sheet = _sheet(goblet, count, by_goblet[goblet.goblet_id], touched, scanned)
        found.append(sheet)
        for code in sheet.codes or ():
            if code not in sheet.expected_codes and code in scanned:
                elsewhere[code] = past.place(scanned[code], count.counted_at)
    return found, elsewhere


def _past(db: Session, frozen_at: int, until: int) -> Past:
    moved = set(
        db.execute(
            sa_select(col(Line.straw_code)).where(col(Line.entry_seq) > frozen_at).distinct()
        ).scalars()
    )
    ways: dict[str, list[Step]] = defaultdict(list)
    columns: Any = (
        *(Line.straw_code, Entry.seq, Entry.kind, Entry.occurred_at),
        *(Line.from_goblet_id, Line.to_state, Line.to_goblet_id, Line.provisional),
    )
    for some in in_parts(moved):
        for code, *step in db.execute(
            sa_select(*columns)
            .join(Entry, col(Entry.seq) == col(Line.entry_seq))
            .where(col(Line.straw_code).in_(some))
            .order_by(col(Line.entry_seq), col(Line.number))
        ):
            ways[code].append(Step(*step))
    return Past(frozen_at, until, ways)


def _in_doubt(db: Session, past: Past, rows: Mapping[str, Row]) -> set[UUID]:
    """The batches of which some straw is, or was since the freeze, where the book chose."""
    by_count = {
        rows[code].batch_id
        for code, way in past.ways.items()
        if code in rows and any(step.provisional for step in way)
    }
    query = sa_select(col(Straw.batch_id)).where(col(Straw.provisional).is_(True)).distinct()
    for some in in_parts({row.batch_id for row in rows.values()}):
        by_count |= set(db.execute(query.where(col(Straw.batch_id).in_(some))).scalars())
    return by_count


def _rows(db: Session, goblet_ids: Sequence[UUID], moved: Collection[str]) -> dict[str, Row]:
    """The straws that stand in these goblets now, and those that moved since the freeze."""
    found = {}
    for some in in_parts(goblet_ids):
        for row in _read(db, col(Straw.goblet_id).in_(some)):
            found[row.code] = row
    return found | _by_code(db, set(moved) - found.keys())


def _by_code(db: Session, codes: Collection[str]) -> dict[str, Row]:
    return {
        row.code: row for some in in_parts(codes) for row in _read(db, col(Straw.code).in_(some))
    }


def _by_goblet(
    rows: Mapping[str, Row], past: Past, counts: Mapping[UUID, Count]
) -> dict[UUID, list[tuple[Row, BookedStraw]]]:
    """By counted goblet the straws that stood there at its cut-off."""
    found: dict[UUID, list[tuple[Row, BookedStraw]]] = {goblet_id: [] for goblet_id in counts}
    for row in rows.values():
        way = past.ways.get(row.code)
        if way is None:
            if row.goblet_id in found:
                found[row.goblet_id].append((row, past.place(row, _ANY_TIME)))
            continue
        for goblet_id in {step.to_goblet_id for step in way} & found.keys():
            assert goblet_id is not None
            booked = past.place(row, counts[goblet_id].counted_at)
            if booked.goblet_id == goblet_id:
                found[goblet_id].append((row, booked))
    return found


#: A straw that did not move was there at any time.
_ANY_TIME = datetime.max.replace(tzinfo=UTC)


def _touched(past: Past) -> dict[UUID, list[datetime]]:
    """By goblet: when something was taken out of it or put into it since the freeze point."""
    found: dict[UUID, list[datetime]] = defaultdict(list)
    for way in past.ways.values():
        for step in way:
            if past.frozen_at < step.seq <= past.until and step.kind not in STAYS:
                for goblet_id in {step.from_goblet_id, step.to_goblet_id} - {None}:
                    assert goblet_id is not None
                    found[goblet_id].append(step.occurred_at)
    return found


def _sheet(
    goblet: TakeGoblet,
    count: Count,
    booked: Sequence[tuple[Row, BookedStraw]],
    touched: Mapping[UUID, Sequence[datetime]],
    known: Collection[str],
) -> Sheet:
    codes = count.codes
    return Sheet(
        goblet_id=goblet.goblet_id,
        address=goblet.address,
        tank_id=goblet.tank_id,
        expected=Counter(row.batch_id for row, _ in booked),
        expected_codes={row.code: straw for row, straw in booked if row.coded},
        counted=Counter({UUID(one["batch_id"]): one["straws"] for one in count.batches}),
        codes=None if codes is None else [code for code in codes if code in known],
        unreadable=count.unreadable,
        foreign=[*count.foreign, *(code for code in codes or () if code not in known)],
        disturbed=any(
            count.started_at < at <= count.counted_at for at in touched.get(goblet.goblet_id, ())
        ),
    )


def acts_elsewhere(db: Session, goblet_id: UUID, batch_id: UUID | None) -> list[Act]:
    """The last acts on this batch in other goblets: one may have been meant for this goblet."""
    if batch_id is None:
        return []
    numbers = (
        sa_select(col(Line.entry_seq))
        .join(Straw, col(Straw.code) == col(Line.straw_code))
        .where(col(Straw.batch_id) == batch_id)
        .distinct()
        .order_by(col(Line.entry_seq).desc())
        .limit(RECENT)
    )
    seqs = list(db.execute(numbers).scalars())
    columns: Any = (Entry, Line.from_goblet_id, Line.to_goblet_id)
    entries: dict[int, Entry] = {}
    change: Counter[tuple[int, UUID]] = Counter()
    for entry, from_, to in db.execute(
        sa_select(*columns)
        .join(Line, col(Line.entry_seq) == col(Entry.seq))
        .join(Straw, col(Straw.code) == col(Line.straw_code))
        .where(col(Entry.seq).in_(seqs), col(Straw.batch_id) == batch_id)
    ):
        entries[entry.seq] = entry
        if to is not None:
            change[entry.seq, to] += 1
        if from_ is not None:
            change[entry.seq, from_] -= 1
    return [
        _act(entries[seq], place, straws)
        for (seq, place), straws in change.items()
        if place != goblet_id and straws
    ]


def _act(entry: Entry, goblet_id: UUID, change: int) -> Act:
    return Act(
        seq=entry.seq,
        kind=entry.kind,
        occurred_at=entry.occurred_at,
        by=entry.by_name,
        change=change,
        goblet_id=goblet_id,
    )


def recent_acts(db: Session, goblet_id: UUID, batch_id: UUID | None) -> list[Act]:
    """The last acts on this goblet (and this batch), newest first."""
    here = or_(col(Line.from_goblet_id) == goblet_id, col(Line.to_goblet_id) == goblet_id)
    of_batch = () if batch_id is None else (col(Straw.batch_id) == batch_id,)
    seqs = (
        sa_select(col(Line.entry_seq))
        .join(Straw, col(Straw.code) == col(Line.straw_code))
        .where(here, *of_batch)
        .distinct()
        .order_by(col(Line.entry_seq).desc())
        .limit(RECENT)
    )
    numbers = list(db.execute(seqs).scalars())
    columns: Any = (Entry, Line.from_goblet_id, Line.to_goblet_id)
    entries: dict[int, Entry] = {}
    change: Counter[int] = Counter()
    for entry, from_, to in db.execute(
        sa_select(*columns)
        .join(Line, col(Line.entry_seq) == col(Entry.seq))
        .join(Straw, col(Straw.code) == col(Line.straw_code))
        .where(col(Entry.seq).in_(numbers), here, *of_batch)
    ):
        entries[entry.seq] = entry
        change[entry.seq] += (to == goblet_id) - (from_ == goblet_id)
    return [
        _act(entry, goblet_id, change[entry.seq])
        for entry in sorted(entries.values(), key=lambda one: one.seq, reverse=True)
    ]
