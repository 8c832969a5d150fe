"""How the invented years are told: step by step in order of time, through the real actions.

A step names its day as so many days ago, by the station's own clock on the wall, so that the demo
is as alive next year as today. Ids and codes come from a seeded generator: the same step has the
same code in every demo.
"""

import random
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Protocol
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.bank.store import goblets_with_places
from service.kernel.acts import Act, Person

#: People enter what they did a little later.
_ENTERED_AFTER = timedelta(minutes=2)


class Chance:
    """A seeded source of ids and codes, for invented data only."""

    def __init__(self, seed: int) -> None:
        self._random = random.Random(seed)

    def draw(self, bits: int) -> int:
        """A number of that many bits."""
        return self._random.getrandbits(bits)

    def id_at(self, moment: datetime) -> UUID:
        """A UUID of version 7 (RFC 9562) as a client would have made it at that moment."""
        milliseconds = int(moment.timestamp() * 1000)
        chance = self.draw(74)
        upper = milliseconds << 16 | 0x7000 | chance >> 62
        lower = 0b10 << 62 | chance & (1 << 62) - 1
        return UUID(int=upper << 64 | lower)


@dataclass(frozen=True, slots=True)
class Moment:
    """So many days before today, at this time on the station's wall; and minutes after that."""

    days_ago: int
    wall: str
    minutes_later: int = 0


@dataclass(frozen=True, slots=True)
class Step:
    """One act of one person, named by user name."""

    when: Moment
    by: str
    do: Callable[["Chronicle", Act], None]


class Happening(Protocol):
    """Something that happened at the station, in one or more steps."""

    def steps(self) -> Iterable[Step]:
        """What people did for it."""


@dataclass(slots=True)
class Chronicle:
    """The story so far: what bears which id, under the short names that the data uses."""

    db: Session
    today: date
    zone: ZoneInfo
    chance: Chance
    people: dict[str, Person]
    goblets: dict[str, UUID] = field(default_factory=dict)
    stallions: dict[str, UUID] = field(default_factory=dict)
    mares: dict[str, UUID] = field(default_factory=dict)
    batches: dict[str, UUID] = field(default_factory=dict)
    acts: dict[str, UUID] = field(default_factory=dict)

    def tell(self, happenings: Iterable[Happening]) -> None:
        """Let everything happen, in order of time."""
        steps = [step for happening in happenings for step in happening.steps()]
        for step in sorted(steps, key=lambda step: self.moment(step.when)):
            step.do(self, self.act(step))

    def moment(self, when: Moment) -> datetime:
        """The point in time."""
        day = self.today - timedelta(days=when.days_ago)
        begins = datetime.combine(day, time.fromisoformat(when.wall), self.zone)
        # By way of UTC: the minutes pass as they do for people, also when clocks are changed.
        return begins.astimezone(UTC) + timedelta(minutes=when.minutes_later)

    def act(self, step: Step, chance: Chance | None = None) -> Act:
        """The act of a step, with ids and codes by the story's own chance unless by another."""
        at, drawn_by = self.moment(step.when), chance or self.chance
        return Act(
            id=drawn_by.id_at(at),
            by=self.people[step.by],
            occurred_at=at,
            recorded_at=at + _ENTERED_AFTER,
            new_id=lambda: drawn_by.id_at(at),
            draw=drawn_by.draw,
        )

    def day_of(self, act: Act) -> date:
        """The day of an act, by the station's clock."""
        return act.recorded_at.astimezone(self.zone).date()

    def name_goblets(self) -> None:
        """Learn the ids behind the addresses."""
        self.goblets = {goblet.address: goblet.id for goblet, *_ in goblets_with_places(self.db)}
