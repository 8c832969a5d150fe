"""A tank's litres and loss, reading by reading: a Kalman filter that stands a wild reading.

State: litres in the tank, and litres lost a day. Between two readings the litres fall by the loss;
both drift a little (lids are opened; seasons and age change the loss). A reading is normal noise of
some centimetres on the dipstick, learned from the tank's own readings, or, once in a hundred, wild:
then it says nothing, and it is weighed by how likely it is to be one (probabilistic data
association; Bar-Shalom and Tse, Automatica 11, 1975, from memory). After a top-up the loss is still
known and the litres are not. Where `change` finds that the loss has changed, the filter begins anew
at that point with an open loss.

Litres, days; variances in their squares. Tuples and plain functions, since a year of a thousand
tanks is read while somebody waits.
"""

import math
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from operator import itemgetter
from typing import NamedTuple

from service.nitrogen.change import (
    MARGIN_WITHOUT,
    RATHER_WILD,
    THRESHOLDS,
    WILD,
    WITH_A_WILD_ONE,
    Line,
    Seen,
    extra_loss,
)

#: The dipstick's error in cm before anything is known of this tank's readings, and how many
#: readings that is worth (common practice, no source: half a centimetre).
DIPSTICK_CM, WORTH_READINGS = 0.5, 8.0

#: How much the loss wanders, as a part of itself in thirty days; and the litres, in litres a day.
DRIFT, OPENINGS = 0.01, 0.01**2

#: The loss beforehand, in rated losses: a new tank keeps to its rating, an old one loses twice.
LIKELY, SPREAD = 1.2, 1.0

#: Litres that somebody says were filled in are right to so much of them (no source).
FILLED_PART = 0.03

#: A reading this unlikely to be a normal one counts as wild; so many that agree are a new level.
_WILD_WEIGHT, _AGREE = 0.1, 2

#: After a change so many readings pass until the next is looked for: the new loss is open at first.
_COME_TO_REST = 5

#: Below this sum of late surprises nothing is tested for: quick, and passed by every change sooner
#: or later, but not by one reading alone. The latest readings are always tested.
_SURPRISED = 6.0
_FORGET, _EXPECTED, _MOST_SURPRISE = 0.9, 0.25, 3.0

#: Extra losses that are tried across top-ups: from the least to so many times that, in such steps.
_MOST_EXTRA, _NEXT_EXTRA = 20.0, 1.4

#: Variances never fall below these: a tank is not known to a drop.
_LEAST, _LEAST_LOSS = 1e-9, 1e-12

_TWO_PI = 2 * math.pi


@dataclass(frozen=True, slots=True)
class Reading:
    """A level: when, litres by the tank's table, and how many litres a centimetre is there."""

    at: float
    litres: float
    litres_per_cm: float


@dataclass(frozen=True, slots=True)
class Filled:
    """A top-up: litres that were added, or what was in the tank afterwards."""

    at: float
    litres_added: float | None = None
    litres_after: float | None = None


class Step(NamedTuple):
    """Where the filter stood after a reading; `weight` is how likely it was a normal one."""

    read: float
    litres_per_cm: float
    line: Line
    weight: float

    @property
    def at(self) -> float:
        """When it was read."""
        return self.line.at


@dataclass(frozen=True, slots=True)
class Change:
    """A loss that changed: when, what it was before and how well that was known; how sure it is."""

    at: float
    settled: float
    settled_variance: float
    sigmas: float
    called_at: float


def wander(loss: float, rated: float) -> float:
    """The variance by which a loss drifts in a day."""
    least = 0.3 * rated
    part = DRIFT * (loss if loss > least else least)
    return part * part / 30


def _ahead(line: Line, days: float, rated: float) -> tuple[float, float, float, float, float]:
    """Litres, loss and their variances (litres, covariance, loss) so many days later."""
    _, litres, loss, p11, p12, p22 = line
    drift = wander(loss, rated) * days
    return (
        litres - loss * days,
        loss,
        p11 + days * (days * (p22 + drift / 3) - 2 * p12 + OPENINGS),
        p12 - days * (p22 + drift / 2),
        p22 + drift,
    )


def waited(line: Line, at: float, rated: float) -> Line:
    """The line at a later moment."""
    days = at - line.at
    return line if days <= 0 else Line(at, *_ahead(line, days, rated))


def read_on(line: Line, seen: Seen, capacity: float, rated: float) -> tuple[Line, float, float]:
    """The line after a reading; how likely it was a normal one, and how many deviations off."""
    at, read, variance = seen
    days = at - line[0]
    litres, loss, p11, p12, p22 = _ahead(line, days if days > 0 else 0.0, rated)
    total = p11 + variance
    off = read - litres
    square = off * off / total
    normal = (1 - WILD) * math.exp(-0.5 * square) / math.sqrt(_TWO_PI * total)
    weight = normal / (normal + WILD / capacity)
    gain, loss_gain = p11 / total, p12 / total
    shrink = (weight - weight * (1 - weight) * square) * total
    loss += weight * loss_gain * off
    p11 -= shrink * gain * gain
    p22 -= shrink * loss_gain * loss_gain
    after = Line(
        at,
        litres + weight * gain * off,
        loss if loss > 0 else 0.0,
        p11 if p11 > _LEAST else _LEAST,
        p12 - shrink * gain * loss_gain,
        p22 if p22 > _LEAST_LOSS else _LEAST_LOSS,
    )
    return after, weight, off / math.sqrt(total)


class Track:
    """The filter of one tank. Feed events in order of time, then read its line."""

    def __init__(self, *, capacity: float, rated_loss: float) -> None:
        self.capacity = capacity
        self.rated = rated_loss
        self.line: Line | None = None
        self.noise = DIPSTICK_CM**2
        self.freedom = WORTH_READINGS
        self.steps: list[Step] = []
        self.fills: list[tuple[int, Filled]] = []
        self.segment = 0
        self.changes: list[Change] = []
        self._surprise = 0.0
        self._wild_in_a_row = 0
        self._tested_from = 0

    def feed(self, events: Sequence[Reading | Filled], *, watched_from: int = 0) -> None:
        """Take events in; from the `watched_from`th on each reading is tested without a screen."""
        for number, event in enumerate(events):
            if isinstance(event, Filled):
                self._fill(event)
                continue
            self._read(event.at, event.litres, event.litres_per_cm)
            if self._surprise > _SURPRISED or number >= watched_from:
                self._test()

    def _fill(self, fill: Filled) -> None:
        if self.line is None:
            return
        self.line = self._filled(self.line, fill, self.steps[-1])
        self.fills.append((len(self.steps), fill))

    def _filled(self, line: Line, fill: Filled, last: Step) -> Line:
        """The line after a top-up; `last` was read before it."""
        line = waited(line, fill.at, self.rated)
        if fill.litres_after is not None:
            variance = self._variance(last.litres_per_cm)
            return line._replace(litres=fill.litres_after, litres_variance=variance, covariance=0.0)
        added = fill.litres_added or 0.0
        return line._replace(
            litres=min(line.litres + added, self.capacity),
            litres_variance=line.litres_variance + (FILLED_PART * added) ** 2,
        )

    def _variance(self, litres_per_cm: float) -> float:
        return self.noise * litres_per_cm * litres_per_cm

    def _read(self, at: float, litres: float, litres_per_cm: float) -> None:
        variance = self.noise * litres_per_cm * litres_per_cm
        if self.line is None:
            spread = (SPREAD * self.rated) ** 2
            self.line = Line(at, litres, LIKELY * self.rated, variance, 0.0, spread)
            self.steps.append(Step(litres, litres_per_cm, self.line, 1.0))
            return
        self.line, weight, deviation = read_on(
            self.line, (at, litres, variance), self.capacity, self.rated
        )
        self.steps.append(Step(litres, litres_per_cm, self.line, weight))
        if weight > 0.5:
            self.freedom += 1
            square = deviation * deviation
            self.noise += ((square if square < 9.0 else 9.0) - 1) * self.noise / self.freedom
        low = -deviation if deviation > -_MOST_SURPRISE else _MOST_SURPRISE
        surprise = self._surprise * _FORGET + low - _EXPECTED
        self._surprise = surprise if surprise > 0 else 0.0
        if weight >= _WILD_WEIGHT:
            self._wild_in_a_row = 0
            return
        self._wild_in_a_row += 1
        if self._wild_in_a_row >= _AGREE:
            self._take_new_level(self.line)

    def _take_new_level(self, line: Line) -> None:
        """Several unlikely readings in a row that agree, above: somebody filled and did not say.

        Below, it is for `change` to say whether the loss has changed; three that agree on a level
        (something was spilled) are taken as well.
        """
        newest = self.steps[-1]
        needed = _AGREE if newest.read > line.litres else _AGREE + 1
        if self._wild_in_a_row < needed:
            return
        variance = self._variance(newest.litres_per_cm)
        ahead = [one.read - line.loss * (newest.at - one.at) for one in self.steps[-needed:]]
        middle = sum(ahead) / needed
        if max(abs(one - middle) for one in ahead) > 3 * math.sqrt(variance):
            return
        self.line = line._replace(litres=middle, litres_variance=variance / needed, covariance=0.0)
        self.steps[-1] = newest._replace(line=self.line)
        self.segment = len(self.steps) - 1
        self._wild_in_a_row, self._surprise = 0, 0.0

    def _test(self) -> None:
        """Whether the loss has changed within the last readings."""
        steps, newest = self.steps, len(self.steps) - 1
        if newest < self._tested_from:
            return
        best: tuple[float, int, float] | None = None
        filled_at = self.fills[-1][0] if self.fills else 0
        tested = steps[max(self.segment + 1, newest + 1 - max(THRESHOLDS)) :]
        latest = [self._seen(step) for step in tested]
        for readings, (least, needed) in THRESHOLDS.items():
            base = newest - readings
            if base < self.segment:
                break
            line = steps[base].line
            wanted = least * max(line.loss, 0.3 * self.rated)
            if base < filled_at:
                found = self._across_fills(base, needed=needed, least=wanted)
            else:
                seen = latest[-readings:]
                found = extra_loss(line, seen, capacity=self.capacity, needed=needed, least=wanted)
            if found is not None and (best is None or found[0] > best[0]):
                best = found[0], base, found[1]
        if best is not None:
            self._restart(*best)

    def _across_fills(
        self, base: int, *, needed: float, least: float
    ) -> tuple[float, float] | None:
        """The same test where somebody filled in between, with all that is open about a top-up.

        A dying tank is filled again and again, so that between two top-ups there is one reading.
        The filter itself says how likely the readings are, with one extra loss after the other.
        """
        straight = self._likelihoods(base, 0.0)
        best, extra, tried = straight, 0.0, least
        while tried <= _MOST_EXTRA * least:
            bent = self._likelihoods(base, tried)
            if extra and sum(bent) < sum(best):
                break
            best, extra = bent, tried
            tried *= _NEXT_EXTRA
        gains = [one - other for one, other in zip(best, straight, strict=True)]
        sigmas = math.sqrt(max(0.0, 2 * sum(gains)))
        if min(straight) < math.log(1 / (1 - RATHER_WILD)):
            needed = max(needed, WITH_A_WILD_ONE)
        without = math.sqrt(max(0.0, 2 * (sum(gains) - max(gains))))
        return (sigmas, extra) if sigmas > needed and without > needed - MARGIN_WITHOUT else None

    def _likelihoods(self, base: int, extra: float) -> list[float]:
        """Of each reading since `base` the logarithm, less that of a wild one (0 is wild)."""
        line = self.steps[base].line
        bent = self._read_anew(base, line._replace(loss=line.loss + extra))
        return [-math.log(max(1 - weight, _LEAST)) for _, _, weight in bent]

    def _read_anew(self, base: int, line: Line) -> Iterator[tuple[Step, Line, float]]:
        """The readings since `base`, by another line there, over the top-ups between them.

        Each reading's step as it was; the line after it now, and its weight.
        """
        last = self.steps[base]
        for event in self._since(base):
            if isinstance(event, Filled):
                line = self._filled(line, event, last)
                continue
            line, weight, _ = read_on(line, self._seen(event), self.capacity, self.rated)
            yield event, line, weight
            last = event

    def _since(self, base: int) -> Iterator[Step | Filled]:
        """What came after a reading, in order."""
        position = base + 1
        for until, fill in self.fills[bisect_right(self.fills, base, key=itemgetter(0)) :]:
            yield from self.steps[position:until]
            yield fill
            position = until
        yield from self.steps[position:]

    def _seen(self, step: Step) -> Seen:
        return step.line.at, step.read, self._variance(step.litres_per_cm)

    def _restart(self, sigmas: float, base: int, extra: float) -> None:
        """Begin anew where the loss changed, with the readings since."""
        before = self.steps[base].line
        self.changes.append(
            Change(before.at, before.loss, before.loss_variance, sigmas, self.steps[-1].at)
        )
        open_loss = (2 * max(extra, 0.5 * before.loss)) ** 2
        begun = before._replace(covariance=0.0, loss_variance=open_loss)
        anew = self._read_anew(base, begun)
        self.steps[base + 1 :] = [
            step._replace(line=line, weight=weight) for step, line, weight in anew
        ]
        self.line = self.steps[-1].line
        self.segment, self._surprise, self._wild_in_a_row = base, 0.0, 0
        self._tested_from = len(self.steps) + _COME_TO_REST
