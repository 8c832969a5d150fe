"""Doses that are promised to a mare or an owner: kept back from everybody else until their day.

A promise is about the common stock; straws that belong to somebody are theirs anyway. It is kept by
withdrawals for that mare, or for a mare of that owner, and what was put back counts again.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from sqlalchemy import exists, func, or_
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.bank.actions import mare_of
from service.bank.rules import folded
from service.bank.store import Mare, Promise, Stallion
from service.kernel.acts import Act
from service.ledger.book import book
from service.ledger.store import Straw
from service.withdrawals import rules
from service.withdrawals.store import Withdrawal


@dataclass(frozen=True, slots=True)
class OpenPromise:
    """A promise that stands, to whom, and how many of its doses are still to be taken."""

    promise: Promise
    to: str
    doses_left: int


@dataclass(frozen=True, slots=True)
class NewPromise:
    """So many doses of whom, for whom: a mare of the book, or an owner by name."""

    stallion_id: UUID
    doses: int
    mare_id: UUID | None = None
    owner: str | None = None
    until: date | None = None
    note: str | None = None


def promise(db: Session, act: Act, asked: NewPromise, today: date) -> OpenPromise:
    """Keep doses back. More than there are may be promised: next season's are not frozen yet.

    Raises PromiseOver for a day that is past.
    """
    if asked.until is not None and asked.until < today:
        raise rules.PromiseOver(
            f"A promise until {asked.until} would be over by now. Give a later day, or none.",
            errors=[{"field": "until", "message": "lies in the past"}],
        )
    to = mare_of(db, asked.mare_id).name if asked.mare_id else asked.owner
    kept = Promise(
        id=act.id,
        stallion_id=asked.stallion_id,
        mare_id=asked.mare_id,
        owner=asked.owner,
        doses=asked.doses,
        until=asked.until,
        note=asked.note,
        made_at=act.recorded_at,
        by_id=act.by.id,
        by_name=act.by.display_name,
    )
    db.add(kept)
    db.flush()
    facts = {
        "stallion_id": asked.stallion_id,
        "to": to,
        "doses": asked.doses,
        "until": asked.until,
    }
    book(db, act, "promise", [], reason=asked.note, facts=facts)
    return OpenPromise(kept, to or "", asked.doses)


def end_promise(db: Session, act: Act, promise_id: UUID, reason: str) -> Promise:
    """The doses are anybody's again. Raises UnknownPromise, PromiseEnded."""
    kept = db.get(Promise, promise_id)
    if kept is None:
        raise rules.UnknownPromise("There is no such promise. Choose one of the list.")
    if kept.ended_at is not None:
        raise rules.PromiseEnded(
            f"{kept.ended_by_name} ended this promise before: {kept.end_reason}.",
            ended_at=kept.ended_at,
        )
    kept.ended_at = act.recorded_at
    kept.ended_by_name = act.by.display_name
    kept.end_reason = reason
    db.add(kept)
    book(db, act, "promise-end", [], reason=reason, facts={"promise_id": kept.id})
    return kept


def open_promises(db: Session, today: date, stallion_id: UUID | None = None) -> list[OpenPromise]:
    """The promises that stand today and are not yet kept in full, the oldest first."""
    query = (
        select(Promise)
        .where(col(Promise.ended_at).is_(None))
        .where(or_(col(Promise.until).is_(None), col(Promise.until) >= today))
        .order_by(col(Promise.made_at), col(Promise.id))
    )
    if stallion_id is not None:
        query = query.where(Promise.stallion_id == stallion_id)
    standing = db.exec(query).all()
    taken = _doses_taken(db, [one.id for one in standing])
    return [
        OpenPromise(one, promised_to(db, one), one.doses - taken.get(one.id, 0))
        for one in standing
        if one.doses > taken.get(one.id, 0)
    ]


def promised_to(db: Session, one: Promise) -> str:
    """The mare's name, or the owner's."""
    return db.get_one(Mare, one.mare_id).name if one.mare_id else one.owner or ""


def _doses_taken(db: Session, promise_ids: Sequence[UUID]) -> dict[UUID, int]:
    """Doses of withdrawals that keep these promises; one that was put back whole keeps nothing."""
    if not promise_ids:
        return {}
    still = exists().where(col(Straw.withdrawal_id) == col(Withdrawal.id))
    rows = db.execute(
        sa_select(col(Withdrawal.promise_id), func.sum(Withdrawal.doses))
        .where(col(Withdrawal.promise_id).in_(promise_ids), still)
        .group_by(col(Withdrawal.promise_id))
    )
    return {promise_id: int(doses) for promise_id, doses in rows}


def meant_for(one: OpenPromise, mare: Mare | None) -> bool:
    """Whether a dose for this mare keeps the promise."""
    if mare is None:
        return False
    if one.promise.mare_id is not None:
        return one.promise.mare_id == mare.id
    return mare.owner is not None and folded(mare.owner) == folded(one.promise.owner or "")


def kept_by(standing: Sequence[OpenPromise], mare: Mare) -> UUID | None:
    """The promise that a dose for this mare keeps: one to herself before one to her owner."""
    meant = [one.promise for one in standing if meant_for(one, mare)]
    return min(meant, key=lambda one: one.mare_id is None).id if meant else None


def kept_back(
    stallion: Stallion, standing: Sequence[OpenPromise], mare: Mare | None
) -> rules.KeptBack | None:
    """The stallion's doses that are kept from this mare by reserve and promises, if there are any.

    Nothing is kept back of straws that belong to somebody, nor from a manager who releases it.
    """
    others = [one for one in standing if not meant_for(one, mare)]
    if not others and not stallion.reserve_doses:
        return None
    return rules.KeptBack(
        stallion.reserve_doses,
        sum(one.doses_left for one in others),
        ", ".join(
            f"{one.doses_left} to {one.to}"
            + (f" until {one.promise.until:%d %b %Y}" if one.promise.until else "")
            for one in others
        ),
    )
