"""How this station counts, over HTTP."""

from typing import Any
from uuid import UUID

from fastapi import Response

from service.audits import store, wire
from service.bank.records import apply, facts_of, kept
from service.bank.shapes import history_of, said
from service.edge.asking import Anyone, Manager
from service.edge.listing import AskedPage, Listing
from service.edge.problems import problems
from service.edge.replay import AskedOnce, act_now
from service.edge.transaction import Reading, Router, Writing
from service.edge.versions import ChangeOut, IfMatch, expect, versioned
from service.kernel.errors import Stale, VersionMissing

router = Router(prefix="/api", tags=["stock-takes"])

RECORD = "count-plan"

#: Under which changes are kept; the table's own key is a plain 1.
PLAN_ID = UUID(int=1)


def _out(plan: store.CountPlan) -> wire.PlanOut:
    facts: dict[str, Any] = {name: getattr(plan, name) for name in wire.PlanOut.model_fields}
    return wire.PlanOut(**facts)


@router.get("/stock-take-plan", operation_id="read_count_plan", summary="How this station counts")
def read_plan(who: Anyone, db: Reading, response: Response) -> wire.PlanOut:
    """Limits and the usual sample; its ETag is what a change starts from."""
    return versioned(_out(store.plan_of(db)), response)


@router.patch(
    "/stock-take-plan",
    operation_id="change_count_plan",
    summary="Change how this station counts",
    responses=problems(Stale, VersionMissing),
)
def change_plan(
    who: Manager,
    db: Writing,
    body: wire.PlanChange,
    asked: AskedOnce,
    response: Response,
    if_match: IfMatch = None,
) -> wire.PlanOut:
    """Change what is given; the old values stay in the history."""
    plan = store.plan_of(db)
    expect(_out(plan), if_match)
    with kept(db, act_now(asked, who), RECORD, PLAN_ID, lambda: facts_of(plan)):
        apply(plan, said(body))
        db.add(plan)
    return versioned(_out(plan), response)


@router.get(
    "/stock-take-plan/changes",
    operation_id="read_count_plan_changes",
    summary="How this station counted before",
)
def read_plan_changes(who: Anyone, db: Reading, page: AskedPage) -> Listing[ChangeOut]:
    """Every change, newest first."""
    return history_of(db, RECORD, PLAN_ID, page)
