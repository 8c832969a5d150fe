"""Are straws and batches still what the book says they were made as? A part of the check.

Which batch a straw is of, whose a batch is and what its doses are reckoned from is read from
tables that no hash covers. The entries that made them say it too, and those are covered.
"""

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, and_
from sqlalchemy import select as sa_select
from sqlmodel import col

from service.bank.store import Batch
from service.kernel.codes import grouped
from service.ledger.rules import MADE
from service.ledger.store import Entry, Line, Straw


def straws_of_other_batches(connection: Connection) -> Iterator[str]:
    """Straws that were made for another batch than they are said to be of."""
    made = (
        sa_select(col(Straw.code), col(Entry.seq))
        .join(Line, and_(col(Line.entry_seq) == col(Entry.seq), col(Line.from_state) == MADE))
        .join(Straw, col(Straw.code) == col(Line.straw_code))
        .where(col(Straw.batch_id).is_distinct_from(col(Entry.batch_id)))
    )
    for code, seq in connection.execute(made):
        yield f"Straw {grouped(code)} is not of the batch that entry {seq} made it for."


@dataclass(slots=True)
class _Said:
    """What the book says of one batch: whose it is, its last freeze, its post-thaw results.

    A receipt says whose straws are and what they are at once.
    """

    prepared: Any = None
    frozen: Any = None
    results: list[Any] = field(default_factory=list)


_OF_BATCHES = (
    sa_select(
        *(col(Entry.seq), col(Entry.id), col(Entry.kind), col(Entry.batch_id)),
        *(col(Entry.occurred_at), col(Entry.facts)),
    )
    .where(col(Entry.kind).in_(("prepare", "freeze", "receive", "test")))
    .where(col(Entry.batch_id).is_not(None))
    .order_by(col(Entry.seq))
)

_BATCHES = sa_select(
    *(col(Batch.id), col(Batch.code), col(Batch.state), col(Batch.stallion_id)),
    *(col(Batch.freeze_id), col(Batch.receipt_id), col(Batch.origin)),
    *(col(Batch.collected_on), col(Batch.straw_volume_ml)),
    *(col(Batch.straw_concentration_million_per_ml), col(Batch.post_thaw_percent)),
).order_by(col(Batch.code))


def batches_changed(connection: Connection) -> Iterator[str]:
    """Batches that are another's, or stronger or weaker, than the book says."""
    said: dict[UUID, _Said] = defaultdict(_Said)
    for row in connection.execute(_OF_BATCHES):
        of_batch = said[row.batch_id]
        if row.kind == "prepare":
            of_batch.prepared = row
        elif row.kind == "freeze":
            of_batch.frozen = row
        elif row.kind == "receive":
            of_batch.prepared = of_batch.frozen = row
        else:
            of_batch.results.append(row)
    for batch in connection.execute(_BATCHES):
        for seq, what in _differences(batch, said[batch.id]):
            yield f"Batch {grouped(batch.code)}: its {what} is not what entry {seq} says."


def _differences(batch: Any, said: _Said) -> Iterator[tuple[int, str]]:
    prepared = _facts(said.prepared)
    if "stallion_id" in prepared and prepared["stallion_id"] != str(batch.stallion_id):
        yield said.prepared.seq, "stallion"
    frozen = _facts(said.frozen)
    if batch.state != "frozen" or not frozen:
        return
    received = said.frozen.kind == "receive"
    if said.frozen.id != (batch.receipt_id if received else batch.freeze_id):
        yield said.frozen.seq, "receipt" if received else "freeze"
    if batch.origin != frozen.get("kind", "frozen"):
        yield said.frozen.seq, "origin"
    if frozen["collected_on"] != _text(batch.collected_on):
        yield said.frozen.seq, "day of collection"
    for name, what in (
        ("straw_volume_ml", "straw volume"),
        ("straw_concentration_million_per_ml", "concentration"),
    ):
        if _amount(frozen[name]) != getattr(batch, name):
            yield said.frozen.seq, what
    latest = _latest(row for row in (said.frozen, *said.results) if _result(row) is not None)
    if batch.post_thaw_percent not in ([_result(row) for row in latest] or [None]):
        yield (latest[-1] if latest else said.frozen).seq, "post-thaw result"


def _facts(row: Any) -> dict[str, Any]:
    facts: dict[str, Any] = json.loads(row.facts) if row is not None else {}
    return facts


def _text(value: Any) -> str | None:
    return None if value is None else str(value)


def _amount(value: str | None) -> Decimal | None:
    return None if value is None else Decimal(value)


def _result(row: Any) -> Decimal | None:
    return _amount(_facts(row).get("progressive_motility_percent"))


def _latest(rows: Iterable[Any]) -> list[Any]:
    """Those that were examined last; several only when they were at the same moment."""
    results = list(rows)
    last = max((row.occurred_at for row in results), default=None)
    return [row for row in results if row.occurred_at == last]
