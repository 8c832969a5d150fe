"""A stallion's last doses: what is thrown away or sent off must not touch them by oversight."""

from dataclasses import dataclass

from sqlmodel import Session

from service.bank import store as bank
from service.bank.store import Batch, Stallion
from service.kernel.acts import Act
from service.ledger import stock
from service.ledger.picking import Taken
from service.ledger.rules import ReserveReached


@dataclass(frozen=True, slots=True)
class Guarded:
    """A stallion that has a reserve, and his doses before the act."""

    stallion: Stallion
    doses_before: int


def guarded(db: Session, act: Act, taken: Taken) -> list[Guarded]:
    """The stallions of these straws that have a reserve; asked before anything is booked."""
    batches = [db.get_one(Batch, id) for id in {straw.batch_id for straw in taken.straws}]
    stallions = [db.get_one(Stallion, id) for id in {batch.stallion_id for batch in batches}]
    return [Guarded(one, _doses(db, act, one)) for one in stallions if one.reserve_doses]


def refuse_touched(db: Session, act: Act, before: list[Guarded], way_out: str) -> None:
    """Raise ReserveReached when the act, booked by now, took of a reserve.

    An act that takes no dose touches none: a straw too few for a dose may go.
    """
    for one in before:
        stallion, after = one.stallion, _doses(db, act, one.stallion)
        if after < stallion.reserve_doses and after < one.doses_before:
            raise ReserveReached(
                f"{one.doses_before} doses of {stallion.name} are left, and the last "
                f"{stallion.reserve_doses} are kept in reserve. {way_out}",
                stallion_id=stallion.id,
                doses_left=one.doses_before,
                reserve_doses=stallion.reserve_doses,
            )


def _doses(db: Session, act: Act, stallion: Stallion) -> int:
    """All doses that may be used, those of the reserve too."""
    today = bank.day_of(db, act.recorded_at)
    found = stock.by_stallion(db, today, stock.Scope(stallion_id=stallion.id))
    return sum(one.doses + one.doses_in_reserve for one in found)
