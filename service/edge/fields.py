"""Strict input: what a request may contain, in types that refuse instead of guessing.

Unknown fields, `1.5` for a count, a string where a number belongs, NaN and text that no database
can keep are refused here, before any rule sees them.
"""

import re
from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Any
from uuid import UUID

from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StrictBool,
    StrictInt,
    StrictStr,
    ValidationError,
    ValidatorFunctionWrapHandler,
    WrapValidator,
)
from pydantic_core import InitErrorDetails

#: Far above any station; keeps every sum inside 64 bits.
MOST_STRAWS = 100_000

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_NEWLINES = re.compile(r"[\n\r\t]")


class Input(BaseModel):
    """A request's body: unknown fields are refused."""

    model_config = ConfigDict(extra="forbid")


class EventInput(Input):
    """A body that records an event: the client makes the id and keeps it until it is answered."""

    id: Annotated[
        UUID | None,
        Field(description="Made by the client (UUIDv7); it is the record's id, for ever."),
    ] = None
    occurred_at: "Annotated[Moment | None, Field(description='Default now.')]" = None


def _only_text(value: Any) -> Any:
    if not isinstance(value, str):
        raise ValueError("must be a string")
    return value


def _only_iso_day(value: Any) -> Any:
    # A `date` object comes from a program (the demo's own seeding), never from JSON.
    if not isinstance(value, date) and not (
        isinstance(value, str) and re.fullmatch(r"\d{4}-\d{2}-\d{2}", value)
    ):
        raise ValueError("must be a date like 2026-03-03")
    return value


def _only_moment_text(value: Any) -> Any:
    if not isinstance(value, str | datetime):
        raise ValueError("must be a time like 2026-03-03T14:05:00Z")
    if isinstance(value, str) and not re.match(r"\d{4}-\d{2}-\d{2}[Tt ]", value):
        raise ValueError("must be a time like 2026-03-03T14:05:00Z")
    return value


def _exact(value: Any) -> Any:
    """A number or decimal string as it was written; `true` and text of other kinds are refused."""
    if isinstance(value, bool) or not isinstance(value, int | float | str | Decimal):
        raise ValueError("must be a number or a decimal string")
    if isinstance(value, str) and not re.fullmatch(r"[+-]?\d{1,30}(\.\d{1,30})?", value):
        raise ValueError("must be a number or a decimal string like 0.5")
    return value


def _plain(value: Decimal) -> Decimal:
    """`60`, `60.0` and `"60.00"` are the same amount."""
    return Decimal(format(value.normalize(), "f"))


def _storable(value: str) -> str:
    if _CONTROL.search(value):
        raise ValueError("must not contain control characters")
    return value


def _one_line(value: str) -> str:
    value = _NEWLINES.sub(" ", value).strip()
    # A mark of direction or joining by itself is nothing that anyone could read.
    if not any(sign.isprintable() for sign in value):
        raise ValueError("must not be empty")
    return value


def _says_something(text: str) -> str:
    """A text of blanks alone is none: no page shows it and no spreadsheet gives it back."""
    return text if text.strip() else ""


def _without_tag(value: Any, handler: ValidatorFunctionWrapHandler) -> Any:
    try:
        return handler(value)
    except ValidationError as error:
        found = [
            InitErrorDetails(
                type=item["type"],
                loc=item["loc"][1:],
                input=item["input"],
                ctx=item.get("ctx", {}),
            )
            for item in error.errors()
        ]
        raise ValidationError.from_exception_data(error.title, found) from None


#: Beside a union with a discriminator: its errors name the field as it was sent, without the tag.
Untagged = WrapValidator(_without_tag)

Count = Annotated[StrictInt, Field(ge=0, le=MOST_STRAWS)]
PositiveCount = Annotated[StrictInt, Field(ge=1, le=MOST_STRAWS)]
Flag = StrictBool
Amount = Annotated[
    Decimal,
    BeforeValidator(_exact),
    Field(max_digits=28, allow_inf_nan=False),
    AfterValidator(_plain),
]
PositiveAmount = Annotated[Amount, Field(gt=0, le=1_000_000_000)]
Percent = Annotated[Amount, Field(ge=0, le=100)]
Day = Annotated[date, BeforeValidator(_only_iso_day)]
Moment = Annotated[AwareDatetime, BeforeValidator(_only_moment_text)]
Identifier = Annotated[UUID, BeforeValidator(lambda v: v if isinstance(v, UUID) else _only_text(v))]
Name = Annotated[
    StrictStr, Field(max_length=120), AfterValidator(_storable), AfterValidator(_one_line)
]
Code = Annotated[
    StrictStr, Field(max_length=60), AfterValidator(_storable), AfterValidator(_one_line)
]
Reason = Annotated[
    StrictStr, Field(max_length=500), AfterValidator(_storable), AfterValidator(_one_line)
]
Note = Annotated[
    StrictStr, Field(max_length=4_000), AfterValidator(_storable), AfterValidator(_says_something)
]

#: An exact figure on its way out, as a JSON number; rounding is the screen's business.
Figure = Annotated[float, BeforeValidator(float)]

EventInput.model_rebuild()
