"""A schedule put into what is answered."""

from datetime import date

from service.nitrogen import rounds_words
from service.nitrogen.rounds import Visit
from service.nitrogen.rounds_schedule import Schedule
from service.nitrogen.rounds_wire import (
    ItemOut,
    MissedOut,
    MissedTank,
    PlanOut,
    PlanWarningOut,
    ScheduleOut,
    ShortageOut,
    SupplyDay,
    SupplyOut,
    VisitOut,
)
from service.nitrogen.store import RoundPlan


def plan_out(plan: RoundPlan) -> PlanOut:
    """The settings as they are read."""
    return PlanOut.model_validate(plan, from_attributes=True)


def schedule_out(schedule: Schedule) -> ScheduleOut:
    """The schedule as it is read."""
    items = [item for visit in schedule.visits for item in _items(visit, schedule)]
    return ScheduleOut(
        **{"from": schedule.today},
        until=schedule.on(schedule.days - 1),
        confidence_percent=schedule.plan.confidence_percent,
        items=items,
        litres=sum(item.litres for item in items),
        visits=_visits(schedule),
        supply=_supply(schedule),
        if_missed=_if_missed(schedule),
        warnings=[
            PlanWarningOut(code=one.code, tank_id=one.tank_id, message=one.message)
            for one in rounds_words.warnings(schedule)
        ],
    )


def _items(visit: Visit, schedule: Schedule) -> list[ItemOut]:
    return [
        ItemOut(
            date=schedule.on(visit.day),
            tank_id=fill.need.tank_id,
            tank_name=fill.need.tank_name,
            litres=fill.litres,
            litres_most=fill.litres_most,
            fill_to_litres=fill.need.fill_to_litres,
            cause=fill.need.cause,
            reason=rounds_words.reason(fill, visit, schedule),
        )
        for fill in visit.fills
    ]


def _visits(schedule: Schedule) -> list[VisitOut]:
    course = schedule.supply_course
    after = {} if course is None else {one.on: one.litres for one in course.days}
    missing = {} if course is None else {one.on: one.litres for one in course.shortages}
    return [
        VisitOut(
            date=(on := schedule.on(visit.day)),
            fill_day=visit.fill_day,
            tanks=len(visit.fills),
            litres=sum(fill.litres for fill in visit.fills),
            litres_most=sum(fill.litres_most for fill in visit.fills),
            supply_litres_after=after.get(on),
            missing_litres=None if course is None else missing.get(on, 0),
        )
        for visit in schedule.visits
    ]


def _if_missed(schedule: Schedule) -> list[MissedOut]:
    days = [schedule.on(visit.day) for visit in schedule.visits]
    following: list[date | None] = [*days[1:], None]
    return [
        _missed(visit, schedule, next_on)
        for visit, next_on in zip(schedule.visits, following, strict=False)
    ]


def _missed(visit: Visit, schedule: Schedule, next_on: date | None) -> MissedOut:
    found = rounds_words.missed(visit, schedule)
    return MissedOut(
        date=schedule.on(visit.day),
        next_visit_on=next_on,
        tanks=[
            MissedTank(
                tank_id=one.fill.need.tank_id,
                tank_name=one.fill.need.tank_name,
                may_reach_minimum_on=one.may_reach_on,
                reaches_minimum_on=one.reaches_on,
            )
            for one in found
        ],
        words=rounds_words.missed_words(found, next_on),
    )


def _supply(schedule: Schedule) -> SupplyOut | None:
    supply, course = schedule.supply, schedule.supply_course
    if supply is None or course is None:
        return None
    return SupplyOut(
        measured_on=supply.measured_on,
        measured_litres=supply.litres,
        capacity_litres=supply.capacity_litres,
        loss_litres_per_day=supply.loss_litres_per_day,
        litres=course.days[0].litres,
        days=[SupplyDay(date=one.on, litres=one.litres) for one in course.days],
        shortages=[
            ShortageOut(needed_by=one.on, litres=one.litres, late_delivery_on=one.late_delivery_on)
            for one in course.shortages
        ],
    )
