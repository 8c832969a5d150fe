"""Simulated tanks: what the nitrogen estimate is measured on, and an oracle to measure it by.

A tank of 20 to 50 L loses 0.1 to 0.4 L a day; its lid is opened on one day in three, which costs 5
to 25 mL (the warmth of a canister of 100 g raised by a few dozen kelvin, own reckoning). Levels are
read with an error of 0.5 cm on the dipstick; one reading in a hundred is wild: half of those are
ten centimetres off, half anything between empty and full. It is filled up to 95 % when it comes
near its minimum of a quarter, and what was filled is known to 2 %. The maker's rating is 0.9 to 1.4
times smaller than the loss. All invented.

The oracle is told the true line and the noise, and which readings are wild. For a changed loss it
compares with that line by the same ratio of likelihoods, at a threshold that raises one false call
in ten years of daily readings.
"""

from dataclasses import dataclass, field

import numpy as np

from service.nitrogen.estimating import TankFacts
from service.nitrogen.filtering import Filled, Reading

DIPSTICK_CM, WILD, OPENINGS_A_DAY, FILLED_ERROR = 0.5, 0.01, 1 / 3, 0.02

#: One false call in ten tank-years for who knows the line, over windows up to fourteen readings.
ORACLE_SIGMAS = 3.75


@dataclass
class SimulatedTank:
    """A tank's true course and what was read of it."""

    facts: TankFacts
    loss: float
    litres_per_cm: float
    readings: list[Reading] = field(default_factory=list)
    filled: list[Filled] = field(default_factory=list)
    true_litres: list[float] = field(default_factory=list)
    wild: list[bool] = field(default_factory=list)

    @property
    def noise(self) -> float:
        """The standard deviation of a reading, in litres."""
        return DIPSTICK_CM * self.litres_per_cm


def simulated(
    chance: np.random.Generator,
    days: int,
    *,
    litres_per_cm: float = 0.65,
    every: int = 1,
    changes_on: int | None = None,
    factor: float = 1.0,
    season: float = 0.0,
    filled_any_day: bool = True,
) -> SimulatedTank:
    """A tank over so many days; its loss is `factor` times as large after the day `changes_on`.

    Without `filled_any_day` nobody fills it from 25 days before the change on.
    """
    capacity, loss = chance.uniform(20, 50), chance.uniform(0.1, 0.4)
    rated = loss / chance.uniform(0.9, 1.4)
    tank = SimulatedTank(TankFacts(capacity, 0.25 * capacity, rated), loss, litres_per_cm)
    litres, phase = 0.95 * capacity, chance.uniform(0, 2 * np.pi)
    for day in range(0, days + 1, every):
        for passed in range(day - every, day if day else day - every):
            rate = loss * (1 + season * np.sin(2 * np.pi * passed / 365 + phase))
            if changes_on is not None and passed >= changes_on:
                rate *= factor
            litres -= rate + openings(chance)
        litres = max(litres, 0.0)
        read_off(chance, tank, day, litres)
        last_chance = None if filled_any_day or changes_on is None else changes_on - 25
        if must_fill(tank, day, litres, last_chance, every, factor):
            added = 0.95 * capacity - litres
            litres += added
            tank.filled.append(
                Filled(day + 0.01, litres_added=added * chance.normal(1, FILLED_ERROR))
            )
    return tank


def openings(chance: np.random.Generator) -> float:
    """What a day's openings of the lid cost, in litres."""
    return float(chance.uniform(0.005, 0.025, chance.poisson(OPENINGS_A_DAY)).sum())


def read_off(chance: np.random.Generator, tank: SimulatedTank, day: float, litres: float) -> None:
    """Somebody dips the tank."""
    capacity = tank.facts.capacity_litres
    wild = chance.random() < WILD
    seen = litres + chance.normal(0, tank.noise)
    if wild and chance.random() < 0.5:
        seen = litres + chance.choice([-1, 1]) * 10 * tank.litres_per_cm
    elif wild:
        seen = chance.uniform(0, capacity)
    seen = min(max(float(seen), 0.0), capacity)
    tank.readings.append(Reading(float(day), seen, tank.litres_per_cm))
    tank.true_litres.append(litres)
    tank.wild.append(bool(wild))


def must_fill(
    tank: SimulatedTank, day: int, litres: float, last_chance: int | None, every: int, factor: float
) -> bool:
    """Near the minimum; or on the last day on which it may be filled, if it would not last."""
    low = litres < tank.facts.minimum_litres + 2
    if last_chance is None:
        return low
    used_up = litres - tank.loss * (25 + 10 * factor) < 0.1 * tank.facts.capacity_litres
    return day <= last_chance and (low or (day + every > last_chance and used_up))


def oracle_calls(tank: SimulatedTank, changes_on: int, factor: float) -> bool:
    """Whether who knows the line, the noise and the wild readings calls the change by the end."""
    days, lost = [], []
    for reading, truth, wild in zip(tank.readings, tank.true_litres, tank.wild, strict=True):
        if reading.at > changes_on and not wild:
            passed = reading.at - changes_on
            days.append(passed)
            lost.append(truth + (factor - 1) * tank.loss * passed - reading.litres)
    x, d = np.array(days), np.array(lost)
    sigmas = [
        (x[:count] @ d[:count]) / np.sqrt(x[:count] @ x[:count]) / tank.noise
        for count in range(1, len(x) + 1)
    ]
    return max(sigmas, default=0.0) > ORACLE_SIGMAS


def oracle_days(tank: SimulatedTank) -> float:
    """Days to the minimum by least squares on what is not wild (a new tank, never filled)."""
    seen = [one for one, wild in zip(tank.readings, tank.wild, strict=True) if not wild]
    at, litres = np.array([one.at for one in seen]), np.array([one.litres for one in seen])
    slope, level = np.polyfit(at, litres, 1)
    now = level + slope * tank.readings[-1].at
    return float((now - tank.facts.minimum_litres) / max(-slope, 1e-3))


def true_days(chance: np.random.Generator, tank: SimulatedTank) -> float:
    """Days until the tank in truth comes to its minimum, if nobody fills it."""
    litres, days = tank.true_litres[-1], 0.0
    while litres > tank.facts.minimum_litres and days < 3_650:
        used = tank.loss + openings(chance)
        part = min(1.0, (litres - tank.facts.minimum_litres) / used)
        litres, days = litres - used, days + part
    return days
