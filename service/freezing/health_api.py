"""Health tests of batches over HTTP."""

from typing import Any
from uuid import UUID

from fastapi import Response

from service.bank.shapes import BatchName, answered_again, warnings_out
from service.edge.asking import Anyone, Worker
from service.edge.listing import AskedPage, Listing, page_of
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, once
from service.edge.transaction import Reading, Router, Writing
from service.freezing import health, rules
from service.freezing.batches import batch_of
from service.freezing.health_wire import (
    SampleIn,
    SampleOut,
    SampleRecorded,
    clearance_out,
)
from service.kernel.acts import Act
from service.ledger.health import recorded_tests

router = Router()


@router.post(
    "/batches/{batch_id}/tests",
    operation_id="record_test",
    summary="Record a health test",
    status_code=201,
    response_model=SampleRecorded,
    responses=answered_again(SampleRecorded)
    | problems(rules.UnknownBatch, rules.SampledInFuture, IdReused),
)
def record_test(
    batch_id: UUID, who: Worker, db: Writing, body: SampleIn, asked: AskedOnce
) -> Response:
    """Of one test the sample taken last counts. Nothing is held or released by it."""

    def do(act: Act) -> SampleRecorded:
        batch = batch_of(db, batch_id)
        done = health.record_test(db, act, batch, **_said(body))
        return SampleRecorded(
            **dict(SampleOut.of(done.test)),
            batch=BatchName(id=batch.id, code=batch.code),
            clearance=clearance_out(done.clearance),
            warnings=warnings_out(done.warnings),
        )

    return once(db, asked, who, body, do)


def _said(body: SampleIn) -> dict[str, Any]:
    """What is said of the test itself, not of the act."""
    return body.model_dump(exclude={"id", "occurred_at"})


@router.get(
    "/batches/{batch_id}/tests",
    operation_id="list_tests",
    summary="Health tests of a batch, the one recorded last first",
    responses=problems(rules.UnknownBatch),
)
def list_tests(who: Anyone, db: Reading, batch_id: UUID, page: AskedPage) -> Listing[SampleOut]:
    """Every test that was ever recorded for it, also those that do not count any more."""
    batch = batch_of(db, batch_id)
    rows = recorded_tests(db, batch.id, before=page.after_one(int), limit=page.limit + 1)
    return page_of(rows, page, key=lambda row: (row[1],), show=lambda row: SampleOut.of(row[0]))
