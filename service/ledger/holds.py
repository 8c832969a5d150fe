"""What is held back: batches on hold, and whatever hangs in a quarantined tank."""

from collections.abc import Collection, Sequence
from datetime import date
from uuid import UUID

from sqlmodel import Session, col, select

from service.bank import store as bank
from service.bank.store import Batch, Canister, Goblet, Tank
from service.kernel.codes import grouped
from service.kernel.database import in_parts
from service.ledger.rules import OnHold, StrawNow, hold_words


def refuse_held(db: Session, straws: Sequence[StrawNow], today: date) -> None:
    """Raise OnHold when one of these stored straws may not leave its tank today."""
    batch_ids = {straw.batch_id for straw in straws}
    for batch_id, hold in bank.holds_on(db, today, batch_ids).items():
        code = db.get_one(Batch, batch_id).code
        raise OnHold(
            hold_words(grouped(code), hold.reason, hold.until),
            batch_code=code,
            reason=hold.reason,
            until=hold.until,
        )
    goblets = {straw.goblet_id for straw in straws if straw.goblet_id}
    for address in _quarantined(db, goblets):
        raise OnHold(
            f"Goblet {address} hangs in a quarantined tank. Nothing is taken from there; "
            "move the straws out once they are released.",
            address=address,
        )


def _quarantined(db: Session, goblet_ids: Collection[UUID]) -> list[str]:
    """Of these goblets the addresses of those in quarantined tanks."""
    query = (
        select(Goblet.address)
        .join(Canister, col(Canister.id) == col(Goblet.canister_id))
        .join(Tank, col(Tank.id) == col(Canister.tank_id))
        .where(col(Tank.quarantine))
        .order_by(col(Goblet.address))
    )
    return [
        address
        for some in in_parts(goblet_ids)
        for address in db.exec(query.where(col(Goblet.id).in_(some)))
    ]
