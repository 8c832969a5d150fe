"""Is the book sound? Every hash, every straw's way, and today's stock against a replay.

What is found is returned as a list of findings in words, never raised: a checker that stops at
the first finding tells half the truth.
"""

import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, String, and_, cast, exists, func, or_
from sqlalchemy import select as sa_select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bank.store import Goblet
from service.kernel import chain
from service.kernel.codes import grouped
from service.kernel.database import Database
from service.ledger import rules
from service.ledger.health import changed_tests
from service.ledger.origins import batches_changed, straws_of_other_batches
from service.ledger.ownership import owners_astray
from service.ledger.relocate_check import places_astray
from service.ledger.store import Entry, Line, Stock, Straw, head_of

#: Entries read at a time: bounds the memory, not the work.
ENTRIES_AT_A_TIME = 5_000

#: Findings of one kind that are spelt out; the rest are only counted.
SPELT_OUT = 20


@dataclass(frozen=True, slots=True)
class Soundness:
    """What a check found: entries seen, the head they lead to, and every finding."""

    entries: int
    head: str
    problems: list[str] = field(default_factory=list)

    @property
    def sound(self) -> bool:
        """Whether nothing at all was found."""
        return not self.problems


def check(db: Session) -> Soundness:
    """Read the whole book in one picture and report what does not agree."""
    connection = db.connection()
    entries, head, problems = _chain(connection)
    for find in (
        *(_broken_ways, _straws_astray, straws_of_other_batches),
        *(_stock_astray, _overfull, batches_changed, owners_astray),
        *(changed_tests, places_astray),
    ):
        problems += _few(list(find(connection)))
    return Soundness(entries, head, problems)


def _few(findings: list[str]) -> list[str]:
    rest = len(findings) - SPELT_OUT
    return findings[:SPELT_OUT] + ([f"... and {rest} more of this kind."] if rest > 0 else [])


def _hex(column: Any) -> Any:
    """An id as 32 hex digits, whatever the engine keeps it as."""
    return func.replace(cast(column, String), "-", "")


def _text(column: Any) -> Any:
    """A kept text as it stands, past the column type's reading."""
    return cast(column, String)


_ENTRIES = sa_select(
    *(col(Entry.seq), col(Entry.hash), _hex(Entry.id), col(Entry.kind), _hex(Entry.by_id)),
    *(col(Entry.by_name), _text(Entry.occurred_at), _text(Entry.recorded_at), col(Entry.reason)),
    *(_hex(Entry.withdrawal_id), _hex(Entry.batch_id), col(Entry.facts)),
).order_by(col(Entry.seq))

_LINES = sa_select(
    *(col(Line.entry_seq), col(Line.straw_code), col(Line.from_state), _hex(Line.from_goblet_id)),
    *(col(Line.to_state), _hex(Line.to_goblet_id), _hex(Line.withdrawal_id), col(Line.provisional)),
).order_by(col(Line.entry_seq), col(Line.number))


def _chain(connection: Connection) -> tuple[int, str, list[str]]:
    """Entries read, the hash of the last, and every break in number, hash or time."""
    previous, recorded, expected, problems = chain.GENESIS, "", 1, []
    read = (0, 0)
    for start in _parts(connection):
        between = (start, start + ENTRIES_AT_A_TIME - 1)
        read = (min(read[0], start), between[1])
        lines = _lines(connection, between)
        for row in connection.execute(_ENTRIES.where(col(Entry.seq).between(*between))):
            seq, kept, recorded_at = row[0], row[1], row[7]
            if seq != expected:
                problems.append(f"Entry {expected} is not there; {seq} comes next.")
            if chain.link(previous, _entry_text(row, lines.pop(seq, ""))) != kept:
                problems.append(f"Entry {seq} was changed, or the one before it was.")
            if recorded_at < recorded:
                problems.append(f"Entry {seq} was recorded before the one in front of it.")
            previous, recorded, expected = kept, recorded_at, seq + 1
        problems += [_without_entry(seq) for seq in lines]
    problems += map(_without_entry, _lines_beyond(connection, *read))
    return expected - 1, previous, _few(problems)


def _without_entry(seq: int) -> str:
    return f"Entry {seq} is not there, but lines of it are, which no hash covers."


def _lines_beyond(connection: Connection, first: int, last: int) -> list[int]:
    """Entry numbers of lines outside what was read."""
    numbers = sa_select(col(Line.entry_seq)).distinct().order_by(col(Line.entry_seq))
    outside = or_(col(Line.entry_seq) < first, col(Line.entry_seq) > last)
    return list(connection.execute(numbers.where(outside)).scalars())


def _parts(connection: Connection) -> range:
    last = connection.execute(sa_select(func.max(Entry.seq))).scalar() or 0
    first = connection.execute(sa_select(func.min(Entry.seq))).scalar() or 1
    return range(min(1, first), last + 1, ENTRIES_AT_A_TIME)


def _lines(connection: Connection, between: tuple[int, int]) -> dict[int, str]:
    rows = connection.execute(_LINES.where(col(Line.entry_seq).between(*between)))
    return {
        seq: "".join("\n" + rules.line_text(row[1:]) for row in lines)
        for seq, lines in groupby(rows, key=lambda row: row[0])
    }


def _entry_text(row: Any, lines: str) -> str:
    seq, _, id_hex, kind, by_id_hex, by_name, occurred_at, recorded_at, *rest = row
    reason, withdrawal_hex, batch_hex, facts = rest
    return (
        rules.entry_text(
            seq=seq,
            id_hex=id_hex,
            kind=kind,
            by_id_hex=by_id_hex,
            by_name=by_name,
            occurred_at=occurred_at,
            recorded_at=recorded_at,
            reason=reason,
            withdrawal_hex=withdrawal_hex,
            batch_hex=batch_hex,
            facts=facts,
        )
        + lines
    )


def _broken_ways(connection: Connection) -> Iterator[str]:
    """Lines that take a straw from where it was not."""
    way: dict[str, Any] = {"partition_by": Line.straw_code, "order_by": Line.entry_seq}
    steps = sa_select(
        *(col(Line.straw_code), col(Line.entry_seq)),
        *(col(Line.from_state), col(Line.from_goblet_id)),
        func.lag(Line.to_state).over(**way).label("was_state"),
        func.lag(Line.to_goblet_id).over(**way).label("was_goblet_id"),
    ).subquery()
    broken = sa_select(steps.c.straw_code, steps.c.entry_seq).where(
        or_(
            steps.c.from_state != func.coalesce(steps.c.was_state, rules.MADE),
            steps.c.from_goblet_id.is_distinct_from(steps.c.was_goblet_id),
        )
    )
    for code, seq in connection.execute(broken):
        yield f"Entry {seq} takes straw {grouped(code)} from where it was not."


def _straws_astray(connection: Connection) -> Iterator[str]:
    """Straws that are not where their last line put them."""
    later = aliased(Line)
    astray = (
        sa_select(col(Straw.code))
        .outerjoin(
            Line,
            and_(
                col(Line.straw_code) == col(Straw.code),
                col(Line.entry_seq) == col(Straw.last_seq),
            ),
        )
        .where(
            or_(
                col(Line.straw_code).is_(None),
                col(Straw.state) != col(Line.to_state),
                col(Straw.goblet_id).is_distinct_from(col(Line.to_goblet_id)),
                col(Straw.provisional) != col(Line.provisional),
                and_(
                    col(Straw.withdrawal_id).is_not(None),
                    col(Straw.withdrawal_id).is_distinct_from(col(Line.withdrawal_id)),
                ),
                exists().where(
                    later.straw_code == col(Straw.code),  # type: ignore[arg-type]
                    later.entry_seq > col(Straw.last_seq),
                ),
            )
        )
    )
    for (code,) in connection.execute(astray):
        yield f"Straw {grouped(code)} is not where the book last put it."


def _stock_astray(connection: Connection) -> Iterator[str]:
    """Goblets whose kept count is not the number of straws in them."""
    counted = (
        sa_select(
            col(Straw.goblet_id).label("goblet_id"),
            col(Straw.batch_id).label("batch_id"),
            func.count().label("straws"),
        )
        .where(col(Straw.state) == "stored")
        .group_by(col(Straw.goblet_id), col(Straw.batch_id))
        .subquery()
    )
    same = and_(
        counted.c.goblet_id == col(Stock.goblet_id), counted.c.batch_id == col(Stock.batch_id)
    )
    wrong = (
        sa_select(_hex(Stock.goblet_id), col(Stock.straws), counted.c.straws)
        .outerjoin(counted, same)
        .where(or_(counted.c.straws.is_(None), counted.c.straws != col(Stock.straws)))
    )
    for goblet, kept, straws in connection.execute(wrong):
        yield f"Goblet {goblet}: the stock says {kept} straws of a batch, the book {straws or 0}."
    unkept = (
        sa_select(_hex(counted.c.goblet_id), counted.c.straws)
        .outerjoin(Stock, same)
        .where(col(Stock.straws).is_(None))
    )
    for goblet, straws in connection.execute(unkept):
        yield f"Goblet {goblet}: the stock says 0 straws of a batch, the book {straws}."


def _overfull(connection: Connection) -> Iterator[str]:
    """Goblets that hold more than they can."""
    filled = (
        sa_select(col(Goblet.address), col(Goblet.capacity_straws), func.sum(Stock.straws))
        .join(Stock, col(Stock.goblet_id) == col(Goblet.id))
        .group_by(col(Goblet.id), col(Goblet.address), col(Goblet.capacity_straws))
        .having(func.sum(Stock.straws) > col(Goblet.capacity_straws))
    )
    for address, capacity, straws in connection.execute(filled):
        yield f"Goblet {address} holds {straws} straws; it has room for {capacity}."


class Watch:
    """The last check's result, made anew when the book has grown since; one check at a time."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._one_at_a_time = threading.Lock()
        self._first_done = threading.Event()
        self._last: Soundness | None = None

    def first_is_done(self, within_seconds: float) -> bool:
        """Whether the check that a start makes has ended; waits so long for it at most."""
        return self._first_done.wait(within_seconds)

    @property
    def last(self) -> Soundness | None:
        """What the last check found; None until the first has ended."""
        return self._last

    def renew(
        self, tell: Callable[[Soundness], None] | None = None, *, afresh: bool = False
    ) -> Soundness:
        """Check now, unless the last result is still about this head.

        `afresh` reads everything whatever is known: a disk may have changed what was sound.
        """
        with self._one_at_a_time, self._database.reading() as db:
            head = head_of(db)
            current = head.hash if head else chain.GENESIS
            if afresh or self._last is None or self._last.head != current:
                self._last = check(db)
                self._first_done.set()
                if tell:
                    tell(self._last)
            return self._last
