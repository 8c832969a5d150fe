"""What changed places: straws out of quarantine and once by mistake, a canister as a whole."""

from collections.abc import Iterator
from dataclasses import dataclass

from sqlmodel import select

from seed_data.chronicle import Chronicle, Happening, Moment, Step
from service.bank.store import Goblet, Tank
from service.kernel.acts import Act
from service.ledger import relocate
from service.ledger.correct import correct
from service.ledger.picking import Pick
from service.ledger.store import Stock
from service.transfers import actions


@dataclass(frozen=True, slots=True)
class Moved:
    """Straws of a batch went to another goblet: all of them, or so many out of its only goblet."""

    batch: str
    to: str
    days_ago: int
    wall: str = "14:20"
    straws: int | None = None
    reason: str | None = None
    by: str = "tilda"

    @property
    def name(self) -> str:
        """What other happenings call it."""
        return f"{self.batch} to {self.to}"

    def steps(self) -> Iterator[Step]:
        """One act."""
        yield Step(Moment(self.days_ago, self.wall), self.by, self._do)

    def _do(self, chronicle: Chronicle, act: Act) -> None:
        batch_id = chronicle.batches[self.batch]
        there = chronicle.db.exec(select(Stock).where(Stock.batch_id == batch_id)).all()
        actions.move(
            chronicle.db,
            act,
            picks=[
                Pick(row.goblet_id, batch_id, row.straws if self.straws is None else self.straws)
                for row in there
            ],
            codes=(),
            goblet_id=chronicle.goblets[self.to],
            reason=self.reason,
        )
        chronicle.acts[self.name] = act.id


@dataclass(frozen=True, slots=True)
class CanisterHung:
    """A canister went into another tank with all that is in it; `holding` is one of its goblets."""

    holding: str
    tank: str
    days_ago: int
    reason: str
    wall: str = "16:10"
    by: str = "magnus"

    def steps(self) -> Iterator[Step]:
        """One act."""
        yield Step(Moment(self.days_ago, self.wall), self.by, self._do)

    def _do(self, chronicle: Chronicle, act: Act) -> None:
        db = chronicle.db
        hung = relocate.canister_into(
            db,
            db.get_one(Goblet, chronicle.goblets[self.holding]).canister_id,
            tank_id=db.exec(select(Tank.id).where(Tank.name == self.tank)).one(),
        )
        relocate.carry_out(db, act, hung, self.reason)


@dataclass(frozen=True, slots=True)
class TakenBack:
    """An entry was a mistake, and a counter-entry took it back."""

    what: str
    days_ago: int
    reason: str
    wall: str = "14:20"
    minutes_later: int = 0
    by: str = "tilda"

    def steps(self) -> Iterator[Step]:
        """One act."""
        yield Step(Moment(self.days_ago, self.wall, self.minutes_later), self.by, self._do)

    def _do(self, chronicle: Chronicle, act: Act) -> None:
        correct(chronicle.db, act, chronicle.acts[self.what], self.reason)


MOVES: tuple[Happening, ...] = (
    Moved(
        batch="ninefold 1",
        to="KESTREL-1-L1",
        days_ago=968,
        reason="Thirty days in store are over; out of quarantine.",
    ),
    Moved(
        batch="pewter 3",
        to="HERON-2-U1",
        days_ago=200,
        straws=10,
        reason="Beside his other straws.",
    ),
    CanisterHung(
        holding="KESTREL-4-L1",
        tank="Heron",
        days_ago=140,
        reason="Heron is filled every week; his last straws hang safer there.",
    ),
    TakenBack(
        what="pewter 3 to HERON-2-U1",
        days_ago=200,
        minutes_later=12,
        reason="Wrong goblet typed; nothing was lifted.",
    ),
)
