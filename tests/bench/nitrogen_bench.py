"""How good the nitrogen estimate is, beside robust segments, the last two readings, and an oracle.

    python -m tests.bench.nitrogen_bench [--short]

Simulated tanks (`nitrogen_tanks`), seeds fixed. Coverage: how often the truth lies within the 90 %
interval (days to the minimum: where these are thirty at most). False calls: in ten years of daily
readings. Called: of the changes that the oracle calls, in seven readings after the loss doubled and
in two after it became fivefold; first in tanks that nobody fills round the change, then in tanks
that are filled on any day: the oracle, who is told the true litres, does not feel that. Days:
median error of the days to the minimum of a new tank after fourteen daily readings, in oracle's
errors. Last, the time for a thousand tanks.
"""

import argparse
from statistics import median
from time import process_time

import numpy as np

from service.nitrogen.estimating import estimate, in_order
from service.nitrogen.filtering import Track
from tests.bench import nitrogen_rival as rival
from tests.bench.nitrogen_tanks import (
    SimulatedTank,
    oracle_calls,
    oracle_days,
    simulated,
    true_days,
)

#: Calls within so many days of each other are one.
ONE_CALL_DAYS = 14


def our_calls(tank: SimulatedTank, since: float) -> list[float]:
    """When our test called a change, every reading tested as on its own day."""
    track = Track(
        capacity=tank.facts.capacity_litres, rated_loss=tank.facts.rated_loss_litres_per_day
    )
    track.feed(in_order(tank.readings, tank.filled, float("inf")))
    return [one.called_at for one in track.changes if one.called_at > since]


def rival_calls(tank: SimulatedTank, since: float) -> list[float]:
    """When robust segments called a change."""
    return [
        one.at
        for count, one in enumerate(tank.readings, start=1)
        if one.at > since
        and rival.calls(tank.readings[:count], [fill for fill in tank.filled if fill.at < one.at])
    ]


def distinct(calls: list[float]) -> int:
    """Calls that are not one and the same."""
    return sum(1 for i, at in enumerate(calls) if i == 0 or at - calls[i - 1] > ONE_CALL_DAYS)


def false_calls(years: int, per_cm: float, *, season: float = 0.0, with_rival: bool) -> list[float]:
    """In ten years, ours and the rival's."""
    chance, ours, theirs = np.random.default_rng(31), 0, 0
    for _ in range(years):
        tank = simulated(chance, 365, litres_per_cm=per_cm, season=season)
        ours += distinct(our_calls(tank, 20))
        theirs += distinct(rival_calls(tank, 20)) if with_rival else 0
    return [10 * ours / years, 10 * theirs / years]


def power(
    runs: int, per_cm: float, factor: float, within: int, *, filled_any_day: bool = False
) -> list[float]:
    """What the oracle calls; of that, ours and the rival's."""
    chance, known, ours, theirs = np.random.default_rng(32), 0, 0, 0
    for _ in range(runs):
        tank = simulated(
            chance,
            200 + within,
            litres_per_cm=per_cm,
            changes_on=200,
            factor=factor,
            filled_any_day=filled_any_day,
        )
        if oracle_calls(tank, 200, factor):
            known += 1
            ours += bool(our_calls(tank, 200))
            theirs += bool(rival_calls(tank, 200))
    return [known / runs, ours / known, theirs / known]


def coverage(runs: int, per_cm: float, every: int) -> list[float]:
    """Of the litres, and of days to the minimum."""
    chance, litres, days = np.random.default_rng(33), [], []
    for _ in range(runs):
        last = int(chance.integers(30, 400)) // every * every
        tank = simulated(chance, last, litres_per_cm=per_cm, every=every)
        if tank.filled and tank.filled[-1].at > last:
            continue
        found = estimate(tank.facts, tank.readings, tank.filled, as_of=float(last))
        assert found.litres_low is not None and found.litres_high is not None
        litres.append(found.litres_low <= tank.true_litres[-1] <= found.litres_high)
        truth = true_days(chance, tank)
        if 0 < truth <= 30:
            soonest, latest = found.days_to_minimum_earliest, found.days_to_minimum_latest
            days.append(
                (soonest is None or soonest <= truth) and (latest is None or truth <= latest)
            )
    return [float(np.mean(litres)), float(np.mean(days)), len(days)]


def errors(runs: int, per_cm: float) -> list[float]:
    """Median error of the days to the minimum after fourteen readings, in oracle's errors."""
    chance = np.random.default_rng(34)
    ours, theirs, naive, oracle = [], [], [], []
    for _ in range(runs):
        tank = simulated(chance, 13, litres_per_cm=per_cm)
        truth, least = true_days(chance, tank), tank.facts.minimum_litres
        found = estimate(tank.facts, tank.readings, tank.filled, as_of=13.0)
        missing = 3_650.0
        ours.append(abs((found.days_to_minimum or missing) - truth))
        theirs.append(abs((rival.days_to_minimum(tank.readings, [], least) or missing) - truth))
        naive.append(abs((rival.naive_days(tank.readings, least) or missing) - truth))
        oracle.append(abs(oracle_days(tank) - truth))
    base = median(oracle)
    return [median(some) / base for some in (ours, theirs, naive)] + [base]


def growth(tanks: int) -> float:
    """Seconds of this processor for so many tanks with a year of daily readings."""
    chance = np.random.default_rng(35)
    some = [simulated(chance, 364) for _ in range(min(tanks, 100))]
    start = process_time()
    for number in range(tanks):
        tank = some[number % len(some)]
        estimate(tank.facts, tank.readings, tank.filled, as_of=364.0)
    return process_time() - start


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--short", action="store_true")
    few = parser.parse_args().short
    years, runs = (30, 100) if few else (300, 600)
    print(f"{'L per cm':>9}{'read':>8}{'litres in 90 %':>16}{'days in 90 %':>14}{'of runs':>9}")
    for per_cm in (0.65, 1.0, 1.2):
        for name, every in (("daily", 1), ("weekly", 7)):
            litres, days, count = coverage(4 * runs, per_cm, every)
            print(f"{per_cm:9.2f}{name:>8}{litres:16.1%}{days:14.1%}{count:9.0f}", flush=True)
    print(
        f"\n{'L per cm':>9}{'days: ours':>12}{'segments':>10}{'last two':>10}{'oracle, days':>14}"
    )
    for per_cm in (0.65, 1.0, 1.2):
        row = errors(2 * runs, per_cm)
        print(f"{per_cm:9.2f}{row[0]:12.2f}{row[1]:10.2f}{row[2]:10.2f}{row[3]:14.1f}", flush=True)
    head = f"{'oracle':>8}{'ours':>7}{'segments':>10}"
    print(f"\n{'L per cm':>9}{'false: ours':>13}{'segments':>10}  doubled {head}  fivefold {head}")
    for per_cm in (0.65, 1.0, 1.2):
        false = false_calls(years, per_cm, with_rival=per_cm == 0.65)
        told = "".join(
            f"{oracle:18.1%}{ours:7.1%}{theirs:10.1%}"
            for oracle, ours, theirs in (power(runs, per_cm, 2, 7), power(runs, per_cm, 5, 2))
        )
        theirs = f"{false[1]:10.2f}" if per_cm == 0.65 else f"{'':10}"
        print(f"{per_cm:9.2f}{false[0]:13.2f}{theirs}{told}", flush=True)
    any_day = [power(runs, 0.65, *change, filled_any_day=True) for change in ((2, 7), (5, 2))]
    row = "".join(f"{oracle:18.1%}{ours:7.1%}{theirs:10.1%}" for oracle, ours, theirs in any_day)
    print(f"{'filled on any day':>32}{row}", flush=True)
    seasonal = false_calls(years, 0.65, season=0.05, with_rival=False)[0]
    print(f"\nfalse calls in ten years where the season moves the loss by 5 %: {seasonal:.2f}")
    print(f"1,000 tanks with 365 readings each: {growth(100 if few else 1_000):.2f} s", end="")
    print(" (100 tanks)" if few else "")


if __name__ == "__main__":
    main()
