"""Undoing a mistake: a counter-entry that takes each straw back to where it was."""

from uuid import UUID

from sqlmodel import Session, col, select

from service.bank.store import Batch
from service.kernel.acts import Act
from service.kernel.codes import grouped
from service.kernel.errors import Conflict, Unknown
from service.ledger import store
from service.ledger.book import book
from service.ledger.rules import MADE, Movement, Place, StrawNow
from service.ledger.store import Entry, Line

#: What can be taken back, as long as the straws are still where it put them. What was used is
#: corrected on the insemination it belongs to.
CORRECTABLE = frozenset({"prepare", "freeze", "move", "discard", "withdraw", "return"})


class NotCorrectable(Conflict):
    """An entry that cannot be taken back."""

    code = "not-correctable"
    title = "This entry cannot be taken back"


class MovedOn(Conflict):
    """A straw of the entry has moved on since."""

    code = "moved-on"
    title = "A straw of this entry has moved on since"


def correct(db: Session, act: Act, entry_id: UUID, reason: str) -> int:
    """Take an entry back by a counter-entry; returns the counter-entry's number.

    The entry itself stays. Straws that were only marked become void. Raises NotCorrectable,
    MovedOn, and what `book` raises (the old goblet may be full by now).
    """
    entry = db.exec(select(Entry).where(Entry.id == entry_id)).first()
    if entry is None:
        raise Unknown("There is no such entry in the book.")
    return take_back(db, act, entry, reason, kinds=CORRECTABLE)


def take_back(db: Session, act: Act, entry: Entry, reason: str, *, kinds: frozenset[str]) -> int:
    """`correct` for an entry at hand, of one of these kinds."""
    if entry.kind not in kinds:
        raise NotCorrectable(
            f"An entry of the kind “{entry.kind}” cannot be taken back here. "
            "Book what is true now as an act of its own.",
            kind=entry.kind,
        )
    lines = db.exec(
        select(Line).where(Line.entry_seq == entry.seq).order_by(col(Line.number))
    ).all()
    straws = store.straws_by_code(db, [line.straw_code for line in lines])
    seq = book(
        db,
        act,
        "correct",
        [_back(entry, line, straws[line.straw_code]) for line in lines],
        reason=reason,
        withdrawal_id=entry.withdrawal_id,
        batch_id=entry.batch_id,
        facts={"corrects": {"seq": entry.seq, "id": entry.id.hex, "kind": entry.kind}},
    )
    if entry.kind == "freeze" and entry.batch_id is not None:
        _prepared_again(db, entry.batch_id)
    return seq


def _back(entry: Entry, line: Line, straw: StrawNow) -> Movement:
    if straw.last_seq != entry.seq:
        later = f"Straw {grouped(straw.code)} is {straw.state} by a later entry."
        raise MovedOn(
            f"{later} Take that one back first.",
            straw_code=straw.code,
            state=straw.state,
        )
    if line.from_state == MADE:
        return Movement(straw, Place("void"))
    was_out = line.from_state != "stored"
    return Movement(
        straw,
        Place(line.from_state, line.from_goblet_id, line.withdrawal_id if was_out else None),
        provisional=line.provisional,
    )


def _prepared_again(db: Session, batch_id: UUID) -> None:
    batch = db.get_one(Batch, batch_id)
    batch.state = "prepared"
    batch.freeze_id = None
    db.add(batch)
