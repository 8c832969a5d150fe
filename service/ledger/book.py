"""The only writer of stock: one act becomes one entry, and straws, stock and book agree.

`book` is called inside a write transaction, so nothing it checked can change before it commits.
"""

import json
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import bindparam, delete, func, insert, literal, update
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.bank.store import Goblet
from service.kernel import chain, clock
from service.kernel.acts import Act
from service.kernel.database import in_parts
from service.kernel.errors import Unknown
from service.ledger import rules
from service.ledger.rules import MADE, GobletFull, GobletRetired, Movement, StrawGone
from service.ledger.store import Entry, Head, Line, Stock, Straw, head_of

#: What the first entry follows.
_NOTHING = Head(0, chain.GENESIS, datetime(1, 1, 1, tzinfo=UTC))

#: About so many straws of many entries are written by one statement.
_STRAWS_AT_ONCE = 2_000


def book(
    db: Session,
    act: Act,
    kind: str,
    movements: Sequence[Movement],
    *,
    entry_id: UUID | None = None,
    reason: str | None = None,
    withdrawal_id: UUID | None = None,
    batch_id: UUID | None = None,
    facts: Mapping[str, Any] | None = None,
) -> int:
    """Write one entry and carry it out; returns its number.

    `entry_id` is the act's own id unless the act makes several entries. Raises GobletFull,
    GobletRetired, BeforeWhatItFollows, and StrawGone for a straw that is no longer where the
    movement starts. Nothing is half done: the caller's transaction rolls back.
    """
    if any(m.straw.state == MADE and m.straw.batch_id != batch_id for m in movements):
        raise ValueError("an entry that makes straws names their batch: the hash covers it there")
    rules.refuse_too_early(movements, act.occurred_at)
    head = head_of(db) or _NOTHING
    entry = Entry(
        **_of_act(act, kind, head),
        seq=head.seq + 1,
        id=entry_id or act.id,
        reason=reason,
        withdrawal_id=withdrawal_id,
        batch_id=batch_id,
        facts=canonical(facts or {}),
        hash="",
    )
    lines = _hashed(entry, movements, head.hash)
    db.execute(insert(Entry).values(entry.model_dump()))
    _carry_out(db, entry, movements)
    if lines:
        db.execute(insert(Line), lines)
    return entry.seq


def _of_act(act: Act, kind: str, head: Head) -> dict[str, Any]:
    """What every entry of an act says alike; it is never recorded before the head was."""
    return {
        "kind": kind,
        "by_id": act.by.id,
        "by_name": act.by.display_name,
        "occurred_at": act.occurred_at,
        "recorded_at": max(act.recorded_at, head.recorded_at),
    }


def _hashed(entry: Entry, movements: Sequence[Movement], before: str) -> list[dict[str, Any]]:
    """The lines of an entry, which gets the hash that follows the one `before`."""
    lines = [_line(entry.seq, n, movement) for n, movement in enumerate(movements, start=1)]
    entry.hash = chain.link(before, _text(entry, lines))
    return lines


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """An entry that brings in a new batch: all its straws are made, and stored."""

    entry_id: UUID
    batch_id: UUID
    straws: Sequence[Movement]
    facts: Mapping[str, Any]


def book_arrivals(
    db: Session, act: Act, kind: str, arrivals: Iterable[Arrival], *, tell: Callable[[int], None]
) -> None:
    """Write many entries of one act, each as `book` would, with few statements for all.

    `tell` is told how many are written. Each batch is new and comes in by one entry, so its straws
    have no rows to change. Raises GobletFull, GobletRetired, Unknown.
    """
    head = head_of(db) or _NOTHING
    of_act, hashed = _of_act(act, kind, head), head.hash
    entries: list[Entry] = []
    straws: list[tuple[Entry, Movement]] = []
    done = 0
    for done, arrival in enumerate(arrivals, start=1):
        entry = Entry(
            **of_act,
            seq=head.seq + done,
            id=arrival.entry_id,
            batch_id=arrival.batch_id,
            facts=canonical(arrival.facts),
            hash="",
        )
        of_entry = sorted(arrival.straws, key=lambda movement: movement.straw.code)
        _hashed(entry, of_entry, hashed)
        hashed = entry.hash
        entries.append(entry)
        straws += [(entry, movement) for movement in of_entry]
        if len(straws) >= _STRAWS_AT_ONCE:
            _write_arrivals(db, entries, straws)
            entries, straws = [], []
            tell(done)
    _write_arrivals(db, entries, straws)
    _write_lines_of_arrivals(db, head.seq)
    tell(done)


def _write_arrivals(
    db: Session, entries: Sequence[Entry], straws: Sequence[tuple[Entry, Movement]]
) -> None:
    if not straws:
        return
    came: Counter[tuple[UUID, UUID]] = Counter()
    for _, movement in straws:
        if movement.straw.state != MADE or movement.to.goblet_id is None:
            raise ValueError("what arrives is made, and stored")
        came[movement.to.goblet_id, movement.straw.batch_id] += 1
    _refuse_overfull(db, _held(db, {goblet_id for goblet_id, _ in came}), came)
    connection = db.connection()
    connection.execute(insert(Entry), [entry.model_dump() for entry in entries])
    connection.execute(insert(Straw), [_straw_values(entry, one) for entry, one in straws])
    connection.execute(
        insert(Stock),
        [{"goblet_id": g, "batch_id": b, "straws": number} for (g, b), number in came.items()],
    )


def _write_lines_of_arrivals(db: Session, before: int) -> None:
    """The lines of all entries after `before`, out of the straws they made, in order of codes.

    Nobody else books meanwhile, so that what those entries made is all that came after them.
    """
    straw = col(Straw.code)
    columns = {
        "entry_seq": col(Straw.last_seq),
        "number": func.row_number().over(partition_by=col(Straw.last_seq), order_by=straw),
        "straw_code": straw,
        "from_state": literal(MADE),
        "to_state": col(Straw.state),
        "to_goblet_id": col(Straw.goblet_id),
        "provisional": col(Straw.provisional),
    }
    made = sa_select(*columns.values()).where(col(Straw.last_seq) > before)
    db.connection().execute(insert(Line).from_select(list(columns), made))


def canonical(facts: Mapping[str, Any]) -> str:
    """Facts as the one text that is kept and hashed."""
    return json.dumps(facts, sort_keys=True, ensure_ascii=False, separators=(",", ":"), default=str)


def _line(seq: int, number: int, movement: Movement) -> dict[str, Any]:
    straw, to = movement.straw, movement.to
    return {
        "entry_seq": seq,
        "number": number,
        "straw_code": straw.code,
        "from_state": straw.state,
        "from_goblet_id": straw.goblet_id,
        "to_state": to.state,
        "to_goblet_id": to.goblet_id,
        "withdrawal_id": to.withdrawal_id or straw.withdrawal_id,
        "provisional": movement.provisional,
    }


def _text(entry: Entry, lines: Sequence[Mapping[str, Any]]) -> str:
    header = rules.entry_text(
        seq=entry.seq,
        id_hex=entry.id.hex,
        kind=entry.kind,
        by_id_hex=entry.by_id.hex,
        by_name=entry.by_name,
        occurred_at=clock.as_text(entry.occurred_at),
        recorded_at=clock.as_text(entry.recorded_at),
        reason=entry.reason,
        withdrawal_hex=_hex(entry.withdrawal_id),
        batch_hex=_hex(entry.batch_id),
        facts=entry.facts,
    )
    return "\n".join([header, *(_line_text(line) for line in lines)])


def _line_text(line: Mapping[str, Any]) -> str:
    return rules.line_text(
        (
            line["straw_code"],
            line["from_state"],
            _hex(line["from_goblet_id"]),
            line["to_state"],
            _hex(line["to_goblet_id"]),
            _hex(line["withdrawal_id"]),
            line["provisional"],
        )
    )


def _hex(id: UUID | None) -> str | None:
    return id.hex if id else None


def _carry_out(db: Session, entry: Entry, movements: Sequence[Movement]) -> None:
    _change_stock(db, movements)
    made = [movement for movement in movements if movement.straw.state == MADE]
    moved = [movement for movement in movements if movement.straw.state != MADE]
    if made:
        db.execute(insert(Straw), [_straw_values(entry, movement) for movement in made])
    if moved:
        _move_straws(db, entry, moved)


def _straw_values(entry: Entry, movement: Movement) -> dict[str, Any]:
    straw, to = movement.straw, movement.to
    return {
        "code": straw.code,
        "batch_id": straw.batch_id,
        "coded": straw.coded,
        "state": to.state,
        "goblet_id": to.goblet_id,
        "left_goblet_id": None if to.goblet_id else straw.goblet_id or straw.left_goblet_id,
        "withdrawal_id": to.withdrawal_id,
        "provisional": movement.provisional,
        "since": movement.since or entry.occurred_at,
        "last_seq": entry.seq,
        "owner": straw.owner,
    }


_MOVE = (
    update(Straw.__table__)  # type: ignore[attr-defined]
    .where(
        col(Straw.code) == bindparam("this_code"),
        col(Straw.state) == bindparam("this_state"),
        col(Straw.last_seq) == bindparam("this_seq"),
    )
    .values(
        {
            name: bindparam(name)
            for name in (
                "state",
                "goblet_id",
                "left_goblet_id",
                "withdrawal_id",
                "provisional",
                "since",
                "last_seq",
                "owner",
            )
        }
    )
)


def _move_straws(db: Session, entry: Entry, movements: Sequence[Movement]) -> None:
    """Conditional on the place each straw starts from; a straw that moved on is refused."""
    rows = []
    for movement in movements:
        values = _straw_values(entry, movement)
        del values["code"], values["batch_id"], values["coded"]
        straw = movement.straw
        values |= {
            "this_code": straw.code,
            "this_state": straw.state,
            "this_seq": straw.last_seq,
        }
        rows.append(values)
    moved = db.connection().execute(_MOVE, rows).rowcount
    if moved != len(rows):
        raise StrawGone("A straw was taken by someone else meanwhile. Read the stock again.")


def _change_stock(db: Session, movements: Sequence[Movement]) -> None:
    change: Counter[tuple[UUID, UUID]] = Counter()
    for movement in movements:
        batch_id = movement.straw.batch_id
        if movement.straw.goblet_id:
            change[movement.straw.goblet_id, batch_id] -= 1
        if movement.to.goblet_id:
            change[movement.to.goblet_id, batch_id] += 1
    goblet_ids = {goblet_id for (goblet_id, _), straws in change.items() if straws}
    if not goblet_ids:
        return
    held = _held(db, goblet_ids)
    _refuse_overfull(db, held, change)
    for (goblet_id, batch_id), straws in change.items():
        if straws:
            _set_stock(db, goblet_id, batch_id, held.get((goblet_id, batch_id), 0), straws)


def _held(db: Session, goblet_ids: Collection[UUID]) -> dict[tuple[UUID, UUID], int]:
    """Straws in these goblets, by goblet and batch."""
    stands = select(Stock.goblet_id, Stock.batch_id, Stock.straws)
    return {
        (goblet_id, batch_id): straws
        for some in in_parts(goblet_ids)
        for goblet_id, batch_id, straws in db.exec(stands.where(col(Stock.goblet_id).in_(some)))
    }


def _set_stock(db: Session, goblet_id: UUID, batch_id: UUID, before: int, change: int) -> None:
    here = (col(Stock.goblet_id) == goblet_id, col(Stock.batch_id) == batch_id)
    if before == 0:
        row = {"goblet_id": goblet_id, "batch_id": batch_id, "straws": change}
        db.execute(insert(Stock).values(row))
    elif before + change == 0:
        db.execute(delete(Stock).where(*here))
    else:
        db.execute(update(Stock).where(*here).values(straws=before + change))


def _refuse_overfull(
    db: Session,
    held: Mapping[tuple[UUID, UUID], int],
    change: Mapping[tuple[UUID, UUID], int],
) -> None:
    gain: Counter[UUID] = Counter()
    filled: Counter[UUID] = Counter()
    for (goblet_id, _), straws in change.items():
        gain[goblet_id] += straws
    for (goblet_id, _), straws in held.items():
        filled[goblet_id] += straws
    wanted = [goblet_id for goblet_id, straws in gain.items() if straws > 0]
    if not wanted:
        return
    goblets = db.exec(select(Goblet).where(col(Goblet.id).in_(wanted))).all()
    for goblet in goblets:
        free = goblet.capacity_straws - filled[goblet.id]
        if goblet.retired_at is not None:
            raise GobletRetired(
                f"Goblet {goblet.address} is no longer in use. Choose another one.",
                goblet_id=goblet.id,
                address=goblet.address,
            )
        if gain[goblet.id] > free:
            raise GobletFull(
                f"Goblet {goblet.address} has room for {free} straws, not {gain[goblet.id]}. "
                "Put the rest elsewhere.",
                goblet_id=goblet.id,
                address=goblet.address,
                free_straws=free,
            )
    if len(goblets) != len(wanted):
        missing = next(id for id in wanted if id not in {goblet.id for goblet in goblets})
        raise Unknown("There is no such goblet.", goblet_id=missing)
