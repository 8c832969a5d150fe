"""The end of a stock-take: signatures, the report, and its hash in the book."""

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlmodel import Session

from service.audits import adjusting, rules, shown
from service.audits.actions import refuse_closed
from service.audits.report_form import Person, digest
from service.audits.reporting import build
from service.audits.store import Difference, Review, StockTake
from service.kernel import clock
from service.kernel.acts import Act
from service.ledger.book import book


def review(db: Session, act: Act, take: StockTake, *, meaning: str, note: str | None) -> Review:
    """An auditor's signature; one that comes after the closing stands beside the report."""
    one = Review(
        id=act.id,
        take_id=take.id,
        by_id=act.by.id,
        by_name=act.by.display_name,
        role=act.by.role,
        meaning=meaning,
        note=note,
        at=act.recorded_at,
    )
    db.add(one)
    facts = {"stock_take_id": take.id, "review_id": one.id, "meaning": meaning}
    book(db, act, "review", [], entry_id=act.new_id(), facts=facts)
    db.flush()
    return one


def close(db: Session, act: Act, take: StockTake, *, note: str | None) -> None:
    """Close it: the report is made and kept, and an entry of the book bears its hash.

    Raises StockTakeClosed, NotAllCounted, NotCompared, and NotExplained when differences are open
    and no note says why.
    """
    refuse_closed(take)
    if left := shown.left_to_count(db, take):
        raise rules.NotAllCounted(
            f"{left} goblets were not counted (again) yet. Count them, or ask for fewer.",
            left_to_count=left,
        )
    if take.state != "compared":
        raise rules.NotCompared("Something was counted since: compare once more.")
    found = adjusting.open_differences(db, take, approved_only=True)
    open_ones = [one for one, left in found if left or _silent(one)]
    if open_ones and note is None:
        raise rules.NotExplained(
            f"{len(open_ones)} differences are open. Adjust them, or say in a note why they stay.",
            open_differences=len(open_ones),
        )
    with db.no_autoflush:  # closed and reported are written at once
        take.state, take.closed_at = "closed", act.recorded_at
        take.closed_by, take.closing_note = act.by.display_name, note
        report = build(db, take, closed_by=Person(id=str(act.by.id), name=act.by.display_name))
        take.report, take.report_sha256 = dict(report), report["sha256"]
    take.report_entry = book(
        db,
        act,
        "stock-take-report",
        [],
        facts={"stock_take_id": take.id, "report_sha256": report["sha256"]},
    )
    db.add(take)
    db.flush()


def _silent(one: Difference) -> bool:
    """Unreadable or foreign straws, and goblets that were disturbed: no adjustment ends them."""
    return one.batch_id is None or one.kind == "disturbed"


def report_of(db: Session, take: StockTake, *, now: datetime) -> Mapping[str, Any]:
    """The report that was signed; of an open stock-take a draft, which says so."""
    if take.report is not None:
        return take.report
    draft = build(db, take, closed_by=Person(id="", name="not closed yet"))
    draft["closed_at"] = clock.as_text(now)
    draft["closing_note"] = "A draft: it was not closed, and nobody has signed it."
    draft["sha256"] = digest(draft)
    return draft


def report_bytes(db: Session, take: StockTake, *, now: datetime) -> bytes:
    """The report as a file."""
    return json.dumps(report_of(db, take, now=now), ensure_ascii=False, indent=1).encode()
