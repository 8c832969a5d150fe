"""Yesterday's stock-take of the smallest tank: one goblet is two straws short, nobody knows why.

It stands as it would in life: counted by the technician, compared by the auditor, open.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from uuid import UUID

from sqlmodel import Session, col, select

from seed_data.chronicle import Chronicle, Moment, Step
from service.audits import actions
from service.audits.actions import NewCount, Scope
from service.audits.store import StockTake, goblets_of
from service.bank.store import Tank
from service.kernel.acts import Act
from service.ledger.store import Stock

TANK = "Plover"

#: The first goblet with more straws than that is found so many short.
_MORE_THAN, _SHORT = 10, 2


@dataclass(slots=True, kw_only=True)
class StockTaken:
    """The auditor opened it, the technician counted, the auditor compared."""

    take: StockTake | None = None
    short: bool = False

    def steps(self) -> Iterator[Step]:
        """On the afternoon before today."""
        yield Step(Moment(1, "13:30"), "agda", self._open)
        yield Step(Moment(1, "13:40"), "tilda", self._count)
        yield Step(Moment(1, "15:00"), "agda", self._compare)

    def _open(self, chronicle: Chronicle, act: Act) -> None:
        tank = chronicle.db.exec(select(Tank).where(Tank.name == TANK)).one()
        asked = {"tank_ids": [str(tank.id)]}
        scope = Scope(tank_ids=[tank.id])
        self.take = actions.open_take(chronicle.db, act, scope, asked=asked, blind=True)

    def _count(self, chronicle: Chronicle, act: Act) -> None:
        assert self.take is not None
        for number, goblet in enumerate(goblets_of(chronicle.db, self.take.id)):
            at = act.occurred_at + timedelta(minutes=2 * number)
            each = replace(act, id=act.new_id(), occurred_at=at, recorded_at=at)
            new = NewCount(
                goblet_id=goblet.goblet_id,
                started_at=at - timedelta(minutes=1),
                batches=self._seen(chronicle.db, goblet.goblet_id),
                codes=None,
                unreadable=0,
                foreign=[],
            )
            actions.count(chronicle.db, each, self.take, new)

    def _seen(self, db: Session, goblet_id: UUID) -> list[tuple[UUID, int]]:
        seen = []
        for stock in db.exec(select(Stock).where(col(Stock.goblet_id) == goblet_id)):
            straws = stock.straws
            if straws > _MORE_THAN and not self.short:
                straws, self.short = straws - _SHORT, True
            seen.append((stock.batch_id, straws))
        return seen

    def _compare(self, chronicle: Chronicle, act: Act) -> None:
        assert self.take is not None
        actions.compare_now(chronicle.db, act, self.take)
