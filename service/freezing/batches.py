"""What is said of a batch once it exists: its doses, post-thaw results, holds and releases."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from uuid import UUID

from sqlmodel import Session

from service.bank import store as bank
from service.bank.doses import straws_per_dose
from service.bank.rules import Warned
from service.bank.store import Batch, Hold, PostThaw
from service.freezing import plausibility, rules, store
from service.kernel.acts import Act
from service.kernel.codes import grouped
from service.ledger import picking
from service.ledger.book import book
from service.ledger.picking import Exchange, Pick
from service.ledger.rules import Movement, Place


def batch_of(db: Session, batch_id: UUID) -> Batch:
    """The batch. Raises UnknownBatch."""
    batch = db.get(Batch, batch_id)
    if batch is None:
        raise rules.UnknownBatch("There is no such batch. Choose one of the list.")
    return batch


@dataclass(frozen=True, slots=True)
class DosesOfBatch:
    """A batch's doses: what is stored, what a dose takes, and how many that makes."""

    progressive_million_per_straw: Fraction | None
    straws_stored: int
    straws_per_dose: int | None
    doses: int | None


def doses_of(db: Session, batch: Batch) -> DosesOfBatch:
    """What a batch's stored straws make by its stallion's rule; None where it makes no dose."""
    return doses_of_all(db, [batch])[batch.id]


def doses_of_all(db: Session, batches: Sequence[Batch]) -> dict[UUID, DosesOfBatch]:
    """`doses_of` for several batches at once."""
    stored = store.stored_by_batch(db, [batch.id for batch in batches])
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


@dataclass(frozen=True, slots=True)
class Examined:
    """A post-thaw result, and what it changed."""

    batch: Batch
    before: DosesOfBatch
    after: DosesOfBatch
    straws_tested: int
    exchanged: list[Exchange]
    warnings: list[Warned]


def record_result(
    db: Session,
    act: Act,
    batch: Batch,
    *,
    percent: Decimal,
    minutes: Decimal | None,
    result_id: UUID,
) -> None:
    """Keep a post-thaw result; it counts for the batch from now on."""
    batch.post_thaw_percent, batch.post_thaw_minutes = percent, minutes
    db.add(batch)
    db.add(
        PostThaw(
            id=result_id,
            batch_id=batch.id,
            progressive_motility_percent=percent,
            minutes=minutes,
            examined_at=act.occurred_at,
            recorded_at=act.recorded_at,
            recorded_by=act.by.id,
            recorded_by_name=act.by.display_name,
        )
    )


def examine(
    db: Session,
    act: Act,
    batch_id: UUID,
    *,
    percent: Decimal,
    minutes: Decimal | None,
    picks: Sequence[Pick],
    codes: Sequence[str],
) -> Examined:
    """Record a post-thaw result; the straws thawed for it are gone from stock as `tested`.

    Raises NotFrozen, WrongStraws, Implausible, and what `picking.take` raises.
    """
    batch = batch_of(db, batch_id)
    if batch.state != "frozen":
        raise rules.NotFrozen(
            f"Batch {grouped(batch.code)} is only prepared. Log its freeze first.",
            batch_code=batch.code,
        )
    warnings = _weigh_result(batch, percent)
    before = doses_of(db, batch)
    taken = picking.Taken()
    if picks or codes:
        taken = picking.take(db, act, picks=picks, codes=codes)
    for straw in taken.straws:
        if straw.batch_id != batch.id:
            raise rules.WrongStraws(
                f"Straw {grouped(straw.code)} is of another batch than {grouped(batch.code)}.",
                straw_code=straw.code,
            )
    tested = [
        Movement(straw, Place("tested"), provisional=straw.code in taken.provisional)
        for straw in taken.straws
    ]
    facts = {"batch_id": str(batch.id), "progressive_motility_percent": percent}
    book(db, act, "test", tested, facts=facts)
    record_result(db, act, batch, percent=percent, minutes=minutes, result_id=act.id)
    db.flush()
    after = doses_of(db, batch)
    return Examined(batch, before, after, len(tested), taken.exchanged, warnings)


def said_of(done: Examined) -> str:
    """What a result changed, as a person would tell it."""
    before, after = _counted(done.before), _counted(done.after)
    gone = f"{done.straws_tested} straws were thawed for it and are gone. "
    changed = f"It was {before} before and is {after} now."
    return (gone if done.straws_tested else "") + (
        changed if before != after else f"It stays {after}."
    )


def _counted(doses: DosesOfBatch) -> str:
    if doses.doses is None:
        return "no dose"
    return f"{doses.doses} doses of {doses.straws_per_dose} straws"


def _weigh_result(batch: Batch, percent: Decimal) -> list[Warned]:
    remarks = plausibility.weigh([(plausibility.POST_THAW_MOTILITY, Fraction(percent))])
    fresh = batch.collection_progressive_motility_percent
    if fresh is not None:
        remarks += plausibility.weigh_post_thaw(
            post_thaw_percent=Fraction(percent), fresh_percent=Fraction(fresh)
        )
    return plausibility.refuse_impossible(remarks)


def hold(db: Session, act: Act, batch_id: UUID, *, reason: str, until: date | None) -> Hold:
    """Hold a batch back: from now on nothing of it is planned or lifted."""
    batch = batch_of(db, batch_id)
    facts = {"batch_id": str(batch.id), "until": until}
    book(db, act, "hold", [], reason=reason, facts=facts)
    return place_hold(db, act, batch, reason, until, hold_id=act.id)


def place_hold(
    db: Session, act: Act, batch: Batch, reason: str, until: date | None, *, hold_id: UUID
) -> Hold:
    """Keep a hold of a batch."""
    placed = Hold(
        id=hold_id,
        batch_id=batch.id,
        reason=reason,
        until=until,
        placed_at=act.occurred_at,
        placed_by=act.by.id,
        placed_by_name=act.by.display_name,
    )
    db.add(placed)
    db.flush()
    return placed


def release(db: Session, act: Act, batch_id: UUID, *, reason: str) -> Batch:
    """End every hold of a batch. Raises NotOnHold."""
    batch = batch_of(db, batch_id)
    standing = store.standing_holds(db, batch.id)
    if not standing:
        raise rules.NotOnHold(f"Batch {grouped(batch.code)} is not on hold.", batch_code=batch.code)
    book(db, act, "release", [], reason=reason, facts={"batch_id": str(batch.id)})
    for placed in standing:
        placed.released_at = act.occurred_at
        placed.released_by = act.by.id
        placed.released_by_name = act.by.display_name
        placed.release_reason = reason
        db.add(placed)
    db.flush()
    return batch
