"""Oxygen in a room that nitrogen boils off into: an estimate for planning, by published formulae.

Pure. All of them take the air as perfectly mixed, which it is not: cold vapour is nearly four times
as dense as the air and lies low. `c0` is the oxygen of fresh air in percent of its volume, `E` the
litres of gas that a litre of liquid becomes, `V` the air of the room in m³, `R` the gas given off
and `Q` the flow of the fan, both in m³ per hour. Sources disagree about c0 (20.9 to 21) and E (680
to 700 near sea level, more in the mountains): both are figures of the room, none is fixed here.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, inf, log

from service.bank.rooms_rules import Ventilation

#: What filling a vessel boils off, of its capacity: University of Oxford, Policy Statement S4/03,
#: Appendix 1.
FILLING_SHARE = 0.1

#: The whole content just after a filling: capacity and filling loss (from memory).
FULL_LOSS_SHARE = 1 + FILLING_SHARE

#: Below this the air is short of oxygen: US OSHA, 29 CFR 1910.134 and 1910.146.
DEFICIENT_PERCENT = 19.5

_HOURS_A_DAY = 24
_LITRES_A_M3 = 1_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """A room as the formulae take it. Without a fan, or with one that stands still, none counts."""

    volume_m3: float
    air_changes_per_hour: float
    ventilation: Ventilation
    expansion_ratio: float
    oxygen_percent: float

    @property
    def fan_m3_per_hour(self) -> float:
        """Q = V × air changes; 0 without a fan."""
        return 0 if self.ventilation == "none" else self.volume_m3 * self.air_changes_per_hour


def gas_m3(litres: float, *, expansion_ratio: float) -> float:
    """The gas that so much liquid becomes: Vg = litres × E / 1000, in m³."""
    return litres * expansion_ratio / _LITRES_A_M3


def evaporation_m3_per_hour(
    litres_per_day: float, *, expansion_ratio: float, ageing_factor: float
) -> float:
    """The gas that standing tanks give off: R = ageing × E × (L/day) / (24 × 1000), in m³ per hour.

    University of Oxford, Policy Statement S4/03, Appendix 1, which prints no brackets; these are
    the ones that give its figure.
    """
    return gas_m3(ageing_factor * litres_per_day, expansion_ratio=expansion_ratio) / _HOURS_A_DAY


def percent_after_release(air: Air, litres: float) -> float:
    """Oxygen in percent right after a sudden release: c0 (V − Vg) / V, floored at 0.

    Simple displacement, the same amount of air pushed out unmixed: University of Oxford, Policy
    Statement S4/03, Appendix 1; University of Nottingham. It lies below the exponential one.
    """
    gas = gas_m3(litres, expansion_ratio=air.expansion_ratio)
    return max(air.oxygen_percent * (air.volume_m3 - gas) / air.volume_m3, 0)


def settling(air: Air, release_m3_per_hour: float) -> tuple[float, float]:
    """Where oxygen settles while gas is given off, in percent, and how fast, per hour.

    Fermilab ESH&Q Manual, chapter 4240, section 6.1.A (by way of code that quotes it): a supply fan
    blows Q of air in, so Q + R leave: c0 Q / (Q + R), at (Q + R) / V. An exhaust fan draws Q out,
    of which Q − R is fresh: c0 (1 − R / Q), at Q / V. When it draws no more than R, or there is no
    fan, R leaves as it is given off: 0 in the end, at R / V.
    """
    volume, fan, release = air.volume_m3, air.fan_m3_per_hour, release_m3_per_hour
    if fan and air.ventilation == "supply":
        return air.oxygen_percent * fan / (fan + release), (fan + release) / volume
    if fan > release:
        return air.oxygen_percent * (1 - release / fan), fan / volume
    return 0, release / volume


def steady_percent(air: Air, release_m3_per_hour: float) -> float | None:
    """Oxygen in percent in the long run; None without ventilation: there it only falls."""
    return settling(air, release_m3_per_hour)[0] if air.fan_m3_per_hour else None


def percent_at(
    air: Air, hours: float, *, release_m3_per_hour: float, start_percent: float | None = None
) -> float:
    """Oxygen in percent after so many hours: C = Cs + (C0 − Cs) exp(−k t), see `settling`.

    From fresh air these are the transients of Fermilab ESH&Q Manual, chapter 4240, section 6.1.A;
    from less, with R = 0, its recovery after a release has stopped: c0 − (c0 − Cr) exp(−Q t / V)
    (printed form from memory).
    """
    start = air.oxygen_percent if start_percent is None else start_percent
    settled, per_hour = settling(air, release_m3_per_hour)
    return settled + (start - settled) * exp(-per_hour * hours)


def purge_hours(before: float, after: float, *, changes_per_hour: float) -> float:
    """How long dilution takes from one share to another, in hours: t = −ln(C2 / C1) / (K N).

    K, the mixing factor, is 1 here: perfect mixing. Infinite when nothing is changed or all of it
    is to go.
    """
    if after >= before:
        return 0
    return inf if after <= 0 or changes_per_hour <= 0 else log(before / after) / changes_per_hour


def hours_to_fall(air: Air, percent: float, *, release_m3_per_hour: float) -> float | None:
    """Hours until oxygen falls from that of fresh air to this percentage; None when it never does.

    What is purged is its distance from where it settles.
    """
    settled, per_hour = settling(air, release_m3_per_hour)
    hours = purge_hours(air.oxygen_percent - settled, percent - settled, changes_per_hour=per_hour)
    return None if hours == inf else hours


def hours_to_recover(
    air: Air, percent: float, *, start_percent: float, release_m3_per_hour: float
) -> float | None:
    """Hours until oxygen has risen to this percentage again; 0 where it lies no lower.

    None when it never does: without ventilation, or when it settles below.
    """
    settled, per_hour = settling(air, release_m3_per_hour)
    hours = purge_hours(settled - start_percent, settled - percent, changes_per_hour=per_hour)
    return None if hours == inf else hours


def curve(
    air: Air,
    hours: float,
    *,
    release_m3_per_hour: float,
    start_percent: float | None = None,
    points: int = 49,
) -> Sequence[tuple[float, float]]:
    """Oxygen over time for a picture: (hours, percent), evenly spaced, both ends included."""
    return [
        (
            at,
            percent_at(
                air, at, release_m3_per_hour=release_m3_per_hour, start_percent=start_percent
            ),
        )
        for at in (hours * point / (points - 1) for point in range(points))
    ]
