"""What the routes of stock-takes take and answer."""

from datetime import datetime
from decimal import Decimal
from typing import Annotated, Any, Literal
from uuid import UUID

from pydantic import BaseModel, ConfigDict, Field, StrictInt, StrictStr, model_validator

from service.audits.rules import DifferenceClass, ReasonCode, TakeState
from service.edge.fields import (
    Code,
    Count,
    EventInput,
    Figure,
    Flag,
    Identifier,
    Input,
    Moment,
    Name,
    Note,
    Percent,
    Reason,
)


def example(values: dict[str, Any]) -> ConfigDict:
    """An example for the API's description."""
    return ConfigDict(json_schema_extra={"examples": [values]})


class SampleIn(Input):
    """A random sample, sized so that it finds a bank in which so many of the goblets are wrong."""

    confidence_percent: Annotated[Percent, Field(ge=50, lt=100)] | None = None
    detect_percent: Annotated[Percent, Field(gt=0)] | None = None


class ScopeIn(Input):
    """Some tanks, some goblets, or a sample; without any of them the whole bank."""

    tank_ids: Annotated[list[Identifier], Field(min_length=1, max_length=1_000)] | None = None
    goblet_ids: Annotated[list[Identifier], Field(min_length=1, max_length=20_000)] | None = None
    sample: SampleIn | None = None

    @model_validator(mode="after")
    def one_way(self) -> "ScopeIn":
        """Only one of the three."""
        if sum(one is not None for one in (self.tank_ids, self.goblet_ids, self.sample)) > 1:
            raise ValueError("name tanks, goblets or a sample, not several of them")
        return self


class StockTakeIn(EventInput):
    """Open a stock-take."""

    model_config = example(
        {"scope": {"sample": {"confidence_percent": 95, "detect_percent": 2}}, "blind": True}
    )

    scope: ScopeIn
    blind: Flag = True


class BatchCountIn(Input):
    """So many straws of a batch, by its id or by the code on their marks."""

    batch_id: Identifier | None = None
    batch_code: Code | None = None
    straws: Count

    @model_validator(mode="after")
    def named_once(self) -> "BatchCountIn":
        """One of the two."""
        if (self.batch_id is None) == (self.batch_code is None):
            raise ValueError("name the batch by its id or by its code")
        return self


class CountIn(EventInput):
    """What stands in a goblet: by number for each batch, or by scanning every straw.

    `batches: []` is an empty goblet. With `straw_codes`, `batches` are straws without a code beside
    them. `occurred_at` is when the count ended.
    """

    model_config = example(
        {
            "goblet_id": "01937c5e-8a00-7000-8000-000000000001",
            "batches": [{"batch_code": "B00000000", "straws": 24}],
            "unreadable": 0,
        }
    )

    goblet_id: Identifier
    started_at: Moment | None = None
    batches: Annotated[list[BatchCountIn], Field(max_length=500)] | None = None
    straw_codes: Annotated[list[StrictStr], Field(max_length=5_000)] | None = None
    unreadable: Count = 0
    foreign: Annotated[list[Name], Field(max_length=500)] = Field(default_factory=list)

    @model_validator(mode="after")
    def counted_somehow(self) -> "CountIn":
        """By number, by scanning, or both."""
        if self.batches is None and self.straw_codes is None:
            raise ValueError("send batches (an empty list for an empty goblet) or straw_codes")
        return self


class RecountsIn(EventInput):
    """Goblets to count again, best by somebody else."""

    goblet_ids: Annotated[list[Identifier], Field(min_length=1, max_length=20_000)]


class AdjustmentIn(EventInput):
    """What to do about a difference; `difference` is counted less expected."""

    model_config = example(
        {
            "goblet_id": "01937c5e-8a00-7000-8000-000000000001",
            "batch_id": "01937c5e-8a00-7000-8000-000000000002",
            "difference": -2,
            "reason_code": "unrecorded-use",
            "note": "Taken on Saturday night for Rosehip; the vet confirms",
        }
    )

    goblet_id: Identifier
    batch_id: Identifier
    other_goblet_id: Annotated[
        Identifier | None,
        Field(description="The goblet in which those straws stand instead: they are moved."),
    ] = None
    difference: StrictInt
    reason_code: ReasonCode
    note: Reason


class CompareIn(EventInput):
    """Compare now."""


class ApproveIn(EventInput):
    """Approve it."""


class ReviewIn(EventInput):
    """A signature: what it means, and a note."""

    meaning: Reason
    note: Note | None = None


class CloseIn(EventInput):
    """Close and sign; `note` says why differences are left open, if some are."""

    note: Reason | None = None


class PlanChange(Input):
    """How this station counts; what is left out stays."""

    unexplained_straws: Annotated[StrictInt, Field(ge=0, le=1_000)] = 2
    unexplained_straws_a_year: Annotated[StrictInt, Field(ge=0, le=10_000)] = 4
    count_every_days: Annotated[StrictInt, Field(ge=1, le=3_650)] = 180
    confidence_percent: Annotated[Percent, Field(ge=50, lt=100)] = Decimal(95)
    detect_percent: Annotated[Percent, Field(gt=0)] = Decimal(2)


class PlanOut(BaseModel):
    """How this station counts."""

    unexplained_straws: int
    unexplained_straws_a_year: int
    count_every_days: int
    confidence_percent: Figure
    detect_percent: Figure


class CountOut(BaseModel):
    """A count as it is read back: never beside what the book expects."""

    id: UUID
    goblet_id: UUID
    round: int
    started_at: datetime
    counted_at: datetime
    by: str
    not_blind: bool


class CountedOut(BaseModel):
    """What was kept of a count, for whoever counted."""

    id: UUID
    goblet_id: UUID
    address: str
    straws: int
    unreadable: int
    foreign: list[str]
    left_to_count: int


class TakeGobletOut(BaseModel):
    """A goblet of a stock-take, and whether it was counted in this round."""

    goblet_id: UUID
    address: str
    tank_id: UUID
    tank_name: str
    rounds: int
    state: Literal["to-count", "counted"]
    counted_by: str | None
    counted_at: datetime | None


class RecentOut(BaseModel):
    """An act on the goblet and batch of a difference."""

    seq: int
    kind: str
    occurred_at: datetime
    by: str
    change: int


class StoryOut(BaseModel):
    """What may have happened, the likeliest first."""

    rank: int
    kind: str
    words: str
    entry_seq: int | None


class DifferenceOut(BaseModel):
    """Where count and book do not agree; `open` is what no adjustment accounts for yet."""

    id: UUID
    goblet_id: UUID
    address: str
    batch_id: UUID | None
    batch_code: str | None
    stallion_name: str | None
    expected: int
    counted: int
    difference: int
    kind: Annotated[DifferenceClass, Field(serialization_alias="class")]
    codes: list[str]
    foreign: list[str]
    candidates: list[str]
    move: dict[str, Any] | None
    note: str
    open: int
    recent_entries: list[RecentOut]
    stories: list[StoryOut]


class AdjustmentOut(BaseModel):
    """A proposal, and what became of it."""

    id: UUID
    state: Literal["proposed", "approved"]
    goblet_id: UUID
    address: str
    batch_id: UUID
    batch_code: str
    other_goblet_id: UUID | None
    difference: int
    reason_code: ReasonCode
    note: str
    proposed_by: str
    proposed_at: datetime
    approved_by: str | None
    approved_at: datetime | None
    entry_seq: int | None


class ReviewOut(BaseModel):
    """A signature."""

    id: UUID
    by: str
    role: str
    meaning: str
    note: str | None
    at: datetime


class StockTakeLine(BaseModel):
    """A stock-take in a list."""

    id: UUID
    state: TakeState
    scope: dict[str, Any]
    blind: bool
    opened_at: datetime
    opened_by: str
    goblets: int
    counted: int
    closed_at: datetime | None
    closed_by: str | None


class StockTakeOut(BaseModel):
    """A stock-take. Differences are there once it was compared; a count never shows them."""

    id: UUID
    state: TakeState
    scope: dict[str, Any]
    blind: bool
    seed: str | None
    sample: dict[str, Any] | None
    frozen_at_entry: int
    frozen_head: str
    opened_at: datetime
    opened_by: str
    compared_at: datetime | None
    closed_at: datetime | None
    closed_by: str | None
    closing_note: str | None
    report_sha256: str | None
    goblets: list[TakeGobletOut]
    counts: list[CountOut]
    differences: list[DifferenceOut]
    adjustments: list[AdjustmentOut]
    reviews: list[ReviewOut]
