"""A noisy level makes one alert and not forty."""

import random
from datetime import timedelta
from decimal import Decimal

import pytest

from service.alerts import nitrogen_conditions
from tests.alerts.watched import Watched

# What decides here is arithmetic, the same on every engine.
pytestmark = pytest.mark.sqlite_only

#: A reading every ten minutes for a day, round the limit, with an error of 1 % of the range.
READINGS, SIGMA_LITRES = 144, 0.35


def a_noisy_day(station: Watched, readings: int = READINGS) -> None:
    chance = random.Random(20_260_303)
    tank = station.tank(minimum=8, loss=0.2)
    for number in range(readings):
        station.now += timedelta(minutes=10)
        litres = 8.2 - 0.4 * number / READINGS + chance.gauss(0, SIGMA_LITRES)
        station.read(tank, litres)
        station.look(seconds=2)


def opened_and_closed(station: Watched) -> tuple[int, int]:
    everything = station.alerts(kind="low-nitrogen") + station.alerts(
        kind="low-nitrogen", state="closed"
    )
    returns = sum(alert["times"] - 1 for alert in everything)
    return len(everything), returns


def test_a_day_of_noisy_readings_round_the_limit_makes_one_alert(station: Watched) -> None:
    a_noisy_day(station)
    assert opened_and_closed(station) == (1, 0)


def test_without_the_band_it_comes_and_goes_dozens_of_times(
    station: Watched, monkeypatch: object
) -> None:
    """The negative control, eight hours of it: the alert opens and clears all the time."""

    def bare(known, *, minimum_cm: Decimal, top_cm: Decimal) -> bool | None:  # type: ignore[no-untyped-def]
        return True if known and known[-1].level_cm < minimum_cm else None

    monkeypatch.setattr(nitrogen_conditions, "low", bare)  # type: ignore[attr-defined]
    a_noisy_day(station, READINGS // 3)
    alerts, returns = opened_and_closed(station)
    assert alerts + returns > 8
