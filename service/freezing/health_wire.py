"""What travels about tests, clearance, holds and releases."""

from datetime import date, datetime
from typing import Annotated
from uuid import UUID

from pydantic import BaseModel, Field

from service.bank.clearance import SOURCE, Clearance, Result
from service.bank.shapes import BatchName, WarningOut
from service.bank.store import BatchTest
from service.edge.fields import Code, Day, EventInput, Name, Note, Reason


class SampleIn(EventInput):
    """A health test that stands for a batch. A sample may be taken before or after collection."""

    test: Annotated[Code, Field(description="Case and spacing do not count.", examples=["EIA"])]
    sampled_on: Day
    result: Annotated[Result, Field(description="`pending`: sampled, not answered yet.")]
    laboratory: Name | None = None
    note: Note | None = None


class FoundOut(BaseModel):
    """What counts of one test: the sample taken last, null where none is recorded."""

    test: str
    result: Result | None
    sampled_on: date | None


class ClearanceOut(BaseModel):
    """Whether a batch may leave, as this book counts. The authority's own rules come first."""

    days_in_store: int | None
    days_needed: int
    full_on: date | None
    tests: list[FoundOut]
    missing_tests: list[str]
    clear: bool
    said: str
    source: Annotated[str, Field(description="Where the defaults come from.")] = SOURCE


class SampleOut(BaseModel):
    """A test as it was recorded."""

    id: UUID
    test: str
    sampled_on: date
    result: Result
    laboratory: str | None
    note: str | None
    recorded_at: datetime
    by: str

    @classmethod
    def of(cls, row: BatchTest) -> "SampleOut":
        """A test as its row keeps it."""
        names = SampleOut.model_fields.keys() - {"by"}
        return SampleOut(by=row.by_name, **{name: getattr(row, name) for name in names})


class SampleRecorded(SampleOut):
    """A test that was recorded now, and the clearance with it."""

    batch: BatchName
    clearance: ClearanceOut
    warnings: list[WarningOut]


class HoldIn(EventInput):
    """Why a batch is held back; with a day, it is free again on that day."""

    reason: Reason
    until: Day | None = None


class HoldOut(BaseModel):
    """A hold."""

    id: UUID
    batch: BatchName
    reason: str
    until: date | None
    placed_at: datetime
    by: str


class ReleaseIn(EventInput):
    """Why a batch is free to use."""

    reason: Reason
    override_reason: Annotated[
        Reason | None, Field(description="Needed where a test is positive: why all the same.")
    ] = None


class ReleaseOut(BaseModel):
    """A batch that is free to use again, but for straws in a quarantined tank."""

    id: UUID
    batch: BatchName
    on_hold: bool
    straws_in_quarantine: int
    clearance: ClearanceOut
    warnings: list[WarningOut]


def clearance_out(found: Clearance) -> ClearanceOut:
    """A clearance as it is read."""
    return ClearanceOut.model_validate(found, from_attributes=True)
