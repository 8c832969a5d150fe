"""The health of batches as the book knows it: their tests, what these clear, and a check of them.

Tests stand in a table of their own and, word for word, in the entry that recorded each of them, so
that the hash covers them.
"""

import json
from collections.abc import Collection, Iterator, Sequence
from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, String, cast
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.bank import clearance
from service.bank.clearance import Clearance, Health, Sample
from service.bank.store import Batch, BatchTest, station_of
from service.kernel.codes import grouped
from service.kernel.database import in_parts
from service.ledger.store import Entry

#: The kind of entry that records a test.
KIND = "health"


def facts_of(test: BatchTest) -> dict[str, Any]:
    """What the entry says of a test."""
    return {name: getattr(test, name) for name in _SAID}


_SAID = ("test", "sampled_on", "result", "laboratory", "note")


def samples_of(db: Session, batch_ids: Collection[UUID]) -> dict[UUID, list[Sample]]:
    """The tests of each batch, in the order they were recorded; none for a batch without."""
    found: dict[UUID, list[Sample]] = {}
    query = (
        sa_select(
            *(col(BatchTest.batch_id), col(BatchTest.test)),
            *(col(BatchTest.sampled_on), col(BatchTest.result)),
        )
        .join(Entry, col(Entry.id) == col(BatchTest.id))
        .order_by(col(Entry.seq))
    )
    for some in in_parts(batch_ids):
        for batch_id, *rest in db.execute(query.where(col(BatchTest.batch_id).in_(some))):
            found.setdefault(batch_id, []).append(Sample(*rest))
    return found


def clearance_of(db: Session, batch: Batch, today: date) -> Clearance:
    """What there is and what is lacking for a batch to leave, on that day of the station."""
    return clearances(db, [batch], today)[batch.id]


def clearances(db: Session, batches: Sequence[Batch], today: date) -> dict[UUID, Clearance]:
    """`clearance_of` for several batches at once."""
    station = station_of(db)
    samples = samples_of(db, [batch.id for batch in batches])
    return {
        batch.id: clearance.reckon(
            collected_on=batch.collected_on,
            today=today,
            days_needed=station.days_in_store,
            required_tests=station.required_tests,
            samples=samples.get(batch.id, ()),
        )
        for batch in batches
    }


def health_of_all(db: Session, batch_ids: Collection[UUID]) -> dict[UUID, Health]:
    """The health state of each batch."""
    required = station_of(db).required_tests
    samples = samples_of(db, batch_ids)
    return {id: clearance.health_of(required, samples.get(id, ())) for id in batch_ids}


def recorded_tests(
    db: Session, batch_id: UUID, *, before: int | None, limit: int
) -> list[tuple[BatchTest, int]]:
    """Tests of a batch with the numbers of their entries, the one recorded last first."""
    query = (
        select(BatchTest, Entry.seq)
        .join(Entry, col(Entry.id) == col(BatchTest.id))
        .where(BatchTest.batch_id == batch_id)
        .order_by(col(Entry.seq).desc())
        .limit(limit)
    )
    if before is not None:
        query = query.where(Entry.seq < before)
    return list(db.exec(query))


_TOLD = sa_select(
    *(col(Entry.seq), col(Entry.id), col(Entry.batch_id), col(Entry.facts)),
    *(col(Entry.by_id), col(Entry.by_name)),
).where(col(Entry.kind) == KIND)

#: The day is read as it stands: one that is no day any more must not end the check.
_KEPT = sa_select(
    *(col(BatchTest.id), col(BatchTest.batch_id), col(BatchTest.test), col(BatchTest.result)),
    *(cast(BatchTest.sampled_on, String).label("sampled_on"), col(BatchTest.laboratory)),
    *(col(BatchTest.note), col(BatchTest.by_id), col(BatchTest.by_name), col(Batch.code)),
).outerjoin(Batch, col(Batch.id) == col(BatchTest.batch_id))


def changed_tests(connection: Connection) -> Iterator[str]:
    """Tests that are not what the book says, that it does not know, or that are gone."""
    told = {row.id: row for row in connection.execute(_TOLD.order_by(col(Entry.seq)))}
    for kept in connection.execute(_KEPT.order_by(col(BatchTest.id))):
        entry = told.pop(kept.id, None)
        of_batch = f"batch {grouped(kept.code)}" if kept.code else "no batch"
        if entry is None:
            yield f"A test of {of_batch} ({kept.test}) stands in no entry of the book."
        elif _kept_of(kept) != _told_of(entry):
            yield f"A test of {of_batch} ({kept.test}) is not what entry {entry.seq} says."
    for entry in told.values():
        yield f"Entry {entry.seq} records a test that is not kept any more."


def _kept_of(kept: Any) -> tuple[Any, ...]:
    return kept.batch_id, {n: getattr(kept, n) for n in _SAID}, kept.by_id, kept.by_name


def _told_of(entry: Any) -> tuple[Any, ...]:
    return entry.batch_id, json.loads(entry.facts), entry.by_id, entry.by_name
