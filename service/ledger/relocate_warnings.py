"""What a goblet or canister will hang beside: refused where it must not be, warned of otherwise."""

from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import select as sa_select
from sqlmodel import Session, col

from service.bank import store as bank
from service.bank.rules import Warned
from service.bank.store import Batch, Canister, Goblet, Tank
from service.kernel.codes import grouped
from service.kernel.database import in_parts
from service.ledger.neighbours import QuarantinedTank
from service.ledger.relocate_rules import Relocation
from service.ledger.store import Stock


def weigh(
    db: Session,
    tank: Tank,
    goblets: Sequence[Goblet],
    relocation: Relocation,
    *,
    now: datetime,
    field: str,
) -> list[Warned]:
    """Warnings about hanging these goblets there; raises QuarantinedTank.

    What is released never goes into a quarantined tank.
    """
    inside = _standing_in(db, [goblet.id for goblet in goblets])
    beside = _standing_beside(db, goblets, relocation)
    today = bank.day_of(db, now)
    held = bank.holds_on(db, today, {batch_id for batch_id, *_ in (*inside, *beside)})
    for batch_id, code, address in inside:
        if tank.quarantine and batch_id not in held:
            raise QuarantinedTank(
                f"{tank.name} is a quarantined tank, and batch {grouped(code)} in goblet {address} "
                "is not on hold. Choose another place, or put the batch on hold first.",
                address=address,
                batch_code=code,
            )
    return [
        *_held_beside_free(inside, beside, held, field),
        *_out_of_quarantine(db, tank, goblets, inside=inside, held=held, field=field),
        *_plates(relocation, field),
    ]


def _standing_in(db: Session, goblet_ids: Sequence[UUID]) -> list[tuple[UUID, str, str]]:
    """The batches in these goblets: (id, code, address of the goblet)."""
    return [
        row for some in in_parts(goblet_ids) for row in _batches_in(db, col(Goblet.id).in_(some))
    ]


def _standing_beside(
    db: Session, goblets: Sequence[Goblet], relocation: Relocation
) -> list[tuple[UUID, str, str]]:
    """The batches in goblets that hang in the same canister afterwards and do not move."""
    moving = {goblet.id for goblet in goblets}
    return [
        row
        for canister_id in {one.after.canister_id for one in relocation.goblets}
        for row in _batches_in(
            db, col(Goblet.canister_id) == canister_id, col(Goblet.id).not_in(moving)
        )
    ]


def _batches_in(db: Session, *conditions: Any) -> list[tuple[UUID, str, str]]:
    rows = db.execute(
        sa_select(col(Batch.id), col(Batch.code), col(Goblet.address))
        .join(Stock, col(Stock.batch_id) == col(Batch.id))
        .join(Goblet, col(Goblet.id) == col(Stock.goblet_id))
        .where(*conditions)
        .order_by(col(Goblet.address), col(Batch.code))
    )
    return [(id, code, address) for id, code, address in rows]


def _held_beside_free(
    inside: Sequence[tuple[UUID, str, str]],
    beside: Sequence[tuple[UUID, str, str]],
    held: Collection[UUID],
    field: str,
) -> list[Warned]:
    for _, _, address in (
        other for other in beside for mine in inside if (other[0] in held) != (mine[0] in held)
    ):
        message = (
            "Straws on hold and straws that are free will hang in one canister: "
            f"beside goblet {address}."
        )
        return [Warned("held-beside-free", field, message)]
    return []


def _out_of_quarantine(
    db: Session,
    tank: Tank,
    goblets: Sequence[Goblet],
    *,
    inside: Sequence[tuple[UUID, str, str]],
    held: Collection[UUID],
    field: str,
) -> list[Warned]:
    """Only the tank kept back what is on no hold of its own."""
    if tank.quarantine or not goblets or all(batch_id in held for batch_id, *_ in inside):
        return []
    before = db.get_one(Tank, db.get_one(Canister, goblets[0].canister_id).tank_id)
    if not before.quarantine:
        return []
    codes = sorted({grouped(code) for batch_id, code, _ in inside if batch_id not in held})
    message = (
        f"Out of the quarantined tank, straws of batch {', '.join(codes)} may be used: "
        "it is not on hold."
    )
    return [Warned("out-of-quarantine", field, message)]


def _plates(relocation: Relocation, field: str) -> list[Warned]:
    """New plates, and addresses that a person had chosen and that end with the old place."""
    changed = [one for one in relocation.goblets if one.before.address != one.after.address]
    if not changed:
        return []
    plates = "1 goblet has" if len(changed) == 1 else f"{len(changed)} goblets have"
    message = (
        f"{plates} a new address. Print the plate anew and change it before anyone looks for "
        "straws there."
    )
    return [
        Warned("plates-out-of-date", field, message),
        *(
            Warned(
                "address-replaced",
                field,
                f"{one.before.address} was an address given by hand; it is {one.after.address} "
                "now, after its place.",
            )
            for one in changed
            if one.by_hand
        ),
    ]
