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
WITH_A_WILD_ONE, _WILD_WEIGHT = 3.8, 0.5

_ROUNDS = 3
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
    days = [at - line.at for at, _, _ in seen]
    lost = [
        line.litres - line.loss * day - litres
        for day, (_, litres, _) in zip(days, seen, strict=True)
    ]
    noise = [variance for _, _, variance in seen]
    prior = _inverse(line)
    sigmas, extra = _at_first_sight(days, lost, noise, prior)
    if sigmas < needed - _MARGIN or extra < _PART * least:
        return None
    wild = WILD / capacity
    straight, _, doubt = _fitted(days, lost, noise, prior, wild, bent=False)
    bent, extra, _ = _fitted(days, lost, noise, prior, wild, bent=True)
    sigmas = math.sqrt(max(0.0, 2 * (bent - straight)))
    needed = max(needed, WITH_A_WILD_ONE) if doubt < _WILD_WEIGHT else needed
    return (sigmas, extra) if sigmas > needed and extra > least else None


#: By how much the quick look may fall short of the full test, in standard deviations and as a part
#: of the loss; and how far a reading that says less was lost may speak against it: it may be wild.
_MARGIN, _PART, _AGAINST = 0.7, 0.7, 2.0


def _at_first_sight(
    days: Sequence[float],
    lost: Sequence[float],
    noise: Sequence[float],
    prior: tuple[float, float, float],
) -> tuple[float, float]:
    """The test with plain least squares: quick, and no less than the full one by much."""
    s0 = s1 = s2 = d0 = d1 = 0.0
    for x, less, variance in zip(days, lost, noise, strict=True):
        w = 1 / variance
        d = max(less, -_AGAINST * math.sqrt(variance))
        wx = w * x
        s0 += w
        s1 += wx
        s2 += wx * x
        d0 += w * d
        d1 += wx * d
    q11, q12, q22 = prior
    m11, m12, m22 = s0 + q11, s1 + q12, s2 + q22
    determinant = m11 * m22 - m12 * m12
    v1 = (m22 * s1 - m12 * s2) / determinant
    v2 = (m11 * s2 - m12 * s1) / determinant
    known = s2 - (s1 * v1 + s2 * v2)
    if known < 1e-12:
        return 0.0, 0.0
    told = d1 - (v1 * d0 + v2 * d1)
    return told / math.sqrt(known), told / known


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


def _fitted(
    days: Sequence[float],
    lost: Sequence[float],
    noise: Sequence[float],
    prior: tuple[float, float, float],
    wild: float,
    *,
    bent: bool,
) -> tuple[float, float, float]:
    """The best fit, by weighting again and again.

    Its logarithm of the likelihood, the extra loss, and how likely the least likely reading was a
    normal one.
    """
    q11, q12, q22 = prior
    sure = [1 / one for one in noise]
    heights = [(1 - WILD) / math.sqrt(_TWO_PI * one) for one in noise]
    weights = sure
    level = loss = extra = 0.0
    normal: list[float] = []
    for _ in range(_ROUNDS):
        s0 = s1 = s2 = d0 = d1 = 0.0
        for x, d, w in zip(days, lost, weights, strict=True):
            wx = w * x
            s0 += w
            s1 += wx
            s2 += wx * x
            d0 += w * d
            d1 += wx * d
        m11, m12, m22 = s0 + q11, s1 + q12, s2 + q22
        determinant = m11 * m22 - m12 * m12
        if bent:
            v1 = (m22 * s1 - m12 * s2) / determinant
            v2 = (m11 * s2 - m12 * s1) / determinant
            known = s2 - (s1 * v1 + s2 * v2)
            if known < 1e-12:
                return -math.inf, 0.0, 0.0
            extra = max(0.0, (d1 - (v1 * d0 + v2 * d1)) / known)
        u1, u2 = d0 - extra * s1, d1 - extra * s2
        level = (m22 * u1 - m12 * u2) / determinant
        loss = (m11 * u2 - m12 * u1) / determinant
        slope = loss + extra
        normal = [
            height * math.exp(-0.5 * (d - level - slope * x) ** 2 * one)
            for x, d, one, height in zip(days, lost, sure, heights, strict=True)
        ]
        weights = [one / (one + wild) * w for one, w in zip(normal, sure, strict=True)]
    likelihood = -0.5 * (q11 * level * level + 2 * q12 * level * loss + q22 * loss * loss)
    likelihood += sum(math.log(one + wild) for one in normal)
    least = min(normal)
    return likelihood, extra, least / (least + wild)
