"""When a stallion's doses run out, over HTTP."""

from datetime import date
from uuid import UUID

from fastapi import Request
from pydantic import BaseModel

from service.alerts import run_out
from service.alerts.run_out_conditions import use_of
from service.bank import actions as bank_actions
from service.bank import rules as bank_rules
from service.edge.asking import Anyone
from service.edge.problems import problems
from service.edge.transaction import Reading, Router
from service.edge.wiring import wiring
from service.ledger import stock

router = Router(prefix="/api", tags=["alerts"])

#: Months that the picture shows.
_MONTHS = 18


class LeftOut(BaseModel):
    """What is likely left on a day, within limits that hold in 90 of 100 cases."""

    on: date
    doses: float
    doses_low: float
    doses_high: float


class UsedOut(BaseModel):
    """Doses used in a month that is over."""

    month: date
    doses: int


class RunOutOut(BaseModel):
    """A forecast from the use of each month; earliest and latest are a 90 % interval."""

    doses: int
    runs_out_on: date | None
    earliest_on: date | None
    latest_on: date | None
    doses_last_year: int
    doses_next_year: float | None
    why: str
    course: list[LeftOut]
    used: list[UsedOut]


@router.get(
    "/stallions/{stallion_id}/run-out",
    operation_id="read_run_out",
    summary="When will his doses run out?",
    responses=problems(bank_rules.UnknownStallion),
)
def read_run_out(request: Request, who: Anyone, db: Reading, stallion_id: UUID) -> RunOutOut:
    """By what was used of him in other months, the season of all stallions, and what is left."""
    stallion = bank_actions.stallion_of(db, stallion_id)
    use = use_of(db, wiring(request).clock())
    [one] = stock.by_stallion(db, use.today, stock.Scope(stallion_id=stallion.id)) or [
        stock.StallionStock(stallion)
    ]
    found = use.run_out(stallion.id, one.doses)
    if found is None:
        return RunOutOut(
            doses=0,
            runs_out_on=None,
            earliest_on=None,
            latest_on=None,
            doses_last_year=0,
            doses_next_year=None,
            why="He never had straws in this book.",
            course=[],
            used=[],
        )
    months = use.months[stallion.id]
    return RunOutOut(
        doses=one.doses,
        runs_out_on=found.likely,
        earliest_on=found.earliest,
        latest_on=found.latest,
        doses_last_year=found.doses_last_year,
        doses_next_year=found.doses_next_year,
        why=found.why,
        course=[
            LeftOut(on=at.at, doses=at.likely, doses_low=at.low, doses_high=at.high)
            for at in run_out.course(months, one.doses, use.habits, months_ahead=_MONTHS)
        ],
        used=[UsedOut(month=date(at.year, at.month, 1), doses=at.doses) for at in months[-24:]],
    )
