"""Straws that this bank sent away and that come back: to their own batch, by the codes on them."""

from collections.abc import Collection, Sequence
from uuid import UUID

from sqlmodel import Session, col

from service.bank import plausibility
from service.bank import store as bank
from service.bank.store import Batch
from service.kernel.acts import Act
from service.kernel.codes import grouped
from service.ledger import picking
from service.ledger import store as ledger
from service.ledger.batch_doses import stored_by_batch
from service.ledger.book import book
from service.ledger.neighbours import weigh_places
from service.ledger.rules import Movement, Place, PlacementsDoNotAddUp, StrawGone, StrawNow
from service.ledger.store import Straw
from service.ledger.twins import Exchange
from service.transfers import receipts
from service.transfers import receipts_rules as rules
from service.transfers.receipts import Receipt, Received


def find(db: Session, receipt: Receipt) -> Batch | None:
    """The batch that straws come back to; None when all of their codes are new here.

    Raises what `receipts.refuse_misplaced` raises, OneBatchAReceipt, CodeTaken.
    """
    codes = receipts.refuse_misplaced(db, receipt)
    known = ledger.straws_by_code(db, codes)
    batches = {straw.batch_id for straw in known.values()}
    if receipt.kind == "opening" or not _sent_away(db, known.values(), batches):
        return None
    if len(known) < len(codes) or len(batches) > 1:
        raise rules.OneBatchAReceipt(
            "These codes are of several batches, or some of them are new here. Book each batch as "
            "a receipt of its own.",
            codes_known=sorted(known),
        )
    return db.get_one(Batch, batches.pop())


def _sent_away(db: Session, known: Collection[StrawNow], batches: Collection[UUID]) -> bool:
    """Whether any of these straws was dispatched, or may have been in a twin's stead."""
    if any(straw.state == "dispatched" for straw in known):
        return True
    by_count = (col(Straw.state) == "dispatched", col(Straw.provisional).is_(True))
    return any(ledger.straws_where(db, col(Straw.batch_id).in_(batches), *by_count))


def take_back(db: Session, act: Act, receipt: Receipt, batch: Batch) -> Received:
    """Put straws that were dispatched back in store, as the very straws they are.

    A code that the book still has in store changes places with a twin that was dispatched by count.
    Raises WrongStallion, KnownAlready, PlacementsDoNotAddUp, CodeTaken, QuarantinedTank, GobletFull
    and what else `book` raises.
    """
    _refuse_other_facts(receipt, batch)
    places = _places(receipt)
    exchanged = _as_dispatched(db, act, batch, list(places))
    today = bank.day_of(db, act.recorded_at)
    warnings = weigh_places(db, batch, set(places.values()), today, field="placements")
    straws = ledger.straws_by_code(db, places)
    book(
        db,
        act,
        "receive",
        [
            Movement(straws[code], Place("stored", goblet_id=goblet_id))
            for code, goblet_id in places.items()
        ],
        facts={
            "kind": receipt.kind,
            "from": receipt.came_from,
            "batch_code": batch.code,
            "came_back": len(places),
            "note": receipt.note,
        },
    )
    rule = bank.dose_rule_of(db, batch.stallion_id)
    stored = stored_by_batch(db, [batch.id])[batch.id]
    warnings += plausibility.remarks_on_doses(rule, bank.quality_of(batch), straws=stored)
    return Received(batch, list(places.items()), warnings, exchanged)


def _refuse_other_facts(receipt: Receipt, batch: Batch) -> None:
    if batch.stallion_id != receipt.stallion_id:
        raise rules.WrongStallion(
            f"These straws are of batch {grouped(batch.code)}, which is another stallion's than "
            "the one named. Read the labels again.",
            batch_code=batch.code,
            stallion_id=batch.stallion_id,
        )
    said = [name for name in _OF_THE_BATCH if getattr(receipt, name) is not None]
    if said:
        raise rules.KnownAlready(
            f"These straws come back to batch {grouped(batch.code)}; what is known of it stands "
            f"there. Leave out: {', '.join(said)}.",
            batch_code=batch.code,
        )


#: What a receipt says of straws that nobody knew before.
_OF_THE_BATCH = (
    *("marks_as_read", "collected_on", "collected_where", "approval_number", "straw_volume_ml"),
    *("straw_concentration_million_per_ml", "post_thaw_percent", "thaw", "straw_colour", "owner"),
    *("hold_until", "hold_reason"),
)


def _places(receipt: Receipt) -> dict[str, UUID]:
    """Where each straw goes, by code."""
    for put in receipt.placements:
        if len(put.codes) != put.straws:
            raise PlacementsDoNotAddUp(
                f"{put.straws} straws come back to a place, and {len(put.codes)} codes are named. "
                "Straws come back by their codes: scan every one.",
                goblet_id=put.goblet_id,
            )
    return {
        picking.straw_code(text): put.goblet_id for put in receipt.placements for text in put.codes
    }


def _as_dispatched(db: Session, act: Act, batch: Batch, codes: Sequence[str]) -> list[Exchange]:
    """Make the book say of each code that it was dispatched, where the hand took another twin."""
    away = ledger.straws_where(
        db, col(Straw.batch_id) == batch.id, col(Straw.state) == "dispatched"
    )
    try:
        return picking.exchange_into(db, act, codes, away, open_ones=away)
    except StrawGone as gone:
        code, state = gone.facts["straw_code"], gone.facts["state"]
        raise rules.CodeTaken(
            f"Straw {grouped(code)} was not sent away: it is {state}. Read its label again, or "
            "book first what happened to it.",
            straw_code=code,
            state=state,
        ) from None
