"""What is said of a batch once it exists: its doses, post-thaw results, holds and releases."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from uuid import UUID

from sqlmodel import Session

from service.bank import plausibility
from service.bank import store as bank
from service.bank.clearance import Clearance
from service.bank.rules import Warned
from service.bank.store import Batch, Hold, PostThaw
from service.freezing import health, rules, store
from service.kernel.acts import Act
from service.kernel.codes import grouped
from service.ledger import picking
from service.ledger.batch_doses import DosesOfBatch, doses_of
from service.ledger.book import book
from service.ledger.health import clearance_of
from service.ledger.picking import Pick
from service.ledger.rules import Place, too_early
from service.ledger.twins import Exchange


def batch_of(db: Session, batch_id: UUID) -> Batch:
    """The batch. Raises UnknownBatch."""
    batch = db.get(Batch, batch_id)
    if batch is None:
        raise rules.UnknownBatch("There is no such batch. Choose one of the list.")
    return batch


@dataclass(frozen=True, slots=True)
class Examined:
    """A post-thaw result, and what it changed."""

    batch: Batch
    before: DosesOfBatch
    after: DosesOfBatch
    straws_tested: int
    exchanged: list[Exchange]
    warnings: list[Warned]


def keep_results(
    db: Session, act: Act, batch: Batch, *, percent: Decimal | None, minutes: Decimal | None
) -> bool:
    """Keep what this act found after thawing, if anything; the latest result counts.

    Called once the act's entry is booked. Late entries may be older than what is known; a freeze
    that was taken back takes its own result along. True when this act's result counts now.
    """
    if percent is not None:
        db.add(
            PostThaw(
                id=act.id,
                batch_id=batch.id,
                progressive_motility_percent=percent,
                minutes=minutes,
                examined_at=act.occurred_at,
                recorded_at=act.recorded_at,
                recorded_by=act.by.id,
                recorded_by_name=act.by.display_name,
            )
        )
    db.flush()
    latest = store.latest_result(db, batch)
    batch.post_thaw_percent = latest.progressive_motility_percent if latest else None
    batch.post_thaw_minutes = latest.minutes if latest else None
    db.add(batch)
    db.flush()
    return latest is not None and latest.id == act.id


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

    Raises NotFrozen, WrongStraws, BeforeWhatItFollows, and what `picking.take` raises.
    """
    batch = _frozen_before(db, act, batch_id)
    before = doses_of(db, batch)
    taken = picking.Taken()
    if picks or codes:
        taken = picking.take(db, act, picks=picks, codes=codes)
    for straw in taken.straws:
        if straw.batch_id != batch.id:
            raise rules.WrongStraws(
                f"Straw {grouped(straw.code)} is of another batch than {grouped(batch.code)}. "
                "Name the straws that were thawed for this result.",
                straw_code=straw.code,
            )
    tested = taken.to(Place("tested"))
    facts = {
        "progressive_motility_percent": percent,
        "minutes": minutes,
    }
    book(db, act, "test", tested, batch_id=batch.id, facts=facts)
    counts = keep_results(db, act, batch, percent=percent, minutes=minutes)
    after = doses_of(db, batch)
    warnings = _weigh_result(db, batch, percent, after, counts=counts)
    return Examined(batch, before, after, len(tested), taken.exchanged, warnings)


def _frozen_before(db: Session, act: Act, batch_id: UUID) -> Batch:
    """The batch, frozen before this act."""
    batch = batch_of(db, batch_id)
    if batch.state != "frozen":
        raise rules.NotFrozen(
            f"Batch {grouped(batch.code)} is only prepared. Log its freeze first."
            if batch.origin == "frozen"
            else f"Batch {grouped(batch.code)} was taken back: it has no straws.",
            batch_code=batch.code,
        )
    frozen_at = store.frozen_at(db, batch)
    if frozen_at is not None and act.occurred_at < frozen_at:
        raise too_early("The batch was frozen only after the time you give.", since=frozen_at)
    return batch


def said_of(done: Examined) -> str:
    """What a result changed, as a person would tell it."""
    before, after = _counted(done.before), _counted(done.after)
    changed = f"It was {before} before and is {after} now."
    return _gone(done.straws_tested) + (changed if before != after else f"It stays {after}.")


def _gone(straws: int) -> str:
    if straws == 0:
        return ""
    one = straws == 1
    return f"{straws} straw{'' if one else 's'} thawed for it {'is' if one else 'are'} gone. "


def _counted(doses: DosesOfBatch) -> str:
    if doses.doses is None or doses.straws_per_dose is None:
        return "no dose"
    dose = "1 dose" if doses.doses == 1 else f"{doses.doses} doses"
    return f"{dose} of {doses.straws_per_dose} straw{'' if doses.straws_per_dose == 1 else 's'}"


_RESULT_FIELD = "progressive_motility_percent"


def _weigh_result(
    db: Session, batch: Batch, percent: Decimal, after: DosesOfBatch, *, counts: bool
) -> list[Warned]:
    remarks = plausibility.weigh([(plausibility.POST_THAW_MOTILITY, Fraction(percent))])
    fresh = batch.collection_progressive_motility_percent
    if fresh is not None:
        remarks += plausibility.weigh_post_thaw(
            post_thaw_percent=Fraction(percent), fresh_percent=Fraction(fresh)
        )
    warnings = plausibility.refuse_impossible(remarks)
    warnings += plausibility.remarks_on_doses(
        bank.dose_rule_of(db, batch.stallion_id),
        bank.quality_of(batch),
        straws=after.straws_stored,
    )
    if not counts:
        message = "A later result is known already; that one counts for the doses."
        warnings.append(Warned("later-result-counts", _RESULT_FIELD, message))
    about_result = plausibility.POST_THAW_MOTILITY.field
    return [
        replace(warned, field=_RESULT_FIELD) if warned.field == about_result else warned
        for warned in warnings
    ]


def hold(db: Session, act: Act, batch_id: UUID, *, reason: str, until: date | None) -> Hold:
    """Hold a batch back: from now on nothing of it is planned or lifted. Raises HoldOver."""
    batch = batch_of(db, batch_id)
    if until is not None and until <= bank.day_of(db, act.recorded_at):
        raise rules.HoldOver(
            f"A hold until {until} would be over by now. Give a later day, or none.",
            errors=[{"field": "until", "message": "must be a day to come"}],
        )
    facts = {"until": until}
    book(db, act, "hold", [], reason=reason, batch_id=batch.id, facts=facts)
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


@dataclass(frozen=True, slots=True)
class Released:
    """A batch without a hold; straws in a quarantined tank still wait to be moved out of it."""

    batch: Batch
    straws_in_quarantine: int
    clearance: Clearance
    warnings: list[Warned]


def release(
    db: Session, act: Act, batch_id: UUID, *, reason: str, override_reason: str | None = None
) -> Released:
    """End every hold of a batch. Raises NotOnHold, PositiveTest, BeforeWhatItFollows."""
    batch = batch_of(db, batch_id)
    standing = store.standing_holds(db, batch.id, bank.day_of(db, act.recorded_at))
    if not standing:
        raise rules.NotOnHold(
            f"Batch {grouped(batch.code)} is not on hold. There is nothing to release.",
            batch_code=batch.code,
        )
    placed_at = max(placed.placed_at for placed in standing)
    if act.occurred_at < placed_at:
        raise too_early("The hold was placed only after the time you give.", since=placed_at)
    day = bank.day_of(db, act.occurred_at)
    clearance = clearance_of(db, batch, day)
    health.refuse_positive(batch, clearance, override_reason=override_reason)
    facts = health.facts_of_release(clearance, override_reason)
    book(db, act, "release", [], reason=reason, batch_id=batch.id, facts=facts)
    for placed in standing:
        placed.released_at = act.occurred_at
        placed.released_by = act.by.id
        placed.released_by_name = act.by.display_name
        placed.release_reason = reason
        db.add(placed)
    db.flush()
    in_quarantine = store.straws_in_quarantine(db, batch.id)
    return Released(batch, in_quarantine, clearance, health.remarks_on_release(clearance))
