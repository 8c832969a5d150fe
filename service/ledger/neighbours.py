"""What straws will stand beside: refused where it must not be, warned of where it may mislead."""

from collections.abc import Collection, Mapping
from datetime import date
from typing import NamedTuple
from uuid import UUID

from sqlalchemy import select as sa_select
from sqlmodel import Session, col

from service.bank import store as bank
from service.bank.clearance import Health
from service.bank.rules import Warned
from service.bank.store import Batch, Canister, Goblet, Stallion, Tank
from service.kernel.codes import grouped
from service.kernel.database import in_parts
from service.kernel.errors import Conflict
from service.ledger.health import health_of_all
from service.ledger.store import Stock


class QuarantinedTank(Conflict):
    """Straws that are free to use, on their way into a quarantined tank."""

    code = "quarantined-tank"
    title = "This goblet hangs in a quarantined tank"


class Neighbour(NamedTuple):
    """A batch that stands in a goblet already (`batch` is null in an empty one)."""

    goblet_id: UUID
    address: str
    quarantine: bool
    batch: Batch | None
    stallion_name: str | None


class Known(NamedTuple):
    """What is known of several batches: which are on hold, and what their tests say."""

    held: Collection[UUID]
    health: Mapping[UUID, Health]


def weigh_places(
    db: Session, batch: Batch, goblet_ids: Collection[UUID], today: date, *, field: str
) -> list[Warned]:
    """Warnings about putting straws of this batch there; raises QuarantinedTank.

    What is released never goes into a quarantined tank. Warned of: another stallion in the goblet,
    another thaw protocol, another health state, straws on hold beside straws that are free.
    """
    neighbours = _neighbours(db, goblet_ids)
    batch_ids = [batch.id, *(n.batch.id for n in neighbours if n.batch)]
    known = Known(bank.holds_on(db, today, batch_ids), health_of_all(db, batch_ids))
    warnings = []
    for neighbour in neighbours:
        if neighbour.quarantine and batch.id not in known.held:
            raise QuarantinedTank(
                f"Goblet {neighbour.address} hangs in a quarantined tank, and batch "
                f"{grouped(batch.code)} is not on hold. Choose another goblet, or put the batch "
                "on hold first.",
                goblet_id=neighbour.goblet_id,
                address=neighbour.address,
            )
        warnings += _beside(batch, neighbour, known, field)
    return warnings


def _beside(batch: Batch, neighbour: Neighbour, known: Known, field: str) -> list[Warned]:
    other, address = neighbour.batch, neighbour.address
    if other is None or other.id == batch.id:
        return []
    warnings = []
    if other.stallion_id != batch.stallion_id:
        message = f"Goblet {address} also holds straws of {neighbour.stallion_name}."
        warnings.append(Warned("another-stallion", field, message))
    if (other.id in known.held) != (batch.id in known.held):
        message = f"In goblet {address} straws on hold will stand beside straws that are free."
        warnings.append(Warned("held-beside-free", field, message))
    if other.thaw != batch.thaw:
        both = other.thaw is not None and batch.thaw is not None
        message = f"Goblet {address} also holds batch {grouped(other.code)}, " + (
            "which thaws otherwise." if both else "and not for both is it known how they thaw."
        )
        warnings.append(Warned("another-thaw", field, message))
    if known.health[other.id] != known.health[batch.id]:
        message = (
            f"Goblet {address} also holds batch {grouped(other.code)}, whose tests are "
            f"{known.health[other.id]}; those of this batch are {known.health[batch.id]}."
        )
        warnings.append(Warned("another-health", field, message))
    return warnings


def _neighbours(db: Session, goblet_ids: Collection[UUID]) -> list[Neighbour]:
    found = []
    for some in in_parts(goblet_ids):
        rows = db.execute(
            sa_select(
                *(col(Goblet.id), col(Goblet.address), col(Tank.quarantine)),
                *(Batch, col(Stallion.name)),
            )
            .join(Canister, col(Canister.id) == col(Goblet.canister_id))
            .join(Tank, col(Tank.id) == col(Canister.tank_id))
            .outerjoin(Stock, col(Stock.goblet_id) == col(Goblet.id))
            .outerjoin(Batch, col(Batch.id) == col(Stock.batch_id))
            .outerjoin(Stallion, col(Stallion.id) == col(Batch.stallion_id))
            .where(col(Goblet.id).in_(some))
            .order_by(col(Goblet.address), col(Batch.code))
        )
        found += [Neighbour(*row) for row in rows]
    return found
