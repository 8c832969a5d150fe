"""The schedule of the next days: every tank's state, the round through them, the supply vessel."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.bank.search import tanks_in_use
from service.bank.store import station_of
from service.nitrogen import rounds, rounds_plan, rounds_supply, states
from service.nitrogen.filtering import Filled, Reading
from service.nitrogen.rounds import Days, Need, Visit
from service.nitrogen.rounds_needs import need_of
from service.nitrogen.rounds_supply import Amount, Supply, SupplyCourse
from service.nitrogen.states import TankState
from service.nitrogen.store import RoundPlan

_A_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """The visits of so many days from `today` on, and the vessel they are filled from."""

    today: date
    days: int
    plan: RoundPlan
    needs: Sequence[Need]
    visits: Sequence[Visit]
    supply: Supply | None
    supply_course: SupplyCourse | None

    @property
    def confidence(self) -> float:
        """0 to 1."""
        return float(self.plan.confidence_percent) / 100

    def on(self, day: int) -> date:
        """The date of a day that is counted from today."""
        return self.today + timedelta(days=day)


def schedule_of(
    db: Session, *, now: datetime, days: int, found: Sequence[TankState] | None = None
) -> Schedule:
    """The round of the next days by all that is known now; the station's clock tells the days.

    `found` is how the tanks in use stand, where the caller knows that already.
    """
    plan, zone = rounds_plan.plan_of(db), ZoneInfo(station_of(db).time_zone)
    today = now.astimezone(zone).date()
    if found is None:
        found = states.states_of(db, tanks_in_use(db), now=now)
    needs = [_need(state) for state in found]
    over = Days(
        number=days,
        fill_days=[
            day
            for day in range(days)
            if (today + day * _A_DAY).weekday() in set(plan.fill_weekdays)
        ],
        day_left=(_end_of(today, zone) - now) / _A_DAY,
    )
    visits = rounds.plan(needs, over, confidence=float(plan.confidence_percent) / 100)
    supply = rounds_plan.supply_of(plan)
    course = None
    if supply is not None:
        course = rounds_supply.course_of(
            supply,
            [*_taken(found, supply, zone), *_to_take(visits, today)],
            today=today,
            until=today + (days - 1) * _A_DAY,
        )
    return Schedule(
        today=today,
        days=days,
        plan=plan,
        needs=needs,
        visits=visits,
        supply=supply,
        supply_course=course,
    )


def _end_of(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day + _A_DAY, time.min, zone).astimezone(UTC)


def _need(state: TankState) -> Need:
    tank, dipstick = state.tank, state.dipstick
    return need_of(
        tank.id,
        tank.name,
        state.facts,
        # What stands above the table cannot be read.
        fill_to_litres=float(min(tank.capacity_litres, dipstick.top_litres)),
        top_litres_per_cm=float(dipstick.litres_per_cm(dipstick.top_cm)),
        estimate=state.estimate,
    )


def _to_take(visits: Sequence[Visit], today: date) -> list[Amount]:
    return [
        Amount(today + visit.day * _A_DAY, sum(fill.litres for fill in visit.fills))
        for visit in visits
    ]


def _taken(found: Sequence[TankState], supply: Supply, zone: ZoneInfo) -> Iterator[Amount]:
    """What was filled into tanks since the supply vessel was measured, on later days."""
    for state in found:
        for filled in state.filled:
            on = datetime.fromtimestamp(filled.at * _A_DAY.total_seconds(), zone).date()
            if on > supply.measured_on:
                yield Amount(on, _litres_added(filled, state))


def _litres_added(filled: Filled, state: TankState) -> float:
    """The litres of a top-up: told, or what was there afterwards beyond what was there before."""
    if filled.litres_added is not None:
        return filled.litres_added
    before = max(_contents_before(filled, state), default=None)
    return 0 if before is None else max((filled.litres_after or 0) - before[1], 0)


def _contents_before(filled: Filled, state: TankState) -> Iterator[tuple[float, float]]:
    known: list[Reading | Filled] = [*state.readings, *state.filled]
    for one in known:
        litres = one.litres if isinstance(one, Reading) else one.litres_after
        if one is not filled and one.at <= filled.at and litres is not None:
            yield one.at, litres
