"""Planned batches into the book: each becomes one receipt, and thousands of them at once.

Whatever can be asked or written for all of them is asked and written once.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import accumulate
from typing import Any, Literal
from uuid import UUID

from sqlalchemy import insert
from sqlmodel import Session, col

from service.bank.actions import add_stallion
from service.bank.rules import NewStallion, RuleAmounts
from service.bank.search import fresh_codes
from service.bank.store import Batch, Hold, PostThaw
from service.kernel.acts import Act
from service.kernel.codes import Kind
from service.ledger.book import Arrival, book_arrivals
from service.ledger.rules import Movement, Place, new_straw
from service.ledger.store import Straw
from service.spreadsheet.fates import KnownStallion, PlannedBatch
from service.spreadsheet.thaws import read_thaw
from service.transfers.receipts_rules import entry_facts

Origin = Literal["opening", "received"]

#: Told after each batch how many rows are done.
Tell = Callable[[int], None]

#: What is written into a table, by column.
Row = dict[str, Any]

#: Rows that one INSERT carries.
_ROWS_A_STATEMENT = 1_000


def enter_stallions(
    db: Session, act: Act, new: Sequence[KnownStallion], *, straws_a_dose: int
) -> dict[int, UUID]:
    """Enter the stallions that are not there, by one rule; their ids by `id()` of who is meant."""
    made = {}
    for one in new:
        facts = NewStallion(
            name=one.name, ueln=one.ueln, dose_rule=RuleAmounts(straws=straws_a_dose)
        )
        made[id(one)] = add_stallion(db, replace(act, id=act.new_id()), facts).id
    return made


def book_batches(
    db: Session,
    act: Act,
    planned: Sequence[PlannedBatch],
    made: Mapping[int, UUID],
    *,
    kind: Origin | None,
    tell: Tell,
) -> None:
    """Book every batch. Without `kind` one with a sender is received, and others are opening stock.

    Raises what `book_arrivals` raises. Nothing is half done: the caller's transaction rolls back.
    """
    straw_codes = _straw_codes(db, act, planned)
    batches = _batches(db, act, planned, made, kind)
    _insert(db, Batch, batches)
    _insert(db, PostThaw, [_result(act, batch) for batch in batches])
    _insert(db, Hold, [_hold(act, b, one) for b, one in zip(batches, planned, strict=True)])
    arrivals = (
        _arrival(act, batch, one, _movements(act, batch, one, straw_codes))
        for batch, one in zip(batches, planned, strict=True)
    )
    rows = [0, *accumulate(len(one.shares) for one in planned)]
    book_arrivals(db, act, "receive", arrivals, tell=lambda done: tell(rows[done]))


def _straw_codes(db: Session, act: Act, planned: Sequence[PlannedBatch]) -> Iterator[str]:
    """Codes of ours for straws without any, asked for at once; none is one of the file's."""
    shares = [share for one in planned for share in one.shares]
    named = {code for share in shares for code in share.codes}
    wanted = sum(share.straws for share in shares if not share.codes)
    # In order, so that rows go into the tables' indexes one behind the other.
    return iter(sorted(fresh_codes(db, col(Straw.code), Kind.STRAW, wanted, act.draw, but=named)))


def _batches(
    db: Session,
    act: Act,
    planned: Sequence[PlannedBatch],
    made: Mapping[int, UUID],
    kind: Origin | None,
) -> list[Row]:
    named = {one.said.batch_code for one in planned if one.said.batch_code is not None}
    wanted = len(planned) - len(named)
    codes = iter(fresh_codes(db, col(Batch.code), Kind.BATCH, wanted, act.draw, but=named))
    return [
        {
            "id": act.new_id(),
            "code": one.said.batch_code or next(codes),
            "stallion_id": one.stallion.id or made[id(one.stallion)],
            "state": "frozen",
            "straws_planned": one.straws,
            "created_at": act.recorded_at,
            "origin": kind or ("received" if one.said.from_ is not None else "opening"),
            "receipt_id": act.new_id(),
            "received_from": one.said.from_,
            "marks_as_read": one.said.marks_as_read,
            "collected_on": one.said.collected_on,
            "collected_where": one.said.collected_where,
            "approval_number": one.said.approval_number,
            "extender": one.said.extender,
            "straw_volume_ml": one.said.straw_volume_ml,
            "straw_concentration_million_per_ml": one.said.concentration_million_per_ml,
            "straw_colour": one.said.straw_colour,
            "post_thaw_percent": one.said.post_thaw_percent,
            "post_thaw_minutes": one.said.post_thaw_minutes,
            "thaw": None if one.said.thaw is None else read_thaw(one.said.thaw),
            "note": "\n".join(one.notes) or None,
        }
        for one in planned
    ]


def _insert(db: Session, table: type[Any], rows: Sequence[Row | None]) -> None:
    kept = [row for row in rows if row is not None]
    for at in range(0, len(kept), _ROWS_A_STATEMENT):
        db.connection().execute(insert(table), kept[at : at + _ROWS_A_STATEMENT])


def _result(act: Act, batch: Row) -> Row | None:
    if batch["post_thaw_percent"] is None:
        return None
    return {
        "id": batch["receipt_id"],
        "batch_id": batch["id"],
        "progressive_motility_percent": batch["post_thaw_percent"],
        "minutes": batch["post_thaw_minutes"],
        "examined_at": act.occurred_at,
        "recorded_at": act.recorded_at,
        "recorded_by": act.by.id,
        "recorded_by_name": act.by.display_name,
    }


def _hold(act: Act, batch: Row, one: PlannedBatch) -> Row | None:
    if one.said.hold_reason is None:
        return None
    return {
        "id": act.new_id(),
        "batch_id": batch["id"],
        "reason": one.said.hold_reason,
        "until": one.said.hold_until,
        "placed_at": act.occurred_at,
        "placed_by": act.by.id,
        "placed_by_name": act.by.display_name,
    }


def _movements(act: Act, batch: Row, one: PlannedBatch, fresh: Iterator[str]) -> list[Movement]:
    movements = []
    for share in one.shares:
        place = Place("stored", goblet_id=share.goblet_id)
        codes = share.codes or [next(fresh) for _ in range(share.straws)]
        movements += [
            Movement(
                new_straw(
                    code,
                    batch["id"],
                    since=act.occurred_at,
                    coded=bool(share.codes),
                    owner=share.owner,
                ),
                place,
            )
            for code in codes
        ]
    return movements


def _arrival(act: Act, batch: Row, one: PlannedBatch, straws: Sequence[Movement]) -> Arrival:
    """The receipt's entry, which also says of which file and line it comes."""
    said = entry_facts(
        batch,
        stored=one.straws,
        coded=all(share.codes for share in one.shares),
        hold_until=one.said.hold_until,
        hold_reason=one.said.hold_reason,
    )
    return Arrival(
        entry_id=batch["receipt_id"],
        batch_id=batch["id"],
        straws=straws,
        facts={**said, **_owners(straws), "import_id": act.id, "line": one.line},
    )


def _owners(straws: Sequence[Movement]) -> Row:
    """Whose the straws are: one owner's, or each one's own."""
    owners = {movement.straw.owner for movement in straws}
    if len(owners) == 1:
        return {"owner": owners.pop()}
    return {"owners": {movement.straw.code: movement.straw.owner for movement in straws}}
