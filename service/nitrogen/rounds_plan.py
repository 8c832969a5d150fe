"""How this station makes its rounds: read, and changed by a manager.

Inside the transaction of the caller.
"""

from datetime import date
from decimal import Decimal
from uuid import UUID

from sqlmodel import Session

from service.bank.records import Changes, apply, facts_of, kept
from service.bank.store import day_of
from service.kernel.acts import Act
from service.nitrogen import rounds_rules
from service.nitrogen.rounds_supply import Amount, Supply
from service.nitrogen.rules import LEVEL_EVERY_DAYS
from service.nitrogen.store import RoundPlan

#: Under which the plan's changes are kept; the table's own key is a plain 1.
PLAN_ID = UUID(int=1)

KIND = "round-plan"


def plan_of(db: Session) -> RoundPlan:
    """The station's settings; the usual ones until a manager changes them."""
    return db.get(RoundPlan, 1) or RoundPlan(
        id=1,
        fill_weekdays=list(rounds_rules.FILL_WEEKDAYS),
        confidence_percent=rounds_rules.CONFIDENCE_PERCENT,
        level_every_days=LEVEL_EVERY_DAYS,
        deliveries=[],
    )


def change_plan(db: Session, act: Act, changes: Changes) -> RoundPlan:
    """Change what is given; a new content of the supply vessel is of today unless told otherwise.

    Raises BadSupply.
    """
    plan, changes = plan_of(db), dict(changes)
    today = day_of(db, act.recorded_at)
    if "supply_litres" in changes:
        measured = None if changes["supply_litres"] is None else today
        changes.setdefault("supply_measured_on", measured)
    with kept(db, act, KIND, PLAN_ID, lambda: facts_of(plan)):
        apply(plan, changes)
        rounds_rules.check_supply(
            litres=plan.supply_litres,
            measured_on=plan.supply_measured_on,
            capacity_litres=plan.supply_capacity_litres,
            today=today,
        )
        db.add(plan)
    return plan


def supply_of(plan: RoundPlan) -> Supply | None:
    """The supply vessel as the round sees it; None when its content is not known."""
    if plan.supply_litres is None or plan.supply_measured_on is None:
        return None
    capacity = plan.supply_capacity_litres
    return Supply(
        litres=float(plan.supply_litres),
        measured_on=plan.supply_measured_on,
        capacity_litres=None if capacity is None else float(capacity),
        loss_litres_per_day=float(plan.supply_loss_litres_per_day or 0),
        deliveries=[
            Amount(date.fromisoformat(one["on"]), float(Decimal(one["litres"])))
            for one in plan.deliveries
        ],
    )
