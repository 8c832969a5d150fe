"""The report of a stock-take put together from what was counted, found, done and signed."""

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import NamedTuple
from uuid import UUID

from sqlmodel import Session, col, select

from service.audits import adjusting, as_it_was, sampling, shown, store
from service.audits.report_form import (
    FORM,
    AdjustmentBooked,
    BatchSaid,
    CountBefore,
    DifferenceFound,
    GobletCounted,
    Person,
    Point,
    Report,
    Sample,
    Signed,
    digest,
)
from service.audits.rules import Sheet
from service.audits.store import Approval, Count, Review, StockTake, TakeGoblet
from service.bank.store import Batch, Stallion, station_of
from service.kernel import chain, clock
from service.kernel.database import in_parts
from service.ledger.store import Head, Straw, head_of

_ALGORITHM = (
    "In each tank goblets are put in order of the SHA-256 of the seed, a colon and the goblet's id "
    "(lower case, with hyphens); the first so many were drawn."
)
_SILENT = (
    "It says nothing about goblets outside of its scope.",
    "It says nothing about what is in the straws, nor how it was kept.",
    "It says nothing about what happened after the goblets were counted.",
)


def build(db: Session, take: StockTake, *, closed_by: Person) -> Report:
    """The report as things stand, with its hash."""
    station = station_of(db)
    counts = store.counts_of(db, take.id)
    latest, goblets = store.latest(counts), store.goblets_of(db, take.id)
    compared = _compared(take)
    sheets, _ = as_it_was.sheets(db, take, goblets, latest, until=compared["seq"])
    scanned = _scanned(db, sheets, counts)
    batches = _batches(db, take, sheets, counts, scanned)
    names = {batch_id: said["code"] for batch_id, said in batches.items()}
    differences = _differences(db, take, names)
    tanks = {one.goblet_id: one.tank_name for one in goblets}
    claim = _claim(take, sheets, differences)
    report = Report(
        form=FORM,
        stock_take_id=str(take.id),
        station={"name": station.name, "time_zone": station.time_zone},
        scope={"words": _scope(take, goblets), "goblets": len(goblets)},
        method="Each goblet against the book as it stood when that goblet was counted.",
        blind=take.blind,
        opened_by=Person(id=str(take.opened_by_id), name=take.opened_by),
        opened_at=clock.as_text(take.opened_at),
        closed_by=closed_by,
        closed_at=clock.as_text(take.closed_at or take.opened_at),
        closing_note=take.closing_note or "",
        freeze=Point(
            seq=take.frozen_at_entry, head=take.frozen_head, at=clock.as_text(take.opened_at)
        ),
        compared=compared,
        closing=_point(head_of(db), take.closed_at or take.opened_at),
        sample=_sample(take, goblets, claim),
        batches=sorted(batches.values(), key=lambda one: one["code"]),
        goblets=[
            _goblet(take, sheet, tanks[sheet.goblet_id], _Counted(counts, names, scanned))
            for sheet in sheets
        ],
        differences=differences,
        adjustments=_adjustments(db, take),
        settled=[
            {
                "goblet_id": one["goblet_id"],
                "seen": one["seen"],
                "instead_of": one["instead_of"],
            }
            for one in take.settled
        ],
        signatures=[_signed(one) for one in store.reviews_of(db, take.id)],
        says=[claim.words] if claim else [_whole(sheets, differences)],
        says_not=[*(claim.silent_about if claim else _SILENT)],
        sha256="",
    )
    report["sha256"] = digest(report)
    return report


def _compared(take: StockTake) -> Point:
    if take.compared_at is None or take.compared_at_entry is None:
        return Point(
            seq=take.frozen_at_entry, head=take.frozen_head, at=clock.as_text(take.opened_at)
        )
    return Point(
        seq=take.compared_at_entry,
        head=take.compared_head or chain.GENESIS,
        at=clock.as_text(take.compared_at),
    )


def _point(head: Head | None, at: datetime) -> Point:
    if head is None:
        return Point(seq=0, head=chain.GENESIS, at=clock.as_text(at))
    return Point(seq=head.seq, head=head.hash, at=clock.as_text(at))


def _scope(take: StockTake, goblets: Sequence[TakeGoblet]) -> str:
    if take.sample is not None:
        return f"A random sample of {len(goblets)} goblets, drawn tank by tank."
    if "goblet_ids" in take.scope:
        return f"{len(goblets)} goblets that were named."
    tanks = sorted({one.tank_name for one in goblets})
    if "tank_ids" in take.scope:
        return f"All goblets of {', '.join(tanks)}."
    return f"The whole bank: all goblets of {', '.join(tanks)}."


def _sample(
    take: StockTake, goblets: Sequence[TakeGoblet], claim: sampling.Claim | None
) -> Sample | None:
    if take.sample is None or take.seed is None:
        return None
    names = {str(one.tank_id): one.tank_name for one in goblets}
    return Sample(
        seed=take.seed,
        detect_percent=take.sample["detect_percent"],
        confidence_percent=take.sample["confidence_percent"],
        algorithm=_ALGORITHM,
        tanks=[
            {
                "tank_id": one["tank_id"],
                "tank": names.get(one["tank_id"], one["tank_id"]),
                "goblets": one["goblets"],
                "drawn": one["drawn"],
            }
            for one in take.sample["tanks"]
        ],
        claim=claim.words if claim else "Nothing was counted yet.",
    )


def _claim(
    take: StockTake, sheets: Sequence[Sheet], differences: Sequence[DifferenceFound]
) -> sampling.Claim | None:
    if take.sample is None or not sheets:
        return None
    populations = {one["tank_id"]: one["goblets"] for one in take.sample["tanks"]}
    counted = Counter(str(sheet.tank_id) for sheet in sheets)
    return sampling.claim(
        sum(populations.values()),
        len(sheets),
        len({one["goblet_id"] for one in differences}),
        confidence_percent=Decimal(take.sample["confidence_percent"]),
        populations=populations,
        numbers={tank: counted.get(tank, 0) for tank in populations},
    )


def _whole(sheets: Sequence[Sheet], differences: Sequence[DifferenceFound]) -> str:
    wrong = len({one["goblet_id"] for one in differences})
    return (
        f"Of {len(sheets)} goblets, all of the scope, {len(sheets) - wrong} hold what the book "
        f"says, and {wrong} do not."
    )


def _batches(
    db: Session,
    take: StockTake,
    sheets: Sequence[Sheet],
    counts: Sequence[Count],
    scanned: Mapping[str, UUID],
) -> dict[UUID, BatchSaid]:
    wanted = {batch_id for sheet in sheets for batch_id in (*sheet.expected, *sheet.counted)}
    wanted |= {UUID(one["batch_id"]) for count in counts for one in count.batches}
    wanted |= set(scanned.values())
    wanted |= {one.batch_id for one in store.differences_of(db, take.id) if one.batch_id}
    return {
        batch_id: BatchSaid(code=code, batch_id=str(batch_id), stallion=stallion)
        for some in in_parts(wanted)
        for batch_id, code, stallion in db.exec(
            select(Batch.id, Batch.code, Stallion.name)
            .join(Stallion, col(Stallion.id) == col(Batch.stallion_id))
            .where(col(Batch.id).in_(some))
        )
    }


def _scanned(db: Session, sheets: Sequence[Sheet], counts: Sequence[Count]) -> dict[str, UUID]:
    """The batch of each code that was scanned; most are known from where they were expected."""
    codes = {code for count in counts for code in count.codes or ()}
    found = {
        code: straw.batch_id
        for sheet in sheets
        for code, straw in sheet.expected_codes.items()
        if code in codes
    }
    for some in in_parts(codes - found.keys()):
        query = select(Straw.code, Straw.batch_id).where(col(Straw.code).in_(some))
        found |= dict(db.exec(query).all())
    return found


class _Counted(NamedTuple):
    """Every count, the batches' codes, and the batch of each straw that was scanned."""

    counts: Sequence[Count]
    names: Mapping[UUID, str]
    scanned: Mapping[str, UUID]


def _goblet(take: StockTake, sheet: Sheet, tank: str, known: _Counted) -> GobletCounted:
    names, scanned = known.names, known.scanned
    own = [one for one in known.counts if one.goblet_id == sheet.goblet_id]
    last = store.latest(own)[sheet.goblet_id]
    return GobletCounted(
        goblet_id=str(sheet.goblet_id),
        address=sheet.address,
        tank=tank,
        opened_at=clock.as_text(last.started_at),
        counted_at=clock.as_text(last.counted_at),
        cut_off_seq=take.frozen_at_entry,
        cut_off_at=clock.as_text(last.counted_at),
        counted_by=Person(id=str(last.by_id), name=last.by_name),
        method="by number" if last.codes is None else "by scanning",
        round=last.round,
        not_blind=last.not_blind,
        disturbed=sheet.disturbed,
        expected=_by_code(sheet.expected, names),
        counted=_by_code(_counted(last, scanned), names),
        unreadable=sheet.unreadable,
        foreign=list(sheet.foreign),
        counts_before=[
            CountBefore(
                round=one.round,
                counted_by=Person(id=str(one.by_id), name=one.by_name),
                counted_at=clock.as_text(one.counted_at),
                counted=_by_code(_counted(one, scanned), names),
            )
            for one in own
            if one.id != last.id
        ],
    )


def _counted(count: Count, scanned: Mapping[str, UUID]) -> Mapping[UUID, int]:
    found: Counter[UUID] = Counter()
    for one in count.batches:
        found[UUID(one["batch_id"])] += one["straws"]
    for code in count.codes or ():
        if code in scanned:
            found[scanned[code]] += 1
    return found


def _by_code(straws: Mapping[UUID, int], names: Mapping[UUID, str]) -> dict[str, int]:
    return {names[batch_id]: number for batch_id, number in straws.items() if number}


def _differences(db: Session, take: StockTake, names: Mapping[UUID, str]) -> list[DifferenceFound]:
    addresses = {one.goblet_id: one.address for one in store.goblets_of(db, take.id)}
    booked = [one for one, approval in store.adjustments_of(db, take.id) if approval]
    found = []
    for one, left in adjusting.open_differences(db, take, approved_only=True):
        mine = [
            str(adjustment.id)
            for adjustment in booked
            if adjustment.batch_id == one.batch_id
            and one.goblet_id in (adjustment.goblet_id, adjustment.other_goblet_id)
        ]
        ended = left == 0 and bool(mine)
        note = take.closing_note or ""
        found.append(
            DifferenceFound(
                {
                    "goblet_id": str(one.goblet_id),
                    "address": addresses[one.goblet_id],
                    "batch_code": names[one.batch_id] if one.batch_id else None,
                    "expected": one.expected,
                    "counted": one.counted,
                    "difference": one.counted - one.expected,
                    "class": one.kind,  # type: ignore[typeddict-item]
                    "codes": one.codes,
                    "foreign": one.foreign,
                    "stories": [story["words"] for story in one.stories],
                    "note": one.note,
                    "end": "adjusted" if ended else "explained" if note else "open",
                    "end_words": "" if ended else note,
                    "adjustment_ids": mine,
                }
            )
        )
    return sorted(found, key=lambda one: (one["address"], one["batch_code"] or ""))


def _adjustments(db: Session, take: StockTake) -> list[AdjustmentBooked]:
    approvals = {one.id: approval for one, approval in store.adjustments_of(db, take.id)}
    proposers = {one.id: one.proposed_by_id for one, _ in store.adjustments_of(db, take.id)}
    found = []
    for one in shown.adjustments_out(db, take):
        approval = approvals[one.id]
        found.append(
            AdjustmentBooked(
                id=str(one.id),
                goblet_id=str(one.goblet_id),
                address=one.address,
                other_goblet_id=str(one.other_goblet_id) if one.other_goblet_id else None,
                batch_code=one.batch_code,
                difference=one.difference,
                reason_code=one.reason_code,
                note=one.note,
                proposed_by=Person(id=str(proposers[one.id]), name=one.proposed_by),
                proposed_at=clock.as_text(one.proposed_at),
                approved_by=_approver(approval),
                approved_at=clock.as_text(approval.approved_at) if approval else None,
                entry_seq=approval.entry_seq if approval else None,
                straw_codes=approval.straw_codes if approval else [],
            )
        )
    return found


def _approver(approval: Approval | None) -> Person | None:
    if approval is None:
        return None
    return Person(id=str(approval.approved_by_id), name=approval.approved_by)


def _signed(one: Review) -> Signed:
    return Signed(
        by=Person(id=str(one.by_id), name=one.by_name),
        role=one.role,
        meaning=one.meaning,
        note=one.note or "",
        at=clock.as_text(one.at),
    )
