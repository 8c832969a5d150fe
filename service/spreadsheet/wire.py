"""What travels: the file with its answers in, every row's fate out."""

import base64
import binascii
from typing import Annotated, Literal
from uuid import UUID

from pydantic import BaseModel, Field, StrictStr

from service.edge.fields import EventInput, Input, PositiveCount
from service.spreadsheet import columns, rules
from service.spreadsheet.actions import Looked, Spreadsheet
from service.spreadsheet.fates import Fate
from service.spreadsheet.reading import DELIMITER_NAMES, Delimiter
from service.spreadsheet.rules import UnreadableFile
from service.spreadsheet.understanding import Answers

DelimiterName = Literal["comma", "semicolon", "tab"]
DelimiterSign = {name: sign for sign, name in DELIMITER_NAMES.items()}

ColumnName = Annotated[StrictStr, Field(max_length=rules.MOST_SIGNS_A_CELL)]

#: How many of a column's cells are shown beside its name.
_EXAMPLES = 3


class MakeStallionsIn(Input):
    """The dose rule of stallions that the file names and the book does not have."""

    straws: Annotated[
        PositiveCount, Field(le=100, description="Straws that make a dose.", examples=[8])
    ]


class AnswersIn(Input):
    """What a person says of the file; what is left out is found out, or asked back."""

    mapping: Annotated[
        dict[ColumnName, ColumnName | None],
        Field(
            max_length=rules.MOST_COLUMNS,
            description="Header of the file → our column, or null to leave it out.",
            examples=[{"Hengst": "stallion", "Farbe": None}],
        ),
    ] = Field(default_factory=dict)
    decimal: Literal["comma", "point"] | None = None
    date_order: Literal["day-first", "month-first"] | None = None
    delimiter: DelimiterName | None = None
    kind: Annotated[
        Literal["opening", "received"] | None,
        Field(description="Without it, rows with a sender are received and others opening stock."),
    ] = None
    make_stallions: MakeStallionsIn | None = None


class ImportIn(EventInput):
    """The file as it is, in base 64, and what is said of it."""

    content_base64: Annotated[
        StrictStr,
        Field(
            max_length=rules.LARGEST_BODY_BYTES,
            description=f"The CSV file, at most {rules.LARGEST_FILE_BYTES:,} bytes.",
        ),
    ]
    answers: AnswersIn = Field(default_factory=AnswersIn)

    def sheet(self) -> Spreadsheet:
        """The file with its answers. Raises UnreadableFile."""
        try:
            content = base64.b64decode(self.content_base64, validate=True)
        except (binascii.Error, ValueError):
            raise UnreadableFile(
                "content_base64 is not base 64. Send the file's bytes in it.",
                errors=[{"field": "content_base64", "message": "is not base 64"}],
            ) from None
        said = self.answers
        return Spreadsheet(
            content=content,
            answers=Answers(mapping=said.mapping, decimal=said.decimal, date_order=said.date_order),
            delimiter=None if said.delimiter is None else DelimiterSign[said.delimiter],
            kind=said.kind,
            make_stallions=None if said.make_stallions is None else said.make_stallions.straws,
        )


class ColumnOut(BaseModel):
    """A column of the file, what it is taken for (null: left out), and what stands in it."""

    column: str
    field: str | None
    examples: list[str]


class FieldOut(BaseModel):
    """One of our columns."""

    field: str
    title: str
    needed: bool


class ChoiceOut(BaseModel):
    """One answer to a question."""

    value: str
    title: str


class QuestionOut(BaseModel):
    """What only a person can say; until then nothing is booked."""

    code: str
    message: str
    choices: list[ChoiceOut]


class RowOut(BaseModel):
    """What becomes of a row; `line` as an editor counts."""

    line: int
    booked: bool
    message: str
    straws: int
    warnings: list[str]


class TotalsOut(BaseModel):
    """All rows together."""

    rows: int
    rows_booked: int
    rows_refused: int
    rows_warned: int
    straws: int
    batches: int
    stallions_made: list[str]


class DryRunOut(BaseModel):
    """What a file is and would do; `rows` has refused ones first, then warned ones, 1,000 in all.

    `ready`: it can be imported as it is.
    """

    ready: bool
    delimiter: DelimiterName
    encoding: str
    decimal: str | None
    date_order: str | None
    columns: list[ColumnOut]
    fields: list[FieldOut]
    questions: list[QuestionOut]
    assumptions: list[str]
    totals: TotalsOut
    rows: list[RowOut]


class ImportOut(BaseModel):
    """What was booked."""

    id: UUID
    totals: TotalsOut
    assumptions: list[str]


class ProgressOut(BaseModel):
    """How far an import is: waiting, reading, booking, done or refused."""

    state: str
    rows_done: int
    rows: int


def dry_run_out(looked: Looked) -> DryRunOut:
    """A dry run's answer."""
    table, understood = looked.table, looked.understood
    return DryRunOut(
        ready=looked.ready,
        delimiter=_name(table.delimiter),
        encoding=table.encoding,
        decimal=understood.decimal,
        date_order=understood.date_order,
        columns=[
            ColumnOut(column=name, field=field, examples=_examples(looked, at))
            for at, (name, field) in enumerate(
                zip(table.header, understood.matched.fields, strict=True)
            )
        ],
        fields=[
            FieldOut(field=column.name, title=column.title, needed=column.name in columns.NEEDED)
            for column in columns.COLUMNS
        ],
        questions=[
            QuestionOut(
                code=question.code,
                message=question.message,
                choices=[ChoiceOut(value=value, title=title) for value, title in question.choices],
            )
            for question in understood.questions
        ],
        assumptions=understood.assumptions,
        totals=totals_out(looked),
        rows=_rows(looked.plan.fates),
    )


def _name(delimiter: Delimiter) -> DelimiterName:
    names: dict[Delimiter, DelimiterName] = {",": "comma", ";": "semicolon", "\t": "tab"}
    return names[delimiter]


def _examples(looked: Looked, at: int) -> list[str]:
    found: dict[str, None] = {}
    for row in looked.table.rows:
        if len(found) == _EXAMPLES:
            break
        if row.cells[at].strip():
            found[row.cells[at].strip()[:40]] = None
    return list(found)


def _rows(fates: list[Fate]) -> list[RowOut]:
    """Problems first, then what is unusual; each in order of the lines."""
    shown = sorted(fates, key=lambda fate: (fate.booked, not fate.warnings, fate.line))
    return [
        RowOut(
            line=fate.line,
            booked=fate.booked,
            message=fate.message,
            straws=fate.straws,
            warnings=list(fate.warnings),
        )
        for fate in shown[: rules.MOST_ROWS_SHOWN]
    ]


def totals_out(looked: Looked) -> TotalsOut:
    """All rows together."""
    plan = looked.plan
    return TotalsOut(
        rows=len(looked.table.rows) + len(looked.table.ragged),
        rows_booked=sum(fate.booked for fate in plan.fates),
        rows_refused=len(plan.refused),
        rows_warned=sum(bool(fate.warnings) for fate in plan.fates),
        straws=looked.straws,
        batches=len(plan.batches),
        stallions_made=[one.name for one in plan.new_stallions],
    )
