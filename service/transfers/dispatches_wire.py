"""What travels: the bodies and answers of the dispatch routes."""

from datetime import date, datetime
from typing import Annotated, Literal
from uuid import UUID

from pydantic import BaseModel, Field

from service.bank.clearance import Result
from service.bank.shapes import WarningOut
from service.edge.fields import (
    Amount,
    Code,
    EventInput,
    Figure,
    Input,
    Moment,
    Name,
    Note,
    PositiveAmount,
    Reason,
)
from service.ledger.wire import ExchangedOut, PickIn
from service.transfers.dispatches import Going
from service.transfers.rules import LONGEST_HOLDING_DAYS

HoldingDays = Annotated[Amount, Field(gt=0, le=LONGEST_HOLDING_DAYS)]


class DispatchIn(EventInput):
    """Which straws (by count or by code), where to, and what they travel in.

    With `owner` only that owner's straws go. `holding_days_rated` is what the container's maker
    says, `filled_at` when it was filled with nitrogen.
    """

    picks: Annotated[list[PickIn], Field(max_length=200)] | None = None
    straw_codes: Annotated[list[Code], Field(max_length=1000)] | None = None
    to: Name
    to_approval_number: Name | None = None
    container: Name | None = None
    carrier: Name | None = None
    seal_number: Name | None = None
    holding_days_rated: HoldingDays | None = None
    filled_at: Moment | None = None
    note: Note | None = None
    owner: Name | None = None
    release_reserve: Reason | None = None

    def going(self, owner: str | None) -> Going:
        """As the action wants it, with the owner as he is spelled in the book."""
        names = Going.__dataclass_fields__.keys() - {"owner"}
        return Going(owner=owner, **{name: getattr(self, name) for name in names})


class SealIn(EventInput):
    """Another seal: its number, why the one before came off, and when it was put on."""

    number: Name
    applied_at: Annotated[Moment | None, Field(description="Default `occurred_at`.")] = None
    reason: Reason


class SealOut(BaseModel):
    """A seal; the last of the list is on the container."""

    id: UUID
    number: str
    applied_at: datetime
    reason: str | None
    by: str


class HoldingIn(Input):
    """A dry shipper: the maker's days, or its weights, and when it was filled."""

    filled_at: Moment
    holding_days_rated: HoldingDays | None = None
    absorbed_kg: PositiveAmount | None = None
    loss_kg_per_day: PositiveAmount | None = None


class HoldingOut(BaseModel):
    """Until when a dry shipper holds, reckoned; `cautious_until` believes half of the days."""

    holding_days: Figure
    filled_at: datetime
    holds_until: datetime
    cautious_until: datetime
    assumption: str
    cautions: list[str]


class ThawStepOut(BaseModel):
    """One bath of the thaw."""

    water_c: Figure
    seconds: Figure


class TestOut(BaseModel):
    """A test of the batch as it is known; without a result nobody recorded any."""

    test: str
    result: Result | None
    sampled_on: date | None


class PackingRowOut(BaseModel):
    """Straws of one donor, mark and day of collection; what is unknown is null.

    `straw_mark` is what stands on the straws, `collected_on_as_marked` the day as this station
    writes it there.
    """

    species: str
    donor_name: str
    donor_identity: str | None
    donor_microchip: str | None
    breed: str | None
    straw_mark: str
    batch_codes: list[str]
    type: str
    collected_on: date | None
    collected_on_as_marked: str | None
    approval_number: str | None
    processing_approval_number: str | None
    straws: int
    tests: list[TestOut]
    straw_colour: str | None
    straw_volume_ml: Figure | None
    concentration_million_per_ml: Figure | None
    post_thaw_percent: Figure | None
    straws_per_dose: int | None
    thaw: list[ThawStepOut] | None


class PackingListOut(BaseModel):
    """What the container holds, and from whom."""

    from_name: str
    from_country: str | None
    from_approval_number: str | None
    rows: list[PackingRowOut]
    straws: int
    donors: int
    columns_after: str


class DispatchedStrawOut(BaseModel):
    """A straw that went; `code` is null for one from before labels, `address` where it stood.

    `state` is what it is now: a straw may have come back.
    """

    code: str | None
    state: str
    batch_id: UUID
    batch_code: str
    address: str | None
    provisional: bool


class TakenBackOut(BaseModel):
    """When and why a dispatch was taken back."""

    at: datetime
    by: str
    reason: str | None


class DispatchSummaryOut(BaseModel):
    """A dispatch in the list; `seal_number` is that of the seal on it."""

    id: UUID
    state: Literal["dispatched", "taken-back"]
    to: str
    straws: int
    stallion_names: list[str]
    container: str | None
    seal_number: str | None
    occurred_at: datetime
    by: str


class DispatchOut(BaseModel):
    """A dispatch: what went, where to, in what, under which seal, and how long it stays cold.

    `exchanged` and `warnings` are of the moment it was booked.
    """

    id: UUID
    state: Literal["dispatched", "taken-back"]
    taken_back: TakenBackOut | None
    to: str
    to_approval_number: str | None
    container: str | None
    carrier: str | None
    note: str | None
    straws: list[DispatchedStrawOut]
    seals: list[SealOut]
    holding_days_rated: Figure | None
    filled_at: datetime | None
    holding: HoldingOut | None
    packing_list: PackingListOut
    occurred_at: datetime
    recorded_at: datetime
    by: str
    exchanged: list[ExchangedOut]
    warnings: list[WarningOut]
