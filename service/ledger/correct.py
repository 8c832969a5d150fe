"""Undoing a mistake: a counter-entry that takes each straw back to where it was."""

from collections.abc import Collection
from typing import Any, NoReturn
from uuid import UUID

from sqlmodel import Session, col, select

from service.bank.store import Batch
from service.kernel.acts import Act
from service.kernel.codes import grouped
from service.kernel.database import in_parts
from service.kernel.errors import Conflict, Unknown
from service.ledger import relocate_back, store
from service.ledger.book import book, canonical
from service.ledger.rules import MADE, Movement, Place, StrawNow
from service.ledger.store import Entry, Line

#: What can be taken back, as long as the straws are still where it put them. What was used is
#: corrected on the insemination it belongs to.
CORRECTABLE = frozenset(
    {
        *("prepare", "freeze", "receive", "move", "discard", "withdraw", "return"),
        *("relocate", "dispatch", "lose"),
    }
)

#: Entries that say how sure the book is of a straw, and leave it where it is.
STAYS = frozenset({"identify", "doubt", "owner", "relocate"})


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
    MovedOn, and what `book` raises (the old goblet may be full by now); for goblets that were moved
    as a whole what `relocate_back.hang_back` raises.
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
    if entry.kind == "relocate":
        return _hang_back(db, act, entry, reason)
    lines = store.lines_of(db, entry.seq)
    straws = store.straws_by_code(db, [line.straw_code for line in lines])
    seq = book(
        db,
        act,
        "correct",
        [_back(line, holder(db, line, straws[line.straw_code])) for line in lines],
        reason=reason,
        withdrawal_id=entry.withdrawal_id,
        batch_id=entry.batch_id,
        facts=_corrects(entry),
    )
    if entry.kind in ("freeze", "receive") and entry.batch_id is not None:
        _prepared_again(db, entry.batch_id)
    return seq


def _hang_back(db: Session, act: Act, entry: Entry, reason: str) -> int:
    facts = _corrects(entry)
    again = store.entry_with_facts(db, "correct", canonical(facts), after=entry.seq)
    since = relocate_back.moved_since(db, entry)
    if again is not None or since is not None:
        raise MovedOn(since or "This entry was taken back already.")
    return relocate_back.hang_back(db, act, entry, reason=reason, facts=facts)


def corrections_of(db: Session, entries: Collection[Entry]) -> dict[UUID, Entry]:
    """Of these entries the ones that were taken back, by id, each with its counter-entry."""
    by_facts = {canonical(_corrects(entry)): entry.id for entry in entries}
    return {
        by_facts[found.facts]: found
        for some in in_parts(by_facts)
        for found in db.exec(
            select(Entry).where(Entry.kind == "correct", col(Entry.facts).in_(some))
        )
    }


def _corrects(entry: Entry) -> dict[str, Any]:
    return {"corrects": {"seq": entry.seq, "id": entry.id.hex, "kind": entry.kind}}


def holder(db: Session, line: Line, straw: StrawNow) -> StrawNow:
    """The straw that is now where this line put its own.

    Twins that changed places since, straws that were only identified, and what a later entry did
    and a correction undid, are there still. Raises MovedOn when that place was left.
    """
    seq = line.entry_seq
    while straw.last_seq != seq:
        step, entry = store.next_step(db, straw.code, seq)
        if entry.kind == "exchange":
            [other] = [line for line in store.lines_of(db, entry.seq) if line != step]
        elif entry.kind in STAYS or _hung_back(step, entry):
            other = step
        else:
            other = _undoing(db, step, entry) or _refuse(straw)
        straw = store.straws_by_code(db, [other.straw_code])[other.straw_code]
        seq = other.entry_seq
    return straw


def _hung_back(step: Line, entry: Entry) -> bool:
    """Whether the straw only went with its goblet, which an entry of its own had moved."""
    return entry.kind == "correct" and (
        (step.from_state, step.from_goblet_id) == (step.to_state, step.to_goblet_id)
    )


def _undoing(db: Session, step: Line, entry: Entry) -> Line | None:
    """The line by which a correction took this one back: it stands in the same order."""
    correction = store.entry_with_facts(db, "correct", canonical(_corrects(entry)), after=entry.seq)
    if correction is None:
        return None
    return store.lines_of(db, correction.seq)[step.number - 1]


def _refuse(straw: StrawNow) -> NoReturn:
    raise MovedOn(
        f"Straw {grouped(straw.code)} is {straw.state} by a later entry. Take that one back first.",
        straw_code=straw.code,
        state=straw.state,
    )


def _back(line: Line, straw: StrawNow) -> Movement:
    if line.from_state == MADE:
        return Movement(straw, Place("void"))
    was_out = line.from_state != "stored"
    return Movement(
        straw,
        Place(line.from_state, line.from_goblet_id, line.withdrawal_id if was_out else None),
        provisional=straw.provisional,
    )


def _prepared_again(db: Session, batch_id: UUID) -> None:
    """As before the freeze; of a receipt only a batch without straws is left, which is void."""
    batch = db.get_one(Batch, batch_id)
    batch.state = "prepared"
    batch.freeze_id = batch.receipt_id = None
    db.add(batch)
