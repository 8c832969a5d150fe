"""Labels over HTTP: looked at, printed with a record of it, and what was printed before."""

from typing import Annotated, Any, Literal
from uuid import UUID

from fastapi import Query, Response
from sqlmodel import Session

from service.bank.shapes import answered_again, warnings_out
from service.bank.store import station_of
from service.edge.asking import Anyone, Worker
from service.edge.listing import AskedPage, Listing, page_of
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, once
from service.edge.transaction import Reading, Router, Writing
from service.kernel import clock, codes
from service.kernel.acts import Act
from service.kernel.codes import MisreadCode
from service.printing import actions, drawn, rules, store
from service.printing.subjects import (
    StrawStyle,
    Style,
    Subject,
    SubjectKind,
    narrowed,
    read_what,
    styled,
    subject_of,
)
from service.printing.wire import AskedDpi, AskedPaper, PrintIn, PrintOut, PrintRecord

router = Router(prefix="/api", tags=["labels"])

_NOT_DRAWN = (
    rules.LabelDoesNotFit,
    rules.SymbolNotHonest,
    rules.LettersNotDrawn,
    rules.SheetNotPossible,
    rules.TooManyLabels,
)
_NO_SUBJECT = (rules.UnknownSubject, rules.NoLabels)

_PDF: dict[int | str, dict[str, Any]] = {
    200: {"description": "The paper", "content": {"application/pdf": {}}}
}
_PNG: dict[int | str, dict[str, Any]] = {
    200: {"description": "The label, black and white", "content": {"image/png": {}}}
}

PlaceKinds = Literal["goblets", "canisters", "tanks"]
AskedStyle = Annotated[StrawStyle | None, Query(description="Default the station's.")]


def _file(content: bytes, name: str, media_type: str) -> Response:
    # Never kept: the label of tomorrow may say something else.
    return Response(
        content,
        media_type=media_type,
        headers={
            "Content-Disposition": f'inline; filename="{name}"',
            "Cache-Control": "no-store",
        },
    )


def _pdf(content: bytes, name: str) -> Response:
    return _file(content, f"{name}.pdf", "application/pdf")


def _style(db: Session, asked: StrawStyle | None) -> Style:
    return asked or station_of(db).label_style  # type: ignore[return-value]


@router.get(
    "/labels/ruler.pdf",
    operation_id="read_label_ruler",
    summary="A page to measure before labels are trusted",
    response_class=Response,
    responses=_PDF,
)
def read_ruler(who: Anyone, db: Reading, dpi: AskedDpi = None) -> Response:
    """Two lines of 50.0 mm, and lines of whole dots."""
    return _pdf(drawn.ruler(db, dpi), "ruler")


@router.get(
    "/labels/batches/{batch_id}.pdf",
    operation_id="read_batch_labels",
    summary="A batch's labels, to look at",
    response_class=Response,
    responses=_PDF | problems(*_NO_SUBJECT, rules.OtherStraws, MisreadCode, *_NOT_DRAWN),
)
def read_batch_labels(
    who: Anyone,
    db: Reading,
    batch_id: UUID,
    paper: AskedPaper,
    style: AskedStyle = None,
    straws: Annotated[
        list[str] | None, Query(max_length=rules.MOST_LABELS, description="Only these codes.")
    ] = None,
) -> Response:
    """A preview: not recorded, and with whatever marks are known."""
    subject = subject_of(db, "batch", batch_id.hex)
    wanted = narrowed(subject, straws)
    return _pdf(drawn.pdf(db, subject, wanted, _style(db, style), paper), "labels")


@router.get(
    "/labels/straws/{code}.png",
    operation_id="read_straw_label_picture",
    summary="A straw's label as the printer sets its dots",
    response_class=Response,
    responses=_PNG | problems(*_NO_SUBJECT, MisreadCode, *_NOT_DRAWN),
)
def read_straw_picture(
    who: Anyone, db: Reading, code: str, style: AskedStyle = None, dpi: AskedDpi = None
) -> Response:
    """One bit a dot; a millimetre has 8 dots at 203 dpi."""
    subject = subject_of(db, "straw", code)
    return _file(drawn.png(db, subject, _style(db, style), dpi), f"{subject.id}.png", "image/png")


@router.get(
    "/labels/straws/{code}.pdf",
    operation_id="read_straw_label",
    summary="A straw's label, to look at",
    response_class=Response,
    responses=_PDF | problems(*_NO_SUBJECT, MisreadCode, *_NOT_DRAWN),
)
def read_straw_label(
    who: Anyone, db: Reading, code: str, paper: AskedPaper, style: AskedStyle = None
) -> Response:
    """A preview: not recorded."""
    subject = subject_of(db, "straw", code)
    return _pdf(drawn.pdf(db, subject, subject.codes, _style(db, style), paper), subject.id)


@router.get(
    "/labels/{places}/{place_id}.png",
    operation_id="read_plate_picture",
    summary="A place's plate as the printer sets its dots",
    response_class=Response,
    responses=_PNG | problems(*_NO_SUBJECT, *_NOT_DRAWN),
)
def read_plate_picture(
    who: Anyone, db: Reading, places: PlaceKinds, place_id: UUID, dpi: AskedDpi = None
) -> Response:
    """One bit a dot."""
    subject = _place(db, places, place_id)
    return _file(drawn.png(db, subject, "plate", dpi), f"{subject.codes[0]}.png", "image/png")


@router.get(
    "/labels/{places}/{place_id}.pdf",
    operation_id="read_plates",
    summary="A place's plate, to look at",
    response_class=Response,
    responses=_PDF | problems(*_NO_SUBJECT, *_NOT_DRAWN),
)
def read_plates(
    who: Anyone,
    db: Reading,
    places: PlaceKinds,
    place_id: UUID,
    paper: AskedPaper,
    all: Annotated[bool, Query(description="With the plates of all that hangs in it.")] = False,
) -> Response:
    """A preview: not recorded."""
    subject = _place(db, places, place_id, inside=all)
    return _pdf(drawn.pdf(db, subject, subject.codes, "plate", paper), "plates")


def _place(db: Session, places: PlaceKinds, place_id: UUID, *, inside: bool = False) -> Subject:
    kinds: dict[PlaceKinds, SubjectKind] = {
        "goblets": "goblet",
        "canisters": "canister",
        "tanks": "tank",
    }
    return subject_of(db, kinds[places], place_id.hex, inside=inside)


@router.post(
    "/prints",
    operation_id="record_print",
    summary="Print labels, and record it",
    status_code=201,
    response_model=PrintOut,
    responses=answered_again(PrintOut)
    | problems(
        *_NO_SUBJECT,
        rules.OtherStyle,
        rules.OtherStraws,
        rules.ReasonNeeded,
        MisreadCode,
        *_NOT_DRAWN,
        IdReused,
    ),
)
def record_print(who: Worker, db: Writing, body: PrintIn, asked: AskedOnce) -> Response:
    """A reprint keeps its codes and needs a reason, and so do labels that lack a required mark."""

    def do(act: Act) -> PrintOut:
        kind, key = read_what(db, body.what) if isinstance(body.what, str) else _named(body)
        styled(kind, body.style)
        subject = subject_of(db, kind, key, inside=body.style == "plates")
        done = actions.record(
            db,
            act,
            subject,
            body.style,
            straws=body.straws,
            paper=body.paper(),
            reason=body.reason,
        )
        return PrintOut(
            id=act.id,
            pdf_url=_url(act.id),
            missing_marks=done.print.missing_marks,
            labels=done.labels,
            reprinted=done.reprinted,
            warnings=warnings_out(done.warnings),
        )

    return once(db, asked, who, body, do)


def _named(body: PrintIn) -> tuple[SubjectKind, str]:
    assert not isinstance(body.what, str)
    return body.what.kind, body.what.id


def _url(print_id: UUID) -> str:
    return f"/api/prints/{print_id}.pdf"


@router.get(
    "/prints/{print_id}.pdf",
    operation_id="read_print_paper",
    summary="The paper of a print",
    response_class=Response,
    responses=_PDF | problems(rules.UnknownPrint, *_NOT_DRAWN),
)
def read_print_paper(who: Anyone, db: Reading, print_id: UUID) -> Response:
    """The same labels on the same sheets, saying what the book knows of them now."""
    return _pdf(actions.printed_pdf(db, print_id), "labels")


@router.get(
    "/prints",
    operation_id="list_prints",
    summary="What was printed, newest first",
    responses=problems(MisreadCode),
)
def list_prints(
    who: Anyone,
    db: Reading,
    page: AskedPage,
    batch_id: UUID | None = None,
    code: str | None = None,
) -> Listing[PrintRecord]:
    """All prints, or those with labels of a batch, or with one label."""
    read = codes.read(code).code if code is not None else None
    rows = store.prints_page(db, page, batch_id=batch_id, code=read)
    return page_of(
        rows,
        page,
        key=lambda row: (clock.as_text(row[0].recorded_at), row[0].id),
        show=lambda row: PrintRecord(
            id=row[0].id,
            what=row[0].what_kind,
            style=row[0].style,
            labels=row[1],
            reprinted=row[2],
            missing_marks=row[0].missing_marks,
            reason=row[0].reason,
            printed_at=row[0].printed_at,
            by=row[0].by_name,
            pdf_url=_url(row[0].id),
        ),
    )
