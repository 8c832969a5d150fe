"""The spreadsheet over HTTP: dry run, import, progress, template, and what goes out as CSV."""

from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime
from typing import Annotated, Any, Literal
from uuid import UUID

from fastapi import Query, Request, Response
from fastapi.responses import StreamingResponse
from sqlmodel import Session

from service.bank import store as bank
from service.bank.shapes import answered_again
from service.edge.asking import Anyone, Worker
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, once
from service.edge.transaction import Reading, Router, Writing
from service.edge.wiring import wiring
from service.kernel.acts import Act
from service.kernel.database import Database
from service.spreadsheet import actions, exports, rules
from service.spreadsheet.progress import Progress, ProgressBoard
from service.spreadsheet.wire import (
    DelimiterName,
    DelimiterSign,
    DryRunOut,
    ImportIn,
    ImportOut,
    ProgressOut,
    dry_run_out,
    totals_out,
)
from service.spreadsheet.writing import Cell, Style, pieces

router = Router(prefix="/api", tags=["spreadsheet"])

#: Paths whose bodies hold a file; everything else keeps the smaller limit of the settings.
LARGE_BODIES = {
    "/api/imports": rules.LARGEST_BODY_BYTES,
    "/api/imports/dry-run": rules.LARGEST_BODY_BYTES,
}

_UNREADABLE = (rules.UnreadableFile, rules.FileTooLarge, rules.BadAnswer, rules.MakingStallions)

_CSV: dict[int | str, dict[str, Any]] = {
    200: {"content": {"text/csv": {}}, "description": "The file."}
}

AskedDelimiter = Annotated[DelimiterName, Query(description="What stands between cells.")]
AskedDecimal = Annotated[Literal["comma", "point"], Query(description="The decimal sign.")]


def board_of(request: Request) -> ProgressBoard:
    """The app's board of imports under way."""
    board: ProgressBoard = request.app.state.imports
    return board


@router.post(
    "/imports/dry-run",
    operation_id="look_at_spreadsheet",
    summary="See what would become of every row of a file",
    response_model=DryRunOut,
    max_body_size=rules.LARGEST_BODY_BYTES,
    responses=problems(*_UNREADABLE),
)
def look_at_spreadsheet(request: Request, who: Worker, db: Reading, body: ImportIn) -> DryRunOut:
    """Nothing is booked; questions come back until they are answered."""
    looked = actions.look(db, body.sheet(), role=who.role, now=wiring(request).clock())
    return dry_run_out(looked)


@router.post(
    "/imports",
    operation_id="import_spreadsheet",
    summary="Book every row of a file, or none",
    status_code=201,
    response_model=ImportOut,
    max_body_size=rules.LARGEST_BODY_BYTES,
    responses=answered_again(ImportOut) | problems(rules.ImportRefused, IdReused, *_UNREADABLE),
)
def import_spreadsheet(
    request: Request, who: Worker, db: Writing, body: ImportIn, asked: AskedOnce
) -> Response:
    """Each batch becomes one receipt. Until it is answered, its progress can be asked for."""
    board = board_of(request)

    def do(act: Act) -> ImportOut:
        def tell(state: str, done: int, rows: int) -> None:
            board.tell(act.id, Progress(state, done, rows))

        try:
            looked = actions.carry_out(db, act, body.sheet(), tell=tell)
        except Exception:
            tell("refused", 0, 0)
            raise
        totals = totals_out(looked)
        tell("done", totals.rows, totals.rows)
        return ImportOut(id=act.id, totals=totals, assumptions=looked.understood.assumptions)

    return once(db, asked, who, body, do)


@router.get(
    "/imports/{import_id}/progress",
    operation_id="read_import_progress",
    summary="How far an import is",
)
def read_progress(request: Request, who: Anyone, import_id: UUID) -> ProgressOut:
    """`import_id` is the id that the import was sent with."""
    state, done, rows = board_of(request).of(import_id)
    return ProgressOut(state=state, rows_done=done, rows=rows)


@router.get(
    "/imports/template.csv",
    operation_id="read_import_template",
    summary="A file to start from",
    response_class=StreamingResponse,
    responses=_CSV,
)
def read_template(
    who: Anyone, delimiter: AskedDelimiter = "comma", decimal: AskedDecimal = "point"
) -> Response:
    """The columns with two example rows, which are refused until they are replaced."""
    style = Style(DelimiterSign[delimiter], decimal)
    return _file("template", pieces(exports.TEMPLATE, exports.example(), style))


Rows = Callable[[Session, date], Iterator[Sequence[Cell]]]

_EXPORTS: dict[str, tuple[Sequence[str], Rows]] = {
    "stock": (exports.STOCK, exports.stock),
    "ledger": (exports.LEDGER, lambda db, _: exports.ledger(db)),
    "freezes": (exports.FREEZES, lambda db, _: exports.freezes(db)),
    "withdrawals": (exports.WITHDRAWALS, lambda db, _: exports.withdrawals(db)),
}


@router.get(
    "/exports/{what}.csv",
    operation_id="export_spreadsheet",
    summary="Stock, book, freezes or withdrawals as a spreadsheet",
    response_class=StreamingResponse,
    responses=_CSV,
)
def export_spreadsheet(
    request: Request,
    who: Anyone,
    what: Literal["stock", "ledger", "freezes", "withdrawals"],
    delimiter: AskedDelimiter = "comma",
    decimal: AskedDecimal = "point",
) -> Response:
    """The stock can be imported again into goblets with the same addresses."""
    style = Style(DelimiterSign[delimiter], decimal)
    wires = wiring(request)
    return _file(what, _read_while_sent(wires.database, what, wires.clock(), style))


def _read_while_sent(database: Database, what: str, now: datetime, style: Style) -> Iterator[bytes]:
    """The session lives as long as the file is sent: all of it shows one moment of the book."""
    header, rows = _EXPORTS[what]
    with database.reading() as db:
        today = bank.day_of(db, now)
        yield from pieces(header, rows(db, today), style)


def _file(name: str, content: Iterator[bytes]) -> Response:
    return StreamingResponse(
        content,
        media_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}.csv"'},
    )
