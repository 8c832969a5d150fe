"""The auditor's reading room over HTTP: tables as pages, and as spreadsheets."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import islice
from typing import Annotated, Any, Literal

from fastapi import Query, Request, Response
from fastapi.responses import StreamingResponse
from pydantic import BaseModel

from service.audits import reading_room
from service.audits.reading_room import TABLES
from service.edge.asking import Anyone
from service.edge.fields import Moment
from service.edge.transaction import Reading, Router
from service.edge.wiring import wiring
from service.kernel.database import Database
from service.spreadsheet.writing import Style, pieces

router = Router(prefix="/api", tags=["stock-takes"])

What = Literal[
    "stock",
    "corrections",
    "overrides",
    "exchanges",
    "late-entries",
    "adjustments",
    "record-changes",
    "goblets",
    "accuracy",
]
AsOf = Annotated[
    Moment | None, Query(description="As it was known then; for stock: as it stood then.")
]

#: A page shows so many rows; the spreadsheet has all.
_SHOWN = 1_000

#: What a phone's clock may be ahead.
_AHEAD = timedelta(minutes=5)


class TableOut(BaseModel):
    """A table; `more` when the spreadsheet has further rows."""

    what: str
    title: str
    as_of: datetime
    columns: list[str]
    items: list[dict[str, Any]]
    more: bool


@router.get(
    "/reading-room/{what}",
    operation_id="read_reading_room",
    summary="A table of the reading room",
)
def read_table(
    request: Request, who: Anyone, db: Reading, what: What, as_of: AsOf = None
) -> TableOut:
    """Corrections, overrides, exchanges, late entries, records changed old to new, what stood
    where on any day, when each goblet was counted, and how often book and tanks agreed.
    """
    at, table = _at(request, as_of), TABLES[what]
    rows = list(islice(table.rows(db, at), _SHOWN + 1))
    return TableOut(
        what=what,
        title=table.title,
        as_of=at,
        columns=list(table.columns),
        items=[reading_room.as_json(row, table.columns) for row in rows[:_SHOWN]],
        more=len(rows) > _SHOWN,
    )


@router.get(
    "/reading-room/{what}/table.csv",
    operation_id="export_reading_room",
    summary="A table of the reading room as a spreadsheet",
    response_class=StreamingResponse,
    responses={200: {"content": {"text/csv": {"schema": {"type": "string"}}}}},
)
def export_table(request: Request, who: Anyone, what: What, as_of: AsOf = None) -> Response:
    """Every row; texts that a spreadsheet would run as a formula are guarded."""
    content = _read_while_sent(wiring(request).database, what, _at(request, as_of))
    return StreamingResponse(
        content,
        media_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{what}.csv"'},
    )


def _read_while_sent(database: Database, what: str, at: datetime) -> Iterator[bytes]:
    table = TABLES[what]
    with database.reading() as db:
        yield from pieces(table.columns, table.rows(db, at), Style())


def _at(request: Request, as_of: datetime | None) -> datetime:
    return as_of or wiring(request).clock() + _AHEAD
