"""What travels: the bodies and answers of the withdrawal routes."""

from datetime import date, datetime
from typing import Annotated, Any
from uuid import UUID

from pydantic import BaseModel, Field

from service.edge.fields import (
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
    PositiveCount,
    Reason,
)
from service.ledger.wire import ExchangedOut, PickIn

MostDoses = Annotated[int, Field(strict=True, ge=1, le=100)]


class PlanIn(Input):
    """How many doses of whom; of one batch only, if that is named.

    With `mare_id` also doses that are promised to her; with `owner` out of that owner's straws,
    without it out of the common stock.
    """

    stallion_id: Identifier
    doses: MostDoses = 1
    batch_id: Identifier | None = None
    mare_id: Identifier | None = None
    owner: Name | None = None
    release_reserve: Reason | None = None


class PlannedPick(BaseModel):
    """So many straws out of one goblet; the codes are a proposal, any twin will do."""

    goblet_id: UUID
    address: str
    batch_id: UUID
    batch_code: str
    straw_colour: str | None
    straws: int
    straw_codes: list[str]


class PlanOut(BaseModel):
    """The walk: picks in the order of the addresses, and why these."""

    rule: dict[str, Any]
    straws: int
    progressive_million: Figure | None
    canister_lifts: int
    picks: list[PlannedPick]
    why: str
    warnings: list[str]


class NewMareIn(Input):
    """A mare that is not in the book yet."""

    name: Name
    ueln: Code | None = None
    owner: Name | None = None


class WithdrawalIn(EventInput):
    """What was lifted, and for which mare."""

    stallion_id: Identifier
    mare_id: Identifier | None = None
    mare: NewMareIn | None = None
    doses: MostDoses
    picks: Annotated[list[PickIn], Field(max_length=200)] | None = None
    straw_codes: Annotated[list[Code], Field(max_length=1000)] | None = None
    override_reason: Reason | None = None
    release_reserve: Reason | None = None
    owner: Annotated[Name | None, Field(description="Whose straws; the common stock without.")] = (
        None
    )
    taken_by: Annotated[
        Name | None, Field(description="Who leaves the station with them, if somebody does.")
    ] = None


class ThawStep(BaseModel):
    """One bath of the thaw."""

    water_c: Figure
    seconds: Figure


class ThawOut(BaseModel):
    """How to thaw the straws of one batch; `steps` is null when the book does not know."""

    batch_code: str
    steps: list[ThawStep] | None


class WithdrawnStraw(BaseModel):
    """A straw of a withdrawal; `code` is null for one from before labels."""

    code: str | None
    state: str
    batch_id: UUID
    batch_code: str
    address: str | None
    provisional: bool


class OutcomeOut(BaseModel):
    """What a check of the mare found."""

    id: UUID
    checked_on: date
    pregnant: bool


class InseminationOut(BaseModel):
    """An insemination and what came of it."""

    id: UUID
    withdrawal_id: UUID
    inseminated_at: datetime
    straws_used: int
    straws_thawed_unused: int
    method: str | None
    note: str | None
    by: str
    outcome: OutcomeOut | None


class WithdrawalOut(BaseModel):
    """A withdrawal; `state` is lifted while straws are out, then what became of them."""

    id: UUID
    state: str
    stallion_id: UUID
    stallion_name: str
    mare_id: UUID
    mare_name: str
    doses: int
    rule: dict[str, Any]
    straws: list[WithdrawnStraw]
    thaw: list[ThawOut]
    exchanged: list[ExchangedOut]
    override_reason: str | None
    release_reserve: str | None
    owner: str | None
    taken_by: str | None
    promise_id: UUID | None
    occurred_at: datetime
    by: str
    insemination: InseminationOut | None
    inseminations: list[InseminationOut]


class IdentifyIn(EventInput):
    """Codes that were read off the straws in hand."""

    straw_codes: Annotated[list[Code], Field(min_length=1, max_length=1000)]


class InseminationIn(EventInput):
    """What happened at the mare. Codes are needed only where a number does not say which."""

    inseminated_at: Moment
    straws_used: Count
    straws_thawed_unused: Count = 0
    method: Name | None = None
    note: Note | None = None
    used_straw_codes: Annotated[list[Code], Field(default_factory=list)]
    thawed_unused_straw_codes: Annotated[list[Code], Field(default_factory=list)]


class ReturnIn(EventInput):
    """Straws that stayed in nitrogen the whole time, and where they go."""

    straw_codes: Annotated[list[Code], Field(max_length=1000)] | None = None
    straws: PositiveCount | None = None
    goblet_id: Identifier
    kept_in_nitrogen: Flag


class DiscardRestIn(EventInput):
    """Why the rest is thrown away."""

    reason: Reason


class LostIn(EventInput):
    """Straws of which nobody knows any more where they are; all that are out if none is named."""

    straw_codes: Annotated[list[Code], Field(max_length=1000)] | None = None
    straws: PositiveCount | None = None
    reason: Reason


class OutcomeIn(EventInput):
    """What a check of the mare found."""

    checked_on: Day
    pregnant: Flag


class CorrectInseminationIn(EventInput):
    """Why the record is taken back."""

    reason: Reason
