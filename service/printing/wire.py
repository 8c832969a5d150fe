"""What travels over HTTP about labels and prints."""

from datetime import datetime
from typing import Annotated, Literal
from uuid import UUID

from fastapi import Depends, Query
from pydantic import BaseModel, BeforeValidator, Discriminator, Field, Tag

from service.bank.rules import PrinterDpi
from service.bank.shapes import WarningOut
from service.edge.fields import (
    MOST_STRAWS,
    Code,
    EventInput,
    Input,
    PositiveCount,
    Reason,
    Untagged,
)
from service.printing.drawn import Paper
from service.printing.rules import MOST_LABELS
from service.printing.subjects import Style, SubjectKind

MOST_MARGIN_MM = 60.0


class WhatIn(Input):
    """A thing with labels, by its id; a straw's is its code."""

    kind: SubjectKind
    id: Code


class PrintIn(EventInput):
    """What is printed: a code of any kind, or a kind and an id."""

    what: Annotated[
        Annotated[WhatIn, Tag("thing")] | Annotated[Code, Tag("code")],
        Discriminator(lambda what: "thing" if isinstance(what, dict | WhatIn) else "code"),
        Untagged,
        Field(examples=["B4T7M2K9P"]),
    ]
    style: Annotated[
        Style,
        Field(
            description="`strip` and `flag` for straws; `plate` for a place, `plates` for it and "
            "all that hangs in it."
        ),
    ]
    straws: Annotated[
        list[Code] | None,
        Field(min_length=1, max_length=MOST_LABELS, description="Only these, as after a jam."),
    ] = None
    dpi: Annotated[PrinterDpi | None, Field(description="Default the station's.")] = None
    sheet: Annotated[
        Literal["a4"] | None, Field(description="Without: a page a label, at its true size.")
    ] = None
    start: Annotated[PositiveCount, Field(description="The first free place on the sheet.")] = 1
    margin_mm: Annotated[float, Field(ge=0, le=MOST_MARGIN_MM, strict=True)] = 10.0
    reason: Annotated[
        Reason | None, Field(description="For labels printed before, or lacking a mark.")
    ] = None

    def paper(self) -> Paper:
        """On what it is printed."""
        return Paper(dpi=self.dpi, sheet=self.sheet, start=self.start, margin_mm=self.margin_mm)


class PrintOut(BaseModel):
    """A print that was recorded, and where its paper is."""

    id: UUID
    pdf_url: str
    missing_marks: list[str]
    labels: int
    reprinted: Annotated[int, Field(description="How many of them had been printed before.")]
    warnings: list[WarningOut]


class PrintRecord(BaseModel):
    """A print of the past."""

    id: UUID
    what: SubjectKind
    style: Style
    labels: int
    reprinted: int
    missing_marks: list[str]
    reason: str | None
    printed_at: datetime
    by: str
    pdf_url: str


def _number(asked: object) -> object:
    """A query is text, and a choice among numbers takes none."""
    return int(asked) if isinstance(asked, str) and asked.isdecimal() else asked


AskedDpi = Annotated[
    PrinterDpi | None, BeforeValidator(_number), Query(description="Default the station's.")
]


def _paper(
    dpi: AskedDpi = None,
    sheet: Annotated[Literal["a4"] | None, Query()] = None,
    start: Annotated[int, Query(ge=1, le=MOST_STRAWS)] = 1,
    margin_mm: Annotated[float, Query(ge=0, le=MOST_MARGIN_MM)] = 10.0,
) -> Paper:
    return Paper(dpi=dpi, sheet=sheet, start=start, margin_mm=margin_mm)


AskedPaper = Annotated[Paper, Depends(_paper)]
