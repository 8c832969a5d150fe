"""What the stored straws of a batch make: straws, straws a dose, doses."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from fractions import Fraction
from uuid import UUID

from sqlalchemy import func
from sqlalchemy import select as sa_select
from sqlmodel import Session, col

from service.bank import store as bank
from service.bank.doses import straws_per_dose
from service.bank.store import Batch
from service.kernel.database import in_parts
from service.ledger.store import Stock


@dataclass(frozen=True, slots=True)
class DosesOfBatch:
    """A batch's doses: what is stored, what a dose takes, and how many that makes."""

    progressive_million_per_straw: Fraction | None
    straws_stored: int
    straws_per_dose: int | None
    doses: int | None


def stored_by_batch(db: Session, batch_ids: Collection[UUID]) -> dict[UUID, int]:
    """Straws in store by batch; none for a batch without."""
    counted = sa_select(col(Stock.batch_id), func.sum(Stock.straws)).group_by(col(Stock.batch_id))
    return {
        batch_id: int(straws)
        for some in in_parts(batch_ids)
        for batch_id, straws in db.execute(counted.where(col(Stock.batch_id).in_(some)))
    }


def doses_of(db: Session, batch: Batch) -> DosesOfBatch:
    """What a batch's stored straws make by its stallion's rule; None where it makes no dose."""
    return doses_of_all(db, [batch])[batch.id]


def doses_of_all(db: Session, batches: Sequence[Batch]) -> dict[UUID, DosesOfBatch]:
    """`doses_of` for several batches at once."""
    stored = stored_by_batch(db, [batch.id for batch in batches])
    held_rules = bank.dose_rules_of(db, {batch.stallion_id for batch in batches})
    found = {}
    for batch in batches:
        quality = bank.quality_of(batch)
        per_dose = straws_per_dose(held_rules[batch.stallion_id], quality)
        straws = stored.get(batch.id, 0)
        found[batch.id] = DosesOfBatch(
            quality.progressive_million_per_straw,
            straws,
            per_dose,
            straws // per_dose if per_dose else None,
        )
    return found
