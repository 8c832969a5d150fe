"""What is done about a difference: proposed by one person, approved by another, booked for ever.

An adjustment is an entry of its own kind. What is missing goes to the place `missing`; what is
found comes from there, or is made as straws without a code. Nothing is netted: each difference has
its own.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlmodel import Session, col, select

from service.audits import rules, store
from service.audits.actions import refuse_closed
from service.audits.store import Adjustment, Approval, Difference, StockTake
from service.bank.search import fresh_codes
from service.kernel import codes
from service.kernel.acts import Act
from service.ledger.book import book
from service.ledger.rules import Movement, NotEnoughStraws, Place, StrawNow, new_straw
from service.ledger.store import Straw, straws_by_code, straws_where, twins_to_take

KIND = "adjust"


@dataclass(frozen=True, slots=True, kw_only=True)
class NewAdjustment:
    """What somebody proposes; `other_goblet_id` where the straws stand there instead."""

    goblet_id: UUID
    batch_id: UUID
    difference: int
    reason_code: str
    note: str
    other_goblet_id: UUID | None = None


Taken = dict[tuple[UUID, UUID, bool], int]
"""By goblet, batch and whether straws were too many: how many of them are accounted for."""


def open_differences(
    db: Session, take: StockTake, *, approved_only: bool
) -> list[tuple[Difference, int]]:
    """The differences of the last comparison, with how much of each is not accounted for yet.

    By what was proposed, or only by what was approved and booked.
    """
    counted_at = {
        goblet_id: count.counted_at
        for goblet_id, count in store.latest(store.counts_of(db, take.id)).items()
    }
    taken: Taken = {}
    for adjustment, approval in store.adjustments_of(db, take.id):
        if approval is None and approved_only:
            continue
        for goblet_id, change in _effects(adjustment):
            at = counted_at.get(goblet_id)
            # What was booked before the goblet was counted again is in what was expected then.
            if approval is not None and at is not None and approval.approved_at < at:
                continue
            key = (goblet_id, adjustment.batch_id, change > 0)
            taken[key] = taken.get(key, 0) + abs(change)
    found = store.differences_of(db, take.id, take.comparisons)
    return [(one, _left(one, taken)) for one in found]


def _left(one: Difference, taken: Taken) -> int:
    """What is left of a difference; what it takes of the adjustments is not there for the next.

    A batch may have several differences in one goblet: some missing, others too many.
    """
    if one.batch_id is None or not one.difference:
        return one.difference
    over = one.difference > 0
    key = (one.goblet_id, one.batch_id, over)
    used = min(taken.get(key, 0), abs(one.difference))
    taken[key] = taken.get(key, 0) - used
    return one.difference - used if over else one.difference + used


def _effects(adjustment: Adjustment) -> list[tuple[UUID, int]]:
    """By goblet, how many straws an adjustment brings or takes."""
    effects = [(adjustment.goblet_id, adjustment.difference)]
    if adjustment.other_goblet_id is not None:
        effects.append((adjustment.other_goblet_id, -adjustment.difference))
    return effects


def propose(db: Session, act: Act, take: StockTake, new: NewAdjustment) -> Adjustment:
    """Propose to adjust the book. Raises StockTakeClosed, NotCompared, NoSuchDifference,
    RecountFirst.
    """
    refuse_closed(take)
    if take.state != "compared":
        raise rules.NotCompared("Compare the counts first: something was counted since.")
    for goblet_id, change in _effects(_row(act, take, new)):
        _refuse_unasked(db, take, goblet_id, new.batch_id, change)
    if new.reason_code == "unexplained":
        _refuse_uncounted(db, take, new)
    adjustment = _row(act, take, new)
    db.add(adjustment)
    db.flush()
    return adjustment


def _row(act: Act, take: StockTake, new: NewAdjustment) -> Adjustment:
    return Adjustment(
        id=act.id,
        take_id=take.id,
        goblet_id=new.goblet_id,
        batch_id=new.batch_id,
        other_goblet_id=new.other_goblet_id,
        difference=new.difference,
        reason_code=new.reason_code,
        note=new.note,
        proposed_by_id=act.by.id,
        proposed_by=act.by.display_name,
        proposed_at=act.recorded_at,
    )


def _refuse_unasked(
    db: Session, take: StockTake, goblet_id: UUID, batch_id: UUID, change: int
) -> None:
    """Only what a difference leaves open is adjusted, and never past it."""
    left = sum(
        left
        for one, left in open_differences(db, take, approved_only=False)
        if (one.goblet_id, one.batch_id) == (goblet_id, batch_id)
        and one.kind != "disturbed"
        and left * change > 0
    )
    if change == 0 or abs(change) > abs(left):
        raise rules.NoSuchDifference(
            f"The count leaves a difference of {left} open there, not of {change}.",
            errors=[{"field": "difference", "message": f"{left} is open"}],
            open_difference=left,
        )


def _refuse_uncounted(db: Session, take: StockTake, new: NewAdjustment) -> None:
    limit = store.plan_of(db).unexplained_straws
    counts = [one for one in store.counts_of(db, take.id) if one.goblet_id == new.goblet_id]
    if abs(new.difference) > limit and len({one.round for one in counts}) < 2:
        raise rules.RecountFirst(
            f"More than {limit} straws without an explanation: let somebody else count the goblet "
            "again first.",
            limit=limit,
        )


def adjustment_of(db: Session, take: StockTake, adjustment_id: UUID) -> Adjustment:
    """The adjustment. Raises UnknownAdjustment."""
    adjustment = db.get(Adjustment, adjustment_id)
    if adjustment is None or adjustment.take_id != take.id:
        raise rules.UnknownAdjustment("This stock-take has no such adjustment.", id=adjustment_id)
    return adjustment


def approve(db: Session, act: Act, take: StockTake, adjustment: Adjustment) -> Approval:
    """Approve and book. Raises StockTakeClosed, SamePerson, AlreadyApproved, what `book` raises."""
    refuse_closed(take)
    earlier = db.get(Approval, adjustment.id)
    if earlier is not None:
        raise rules.AlreadyApproved(
            f"{earlier.approved_by} approved it.", by=earlier.approved_by, at=earlier.approved_at
        )
    _refuse_same_person(db, act, take, adjustment)
    movements = _movements(db, act, adjustment)
    seq = book(
        db,
        act,
        KIND,
        movements,
        reason=adjustment.note,
        batch_id=adjustment.batch_id,
        facts={
            "stock_take_id": take.id,
            "adjustment_id": adjustment.id,
            "reason_code": adjustment.reason_code,
            "proposed_by": adjustment.proposed_by,
        },
    )
    approval = Approval(
        adjustment_id=adjustment.id,
        approved_by_id=act.by.id,
        approved_by=act.by.display_name,
        approved_at=act.recorded_at,
        entry_seq=seq,
        straw_codes=[movement.straw.code for movement in movements],
    )
    db.add(approval)
    db.flush()
    return approval


def _refuse_same_person(db: Session, act: Act, take: StockTake, adjustment: Adjustment) -> None:
    goblets = {goblet_id for goblet_id, _ in _effects(adjustment)}
    counted = any(
        one.by_id == act.by.id and one.goblet_id in goblets for one in store.counts_of(db, take.id)
    )
    if counted or adjustment.proposed_by_id == act.by.id:
        did = "counted this goblet" if counted else "proposed it"
        raise rules.SamePerson(
            f"You {did} yourself. Another manager has to look at it and approve.",
            proposed_by=adjustment.proposed_by,
        )


def _movements(db: Session, act: Act, adjustment: Adjustment) -> list[Movement]:
    straws, known = abs(adjustment.difference), _codes(db, adjustment)
    if adjustment.other_goblet_id is not None:
        lost, found = adjustment.goblet_id, adjustment.other_goblet_id
        if adjustment.difference > 0:
            lost, found = found, lost
        taken = _taken(db, act, adjustment.batch_id, lost, number=straws, known=known)
        place = Place("stored", goblet_id=found)
    elif adjustment.difference < 0:
        goblet_id = adjustment.goblet_id
        taken = _taken(db, act, adjustment.batch_id, goblet_id, number=straws, known=known)
        place = Place("missing")
    else:
        taken = _found(db, act, adjustment, straws, known)
        place = Place("stored", goblet_id=adjustment.goblet_id)
    # By count the book chooses which of the twins it was.
    return [Movement(one, place, provisional=one.coded and one.code not in known) for one in taken]


def _codes(db: Session, adjustment: Adjustment) -> set[str]:
    """The codes that the count names for this difference, where it names as many as it lacks."""
    goblets = {goblet_id for goblet_id, _ in _effects(adjustment)}
    return {
        code
        for one in store.differences_of(db, adjustment.take_id)
        if one.goblet_id in goblets
        and one.batch_id == adjustment.batch_id
        and len(one.codes) == abs(one.difference)
        for code in one.codes
    }


def _taken(
    db: Session, act: Act, batch_id: UUID, goblet_id: UUID, *, number: int, known: set[str]
) -> list[StrawNow]:
    """Straws that leave a goblet: those whose codes are known first, then twins."""
    named = [
        straw
        for straw in straws_by_code(db, known).values()
        if straw.goblet_id == goblet_id and straw.batch_id == batch_id
    ][:number]
    but = {straw.code for straw in named}
    rest = number - len(named)
    if rest:
        named += twins_to_take(db, batch_id, goblet_id, at=act.occurred_at, but=but, number=rest)
    if len(named) < number:
        raise NotEnoughStraws(
            f"Only {len(named)} straws of this batch are booked in that goblet by now.",
            available_straws=len(named),
        )
    return named


def _found(
    db: Session, act: Act, adjustment: Adjustment, number: int, known: set[str]
) -> list[StrawNow]:
    """Straws that turned up: those that were missing first, then such as have no code."""
    for straw in straws_by_code(db, known).values():
        if straw.state not in ("missing", "stored"):
            raise rules.TakeBackFirst(
                f"By the book straw {codes.grouped(straw.code)} is {straw.state}. Take that entry "
                "back (or mend the insemination it belongs to), then compare again.",
                straw_code=straw.code,
                state=straw.state,
            )
    missing = straws_where(
        db, col(Straw.batch_id) == adjustment.batch_id, col(Straw.state) == "missing"
    )
    again = sorted(missing, key=lambda straw: (straw.code not in known, straw.code))[:number]
    rest = number - len(again)
    made: Sequence[str] = ()
    if rest:
        made = fresh_codes(db, col(Straw.code), codes.Kind.STRAW, rest, act.draw)
    return [
        *again,
        *(
            new_straw(code, adjustment.batch_id, since=act.occurred_at, coded=False)
            for code in made
        ),
    ]


def unexplained_in_a_year(db: Session, since: datetime) -> int:
    """Straws that were lost unexplained since then, over all stock-takes."""
    rows = db.exec(
        select(Adjustment.difference)
        .join(Approval, col(Approval.adjustment_id) == col(Adjustment.id))
        .where(
            Adjustment.reason_code == "unexplained",
            Adjustment.difference < 0,
            col(Approval.approved_at) >= since,
        )
    )
    return -sum(rows)
