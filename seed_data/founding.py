"""The station before the first straw: its record, tanks and horses, and what changed in them."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any

from seed_data.chronicle import Chronicle, Moment, Step
from service.bank.actions import add_stallion, change_stallion, change_station, stallion_of
from service.bank.rules import NewStallion, RuleAmounts
from service.bank.tanks_actions import add_tank
from service.bank.tanks_rules import NewTank
from service.kernel.acts import Act

#: The approval number cannot be mistaken for one that an authority gave.
STATION = {
    "name": "Quillhaven Stallion Station",
    "country": "IE",
    "approval_number": "IE-DEMO-0000",
    "time_zone": "Europe/Dublin",
    "mark_date_format": "dd.mm.yy",
    "level_unit": "cm",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Founded:
    """The station's record was filled in."""

    days_ago: int

    def steps(self) -> Iterator[Step]:
        """The manager did."""
        yield Step(Moment(self.days_ago, "09:00"), "magnus", self._do)

    @staticmethod
    def _do(chronicle: Chronicle, act: Act) -> None:
        change_station(chronicle.db, act, STATION)


@dataclass(frozen=True, slots=True, kw_only=True)
class TanksSetUp:
    """The tanks came, one after the other."""

    days_ago: int
    tanks: tuple[NewTank, ...]

    def steps(self) -> Iterator[Step]:
        """The manager entered them."""
        for number, tank in enumerate(self.tanks, start=1):
            when = Moment(self.days_ago, "10:00", 15 * number)
            yield Step(when, "magnus", partial(self._do, tank=tank))

    @staticmethod
    def _do(chronicle: Chronicle, act: Act, *, tank: NewTank) -> None:
        add_tank(chronicle.db, act, tank)
        chronicle.name_goblets()


@dataclass(frozen=True, slots=True, kw_only=True)
class StallionEntered:
    """A stallion came into the book."""

    key: str
    days_ago: int
    record: NewStallion

    def steps(self) -> Iterator[Step]:
        """The manager entered him."""
        yield Step(Moment(self.days_ago, "11:30"), "magnus", self._do)

    def _do(self, chronicle: Chronicle, act: Act) -> None:
        chronicle.stallions[self.key] = add_stallion(chronicle.db, act, self.record).id


@dataclass(frozen=True, slots=True, kw_only=True)
class StallionChanged:
    """Something about a stallion changed; what it was before stays in his history."""

    stallion: str
    days_ago: int
    changes: dict[str, Any]
    dose_rule: RuleAmounts | None = None
    by: str = "magnus"

    def steps(self) -> Iterator[Step]:
        """One change."""
        yield Step(Moment(self.days_ago, "15:20"), self.by, self._do)

    def _do(self, chronicle: Chronicle, act: Act) -> None:
        stallion = stallion_of(chronicle.db, chronicle.stallions[self.stallion])
        change_stallion(chronicle.db, act, stallion, self.changes, self.dose_rule)
