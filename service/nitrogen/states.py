"""How each tank stands: all that counts of it, put before the estimator.

What else watches tanks (rounds, alerts) asks here. A tank's own table turns what was read into
litres each time, so a table that is put right puts the past right, too.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from sqlmodel import Session

from service.bank.store import Tank
from service.bank.tanks_actions import points_of
from service.edge.replay import AHEAD
from service.nitrogen import estimating, levels, rules
from service.nitrogen.calibrated import Dipstick
from service.nitrogen.estimating import Estimate, TankFacts
from service.nitrogen.filtering import Filled, Reading
from service.nitrogen.levels import Counted, Filling, Series
from service.nitrogen.rules import Content, Figure

_DAY_SECONDS = 86_400


@dataclass(frozen=True, slots=True)
class TankState:
    """A tank, what counts of it until `as_of`, and what the estimator makes of that."""

    tank: Tank
    as_of: datetime
    dipstick: Dipstick
    series: Series
    readings: Sequence[Reading]
    filled: Sequence[Filled]
    signs: list[str]
    estimate: Estimate

    @property
    def minimum_litres(self) -> Decimal:
        """What is in the tank at its minimum level."""
        return self.dipstick.litres_at(self.tank.minimum_level_cm)

    @property
    def facts(self) -> TankFacts:
        """The tank as the estimator takes it."""
        return facts_of(self.tank, self.dipstick)


def dipstick_of(tank: Tank) -> Dipstick:
    """The tank's table."""
    return Dipstick.of(points_of(tank))


def facts_of(tank: Tank, dipstick: Dipstick) -> TankFacts:
    """The tank as the estimator takes it."""
    return TankFacts(
        capacity_litres=float(tank.capacity_litres),
        minimum_litres=float(dipstick.litres_at(tank.minimum_level_cm)),
        rated_loss_litres_per_day=float(tank.rated_loss_litres_per_day),
    )


def days(moment: datetime) -> float:
    """A moment as the estimator counts: days since 1970, in UTC."""
    return moment.timestamp() / _DAY_SECONDS


def states_of(
    db: Session, tanks: Sequence[Tank], *, now: datetime, as_of: datetime | None = None
) -> list[TankState]:
    """How these tanks stand at `as_of`: by what was measured until then, whenever it was entered.

    Without `as_of` it is now, or the newest reading: a phone's clock may be a little ahead.
    """
    found = levels.counted(db, [tank.id for tank in tanks], until=as_of or now + AHEAD)
    return [_state(tank, found[tank.id], as_of or _newest(found[tank.id], now)) for tank in tanks]


def _newest(series: Series, now: datetime) -> datetime:
    last = [one[-1].at for one in (series.levels, series.fillings) if one]
    return max([now, *last])


def _state(tank: Tank, series: Series, as_of: datetime) -> TankState:
    dipstick = dipstick_of(tank)
    readings = readings_of(series.levels, tank, dipstick)
    filled = filled_of(series.fillings, dipstick)
    signs = rules.signs_that_stand([(one.at, one.signs) for one in series.levels])
    estimate = estimating.estimate(
        facts_of(tank, dipstick), readings, filled, as_of=days(as_of), signs=bool(signs)
    )
    return TankState(tank, as_of, dipstick, series, readings, filled, signs, estimate)


def content_by(tank: Tank, dipstick: Dipstick, figure: Figure) -> Content | None:
    """What a level of the past makes by the record of today; None where that cannot read it."""
    try:
        return rules.content_of(figure, dipstick, tank.empty_weight_kg)
    except rules.NoEmptyWeight:
        return None


def readings_of(levels_counted: Sequence[Counted], tank: Tank, dipstick: Dipstick) -> list[Reading]:
    """Levels as the estimator takes them; without those that the tank's record cannot read."""
    return [
        Reading(
            at=days(level.at),
            litres=float(max(content.litres, Decimal(0))),
            litres_per_cm=float(dipstick.litres_per_cm(content.level_cm)),
        )
        for level in levels_counted
        if (content := content_by(tank, dipstick, level.figure)) is not None
    ]


def filled_of(fillings: Sequence[Filling], dipstick: Dipstick) -> list[Filled]:
    """Top-ups as the estimator takes them: no more stays in the tank than it holds."""
    return [
        Filled(
            at=days(one.at),
            litres_added=None
            if one.litres_added is None
            else float(min(one.litres_added, dipstick.top_litres)),
            litres_after=None
            if one.level_after_cm is None
            else float(dipstick.litres_at(one.level_after_cm)),
        )
        for one in fillings
    ]
