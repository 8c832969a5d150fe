"""Withdrawals as they are read."""

from collections.abc import Sequence
from typing import Any

from sqlmodel import Session

from service.bank.store import Mare, Stallion
from service.ledger.history import Plates, plates_of
from service.ledger.rules import StrawNow
from service.ledger.twins import Exchange
from service.ledger.wire import exchanged_out
from service.withdrawals import rules, store
from service.withdrawals.store import Insemination, Withdrawal
from service.withdrawals.wire import (
    InseminationOut,
    OutcomeOut,
    ThawOut,
    ThawStep,
    WithdrawalOut,
    WithdrawnStraw,
)


def withdrawal_out(
    db: Session, withdrawal: Withdrawal, exchanged: Sequence[Exchange] = ()
) -> WithdrawalOut:
    """A withdrawal with its straws, how to thaw them, and what became of them."""
    straws = store.straws_of(db, withdrawal.id)
    batches = store.batches(db, list({straw.batch_id for straw in straws}))
    places = {id for straw in straws for id in (straw.goblet_id, straw.left_goblet_id) if id}
    plates, seq = plates_of(db, places), store.seq_of(db, withdrawal.id)
    inseminations = [insemination_out(db, one) for one in store.inseminations_of(db, withdrawal.id)]
    return WithdrawalOut(
        id=withdrawal.id,
        state=rules.state_of([straw.state for straw in straws], bool(inseminations)),
        stallion_id=withdrawal.stallion_id,
        stallion_name=db.get_one(Stallion, withdrawal.stallion_id).name,
        mare_id=withdrawal.mare_id,
        mare_name=db.get_one(Mare, withdrawal.mare_id).name,
        doses=withdrawal.doses,
        rule=withdrawal.rule,
        straws=[
            WithdrawnStraw(
                code=straw.code if straw.coded else None,
                state=straw.state,
                batch_id=straw.batch_id,
                batch_code=batches[straw.batch_id].code,
                address=_address(straw, plates, seq),
                provisional=straw.provisional,
            )
            for straw in straws
        ],
        thaw=[ThawOut(batch_code=one.code, steps=_steps(one.thaw)) for one in batches.values()],
        exchanged=exchanged_out(exchanged),
        override_reason=withdrawal.override_reason,
        release_reserve=withdrawal.release_reserve,
        owner=withdrawal.owner,
        taken_by=withdrawal.taken_by,
        promise_id=withdrawal.promise_id,
        occurred_at=withdrawal.occurred_at,
        by=withdrawal.by_name,
        insemination=inseminations[-1] if inseminations else None,
        inseminations=inseminations,
    )


def _address(straw: StrawNow, plates: Plates, taken_seq: int) -> str | None:
    """Where it stands, or where it came from: as long as it may go back there, by today's plate."""
    if straw.goblet_id is not None:
        return plates.now(straw.goblet_id)
    if straw.left_goblet_id is None:
        return None
    out = straw.state == "lifted"
    return (
        plates.now(straw.left_goblet_id) if out else plates.after(taken_seq, straw.left_goblet_id)
    )


def _steps(thaw: list[dict[str, Any]] | None) -> list[ThawStep] | None:
    return None if thaw is None else [ThawStep(**step) for step in thaw]


def insemination_out(db: Session, record: Insemination) -> InseminationOut:
    """An insemination and what came of it."""
    outcome = store.newest_outcome(db, record.id)
    return InseminationOut(
        id=record.id,
        withdrawal_id=record.withdrawal_id,
        inseminated_at=record.inseminated_at,
        straws_used=record.straws_used,
        straws_thawed_unused=record.straws_thawed_unused,
        method=record.method,
        note=record.note,
        by=record.by_name,
        outcome=OutcomeOut(id=outcome.id, checked_on=outcome.checked_on, pregnant=outcome.pregnant)
        if outcome
        else None,
    )
