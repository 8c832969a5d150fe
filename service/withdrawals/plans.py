"""The plan of a withdrawal out of the stock as it stands: what may be used, and the best of it."""

from collections.abc import Hashable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from uuid import UUID

from sqlmodel import Session

from service.bank import store as bank
from service.bank.doses import DoseRule, no_dose_reason
from service.bank.store import Batch, Mare, Stallion
from service.kernel.codes import grouped
from service.ledger.rules import COMMON, NotEnoughStraws, Whose, hold_words
from service.ledger.store import first_codes
from service.withdrawals import promises, rules, store
from service.withdrawals.planning import (
    BatchFacts,
    Cell,
    Plan,
    available,
    doses_after,
    plan_doses,
)


@dataclass(frozen=True, slots=True)
class Wish:
    """How many doses of whom; of one batch only, if that is named; whose straws, for which mare."""

    stallion: Stallion
    doses: int
    batch_id: UUID | None = None
    release_reserve: str | None = None
    whose: Whose = COMMON
    mare: Mare | None = None


@dataclass(frozen=True, slots=True)
class Walk:
    """One stop of the walk: so many straws of a batch, and codes that would do."""

    goblet_id: UUID
    address: str
    batch: Batch
    straws: int
    codes: list[str]


@dataclass(frozen=True, slots=True)
class StockPlan:
    """A plan with what a person needs to see at each stop."""

    straws: int
    progressive_million: Fraction | None
    canister_lifts: int
    picks: list[Walk]
    why: str
    warnings: list[str]


def plan_for(db: Session, wish: Wish, rule: DoseRule, today: date) -> StockPlan:
    """The best plan of this wish.

    Raises NotEnoughStraws with what there is, ReserveReached or Promised when doses kept back would
    be touched without a release.
    """
    batches, cells = _free_cells(db, wish, today)
    facts = [_facts(batch) for batch in batches.values()]
    wanted = [cell for cell in cells if wish.batch_id in (None, cell.batch_id)]
    plan = plan_doses(rule, wanted, facts, wish.doses)
    if plan is None:
        left_out = [
            f"Batch {grouped(batch.code)} is left out: {reason}."
            for batch in batches.values()
            if wish.batch_id in (None, batch.id)
            and (reason := no_dose_reason(rule, bank.quality_of(batch))) is not None
        ]
        raise _not_enough(db, wish, available(rule, wanted, facts), today, left_out)
    if kept := _kept_back(db, wish, today):
        kept.refuse(
            before=available(rule, cells, facts)[1],
            after=doses_after(rule, cells, facts, plan),
        )
    return StockPlan(
        straws=plan.straws,
        progressive_million=plan.progressive_million,
        canister_lifts=plan.canister_lifts,
        picks=_walk(db, plan, batches, wish.whose),
        why=plan.why,
        warnings=list(plan.warnings),
    )


def _kept_back(db: Session, wish: Wish, today: date) -> rules.KeptBack | None:
    if wish.release_reserve is not None or wish.whose.owner is not None:
        return None
    standing = promises.open_promises(db, today, wish.stallion.id)
    return promises.kept_back(wish.stallion, standing, wish.mare)


def _free_cells(db: Session, wish: Wish, today: date) -> tuple[dict[UUID, Batch], list[Cell]]:
    places = store.free_places(db, wish.stallion.id, today, wish.whose)
    cells = [
        Cell(batch.id, goblet.id, canister.id, straws, goblet.address)
        for batch, goblet, canister, straws in places
    ]
    return {batch.id: batch for batch, *_ in places}, cells


def _facts(batch: Batch) -> BatchFacts:
    return BatchFacts(
        batch.id, batch.code, batch.collected_on, bank.quality_of(batch), _thaw(batch)
    )


def _thaw(batch: Batch) -> Hashable | None:
    if batch.thaw is None:
        return None
    return tuple(tuple(sorted(step.items())) for step in batch.thaw)


def _not_enough(
    db: Session, wish: Wish, there_is: tuple[int, int], today: date, left_out: list[str]
) -> NotEnoughStraws:
    straws, doses = there_is
    held = [
        hold_words(grouped(batch.code), hold.reason, hold.until)
        for batch, hold in _held(db, wish, today)
    ]
    return NotEnoughStraws(
        " ".join(
            [
                f"{straws} straws of {wish.stallion.name}{_owned_by(wish.whose)} may be planned; "
                f"they make {doses} "
                f"doses, not {wish.doses}.",
                *(held + left_out)[:3],
            ]
        ),
        available_straws=straws,
        available_doses=doses,
    )


def _owned_by(whose: Whose) -> str:
    return f" that belong to {whose.owner}" if whose.owner else ""


def _held(db: Session, wish: Wish, today: date) -> list[tuple[Batch, bank.Hold]]:
    """His batches in store that are on hold, those in quarantined tanks too."""
    batches = store.stored_batches(db, wish.stallion.id, wish.batch_id)
    held = bank.holds_on(db, today, [batch.id for batch in batches])
    return [(batch, held[batch.id]) for batch in batches if batch.id in held]


def _walk(db: Session, plan: Plan, batches: dict[UUID, Batch], whose: Whose) -> list[Walk]:
    walk = []
    for cell, straws in plan.picks:
        # The planner carries ids as it was given them; here they are UUIDs again.
        assert isinstance(cell.goblet_id, UUID)
        assert isinstance(cell.batch_id, UUID)
        codes = first_codes(db, cell.batch_id, cell.goblet_id, straws, whose)
        walk.append(Walk(cell.goblet_id, cell.address, batches[cell.batch_id], straws, codes))
    return walk
