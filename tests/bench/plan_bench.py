"""How long the plan of a dose takes in big and in scattered stocks of one stallion.

Run: python tests/bench/plan_bench.py [plans per line]. The seed is fixed. Prints, for each shape
of stock, p50, p95 and the longest in milliseconds of processor time, and how often the search
proved that no plan lifts fewer canisters, and that none with so few takes older straws. Each plan
must be judged neither too little nor too much.
"""

import random
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from functools import partial

from service.bank.doses import BatchQuality, DoseRule, SpermRule, StrawsRule, judge, most_doses
from service.withdrawals.planning import BatchFacts, Cell, Plan, available, plan_doses

SEED = 20_260_303
STRAWS_RULE = StrawsRule(8)
SPERM_RULE = SpermRule(Fraction(250), Fraction(35))
TANKS = 4


@dataclass(frozen=True)
class Shape:
    """A stallion's stock: how many batches, canisters, straws a batch, straws a cell."""

    name: str
    batches: int
    canisters: int
    straws: tuple[int, int]
    in_a_cell: tuple[int, int]
    doses: tuple[int, int] = (1, 20)
    canisters_per_batch: int | None = None


SHAPES = (
    Shape("one stallion, 6 batches", 6, 4, (24, 96), (12, 24), (1, 3), 1),
    Shape("20 batches, kept together", 20, 12, (40, 100), (10, 24), (1, 5), 2),
    Shape("200 batches, kept together", 200, 60, (80, 120), (10, 24), (1, 20), 2),
    Shape("200 batches, cells of 10", 200, 60, (80, 120), (10, 10)),
    Shape("200 batches, cells of 4", 200, 60, (80, 120), (4, 4)),
    Shape("200 batches, cells of 1 to 2", 200, 60, (80, 120), (1, 2)),
    Shape("last straws, 8 batches", 8, 6, (1, 7), (1, 4), (1, 3)),
    Shape("last straws, 30 batches", 30, 20, (1, 7), (1, 4), (1, 5)),
    Shape("last straws, 200 batches", 200, 60, (1, 7), (1, 4)),
    Shape("a dose or two a batch, 50 batches", 50, 60, (8, 20), (1, 4)),
)


def build(shape: Shape, chance: random.Random) -> tuple[list[Cell], list[BatchFacts]]:
    """A stock of this shape; each cell has a goblet of its own or shares one of its canister."""
    first_day = date(2005, 1, 1)
    cells: dict[tuple[int, str], Cell] = {}
    facts = []
    for batch in range(shape.batches):
        strength = Fraction(chance.randint(250, 800), 10)
        percent = Fraction(chance.randint(35, 60))
        day = first_day + timedelta(days=chance.randrange(7000))
        facts.append(BatchFacts(batch, f"B{batch}", day, BatchQuality(strength, percent), 37))
        places = list(range(shape.canisters))
        if shape.canisters_per_batch:
            places = chance.sample(places, min(shape.canisters, shape.canisters_per_batch))
        left = chance.randint(*shape.straws)
        while left:
            straws = min(left, chance.randint(*shape.in_a_cell))
            left -= straws
            canister = chance.choice(places)
            goblet = f"T{canister % TANKS + 1}-{canister // TANKS + 1}-{chance.randint(1, 12)}"
            there = cells.get((batch, goblet))
            straws += there.straws if there else 0
            cells[batch, goblet] = Cell(batch, goblet, canister, straws, goblet)
    return list(cells.values()), facts


def plans(
    shape: Shape, rule: DoseRule, number: int, chance: random.Random
) -> Iterator[tuple[float, Plan]]:
    """(milliseconds, plan) of `number` plans, a new stock for each."""
    done = 0
    while done < number:
        cells, facts = build(shape, chance)
        there_are = available(rule, cells, facts)[1]
        if not there_are:
            continue
        done += 1
        doses = min(there_are, chance.randint(*shape.doses))
        milliseconds, plan = timed(partial(plan_doses, rule, cells, facts, doses))
        assert isinstance(plan, Plan)
        taken = [(facts[batch].quality, n) for batch, n in straws_by_batch(plan).items()]
        judgement = judge(rule, taken, doses)
        assert not judgement.below
        assert not judgement.above
        yield milliseconds, plan


def straws_by_batch(plan: Plan) -> dict[int, int]:
    """How many straws the plan takes of each batch, whose ids are their numbers here."""
    straws: dict[int, int] = {}
    for cell, number in plan.picks:
        assert isinstance(cell.batch_id, int)
        straws[cell.batch_id] = straws.get(cell.batch_id, 0) + number
    return straws


def timed(act: Callable[[], object]) -> tuple[float, object]:
    """Milliseconds it took, and what came of it."""
    start = time.process_time()
    outcome = act()
    return (time.process_time() - start) * 1000, outcome


def percentile(sorted_times: list[float], percent: int) -> float:
    """The time that `percent` of the runs do not exceed."""
    return sorted_times[min(len(sorted_times) - 1, len(sorted_times) * percent // 100)]


def report_plans(number: int) -> None:
    """A line for each shape and rule."""
    print(f"{'stock':36}{'rule':8}{'p50':>8}{'p95':>8}{'max':>8}  lifts proven  age proven  lifts")
    for shape in SHAPES:
        for word, rule in (("straws", STRAWS_RULE), ("sperm", SPERM_RULE)):
            found = list(plans(shape, rule, number, random.Random(SEED)))
            times = sorted(milliseconds for milliseconds, _ in found)
            fewest = sum(plan.fewest_lifts_proven for _, plan in found)
            oldest = sum(plan.oldest_proven for _, plan in found)
            lifts = sum(plan.canister_lifts for _, plan in found) / len(found)
            print(
                f"{shape.name:36}{word:8}{percentile(times, 50):8.2f}{percentile(times, 95):8.2f}"
                f"{times[-1]:8.2f}{fewest:9}/{number}{oldest:8}/{number}{lifts:8.1f}"
            )


def report_most_doses(number: int) -> None:
    """How long it takes to say how many doses a stock makes, for a stock not seen before."""
    print(f"\n{'doses of a stock (sperm rule)':44}{'p50':>8}{'p95':>8}{'max':>8}")
    for shape in SHAPES:
        chance = random.Random(SEED)
        times = []
        for _ in range(number):
            cells, facts = build(shape, chance)
            held: dict[object, int] = {}
            for cell in cells:
                held[cell.batch_id] = held.get(cell.batch_id, 0) + cell.straws
            stock = [(batch.quality, held[batch.batch_id]) for batch in facts]
            times.append(timed(partial(most_doses, SPERM_RULE, stock))[0])
        times.sort()
        print(
            f"{shape.name:44}{percentile(times, 50):8.2f}{percentile(times, 95):8.2f}"
            f"{times[-1]:8.2f}"
        )


if __name__ == "__main__":
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    report_plans(runs)
    report_most_doses(runs)
