"""Labels drawn from what the book knows; what cannot be drawn is refused in the service's words."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Literal, cast
from uuid import UUID

from sqlmodel import Session

from labels import raster, sheets
from labels.errors import CannotDraw, DoesNotFit, NotHonest
from labels.plates import PlateWords, plate
from labels.shapes import Dpi, Face, Printer
from labels.sheets import Sheet, SheetTooSmall
from labels.straws import Flag, StrawWords, Strip, flag, strip
from service.bank.marks import StrawMarks, marks_of, written_day
from service.bank.store import Batch, Stallion, Station, station_of
from service.printing import rules
from service.printing.store import Place
from service.printing.subjects import STRAW_STYLES, Style, Subject


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """On what it is printed: label paper, or a sheet of A4 from some place on."""

    dpi: int | None = None
    sheet: Literal["a4"] | None = None
    start: int = 1
    margin_mm: float = 10.0


@contextmanager
def in_words() -> Iterator[None]:
    """What labels refuse, as the service refuses."""
    try:
        yield
    except DoesNotFit as error:
        raise rules.LabelDoesNotFit(str(error), words=list(error.words)) from error
    except NotHonest as error:
        raise rules.SymbolNotHonest(str(error)) from error
    except CannotDraw as error:
        raise rules.LettersNotDrawn(str(error), letters=list(error.letters)) from error
    except SheetTooSmall as error:
        raise rules.SheetNotPossible(str(error)) from error


def printer_of(station: Station, dpi: int | None) -> Printer:
    """The printer that is asked for, or the station's."""
    return Printer(cast(Dpi, dpi or station.printer_dpi))


def marks_on(db: Session, batch_id: UUID) -> StrawMarks:
    """What is known of a batch that belongs on its straws."""
    batch = db.get_one(Batch, batch_id)
    return marks_of(batch, db.get_one(Stallion, batch.stallion_id), station_of(db))


def pdf(db: Session, subject: Subject, codes: Sequence[str], style: Style, paper: Paper) -> bytes:
    """Labels as a paper, ready to print."""
    rules.refuse_too_many(len(codes))
    printer = printer_of(station_of(db), paper.dpi)
    with in_words():
        faces = _faces(db, subject, codes, style, printer)
        if paper.sheet is None:
            return sheets.roll(faces)
        sheet = Sheet(margin_mm=paper.margin_mm, start=paper.start)
        return sheets.a4(faces, printer, sheet)


def png(db: Session, subject: Subject, style: Style, dpi: int | None) -> bytes:
    """The first label of a subject as the printer would set its dots."""
    printer = printer_of(station_of(db), dpi)
    with in_words():
        [face] = _faces(db, subject, subject.codes[:1], style, printer)
        return raster.png(face, printer)


def ruler(db: Session, dpi: int | None) -> bytes:
    """The page that proves the size."""
    return sheets.ruler(printer_of(station_of(db), dpi))


def _faces(
    db: Session, subject: Subject, codes: Sequence[str], style: Style, printer: Printer
) -> list[Face]:
    if style not in STRAW_STYLES:
        wanted = set(codes)
        return [_plate(place, printer) for place in subject.places if place.code in wanted]
    assert subject.batch_id is not None
    marks, station = marks_on(db, subject.batch_id), station_of(db)
    diameter = float(station.straw_diameter_mm)
    words = [_words(code, marks, station) for code in codes]
    if style == "flag":
        return [flag(one, Flag(straw_diameter_mm=diameter), printer) for one in words]
    how = Strip(
        straw_diameter_mm=diameter,
        length_mm=float(station.strip_length_mm),
        form=cast(Literal["band", "wrap"], station.strip_form),
        symbol=station.strip_symbol,
    )
    return [strip(one, how, printer) for one in words]


def _words(code: str, marks: StrawMarks, station: Station) -> StrawWords:
    day = marks.collected_on
    numbers = (marks.approval_number, marks.processing_approval_number)
    return StrawWords(
        code=code,
        stallion=marks.stallion_name,
        identity=marks.donor_identity,
        species=marks.species,
        breed=marks.breed if "breed" in station.required_marks else None,
        collected=written_day(day, station.mark_date_format) if day else None,
        approvals=tuple(dict.fromkeys(number for number in numbers if number)),
        batch_code=marks.batch_code,
    )


def _plate(place: Place, printer: Printer) -> Face:
    return plate(
        PlateWords(kind=place.kind, code=place.code, title=place.title, line=place.line), printer
    )
