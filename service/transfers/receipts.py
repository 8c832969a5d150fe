"""Straws that were not frozen here under this book: opening stock, and what others send.

A receipt is one entry. It makes the straws straight into their goblets, as one batch; what nobody
knows of them stays unknown. Straws that this bank sent away itself come back to their own batch.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from itertools import islice
from uuid import UUID

from sqlmodel import Session, col, select

from service.bank import plausibility
from service.bank import store as bank
from service.bank.actions import stallion_of
from service.bank.rules import Warned
from service.bank.search import fresh_codes
from service.bank.store import Batch, Goblet, Hold, PostThaw, Stallion
from service.kernel.acts import Act
from service.kernel.codes import Kind as CodeKind
from service.kernel.codes import grouped
from service.kernel.database import in_parts
from service.ledger import store as ledger
from service.ledger.book import book
from service.ledger.neighbours import weigh_places
from service.ledger.picking import straw_code
from service.ledger.rules import (
    Movement,
    Place,
    PlacementsDoNotAddUp,
    SameCodeTwice,
    StrawNow,
    UnknownGoblet,
    new_straw,
)
from service.ledger.store import Straw
from service.ledger.twins import Exchange
from service.transfers import receipts_rules as rules
from service.transfers.receipts_rules import Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Put:
    """So many straws into a goblet; `codes` are those their labels bear."""

    goblet_id: UUID
    straws: int
    codes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """Everything that is said of straws that come in; what is None is not known.

    `coded`: each straw bears a label, or will: without it they have codes that nobody sees.
    `thaw` is as a batch keeps it. `hold_until` or `hold_reason` puts the batch on hold.
    """

    kind: Kind
    stallion_id: UUID
    straws: int
    placements: Sequence[Put]
    coded: bool = False
    came_from: str | None = None
    marks_as_read: str | None = None
    collected_on: date | None = None
    collected_where: str | None = None
    approval_number: str | None = None
    straw_volume_ml: Decimal | None = None
    straw_concentration_million_per_ml: Decimal | None = None
    post_thaw_percent: Decimal | None = None
    post_thaw_minutes: Decimal | None = None
    thaw: list[dict[str, str]] | None = None
    straw_colour: str | None = None
    owner: str | None = None
    hold_until: date | None = None
    hold_reason: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Received:
    """A receipt as it was booked; `stored` are the codes of its straws, none without labels.

    `exchanged` are twins that changed places where straws came back.
    """

    batch: Batch
    stored: list[tuple[str, UUID]]
    warnings: list[Warned]
    exchanged: list[Exchange] = field(default_factory=list)


def receive(db: Session, act: Act, receipt: Receipt) -> Received:
    """Book straws that come in as a new batch, with one entry.

    Raises UnknownStallion, Implausible, PlacementsDoNotAddUp, CodesWithoutLabels, SameCodeTwice,
    CodeTaken, UnknownGoblet, QuarantinedTank, GobletFull and what else `book` raises.
    """
    stallion = stallion_of(db, receipt.stallion_id)
    today = bank.day_of(db, act.recorded_at)
    warnings = _weigh(db, act, receipt, stallion, today)
    named = refuse_misplaced(db, receipt)
    _refuse_taken(db, named)
    batch = _batch_of(db, act, receipt, stallion)
    db.add(batch)
    db.flush()
    warnings += _keep_beside(db, act, receipt, batch, today)
    goblets = [put.goblet_id for put in receipt.placements]
    warnings += weigh_places(db, batch, goblets, today, field="placements")
    movements = _movements(db, act, receipt, batch)
    facts = rules.entry_facts(
        batch.model_dump(),
        stored=receipt.straws,
        coded=receipt.coded,
        hold_until=receipt.hold_until,
        hold_reason=receipt.hold_reason,
    )
    facts["owner"] = receipt.owner
    book(db, act, "receive", movements, batch_id=batch.id, facts=facts)
    rule = bank.dose_rule_of(db, stallion.id)
    warnings += plausibility.remarks_on_doses(rule, bank.quality_of(batch), straws=receipt.straws)
    stored = [(m.straw.code, m.to.goblet_id) for m in movements if m.to.goblet_id]
    return Received(batch, stored if receipt.coded else [], warnings)


def _weigh(
    db: Session, act: Act, receipt: Receipt, stallion: Stallion, today: date
) -> list[Warned]:
    """What is odd about what is known, and what is not known. Raises Implausible."""
    remarks = plausibility.weigh_incoming(
        straw_volume_ml=receipt.straw_volume_ml,
        concentration_million_per_ml=receipt.straw_concentration_million_per_ml,
        post_thaw_percent=receipt.post_thaw_percent,
        collected_on=receipt.collected_on,
        received_on=bank.day_of(db, act.occurred_at),
        today=today,
        foaled_on=stallion.foaled_on,
        died_on=stallion.died_on,
    )
    return plausibility.refuse_impossible(remarks) + rules.weigh_unknown(
        kind=receipt.kind,
        collected_on=receipt.collected_on,
        collected_where=receipt.collected_where,
        approval_number=receipt.approval_number,
        marks_as_read=receipt.marks_as_read,
        thaw_known=receipt.thaw is not None,
        came_from=receipt.came_from,
        coded=receipt.coded,
    )


def refuse_misplaced(db: Session, receipt: Receipt) -> list[str]:
    """The codes that are named for these straws, read; the places add up and exist.

    Raises PlacementsDoNotAddUp, UnknownGoblet, MisreadCode, NotAStraw, SameCodeTwice,
    CodesWithoutLabels.
    """
    placed = sum(put.straws for put in receipt.placements)
    if receipt.straws < 1 or any(put.straws < max(1, len(put.codes)) for put in receipt.placements):
        raise PlacementsDoNotAddUp(
            "Each place takes at least one straw, and no more codes than straws. Correct the count."
        )
    if placed != receipt.straws:
        raise PlacementsDoNotAddUp(
            f"{receipt.straws} straws come in, but the places take {placed}. "
            "Change the count or the places.",
            straws=receipt.straws,
            straws_placed=placed,
        )
    _refuse_unknown(db, {put.goblet_id for put in receipt.placements})
    codes = [straw_code(text) for put in receipt.placements for text in put.codes]
    if codes and not receipt.coded:
        raise rules.CodesWithoutLabels(
            "Codes are named, but `coded` says that these straws have none. Send `coded: true`, or "
            "leave the codes out."
        )
    [(most, times)] = Counter(codes).most_common(1) or [("", 0)]
    if times > 1:
        message = f"Straw {grouped(most)} is named twice. Name each straw once."
        raise SameCodeTwice(message, straw_code=most)
    return codes


def _refuse_unknown(db: Session, goblet_ids: set[UUID]) -> None:
    known = {
        id
        for some in in_parts(goblet_ids)
        for id in db.exec(select(Goblet.id).where(col(Goblet.id).in_(some)))
    }
    for goblet_id in sorted(goblet_ids - known):
        raise UnknownGoblet(
            "There is no such goblet. Choose one of the proposed places.", goblet_id=goblet_id
        )


def _refuse_taken(db: Session, codes: Sequence[str]) -> None:
    for straw in ledger.straws_by_code(db, codes).values():
        raise rules.CodeTaken(
            f"The code {grouped(straw.code)} stands for another straw here, which is "
            f"{straw.state}. Read the label again.",
            straw_code=straw.code,
            state=straw.state,
        )


def _batch_of(db: Session, act: Act, receipt: Receipt, stallion: Stallion) -> Batch:
    """What is said of these straws, and nothing else: the station's own defaults are not theirs."""
    [code] = fresh_codes(db, col(Batch.code), CodeKind.BATCH, 1, act.draw)
    return Batch(
        id=act.new_id(),
        code=code,
        stallion_id=stallion.id,
        state="frozen",
        straws_planned=receipt.straws,
        created_at=act.recorded_at,
        origin=receipt.kind,
        receipt_id=act.id,
        received_from=receipt.came_from,
        marks_as_read=receipt.marks_as_read,
        collected_on=receipt.collected_on,
        collected_where=receipt.collected_where,
        approval_number=receipt.approval_number,
        straw_volume_ml=receipt.straw_volume_ml,
        straw_concentration_million_per_ml=receipt.straw_concentration_million_per_ml,
        straw_colour=receipt.straw_colour,
        post_thaw_percent=receipt.post_thaw_percent,
        post_thaw_minutes=receipt.post_thaw_minutes,
        thaw=receipt.thaw,
        note=receipt.note,
    )


def _keep_beside(
    db: Session, act: Act, receipt: Receipt, batch: Batch, today: date
) -> list[Warned]:
    """The post-thaw result that came with the straws, and the hold they are put on."""
    if receipt.post_thaw_percent is not None:
        db.add(
            PostThaw(
                id=act.id,
                batch_id=batch.id,
                progressive_motility_percent=receipt.post_thaw_percent,
                minutes=receipt.post_thaw_minutes,
                examined_at=act.occurred_at,
                recorded_at=act.recorded_at,
                recorded_by=act.by.id,
                recorded_by_name=act.by.display_name,
            )
        )
    until = receipt.hold_until
    if until is None and receipt.hold_reason is None:
        return []
    if until is not None and until <= today:
        message = f"A hold until {until} is over by now: the batch is free to use."
        return [Warned("hold-over", "hold_until", message)]
    db.add(
        Hold(
            id=act.id,
            batch_id=batch.id,
            reason=receipt.hold_reason or "as set when the straws came in",
            until=until,
            placed_at=act.occurred_at,
            placed_by=act.by.id,
            placed_by_name=act.by.display_name,
        )
    )
    db.flush()
    return []


def _movements(db: Session, act: Act, receipt: Receipt, batch: Batch) -> list[Movement]:
    """Every straw into its goblet: under the code on its label, or under a new one."""
    read = [[straw_code(text) for text in put.codes] for put in receipt.placements]
    wanted = receipt.straws - sum(map(len, read))
    named_ones = {code for codes in read for code in codes}
    drawn = fresh_codes(db, col(Straw.code), CodeKind.STRAW, wanted, act.draw, but=named_ones)
    fresh = iter(sorted(drawn))
    movements = []
    for put, named in zip(receipt.placements, read, strict=True):
        place = Place("stored", goblet_id=put.goblet_id)
        codes = [*named, *islice(fresh, put.straws - len(named))]
        movements += [Movement(_new(act, receipt, batch, code), place) for code in codes]
    return movements


def _new(act: Act, receipt: Receipt, batch: Batch, code: str) -> StrawNow:
    return new_straw(
        code, batch.id, since=act.occurred_at, coded=receipt.coded, owner=receipt.owner
    )
