"""A batch's health tests, and what a release has to say about them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session

from service.bank import clearance
from service.bank import store as bank
from service.bank.clearance import Clearance, Result
from service.bank.rules import Warned
from service.bank.store import Batch, BatchTest
from service.freezing import rules
from service.kernel.acts import Act
from service.kernel.codes import grouped
from service.ledger import health
from service.ledger.book import book


@dataclass(frozen=True, slots=True)
class Recorded:
    """A test in the book, and what the batch's clearance is with it."""

    test: BatchTest
    clearance: Clearance
    warnings: list[Warned]


def record_test(
    db: Session,
    act: Act,
    batch: Batch,
    *,
    test: str,
    sampled_on: date,
    result: Result,
    laboratory: str | None,
    note: str | None,
) -> Recorded:
    """Record a test, taken before or after the collection. Raises SampledInFuture.

    Nothing is held or released by it: that is for people to decide, and the warnings say so.
    """
    today = bank.day_of(db, act.recorded_at)
    if sampled_on > today:
        raise rules.SampledInFuture(
            f"A sample of {sampled_on} was not taken yet. Give the day it was taken.",
            errors=[{"field": "sampled_on", "message": "must not lie in the future"}],
        )
    row = BatchTest(
        id=act.id,
        batch_id=batch.id,
        test=test,
        sampled_on=sampled_on,
        result=result,
        laboratory=laboratory,
        note=note,
        recorded_at=act.recorded_at,
        by_id=act.by.id,
        by_name=act.by.display_name,
    )
    book(db, act, health.KIND, [], batch_id=batch.id, facts=health.facts_of(row))
    db.add(row)
    db.flush()
    found = health.clearance_of(db, batch, today)
    return Recorded(row, found, _weigh_test(db, batch, row, found, today))


def _weigh_test(
    db: Session, batch: Batch, row: BatchTest, found: Clearance, today: date
) -> list[Warned]:
    [counts] = [one for one in found.tests if clearance.folded(one.test) == _name(row)]
    if counts.sampled_on != row.sampled_on:
        message = f"A sample of {counts.sampled_on} is recorded already; that later one counts."
        return [Warned("later-sample-counts", "sampled_on", message)]
    if row.result != "positive":
        return []
    held = bank.holds_on(db, today, [batch.id]).get(batch.id)
    if held is None:
        message = (
            f"Batch {grouped(batch.code)} is not on hold, so doses are planned from it. "
            "Put it on hold."
        )
        return [Warned("positive-not-held", "result", message)]
    if held.until is not None:
        message = (
            f"Its hold ends by itself on {held.until}. Hold it without a day, so that only a "
            "release ends it."
        )
        return [Warned("positive-hold-ends", "result", message)]
    return []


def _name(row: BatchTest) -> str:
    return clearance.folded(row.test)


def refuse_positive(batch: Batch, found: Clearance, *, override_reason: str | None) -> None:
    """Raise PositiveTest when a test of the batch found something and nobody says why it goes."""
    if found.positive_tests and override_reason is None:
        raise rules.PositiveTest(
            f"Batch {grouped(batch.code)} is positive for {', '.join(found.positive_tests)}. "
            "Say why it is released all the same, or leave it on hold.",
            errors=[{"field": "override_reason", "message": "is needed: a test is positive"}],
            positive_tests=found.positive_tests,
        )


def remarks_on_release(found: Clearance) -> list[Warned]:
    """What is lacking at a release: it is told and refused by nobody."""
    remarks: list[tuple[str, str]] = []
    if found.days_in_store is None:
        remarks.append(("collection-day-unknown", found.days_said))
    elif not found.days_full:
        remarks.append(("days-in-store-lacking", found.days_said))
    remarks += _about_tests("test-positive", "Positive", found.positive_tests)
    remarks += _about_tests("test-pending", "Not answered yet", found.pending_tests)
    remarks += _about_tests("test-missing", "Not recorded", found.missing_tests)
    return [Warned(code, "reason", message) for code, message in remarks]


def _about_tests(code: str, what: str, tests: Sequence[str]) -> list[tuple[str, str]]:
    return [(code, f"{what}: {', '.join(tests)}.")] if tests else []


def facts_of_release(found: Clearance, override_reason: str | None) -> dict[str, object]:
    """What was known when it was released, for whoever asks years later."""
    return {
        "days_in_store": found.days_in_store,
        "days_needed": found.days_needed,
        "positive_tests": found.positive_tests,
        "pending_tests": found.pending_tests,
        "missing_tests": found.missing_tests,
        "override_reason": override_reason,
    }
