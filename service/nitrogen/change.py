"""Has a tank begun to lose more? A test of a broken line against a straight one.

The readings of the last few visits are compared with what the tank's settled line says: once as
they stand, and once with an extra loss that began `k` readings ago. The statistic is twice the
logarithm of the likelihood ratio (Willsky and Jones, "A generalized likelihood ratio approach to
the detection and estimation of jumps in linear systems", IEEE Transactions on Automatic Control 21,
1976, from memory), taken as a root so that it reads as standard deviations. What keeps it honest:

- what the settled line leaves open (level and loss, with their covariance) is fitted in both cases;
- a reading is normal noise or, once in a hundred, wild; so no single reading can raise an alarm;
- an extra loss has to be of a size that so few readings could mean: a tank that is dying loses a
  multiple, and a tenth more is for a longer comparison.

False calls and power are measured by `tests/bench/nitrogen_bench.py`; `THRESHOLDS` were chosen
there, so that a tank raises a false call about once in ten years of daily readings.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

#: One reading in so many is wild: read off another tank, or ten centimetres off.
WILD = 0.01

#: Readings since the loss changed: the least extra loss that is looked for, in settled losses, and
#: how many standard deviations it takes.
THRESHOLDS: dict[int, tuple[float, float]] = {
    2: (2.7, 3.33),
    3: (1.6, 3.7),
    4: (1.2, 3.7),
    5: (0.8, 3.65),
    6: (0.65, 3.6),
    7: (0.55, 3.55),
    10: (0.5, 3.8),
    14: (0.35, 3.8),
    21: (0.25, 3.8),
}

#: What it takes when a reading among them is rather wild than normal on the straight line: nearly
#: what such a reading can weigh by itself.
WITH_A_WILD_ONE, RATHER_WILD = 3.8, 0.5

_ROUNDS = 3
_SINGULAR = 1e-12
_TWO_PI = 2 * math.pi


class Line(NamedTuple):
    """Where a tank stood, how fast it lost, and what is open about both (litres, days)."""

    at: float
    litres: float
    loss: float
    litres_variance: float
    covariance: float
    loss_variance: float


Seen = tuple[float, float, float]
"""A reading: when, litres, and the variance of its noise."""


def extra_loss(
    line: Line, seen: Sequence[Seen], *, capacity: float, needed: float, least: float
) -> tuple[float, float] | None:
    """How many standard deviations speak for an extra loss since `line`, and how large it is.

    `seen` are the readings since then; the extra loss is in litres a day, never negative. None for
    less than `needed` standard deviations, or for less than `least`.
    """
    prior = _inverse(line)
    plain = _sums(line, seen)
    sigmas, extra = _at_first_sight(plain, prior)
    if sigmas < needed - _MARGIN or extra < _PART * least:
        return None
    if _without_the_lowest(line, seen, plain, prior) < needed - MARGIN_WITHOUT:
        return None
    rows, wild = _rows(line, seen), WILD / capacity
    straight, _, doubt = _fitted(rows, prior, wild, bent=False)
    bent, extra, _ = _fitted(rows, prior, wild, bent=True)
    sigmas = math.sqrt(max(0.0, 2 * (bent - straight)))
    needed = max(needed, WITH_A_WILD_ONE) if doubt < RATHER_WILD else needed
    return (sigmas, extra) if sigmas > needed and extra > least else None


#: By how much the quick look may fall short of the full test, in standard deviations and as a part
#: of the loss; and how far a reading that says less was lost may speak against it: it may be wild.
#: What is left when the lowest reading is left out may fall short by more: two readings are few.
#: Of the changes that the full test calls, these pass over less than one in a hundred.
_MARGIN, _PART, _AGAINST, MARGIN_WITHOUT = 0.3, 0.85, 2.0, 3.0


_Prior = tuple[float, float, float]
_Sums = tuple[float, float, float, float, float]
_Row = tuple[float, float, float, float]


def _sums(line: Line, seen: Sequence[Seen]) -> _Sums:
    """Of the weights, times days and their squares; of what is missing on the line, times days."""
    began, stood, loss, _, _, _ = line
    s0 = s1 = s2 = d0 = d1 = 0.0
    for at, litres, variance in seen:
        x = at - began
        d = stood - loss * x - litres
        if d < 0 and d * d > _AGAINST * _AGAINST * variance:
            d = -_AGAINST * math.sqrt(variance)
        w = 1 / variance
        wx = w * x
        s0 += w
        s1 += wx
        s2 += wx * x
        d0 += w * d
        d1 += wx * d
    return s0, s1, s2, d0, d1


def _at_first_sight(sums: _Sums, prior: _Prior) -> tuple[float, float]:
    """The test with plain least squares: quick, and no less than the full one by much."""
    told, known = _told(sums, prior)
    return (told / math.sqrt(known), told / known) if known > _SINGULAR else (0.0, 0.0)


def _without_the_lowest(line: Line, seen: Sequence[Seen], sums: _Sums, prior: _Prior) -> float:
    """The quick look without the reading that says most was lost: most often that one was wild."""
    began, stood, loss, _, _, _ = line
    lowest, left_out = -math.inf, seen[0]
    for one in seen:
        at, litres, variance = one
        d = stood - loss * (at - began) - litres
        if d * abs(d) > lowest * variance:
            lowest, left_out = d * abs(d) / variance, one
    of_it = _sums(line, [left_out])
    s0, s1, s2, d0, d1 = (one - other for one, other in zip(sums, of_it, strict=True))
    return _at_first_sight((s0, s1, s2, d0, d1), prior)[0]


def _told(sums: _Sums, prior: _Prior) -> tuple[float, float]:
    """What the readings say of an extra loss beside level and loss; the quotient is its size."""
    s0, s1, s2, d0, d1 = sums
    q11, q12, q22 = prior
    m11, m12, m22 = s0 + q11, s1 + q12, s2 + q22
    determinant = m11 * m22 - m12 * m12
    v1 = (m22 * s1 - m12 * s2) / determinant
    v2 = (m11 * s2 - m12 * s1) / determinant
    return d1 - (v1 * d0 + v2 * d1), s2 - (s1 * v1 + s2 * v2)


def _inverse(line: Line) -> tuple[float, float, float]:
    """What is known of (level error, loss error) beforehand, as weights.

    A level that is higher and a loss that is higher than the line says show as less and more lost.
    """
    determinant = line.litres_variance * line.loss_variance - line.covariance**2
    determinant = max(determinant, 1e-12)
    return (
        line.loss_variance / determinant,
        line.covariance / determinant,
        line.litres_variance / determinant,
    )


def _rows(line: Line, seen: Sequence[Seen]) -> list[_Row]:
    """Of each reading: days, what is missing on the line, its weight, its likelihood at best."""
    began, stood, loss, _, _, _ = line
    return [
        (
            at - began,
            stood - loss * (at - began) - litres,
            1 / variance,
            (1 - WILD) / math.sqrt(_TWO_PI * variance),
        )
        for at, litres, variance in seen
    ]


def _fitted(
    rows: Sequence[_Row], prior: _Prior, wild: float, *, bent: bool
) -> tuple[float, float, float]:
    """The best fit, by weighting again and again.

    Its logarithm of the likelihood, the extra loss, and how likely the least likely reading was a
    normal one.
    """
    q11, q12, q22 = prior
    level = loss = extra = 0.0
    sums = _weighed(rows, 0.0, 0.0, 0.0)
    for rounds_left in reversed(range(_ROUNDS)):
        s0, s1, s2, d0, d1 = sums
        if bent:
            told, known = _told(sums, prior)
            if known < _SINGULAR:
                return -math.inf, 0.0, 0.0
            extra = max(0.0, told / known)
        m11, m12, m22 = s0 + q11, s1 + q12, s2 + q22
        determinant = m11 * m22 - m12 * m12
        u1, u2 = d0 - extra * s1, d1 - extra * s2
        level = (m22 * u1 - m12 * u2) / determinant
        loss = (m11 * u2 - m12 * u1) / determinant
        if rounds_left:
            sums = _weighed(rows, level, loss + extra, wild)
    likelihood = -0.5 * (q11 * level * level + 2 * q12 * level * loss + q22 * loss * loss)
    slope = loss + extra
    normal = [
        height * math.exp(-0.5 * (d - level - slope * x) ** 2 * sure) for x, d, sure, height in rows
    ]
    likelihood += sum(math.log(one + wild) for one in normal)
    least = min(normal)
    return likelihood, extra, least / (least + wild)


def _weighed(rows: Sequence[_Row], level: float, slope: float, wild: float) -> _Sums:
    """The sums, each reading weighed by how likely it is a normal one (as all are by `wild` 0)."""
    s0 = s1 = s2 = d0 = d1 = 0.0
    for x, d, sure, height in rows:
        w = sure
        if wild:
            off = d - level - slope * x
            normal = height * math.exp(-0.5 * off * off * sure)
            w *= normal / (normal + wild)
        wx = w * x
        s0 += w
        s1 += wx
        s2 += wx * x
        d0 += w * d
        d1 += wx * d
    return s0, s1, s2, d0, d1
