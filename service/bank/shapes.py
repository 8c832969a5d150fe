"""What several of the bank's routes say or ask in the same shape."""

from datetime import datetime
from fractions import Fraction
from typing import Annotated, Any, Literal, TypeVar
from uuid import UUID

from fastapi import Query, Response
from pydantic import BaseModel, Field
from sqlmodel import Session

from service.bank.doses import DoseRule, StrawsRule
from service.bank.rules import RuleAmounts, Warned
from service.bank.search import After
from service.edge.fields import (
    Amount,
    Figure,
    Input,
    Percent,
    PositiveAmount,
    PositiveCount,
    Untagged,
)
from service.edge.listing import BadCursor, Listing, Page, page_of
from service.edge.versions import ChangeOut, changes_of, etag

T = TypeVar("T")

#: More straws than any collection fills; a slip of the hand above it.
MOST_STRAWS_A_BATCH = 2_000

Minutes = Annotated[Amount, Field(ge=0, le=1_440, description="After thawing.", examples=[10])]

SearchText = Annotated[
    str,
    Query(
        max_length=120,
        description="Words of the name (case and accents do not count) or part of a number.",
    ),
]


class WarningOut(BaseModel):
    """Something to look at again; the record was kept. `field` is the request's name for it."""

    code: str
    field: str
    message: str


class BatchName(BaseModel):
    """A batch by id and code."""

    id: UUID
    code: str


class PostThawIn(Input):
    """A result after thawing a straw."""

    progressive_motility_percent: Annotated[Percent, Field(examples=[40])]
    minutes: Minutes | None = None


class ThawStepIn(Input):
    """One bath."""

    water_c: Annotated[Amount, Field(gt=0, le=100, examples=[37])]
    seconds: Annotated[PositiveAmount, Field(le=3_600, examples=[30])]


class ThawIn(Input):
    """The thaw protocol of the laboratory that froze."""

    steps: Annotated[list[ThawStepIn], Field(min_length=1, max_length=5)]

    def steps_kept(self) -> list[dict[str, str]]:
        """As the batch keeps it: decimal text."""
        return [{"water_c": str(s.water_c), "seconds": str(s.seconds)} for s in self.steps]


class StrawsRuleIn(Input):
    """A dose is this many straws. Common practice is 1 to 12; above 16 is warned of."""

    kind: Literal["straws"]
    straws: Annotated[PositiveCount, Field(examples=[8])]

    def amounts(self) -> RuleAmounts:
        """As the rules take it."""
        return RuleAmounts(straws=self.straws)


class SpermRuleIn(Input):
    """A dose holds at least so many progressively motile sperm, from straws that thaw well."""

    kind: Literal["sperm"]
    progressive_million: Annotated[PositiveAmount, Field(examples=[250])]
    minimum_post_thaw_percent: Annotated[Percent, Field(examples=[35])]

    def amounts(self) -> RuleAmounts:
        """As the rules take it."""
        return RuleAmounts(
            progressive_million=self.progressive_million,
            minimum_post_thaw_percent=self.minimum_post_thaw_percent,
        )


DoseRuleIn = Annotated[StrawsRuleIn | SpermRuleIn, Field(discriminator="kind"), Untagged]


class StrawsRuleOut(BaseModel):
    """A dose is this many straws."""

    kind: Literal["straws"] = "straws"
    straws: int


class SpermRuleOut(BaseModel):
    """A dose holds at least so many progressively motile sperm, from straws that thaw well."""

    kind: Literal["sperm"] = "sperm"
    progressive_million: Figure
    minimum_post_thaw_percent: Figure


DoseRuleOut = Annotated[StrawsRuleOut | SpermRuleOut, Field(discriminator="kind")]


class RuleSinceOut(BaseModel):
    """A dose rule in a stallion's history: it holds from `since` until the next one."""

    number: int
    since: datetime
    by: str
    dose_rule: DoseRuleOut


def rule_out(rule: DoseRule) -> StrawsRuleOut | SpermRuleOut:
    """A dose rule as it is read."""
    if isinstance(rule, StrawsRule):
        return StrawsRuleOut(straws=rule.straws)
    return SpermRuleOut(
        progressive_million=_figure(rule.progressive_million),
        minimum_post_thaw_percent=_figure(rule.minimum_post_thaw_percent),
    )


def _figure(amount: Fraction) -> float:
    return float(amount)


def warnings_out(warnings: list[Warned]) -> list[WarningOut]:
    """Warnings as they are read."""
    return [WarningOut(code=w.code, field=w.field, message=w.message) for w in warnings]


def unsaid() -> Any:
    """The default of a field that a change may leave out but not set to null; never looked at.

    As a factory it stays out of the API's description, where `null` would be promised.
    """
    return None


def said(body: BaseModel) -> dict[str, Any]:
    """The fields that a change names."""
    return {name: getattr(body, name) for name in body.model_fields_set}


def with_version(record: T, version: BaseModel, response: Response) -> T:
    """The record, with the ETag of `version` on the answer."""
    response.headers["ETag"] = etag(version)
    return record


def answered_again(model: type[BaseModel]) -> dict[int | str, dict[str, Any]]:
    """The answer to an event that arrived before, for the API's description."""
    return {
        200: {
            "model": model,
            "description": "This id was answered before: the first answer, once more.",
            "headers": {"Replayed": {"schema": {"type": "string", "enum": ["true"]}}},
        }
    }


def after_name(page: Page) -> After:
    """Where a list by name goes on. Raises BadCursor."""
    if page.after is None:
        return None
    try:
        name, id = page.after
        if "\0" in name:  # no database can compare with it; nor with half signs, see encode
            raise ValueError
        name.encode()
        return name, UUID(id)
    except (ValueError, TypeError, AttributeError) as error:
        raise BadCursor("Send `after` as it came in `next`, or leave it out.") from error


def page_of_history(rows: list[T], page: Page) -> Listing[T]:
    """A page of a history that is read newest first: rows are numbered from the oldest, 1."""
    before = len(rows) + 1
    if page.after is not None:
        try:
            [before] = map(int, page.after)
        except (ValueError, TypeError) as error:
            raise BadCursor("Send `after` as it came in `next`, or leave it out.") from error
    numbered = [
        (number, row)
        for number, row in zip(range(len(rows), 0, -1), rows, strict=True)
        if number < before
    ]
    return page_of(numbered, page, key=lambda row: (row[0],), show=lambda row: row[1])


def history_of(db: Session, kind: str, record_id: UUID, page: Page) -> Listing[ChangeOut]:
    """A page of a record's changes, newest first."""
    return page_of_history(changes_of(db, kind, record_id), page)
