"""Rounds over HTTP: how they are made, and the schedule of the next days."""

from typing import Annotated

from fastapi import Query, Response

from service.bank.shapes import history_of
from service.edge.asking import Anyone, Manager
from service.edge.listing import AskedPage, Listing
from service.edge.problems import problems
from service.edge.replay import AskedOnce, act_now
from service.edge.transaction import Reading, Router, Writing
from service.edge.versions import ChangeOut, IfMatch, expect, versioned
from service.kernel.errors import Stale, VersionMissing
from service.nitrogen import rounds_plan, rounds_schedule
from service.nitrogen.rounds_rules import MOST_DAYS, USUAL_DAYS, BadSupply
from service.nitrogen.rounds_shown import plan_out, schedule_out
from service.nitrogen.rounds_wire import PlanChange, PlanOut, ScheduleOut

router = Router(prefix="/api/nitrogen", tags=["nitrogen"])

DaysAhead = Annotated[int, Query(ge=1, le=MOST_DAYS, description="From today on.")]


@router.get("/plan", operation_id="read_round_plan", summary="How rounds are made here")
def read_plan(who: Anyone, db: Reading, response: Response) -> PlanOut:
    """Fill days, confidence, the supply vessel; its ETag is what a change starts from."""
    return versioned(plan_out(rounds_plan.plan_of(db)), response)


@router.patch(
    "/plan",
    operation_id="change_round_plan",
    summary="Change how rounds are made here",
    responses=problems(Stale, VersionMissing, BadSupply),
)
def change_plan(
    who: Manager,
    db: Writing,
    body: PlanChange,
    asked: AskedOnce,
    response: Response,
    if_match: IfMatch = None,
) -> PlanOut:
    """Change what is given; the old values stay in the history."""
    expect(plan_out(rounds_plan.plan_of(db)), if_match)
    plan = rounds_plan.change_plan(db, act_now(asked, who), body.changes())
    return versioned(plan_out(plan), response)


@router.get(
    "/plan/changes",
    operation_id="read_round_plan_changes",
    summary="How rounds were made before",
)
def read_plan_changes(who: Anyone, db: Reading, page: AskedPage) -> Listing[ChangeOut]:
    """Every change, newest first."""
    return history_of(db, rounds_plan.KIND, rounds_plan.PLAN_ID, page)


@router.get("/schedule", operation_id="read_schedule", summary="The round of the next days")
def read_schedule(
    who: Anyone, db: Reading, asked: AskedOnce, days: DaysAhead = USUAL_DAYS
) -> ScheduleOut:
    """As few visits as keep every tank above its minimum with the plan's confidence.

    It is made anew from what is known now each time it is read; a tank that was filled drops out.
    """
    return schedule_out(rounds_schedule.schedule_of(db, now=asked.wires.clock(), days=days))
