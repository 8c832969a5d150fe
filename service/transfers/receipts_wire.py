"""What travels: the body and answer of a receipt."""

from typing import Annotated
from uuid import UUID

from pydantic import BaseModel, Field

from service.bank.shapes import MOST_STRAWS_A_BATCH, BatchName, PostThawIn, ThawIn, WarningOut
from service.edge.fields import (
    Code,
    Count,
    Day,
    EventInput,
    Figure,
    Flag,
    Identifier,
    Input,
    Name,
    Note,
    PositiveAmount,
    PositiveCount,
    Reason,
)
from service.ledger.wire import ExchangedOut
from service.transfers.receipts import Put, Receipt
from service.transfers.receipts_rules import Kind


class PutIn(Input):
    """So many straws into a goblet, and the codes that their labels bear."""

    goblet_id: Identifier
    straws: Annotated[Count, Field(le=MOST_STRAWS_A_BATCH)]
    straw_codes: Annotated[list[Code], Field(max_length=1000, default_factory=list)]

    def put(self) -> Put:
        """As the action takes it."""
        return Put(goblet_id=self.goblet_id, straws=self.straws, codes=tuple(self.straw_codes))


class StrawIn(Input):
    """What is known of one straw."""

    volume_ml: Annotated[PositiveAmount | None, Field(examples=[0.5])] = None
    concentration_million_per_ml: Annotated[PositiveAmount | None, Field(examples=[200])] = None


class ReceiptIn(EventInput):
    """Straws that were not frozen here under this book; what nobody knows is left out.

    `opening`: they were here before the book was. `coded`: each has a label of this bank, or will
    get one; codes in `placements` are those the labels bear. Straws that this bank dispatched come
    back by their codes, to their own batch.
    """

    kind: Kind
    stallion_id: Identifier
    from_: Annotated[Name | None, Field(alias="from", description="Who sent them.")] = None
    marks_as_read: Annotated[Name | None, Field(description="What stands on the straws.")] = None
    collected_on: Day | None = None
    collected_where: Name | None = None
    approval_number: Name | None = None
    straw: StrawIn | None = None
    post_thaw: PostThawIn | None = None
    thaw: ThawIn | None = None
    straw_colour: Name | None = None
    owner: Name | None = None
    hold_until: Day | None = None
    hold_reason: Reason | None = None
    straws: Annotated[PositiveCount, Field(le=MOST_STRAWS_A_BATCH, examples=[24])]
    placements: Annotated[list[PutIn], Field(max_length=200)]
    coded: Flag = False
    note: Note | None = None

    def receipt(self, owner: str | None) -> Receipt:
        """As the action takes it, with the owner as he is spelled in the book."""
        straw, post_thaw = self.straw or StrawIn(), self.post_thaw
        return Receipt(
            kind=self.kind,
            stallion_id=self.stallion_id,
            straws=self.straws,
            placements=[put.put() for put in self.placements],
            coded=self.coded,
            came_from=self.from_,
            marks_as_read=self.marks_as_read,
            collected_on=self.collected_on,
            collected_where=self.collected_where,
            approval_number=self.approval_number,
            straw_volume_ml=straw.volume_ml,
            straw_concentration_million_per_ml=straw.concentration_million_per_ml,
            post_thaw_percent=post_thaw.progressive_motility_percent if post_thaw else None,
            post_thaw_minutes=post_thaw.minutes if post_thaw else None,
            thaw=self.thaw.steps_kept() if self.thaw else None,
            straw_colour=self.straw_colour,
            owner=owner,
            hold_until=self.hold_until,
            hold_reason=self.hold_reason,
            note=self.note,
        )


class ReceivedStraw(BaseModel):
    """A straw with a label, and where it was put."""

    code: str
    goblet_id: UUID


class ReceiptOut(BaseModel):
    """What was booked. `straws` have codes to print or read; without labels there are none.

    `came_back`: the batch was in this book before.
    """

    id: UUID
    batch: BatchName
    came_back: bool
    progressive_million_per_straw: Figure | None
    straws_per_dose: int | None
    doses: int | None
    straws: list[ReceivedStraw]
    exchanged: list[ExchangedOut]
    warnings: list[WarningOut]
