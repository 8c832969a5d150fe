"""Taking a dose: straws leave the stock for a mare."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from sqlmodel import Session

from service.bank import store as bank
from service.bank.doses import BatchQuality, Straws, judge, most_doses
from service.bank.store import Batch, Mare, Stallion
from service.kernel.acts import Act, Person
from service.kernel.codes import grouped
from service.kernel.errors import Unknown
from service.ledger import picking
from service.ledger.book import book
from service.ledger.holds import refuse_held
from service.ledger.picking import Pick, Taken
from service.ledger.rules import COMMON, Place, Whose, refuse_release_of_others
from service.ledger.twins import Exchange
from service.withdrawals import promises, rules, store
from service.withdrawals.store import Withdrawal


@dataclass(frozen=True, slots=True)
class WithdrawalOrder:
    """What a person wants to take, for whom, and on whose word."""

    stallion_id: UUID
    mare: Mare
    doses: int
    picks: Sequence[Pick] = ()
    codes: Sequence[str] = ()
    override_reason: str | None = None
    release_reserve: str | None = None
    owner: str | None = None
    taken_by: str | None = None


def stallion_of(db: Session, stallion_id: UUID) -> Stallion:
    """The stallion, or Unknown."""
    stallion = db.get(Stallion, stallion_id)
    if stallion is None:
        raise Unknown("There is no such stallion.", stallion_id=stallion_id)
    return stallion


def withdrawal_of(db: Session, withdrawal_id: UUID) -> Withdrawal:
    """The withdrawal, or Unknown."""
    withdrawal = db.get(Withdrawal, withdrawal_id)
    if withdrawal is None:
        raise Unknown("There is no such withdrawal.", withdrawal_id=withdrawal_id)
    return withdrawal


def refuse_reasons_of_others(
    who: Person, *, override_reason: str | None, release_reserve: str | None
) -> None:
    """Raise NotYours or ReserveNotYours for a reason of a role that may not give it."""
    if override_reason is not None and who.role not in ("vet", "manager"):
        raise rules.NotYours(
            "Only a vet or a manager may go below or above the dose rule. "
            "Take what the plan says, or ask one of them to sign in.",
            field="override_reason",
        )
    refuse_release_of_others(who, release_reserve)


def withdraw(
    db: Session, act: Act, order: WithdrawalOrder, today: date
) -> tuple[Withdrawal, list[Exchange]]:
    """Lift straws for a mare: from now on they are out of stock.

    Raises WrongStallion, OnHold, BelowDoseRule, AboveDoseRule, ReserveReached, Promised, NotYours,
    and what `picking.take` and `book` raise.
    """
    refuse_reasons_of_others(
        act.by, override_reason=order.override_reason, release_reserve=order.release_reserve
    )
    stallion = stallion_of(db, order.stallion_id)
    whose = Whose(order.owner)
    taken = picking.take(db, act, picks=order.picks, codes=order.codes, whose=whose)
    rule = bank.dose_rule_of(db, stallion.id)
    batches = store.batches(db, list({straw.batch_id for straw in taken.straws}))
    _refuse_wrong_stallion(taken, batches, stallion)
    refuse_held(db, taken.straws, today)
    rules.refuse_wrong_dose(
        judge(rule, _straws(taken, batches), order.doses), order.override_reason
    )
    # Straws that belong to somebody are theirs: no reserve and no promise is about them.
    common = order.owner is None
    standing = promises.open_promises(db, today, stallion.id) if common else []
    if common and order.release_reserve is None:
        kept = promises.kept_back(stallion, standing, order.mare)
        if kept is not None:
            before = free_straws(db, stallion.id, today)
            kept.refuse(
                before=most_doses(rule, list(before.values())),
                after=most_doses(rule, _without(before, taken)),
            )
    withdrawal = Withdrawal(
        id=act.id,
        stallion_id=stallion.id,
        mare_id=order.mare.id,
        doses=order.doses,
        rule=rules.rule_facts(rule),
        override_reason=order.override_reason,
        release_reserve=order.release_reserve,
        taken_by=order.taken_by,
        owner=order.owner,
        promise_id=promises.kept_by(standing, order.mare),
        occurred_at=act.occurred_at,
        recorded_at=act.recorded_at,
        by_id=act.by.id,
        by_name=act.by.display_name,
    )
    db.add(withdrawal)
    place = Place("lifted", withdrawal_id=withdrawal.id)
    book(
        db,
        act,
        "withdraw",
        taken.to(place),
        reason=order.override_reason or order.release_reserve,
        withdrawal_id=withdrawal.id,
        facts={"mare": order.mare.name, "doses": order.doses, **_reasons(order)},
    )
    return withdrawal, taken.exchanged


def _reasons(order: WithdrawalOrder) -> dict[str, str]:
    reasons = {
        "override_reason": order.override_reason,
        "release_reserve": order.release_reserve,
        "owner": order.owner,
        "taken_by": order.taken_by,
    }
    return {name: reason for name, reason in reasons.items() if reason is not None}


def _straws(taken: Taken, batches: dict[UUID, Batch]) -> Straws:
    return [
        (bank.quality_of(batch), sum(straw.batch_id == batch.id for straw in taken.straws))
        for batch in batches.values()
    ]


def _refuse_wrong_stallion(taken: Taken, batches: dict[UUID, Batch], stallion: Stallion) -> None:
    for straw in taken.straws:
        batch = batches[straw.batch_id]
        if batch.stallion_id != stallion.id:
            raise rules.WrongStallion(
                f"Straw {grouped(straw.code)} is not of {stallion.name}. Put it back at once, "
                "and read the mark on the straw before you take another.",
                straw_code=straw.code,
                batch_code=batch.code,
                stallion_id=batch.stallion_id,
            )


def _without(before: Mapping[UUID, tuple[BatchQuality, int]], taken: Taken) -> Straws:
    gone = Counter(straw.batch_id for straw in taken.straws)
    return [(quality, straws - gone[batch]) for batch, (quality, straws) in before.items()]


def free_straws(
    db: Session, stallion_id: UUID, today: date
) -> dict[UUID, tuple[BatchQuality, int]]:
    """What may be used of a stallion's common stock, by batch: neither held nor in quarantine."""
    free: dict[UUID, tuple[BatchQuality, int]] = {}
    for batch, _, _, straws in store.free_places(db, stallion_id, today, COMMON):
        quality, before = free.get(batch.id, (bank.quality_of(batch), 0))
        free[batch.id] = (quality, before + straws)
    return free


def identify(
    db: Session, act: Act, withdrawal_id: UUID, codes: Sequence[str]
) -> tuple[Withdrawal, list[Exchange]]:
    """Make certain which straws a withdrawal took."""
    withdrawal = withdrawal_of(db, withdrawal_id)
    return withdrawal, picking.identify(db, act, withdrawal.id, codes)
