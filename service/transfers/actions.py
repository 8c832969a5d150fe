"""Moving straws and throwing them away: one use case per function."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from sqlmodel import Session

from service.bank import store as bank
from service.bank.rules import Warned
from service.bank.store import Batch, Goblet
from service.kernel.acts import Act
from service.kernel.errors import Unknown
from service.ledger import picking
from service.ledger.book import book
from service.ledger.neighbours import weigh_places
from service.ledger.picking import Pick, Taken
from service.ledger.rules import Place
from service.ledger.twins import Exchange
from service.transfers import reserve, rules


@dataclass(frozen=True, slots=True)
class Transferred:
    """Straws that went somewhere, twins that changed places on the way, and what to look at."""

    straws: int
    exchanged: list[Exchange]
    warnings: list[Warned]


def move(
    db: Session,
    act: Act,
    *,
    picks: Sequence[Pick],
    codes: Sequence[str],
    goblet_id: UUID,
    reason: str | None,
) -> Transferred:
    """Move straws into a goblet.

    Raises AlreadyThere, GobletFull, QuarantinedTank, Unknown, and what `picking.take` raises.
    """
    goblet = db.get(Goblet, goblet_id)
    if goblet is None:
        raise Unknown("There is no such goblet. Scan its plate again.", goblet_id=goblet_id)
    taken = picking.take(db, act, picks=picks, codes=codes)
    for straw in taken.straws:
        if straw.goblet_id == goblet.id:
            raise rules.AlreadyThere(
                f"Some of these straws stand in goblet {goblet.address} already. "
                "Choose another goblet.",
                goblet_id=goblet.id,
                address=goblet.address,
            )
    today = bank.day_of(db, act.recorded_at)
    warnings = _weigh(db, taken, goblet.id, today)
    book(
        db,
        act,
        "move",
        taken.to(Place("stored", goblet_id=goblet.id)),
        reason=reason,
    )
    return Transferred(len(taken.straws), taken.exchanged, warnings)


def _weigh(db: Session, taken: Taken, goblet_id: UUID, today: date) -> list[Warned]:
    warnings: dict[Warned, None] = {}
    for batch_id in dict.fromkeys(straw.batch_id for straw in taken.straws):
        batch = db.get_one(Batch, batch_id)
        warnings |= dict.fromkeys(weigh_places(db, batch, [goblet_id], today, field="goblet_id"))
    return list(warnings)


def discard(
    db: Session, act: Act, *, picks: Sequence[Pick], codes: Sequence[str], reason: str
) -> Transferred:
    """Throw straws away.

    Raises ReserveReached when less than a stallion's reserve would be left and a manager did not
    do it, and what `picking.take` raises.
    """
    taken = picking.take(db, act, picks=picks, codes=codes)
    guarded = [] if act.by.role == "manager" else reserve.guarded(db, act, taken)
    book(db, act, "discard", taken.to(Place("discarded")), reason=reason)
    reserve.refuse_touched(db, act, guarded, "Only a manager discards of them.")
    return Transferred(len(taken.straws), taken.exchanged, [])
