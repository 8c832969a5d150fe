"""What oxygen is left in a room with its tanks: four cases, and two of them over time.

Pure. The cases are those of the University of Oxford, Policy Statement S4/03, Appendix 1:
evaporation, a filling, a spill, the whole contents just after a filling.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from service.nitrogen import oxygen
from service.nitrogen.oxygen import DEFICIENT_PERCENT, FILLING_SHARE, FULL_LOSS_SHARE, Air

#: A curve is drawn until so many times the mean stay of air: it has settled within 1 %.
_TIMES_SETTLED = 5

#: Without ventilation it is drawn to half as long again as oxygen takes to become short.
_BEYOND_SHORT = 1.5

_A_DAY_HOURS, _A_YEAR_HOURS = 24, 8_760

Curve = Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A tank as it stands in a room."""

    capacity_litres: float
    rated_loss_litres_per_day: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Release:
    """So much liquid boiled off at once: what is left, and when there is enough again.

    `recovery_hours` is None when it never is: nothing airs the room, or it settles too low.
    """

    litres: float
    gas_m3: float
    percent: float
    recovery_hours: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """What oxygen is left. `steady_percent` is None without ventilation."""

    evaporation_m3_per_hour: float
    steady_percent: float | None
    hours_to_deficient: float | None
    filling: Release
    spill: Release
    full_loss: Release
    evaporation_curve: Curve
    filling_curve: Curve
    spill_curve: Curve


def left_in(air: Air, tanks: Sequence[Standing], *, ageing_factor: float) -> Left:
    """The cases of a room with these tanks; each release finds fresh air."""
    loss = sum(tank.rated_loss_litres_per_day for tank in tanks)
    largest = max((tank.capacity_litres for tank in tanks), default=0.0)
    all_litres = sum(tank.capacity_litres for tank in tanks)
    given_off = oxygen.evaporation_m3_per_hour(
        loss, expansion_ratio=air.expansion_ratio, ageing_factor=ageing_factor
    )
    filling = _release(air, FILLING_SHARE * largest, given_off)
    spill = _release(air, largest, given_off)
    hours = oxygen.hours_to_fall(air, DEFICIENT_PERCENT, release_m3_per_hour=given_off)

    def recovery(release: Release) -> Curve:
        return oxygen.curve(
            air, _settled_hours(air), release_m3_per_hour=given_off, start_percent=release.percent
        )

    return Left(
        evaporation_m3_per_hour=given_off,
        steady_percent=oxygen.steady_percent(air, given_off),
        hours_to_deficient=hours,
        filling=filling,
        spill=spill,
        full_loss=_release(air, FULL_LOSS_SHARE * all_litres, given_off),
        evaporation_curve=oxygen.curve(
            air, _falling_hours(air, hours), release_m3_per_hour=given_off
        ),
        filling_curve=recovery(filling),
        spill_curve=recovery(spill),
    )


def _release(air: Air, litres: float, given_off: float) -> Release:
    percent = oxygen.percent_after_release(air, litres)
    return Release(
        litres=litres,
        gas_m3=oxygen.gas_m3(litres, expansion_ratio=air.expansion_ratio),
        percent=percent,
        recovery_hours=oxygen.hours_to_recover(
            air, DEFICIENT_PERCENT, start_percent=percent, release_m3_per_hour=given_off
        ),
    )


def _settled_hours(air: Air) -> float:
    fan = air.fan_m3_per_hour
    return min(_TIMES_SETTLED * air.volume_m3 / fan, _A_YEAR_HOURS) if fan else _A_DAY_HOURS


def _falling_hours(air: Air, hours_to_deficient: float | None) -> float:
    if hours_to_deficient is None:
        return _settled_hours(air)
    return min(max(_BEYOND_SHORT * hours_to_deficient, _A_DAY_HOURS), _A_YEAR_HOURS)
