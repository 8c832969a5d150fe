"""A year of levels and top-ups: three tanks that behave, and one that is losing its vacuum.

Levels are drawn as a dipstick would show them: what is in the tank by its losses, with an error of
about half a centimetre, read to the half. Losses are above the makers', as in tanks that are used;
more in summer. They have a source of chance of their own, so that no code of the demo depends on
them.
"""

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from seed_data.chronicle import Chance, Chronicle, Happening, Moment, Step
from seed_data.rooms import ROOMS, ROUNDS
from service.bank.search import tanks_in_use
from service.bank.store import Tank
from service.kernel.acts import Act
from service.nitrogen import actions, states
from service.nitrogen.actions import NewLevel, NewTopUp
from service.nitrogen.rules import Figure, Sign
from service.nitrogen.store import Level

SEED = 20_240_719

_YEAR = 365

#: Somebody reads each tank every third day, and every day of the last two weeks.
_EVERY_DAYS, _DAILY_FROM = 3, 14

_HALF_CM = Decimal("0.5")


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """How a tank lives: what it loses a day, and how full it is when and after it is filled.

    Since its vacuum went it has lost `lost_litres_per_day`; frost is seen in the last `frost_days`.
    """

    tank: str
    loss_litres_per_day: float
    starts_litres: float
    filled_below_litres: float
    filled_to_cm: int
    told_in_litres: bool = False
    lost_since_days: int = 0
    lost_litres_per_day: float = 0
    frost_days: int = 0

    def loss(self, days_ago: int) -> float:
        """Of one day, in litres: a tenth more in July than in January."""
        if days_ago <= self.lost_since_days:
            return self.lost_litres_per_day
        return self.loss_litres_per_day * (1 + 0.05 * math.sin(2 * math.pi * days_ago / _YEAR))


LIVES = (
    Life(
        tank="Heron",
        loss_litres_per_day=0.40,
        starts_litres=33,
        filled_below_litres=18,
        filled_to_cm=48,
    ),
    Life(
        tank="Kestrel",
        loss_litres_per_day=0.28,
        starts_litres=29,
        filled_below_litres=13,
        filled_to_cm=43,
        lost_since_days=9,
        lost_litres_per_day=1.2,
        frost_days=2,
    ),
    Life(
        tank="Plover",
        loss_litres_per_day=0.12,
        starts_litres=8,
        filled_below_litres=4.2,
        filled_to_cm=35,
        told_in_litres=True,
    ),
    Life(
        tank="Wren",
        loss_litres_per_day=0.14,
        starts_litres=4.5,
        filled_below_litres=2.6,
        filled_to_cm=27,
    ),
)

#: Somebody once read another tank, saw it at once and struck it.
_MISREAD_IN, _MISREAD_DAYS_AGO = "Heron", 127


def tell_nitrogen(chronicle: Chronicle) -> None:
    """Let the rooms be entered, the year of every tank happen, and the rounds be planned."""
    chance = Chance(SEED)
    tanks = {tank.name: tank for tank in tanks_in_use(chronicle.db)}
    years = [_Year(tanks[life.tank], life) for life in LIVES]
    happenings: list[Happening] = [*ROOMS, *years, ROUNDS]
    for happening in happenings:
        for step in happening.steps():
            step.do(chronicle, chronicle.act(step, chance))


class _Year:
    """A tank's year, told day by day."""

    def __init__(self, tank: Tank, life: Life) -> None:
        self.tank, self.life = tank, life
        self.dipstick = states.dipstick_of(tank)
        self.random = random.Random(f"{SEED} {life.tank}")

    def steps(self) -> Iterator[Step]:
        """Read in the morning, and filled afterwards where it was low."""
        litres = self.life.starts_litres
        for days_ago in range(_YEAR, 0, -1):
            if days_ago % _EVERY_DAYS == 1 or days_ago <= _DAILY_FROM:
                if (self.life.tank, days_ago) == (_MISREAD_IN, _MISREAD_DAYS_AGO):
                    yield self._misread(days_ago)
                yield self._read(days_ago, litres)
                if litres < self.life.filled_below_litres:
                    yield self._filled(days_ago, litres)
                    litres = self._full
            litres -= self.life.loss(days_ago)

    @property
    def _full(self) -> float:
        return float(self.dipstick.litres_at(Decimal(self.life.filled_to_cm)))

    def _read(self, days_ago: int, litres: float) -> Step:
        shown = self.dipstick.level_at(Decimal(litres)) + Decimal(self.random.gauss(0, 0.4))
        level_cm = min(round(shown / _HALF_CM) * _HALF_CM, self.dipstick.top_cm)
        signs: tuple[Sign, ...] = ("frost",) if days_ago <= self.life.frost_days else ()

        def do(chronicle: Chronicle, act: Act) -> None:
            self._keep(chronicle, act, level_cm, signs)

        return Step(Moment(days_ago, "07:40"), "tilda", do)

    def _misread(self, days_ago: int) -> Step:
        def do(chronicle: Chronicle, act: Act) -> None:
            level = self._keep(chronicle, act, Decimal(18), ())
            later = replace(act, id=act.new_id())
            actions.strike_level(chronicle.db, later, level, "read in Kestrel by mistake")

        return Step(Moment(days_ago, "07:30"), "tilda", do)

    def _keep(
        self, chronicle: Chronicle, act: Act, level_cm: Decimal, signs: tuple[Sign, ...]
    ) -> Level:
        new = NewLevel(
            measured_at=act.occurred_at,
            figure=Figure(read_as="level_cm", amount=level_cm),
            signs=signs,
            note="Frost all round the neck" if signs else None,
        )
        return actions.keep_level(chronicle.db, act, self.tank.id, new)[0]

    def _filled(self, days_ago: int, litres: float) -> Step:
        added = Decimal(round(2 * (self._full - litres))) / 2

        def do(chronicle: Chronicle, act: Act) -> None:
            by_litres = self.life.told_in_litres
            new = NewTopUp(
                filled_at=act.occurred_at,
                litres_added=added if by_litres else None,
                level_after_cm=None if by_litres else Decimal(self.life.filled_to_cm),
            )
            actions.keep_top_up(chronicle.db, act, self.tank.id, new)

        return Step(Moment(days_ago, "08:10"), "tilda", do)
