"""Levels, top-ups and the state of tanks put into what is answered."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.bank.store import Tank, station_of
from service.nitrogen import levels, rules, states
from service.nitrogen.calibrated import WATTS_PER_LITRE_A_DAY, Dipstick
from service.nitrogen.rounds_plan import plan_of
from service.nitrogen.states import TankState
from service.nitrogen.store import Level, Strike, TopUp
from service.nitrogen.wire import AtAGlance, LevelOut, NitrogenOut, StruckOut, TopUpOut

#: A minimum that is further away is not shown as a day.
_FURTHEST = 36_525


@dataclass(frozen=True, slots=True)
class House:
    """How this station counts: its clock on the wall, and how often levels are read."""

    zone: ZoneInfo
    every_days: int

    def day(self, moment: datetime) -> date:
        """The day it is here."""
        return moment.astimezone(self.zone).date()


def house_of(db: Session) -> House:
    """This station's."""
    return House(ZoneInfo(station_of(db).time_zone), plan_of(db).level_every_days)


def nitrogen_out(state: TankState, house: House) -> NitrogenOut:
    """A tank's state as it is read."""
    tank, found = state.tank, state.estimate
    loss, rated = found.loss_litres_per_day, float(tank.rated_loss_litres_per_day)
    return NitrogenOut(
        **_common(state, house),
        as_of=state.as_of,
        litres_low=found.litres_low,
        litres_high=found.litres_high,
        loss_litres_per_day=loss,
        loss_low=found.loss_low,
        loss_high=found.loss_high,
        rated_loss_litres_per_day=rated,
        ratio_to_rated=None if loss is None else loss / rated,
        settled_loss_litres_per_day=found.settled_loss,
        changed_at=_moment(found.changed_at),
        heat_leak_watts=None if loss is None else loss * WATTS_PER_LITRE_A_DAY,
        capacity_litres=tank.capacity_litres,
        minimum_level_cm=tank.minimum_level_cm,
        minimum_litres=state.minimum_litres,
        reaches_minimum_latest_on=_day_in(state.as_of, found.days_to_minimum_latest, house),
        by_rating=found.by_rating,
        next_reading_on=_last_read_on(state, house) + timedelta(days=house.every_days),
        readings_used=found.readings_used,
    )


def at_a_glance(state: TankState, house: House) -> AtAGlance:
    """A tank's state in one line."""
    return AtAGlance(**_common(state, house))


def _common(state: TankState, house: House) -> dict[str, Any]:
    tank, found = state.tank, state.estimate
    litres = found.litres
    level_cm = None if litres is None else float(state.dipstick.level_at(Decimal(litres)))
    today, series = house.day(state.as_of), state.series
    overdue = rules.overdue(
        last=_last_read_on(state, house), today=today, every_days=house.every_days
    )
    return {
        "tank_id": tank.id,
        "tank_name": tank.name,
        "state": found.state,
        "litres": litres,
        "level_cm": level_cm,
        "percent": None if litres is None else litres / float(tank.capacity_litres) * 100,
        "below_minimum": litres is not None and litres < state.minimum_litres,
        "reaches_minimum_on": _day_in(state.as_of, found.days_to_minimum, house),
        "reaches_minimum_earliest_on": _day_in(state.as_of, found.days_to_minimum_earliest, house),
        "signs": state.signs,
        "reading_overdue": tank.retired_at is None and overdue,
        "last_read_at": series.levels[-1].at if series.levels else None,
        "why": found.why,
    }


def _last_read_on(state: TankState, house: House) -> date:
    """The day of the last reading; the day the tank came into the book where there is none."""
    read = state.series.levels
    return house.day(read[-1].at if read else state.tank.created_at)


def _day_in(as_of: datetime, days: float | None, house: House) -> date | None:
    if days is None or days > _FURTHEST:
        return None
    try:
        return house.day(as_of + timedelta(days=max(days, 0)))
    except OverflowError:
        return None


def _moment(days: float | None) -> datetime | None:
    return None if days is None else datetime(1970, 1, 1, tzinfo=UTC) + timedelta(days=days)


def worst_first(state: TankState, house: House) -> tuple[int, date, str]:
    """Where a tank stands in the list of all: those that cannot wait come first."""
    line = at_a_glance(state, house)
    soon = line.reaches_minimum_earliest_on
    if line.state == "failing":
        rank = 0
    elif line.below_minimum:
        rank = 1
    elif soon is not None and soon <= house.day(state.as_of) + timedelta(days=house.every_days):
        rank = 2
    elif line.state == "rising":
        rank = 3
    elif line.state == "unknown" or line.reading_overdue:
        rank = 4
    else:
        rank = 5
    return rank, soon or date.max, line.tank_name


def _struck(strike: Strike | None) -> StruckOut | None:
    if strike is None:
        return None
    return StruckOut(by=strike.by_name, at=strike.struck_at, reason=strike.reason)


def level_out(level: Level, strike: Strike | None, tank: Tank, dipstick: Dipstick) -> LevelOut:
    """A level as it is read back."""
    figure = levels.figure_of(level.level_cm, level.litres, level.weight_kg)
    content = states.content_by(tank, dipstick, figure)
    return LevelOut(
        id=level.id,
        measured_at=level.measured_at,
        read_as=figure.read_as,
        level_cm=None if content is None else content.level_cm,
        litres=None if content is None else content.litres,
        weight_kg=level.weight_kg,
        signs=level.signs,
        note=level.note,
        recorded_at=level.recorded_at,
        by=level.by_name,
        struck=_struck(strike),
    )


def top_up_out(top_up: TopUp, strike: Strike | None, dipstick: Dipstick) -> TopUpOut:
    """A top-up as it is read back."""
    return TopUpOut(
        id=top_up.id,
        filled_at=top_up.filled_at,
        litres_added=top_up.litres_added,
        level_after_cm=top_up.level_after_cm,
        litres_after=litres_after(top_up, dipstick),
        note=top_up.note,
        recorded_at=top_up.recorded_at,
        by=top_up.by_name,
        struck=_struck(strike),
    )


def litres_after(top_up: TopUp, dipstick: Dipstick) -> Decimal | None:
    """What was in the tank after a top-up, where the level was read."""
    return None if top_up.level_after_cm is None else dipstick.litres_at(top_up.level_after_cm)
