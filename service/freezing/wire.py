"""What travels: the bodies and answers of the freezing routes."""

from datetime import date, datetime
from fractions import Fraction
from typing import Annotated, Literal
from uuid import UUID

from pydantic import BaseModel, Field

from service.bank.shapes import (
    MOST_STRAWS_A_BATCH,
    BatchName,
    DoseRuleIn,
    Minutes,
    PostThawIn,
    ThawIn,
    WarningOut,
)
from service.edge.fields import (
    Amount,
    Code,
    Count,
    Day,
    EventInput,
    Figure,
    Flag,
    Identifier,
    Input,
    Moment,
    Name,
    Note,
    Percent,
    PositiveAmount,
    PositiveCount,
)
from service.freezing.actions import Freeze, Placement
from service.freezing.calculation import Collection, Filling, StrawCounts
from service.freezing.health_wire import ClearanceOut
from service.ledger.wire import ExchangedOut, PickIn

BatchStraws = Annotated[PositiveCount, Field(le=MOST_STRAWS_A_BATCH, examples=[48])]


class BatchIn(EventInput):
    """A batch to prepare: how many straws are to be marked."""

    stallion_id: Identifier
    straws_planned: BatchStraws
    collected_on: Day | None = None
    straw_volume_ml: PositiveAmount | None = None
    straw_colour: Name | None = None


class CollectionIn(Input):
    """The gel-free ejaculate."""

    volume_ml: Annotated[Amount, Field(examples=[60])]
    concentration_million_per_ml: Annotated[Amount, Field(examples=[200])]
    progressive_motility_percent: Annotated[Amount, Field(examples=[70])]

    def collection(self) -> Collection:
        """As the arithmetic takes it."""
        return Collection(
            volume_ml=Fraction(self.volume_ml),
            concentration_million_per_ml=Fraction(self.concentration_million_per_ml),
            progressive_motility_percent=Fraction(self.progressive_motility_percent),
        )


class FillingIn(Input):
    """What goes into one straw."""

    volume_ml: Annotated[PositiveAmount, Field(examples=[0.5])]
    concentration_million_per_ml: Annotated[PositiveAmount, Field(examples=[200])]

    def filling(self) -> Filling:
        """As the arithmetic takes it."""
        return Filling(
            volume_ml=Fraction(self.volume_ml),
            concentration_million_per_ml=Fraction(self.concentration_million_per_ml),
        )


class CalculationIn(Input):
    """What a collection makes; with a rule or a stallion also how many doses."""

    collection: CollectionIn
    straw: FillingIn
    post_thaw: PostThawIn | None = None
    recovery_percent: Percent | None = None
    dose_rule: Annotated[
        DoseRuleIn | None, Field(description="Goes before the stallion's own rule.")
    ] = None
    stallion_id: Identifier | None = None
    centrifuged: Annotated[
        Flag, Field(description="False where the semen is only diluted, not taken up anew.")
    ] = True


class CalculationOut(BaseModel):
    """Exact figures, unrounded; what is unknown is null."""

    total_million: Figure
    progressive_million: Figure
    straws_possible: int
    volume_ml: Figure
    extender_ml: Figure
    progressive_million_per_straw: Figure | None
    straws_per_dose: int | None
    doses: int | None
    meets_rule: bool | None
    warnings: list[WarningOut]


class PlacementIn(Input):
    """So many straws into a goblet; codes where it is known which."""

    goblet_id: Identifier
    straws: Count
    straw_codes: Annotated[list[Code], Field(max_length=1000, default_factory=list)]

    def placement(self) -> Placement:
        """As the action takes it."""
        return Placement(
            goblet_id=self.goblet_id, straws=self.straws, codes=tuple(self.straw_codes)
        )


class FreezeIn(EventInput):
    """A freeze, as it stands on the bench."""

    batch_id: Identifier | None = None
    stallion_id: Identifier
    collected_at: Moment
    collected_where: Name | None = None
    approval_number: Name | None = None
    collection: CollectionIn
    straw: FillingIn
    recovery_percent: Percent | None = None
    extender: Name | None = None
    post_thaw: PostThawIn | None = None
    thaw: ThawIn | None = None
    straw_colour: Name | None = None
    hold_until: Day | None = None
    straws: Annotated[Count, Field(le=MOST_STRAWS_A_BATCH, examples=[48])]
    straws_spoiled: Annotated[Count, Field(le=MOST_STRAWS_A_BATCH)] = 0
    straws_tested: Annotated[Count, Field(le=MOST_STRAWS_A_BATCH)] = 0
    placements: Annotated[list[PlacementIn], Field(max_length=200)]
    note: Note | None = None

    def freeze(self) -> Freeze:
        """As the action takes it."""
        post_thaw = self.post_thaw
        return Freeze(
            stallion_id=self.stallion_id,
            batch_id=self.batch_id,
            collected_at=self.collected_at,
            collected_where=self.collected_where,
            approval_number=self.approval_number,
            collection=self.collection.collection(),
            straw=self.straw.filling(),
            recovery_percent=self.recovery_percent,
            extender=self.extender,
            post_thaw_percent=post_thaw.progressive_motility_percent if post_thaw else None,
            post_thaw_minutes=post_thaw.minutes if post_thaw else None,
            thaw=self.thaw.steps_kept() if self.thaw else None,
            straw_colour=self.straw_colour,
            hold_until=self.hold_until,
            counts=StrawCounts(
                stored=self.straws, spoiled=self.straws_spoiled, tested=self.straws_tested
            ),
            placements=[placement.placement() for placement in self.placements],
            note=self.note,
        )


class StoredStraw(BaseModel):
    """A straw and where it was put."""

    code: str
    goblet_id: UUID


class FreezeOut(BaseModel):
    """What was booked; `straws` are those stored."""

    id: UUID
    batch: BatchName
    progressive_million_per_straw: Figure | None
    straws_per_dose: int | None
    doses: int | None
    straws: list[StoredStraw]
    warnings: list[WarningOut]


class PreparedStraw(BaseModel):
    """A code to mark a straw with."""

    code: str


class PreparedOut(BaseModel):
    """A prepared batch: print or write its marks before anything is filled."""

    id: UUID
    code: str
    state: str
    straws: list[PreparedStraw]
    warnings: list[WarningOut]


class ProposedPlace(BaseModel):
    """So many straws into this goblet, and why there."""

    goblet_id: UUID
    address: str
    straws: int
    free_straws: int
    why: str


class PlacesOut(BaseModel):
    """Proposed places; `missing_straws` have no room anywhere."""

    placements: list[ProposedPlace]
    missing_straws: int


class StepOut(BaseModel):
    """One bath."""

    water_c: Figure
    seconds: Figure


class ThawOut(BaseModel):
    """The batch's own thaw protocol."""

    steps: list[StepOut]


class PostThawOut(BaseModel):
    """The result that counts."""

    progressive_motility_percent: Figure
    minutes: Figure | None


class BatchStraw(BaseModel):
    """A straw of a batch; `code` is null for one from before labels."""

    code: str | None
    state: str
    goblet_id: UUID | None
    address: str | None
    provisional: bool


class CollectionOut(BaseModel):
    """The gel-free ejaculate."""

    volume_ml: Figure
    concentration_million_per_ml: Figure | None
    progressive_motility_percent: Figure | None


class BatchOut(BaseModel):
    """A batch with its doses as its stallion's rule counts them now, holds and reserve aside.

    `void`: it was prepared or received, and all of that was taken back. `origin`: frozen here,
    here before this book, or received from somebody; what is not known of it is null.
    """

    id: UUID
    code: str
    state: Literal["prepared", "frozen", "void"]
    stallion_id: UUID
    stallion_name: str
    collected_on: date | None
    collected_at: datetime | None
    collected_where: str | None
    approval_number: str | None
    collection: CollectionOut | None
    recovery_percent: Figure | None
    straw_colour: str | None
    straw_volume_ml: Figure | None
    straw_concentration_million_per_ml: Figure | None
    extender: str | None
    straws_planned: int
    straws_prepared: int
    straws_stored: int
    post_thaw: PostThawOut | None
    thaw: ThawOut | None
    progressive_million_per_straw: Figure | None
    straws_per_dose: int | None
    doses: int | None
    on_hold: bool
    hold_reason: str | None
    hold_until: date | None
    freeze_id: UUID | None
    receipt_id: UUID | None
    origin: Literal["frozen", "opening", "received"]
    received_from: str | None
    marks_as_read: str | None
    note: str | None


class BatchWithStraws(BatchOut):
    """A batch, what it needs to leave, and every one of its straws."""

    clearance: ClearanceOut
    straws: list[BatchStraw]


class ResultIn(EventInput):
    """A post-thaw result, and the straws that were thawed for it."""

    progressive_motility_percent: Annotated[Percent, Field(examples=[38])]
    minutes: Minutes | None = None
    picks: Annotated[list[PickIn], Field(max_length=20)] | None = None
    straw_codes: Annotated[list[Code], Field(max_length=100)] | None = None


class DosesOut(BaseModel):
    """Doses of a batch at one moment."""

    straws_stored: int
    progressive_million_per_straw: Figure | None
    straws_per_dose: int | None
    doses: int | None


class ResultOut(BaseModel):
    """What the result changed, in figures and in words."""

    id: UUID
    batch: BatchName
    straws_tested: int
    before: DosesOut
    after: DosesOut
    said: str
    exchanged: list[ExchangedOut]
    warnings: list[WarningOut]
