"""Which goblets a sample takes, how many it needs, and what it then allows one to say.

Pure and exact: whole numbers and fractions, no rounding anywhere but in the words. Sampling is
without replacement; a goblet is wrong when count and book do not agree in it. With D wrong goblets
among N, a simple sample of n misses all of them with the chance C(N-D, n) / C(N, n), the
hypergeometric distribution.

Drawn by tank, the wrong goblets may be spread over the tanks in any way, and a claim has to hold
for the worst of them. One more wrong goblet in a tank of N, with n of them drawn and d wrong
already, multiplies the chance of missing all by (N-d-n) / (N-d), which falls as d grows. So the
worst spread is found exactly by laying one wrong goblet after the other where that factor is
largest: a sum of concave functions is greatest where each step takes the greatest gain (Gross, "A
class of discrete type minimization problems", RAND RM-1644, 1956, from memory; `tests/audits`
compares with every spread there is).
"""

import hashlib
import math
from collections import Counter
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from heapq import heapify, heappop, heapreplace
from typing import TypeVar
from uuid import UUID

from service.audits.rules import BadScope

Tank = TypeVar("Tank", bound=Hashable)

#: What no count of this kind can tell, whoever counted.
SILENT_ALWAYS = (
    "It says nothing about goblets outside of its scope.",
    "It says nothing about what is in the straws, only how many straws of which mark stand where.",
    "It says nothing about what happened after each goblet was counted.",
    "It takes for granted that whoever counted a goblet saw what was in it.",
)

#: What a sample cannot tell beside that.
SILENT_SAMPLE = (
    "It names no goblet that was not counted as right.",
    "A sample without an error is no proof that there is none.",
    "It holds for the share of goblets that are wrong, not for how many straws each is off by.",
)


@dataclass(frozen=True, slots=True)
class Claim:
    """What a count of goblets allows one to say, and what not.

    With the confidence, at most `upper_goblets` of the population are wrong, those found included,
    which is fewer than `upper_percent` of it (rounded up to hundredths). Both are None where every
    goblet was counted: then what was found is all there is.
    """

    words: str
    upper_goblets: int | None
    upper_percent: Decimal | None
    silent_about: tuple[str, ...]


def sample_size(population: int, *, detect_percent: Decimal, confidence_percent: Decimal) -> int:
    """How many goblets find at least one wrong one, if so many percent or more are wrong.

    The smallest n with C(N-D, n) / C(N, n) <= 1 - confidence, where D is the percentage of the
    population, rounded up. Percentages are above 0, up to 100. Raises BadScope.
    """
    wrong = _wrong(population, detect_percent)
    missed = 1 - _share(confidence_percent, "The confidence")

    def enough(number: int) -> bool:
        # C(N-D, n) / C(N, n) = C(N-n, D) / C(N, D): the shorter way of the two.
        fewer, more = sorted((number, wrong))
        return math.comb(population - more, fewer) <= missed * math.comb(population, fewer)

    return _smallest(enough, population)


def allocation(
    populations: Mapping[Tank, int], *, detect_percent: Decimal, confidence_percent: Decimal
) -> dict[Tank, int]:
    """How many goblets of each tank find a wrong one, however the wrong ones are spread.

    In proportion to what the tanks hold, one at least of each that holds any: the smallest total
    for which the worst spread is missed with a chance of at most 1 - confidence. Raises BadScope.
    """
    wrong = _wrong(sum(populations.values()), detect_percent)
    missed = 1 - _share(confidence_percent, "The confidence")
    order = _in_proportion(populations)

    def of_first(total: int) -> dict[Tank, int]:
        drawn = Counter(order[:total])
        return {tank: drawn[tank] for tank in populations}

    total = _smallest(
        lambda total: worst_miss(populations, of_first(total), wrong) <= missed, len(order)
    )
    return of_first(total)


def _in_proportion(populations: Mapping[Tank, int]) -> list[Tank]:
    """All goblets in the order in which a growing sample takes them, each by its tank.

    The next one always comes from the tank of which the smallest share was taken (the divisor
    method of J. Q. Adams): no tank's number ever falls when the sample grows, and the worst spread
    looks for exactly that share. Of equal ones the larger tank goes first, then by name.
    """
    waiting = [
        (Fraction(0), -held, str(tank), number)
        for number, (tank, held) in enumerate(populations.items())
        if held
    ]
    heapify(waiting)
    taken, tanks, order = Counter[int](), list(populations), []
    for _ in range(sum(populations.values())):
        _, minus_held, name, number = waiting[0]
        order.append(tanks[number])
        taken[number] += 1
        share = Fraction(taken[number], -minus_held)
        heapreplace(waiting, (share, minus_held, name, number))
    return order


def worst_miss(
    populations: Mapping[Tank, int], numbers: Mapping[Tank, int], wrong: int
) -> Fraction:
    """The chance of missing all of so many wrong goblets, spread in the worst way over the tanks.

    `numbers` are drawn of each tank; `wrong` is at most what the tanks hold.
    """
    # Where the smallest share of what may still be wrong was drawn, one more is missed most likely.
    counted = ((held, numbers.get(tank, 0)) for tank, held in populations.items() if held)
    shares = [(Fraction(drawn, held), held, drawn) for held, drawn in counted]
    heapify(shares)
    above = below = 1
    for _ in range(wrong):
        _, left, drawn = shares[0]
        if drawn == left:
            return Fraction(0)
        above, below = above * (left - drawn), below * left
        if left == 1:
            heappop(shares)
        else:
            heapreplace(shares, (Fraction(drawn, left - 1), left - 1, drawn))
    return Fraction(above, below)


def draw(
    ids_by_tank: Mapping[Tank, Sequence[UUID]], numbers: Mapping[Tank, int], seed: str
) -> list[UUID]:
    """The goblets of a sample, tank by tank: anybody who knows the seed draws the same ones.

    Of each tank the first so many in the order of SHA-256 (FIPS 180-4, NIST, 2015) over the seed, a
    colon, and the goblet's id in its usual form with hyphens. Raises BadScope.
    """
    drawn: list[UUID] = []
    for tank, ids in ids_by_tank.items():
        number = numbers.get(tank, 0)
        if not 0 <= number <= len(set(ids)):
            raise BadScope(f"{number} of {len(set(ids))} goblets cannot be drawn.")
        drawn += sorted(set(ids), key=lambda one: (_lot(seed, one), one))[:number]
    return drawn


def _lot(seed: str, id: UUID) -> bytes:
    return hashlib.sha256(f"{seed}:{id}".encode()).digest()


def claim(
    population: int,
    sampled: int,
    found_wrong: int,
    *,
    confidence_percent: Decimal,
    populations: Mapping[Tank, int] | None = None,
    numbers: Mapping[Tank, int] | None = None,
) -> Claim:
    """What may be said when so many of the goblets were counted and so many of these are wrong.

    `populations` and `numbers` are goblets and counted goblets by tank, for a sample that was drawn
    tank by tank; without them, or with one tank, it is a simple one. Raises BadScope.
    """
    share = _share(confidence_percent, "The confidence")
    if not 0 <= found_wrong <= sampled <= population or not sampled:
        raise BadScope(
            f"{found_wrong} wrong ones among {sampled} of {population} goblets cannot be."
        )
    upper, by_tank = upper_simple(population, sampled, found_wrong, confidence=share), False
    if populations is not None and numbers is not None:
        _refuse_other_sums(populations, numbers, population, sampled)
        if by_tank := len(populations) > 1:
            upper = upper_by_tank(populations, numbers, found_wrong, confidence=share)
    if sampled == population:
        return _of_all(population, found_wrong)
    return _of_some(population, sampled, found_wrong, upper, confidence_percent, by_tank=by_tank)


def upper_simple(population: int, sampled: int, found: int, *, confidence: Fraction) -> int:
    """The most wrong goblets that a simple sample with so many wrong ones does not rule out.

    D is ruled out when so few are found with a chance of at most 1 - confidence: the exact
    one-sided bound for a finite population (Wright, "Exact Confidence Bounds when Sampling from
    Small Finite Universes", Springer, 1991, from memory).
    """
    whole = math.comb(population, sampled)

    def ruled_out(more: int) -> bool:
        wrong = found + more
        few = sum(
            math.comb(wrong, some) * math.comb(population - wrong, sampled - some)
            for some in range(found + 1)
        )
        return few <= (1 - confidence) * whole

    return _not_ruled_out(ruled_out, population, sampled, found)


def upper_by_tank(
    populations: Mapping[Tank, int],
    numbers: Mapping[Tank, int],
    found: int,
    *,
    confidence: Fraction,
) -> int:
    """The most wrong goblets that a sample by tank does not rule out, however they are spread.

    Exact where none was found. Otherwise above the exact bound, for it stands on two facts: what is
    found in a tank is distributed like a sum of independent trials (the hypergeometric polynomial
    has real roots only: Vatutin and Mikhailov, Theory of Probability and its Applications 27,
    1982), and of all D trials with the same mean equal ones give few successes most likely, when
    few is at most the mean less 1 (Hoeffding, Annals of Mathematical Statistics 27, 1956; both from
    memory). So so few are found at most as often as in D trials with the smallest share drawn of
    any tank.
    """
    population, sampled = sum(populations.values()), sum(numbers.values())
    share = min(Fraction(numbers.get(tank, 0), held) for tank, held in populations.items() if held)
    missed = 1 - confidence

    def ruled_out(more: int) -> bool:
        wrong = found + more
        if not found:
            return worst_miss(populations, numbers, wrong) <= missed
        return found <= wrong * share - 1 and _few_of(wrong, share, found) <= missed

    return _not_ruled_out(ruled_out, population, sampled, found)


def _few_of(trials: int, share: Fraction, most: int) -> Fraction:
    """The chance of at most so many successes in independent trials: the binomial distribution."""
    yes, whole = share.numerator, share.denominator
    ways = sum(
        math.comb(trials, some) * yes**some * (whole - yes) ** (trials - some)
        for some in range(most + 1)
    )
    return Fraction(ways, whole**trials)


def _not_ruled_out(
    ruled_out: Callable[[int], bool], population: int, sampled: int, found: int
) -> int:
    """The most that can be wrong: those found, and of the uncounted as many as may be."""
    uncounted = population - sampled
    more = _smallest(lambda more: more > uncounted or ruled_out(more), uncounted + 1)
    return found + max(more - 1, 0)


def _smallest(fits: Callable[[int], bool], most: int) -> int:
    """The smallest number from 0 on that fits, where all above it do; `most` is known to."""
    low, high = 0, most
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if fits(middle) else (middle + 1, high)
    return low


def _wrong(population: int, detect_percent: Decimal) -> int:
    """How many goblets so many percent are, rounded up."""
    share = _share(detect_percent, "The share of wrong goblets to be found")
    if population < 1:
        raise BadScope("There are no goblets to draw from.")
    return math.ceil(share * population)


def _share(percent: Decimal, what: str) -> Fraction:
    if not percent.is_finite() or not 0 < percent <= 100:
        raise BadScope(f"{what} is above 0 and up to 100 percent, not {percent}.")
    return Fraction(percent) / 100


def _refuse_other_sums(
    populations: Mapping[Tank, int], numbers: Mapping[Tank, int], population: int, sampled: int
) -> None:
    within = all(0 <= numbers[tank] <= populations.get(tank, 0) for tank in numbers)
    if not within or (sum(populations.values()), sum(numbers.values())) != (population, sampled):
        raise BadScope("Goblets by tank do not add up to all goblets.")


def _of_all(population: int, found: int) -> Claim:
    result = f"{found:,} of them {_is(found)} wrong" if found else "no error was found"
    words = (
        f"All {population:,} goblets of the scope were counted, and {result}: "
        "there is no error of sampling."
    )
    return Claim(words, None, None, SILENT_ALWAYS)


def _of_some(
    population: int,
    sampled: int,
    found: int,
    upper: int,
    confidence_percent: Decimal,
    *,
    by_tank: bool,
) -> Claim:
    percent = _rounded_up(Fraction(100 * (upper + 1), population))
    errors = "No error" if not found else f"{found:,} wrong {'goblet' if found == 1 else 'goblets'}"
    of = f"{errors} found in {sampled:,} of {population:,} goblets"
    if upper == population - sampled + found:
        words = (
            f"{of}: with {confidence_percent:f} % confidence nothing can be said about the "
            "goblets that were not counted."
        )
        return Claim(words, upper, min(percent, Decimal(100)), (*SILENT_ALWAYS, *SILENT_SAMPLE))
    spread = ", however they are spread over the tanks" if by_tank else ""
    careful = " This bound is on the careful side." if by_tank and found else ""
    words = (
        f"{of}: with {confidence_percent:f} % confidence fewer than {percent:f} % are wrong "
        f"(at most {upper:,} of {population:,}){spread}.{careful}"
    )
    return Claim(words, upper, percent, (*SILENT_ALWAYS, *SILENT_SAMPLE))


def _rounded_up(percent: Fraction) -> Decimal:
    """To hundredths, never down, without zeros at the end."""
    return Decimal(format(Decimal(math.ceil(percent * 100)).scaleb(-2).normalize(), "f"))


def _is(number: int) -> str:
    return "is" if number == 1 else "are"
