"""Recording that something was printed, and printing it."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import timedelta
from typing import cast
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.bank import store as bank
from service.bank.marks import missing
from service.bank.rules import Warned
from service.bank.store import Batch, Stallion
from service.kernel.acts import Act
from service.ledger.book import book
from service.printing import drawn, rules, store
from service.printing.drawn import Paper
from service.printing.store import LastPrint, Print, PrintedLabel
from service.printing.subjects import Style, Subject, SubjectKind, narrowed, recorded, styled

#: Straws older than that are not marked with two digits of a year any more.
_OLDEST_STRAWS = timedelta(days=40 * 365)


@dataclass(frozen=True, slots=True)
class Printed:
    """A print as it was recorded."""

    print: Print
    labels: int
    reprinted: int
    warnings: list[Warned]


def record(
    db: Session,
    act: Act,
    subject: Subject,
    style: Style,
    *,
    straws: Sequence[str] | None,
    paper: Paper,
    reason: str | None,
) -> Printed:
    """Record a print. What could not be drawn is refused before.

    Raises OtherStyle, OtherStraws, ReasonNeeded, TooManyLabels, and what `drawn.pdf` raises.
    """
    styled(subject.kind, style)
    codes = narrowed(subject, straws)
    before = store.printed_before(db, codes, style)
    lacking = _lacking(db, subject)
    station = bank.station_of(db)
    rules.refuse_without_reason(
        reason, missing=lacking, before=_told(before), zone=ZoneInfo(station.time_zone)
    )
    drawn.pdf(db, subject, codes, style, paper)
    facts = {
        "what": subject.kind,
        "style": style,
        "paper": asdict(replace(paper, dpi=paper.dpi or station.printer_dpi)),
        "labels": len(codes),
        "first": codes[0],
        "last": codes[-1],
        "reprinted": len(before),
        "missing_marks": lacking,
    }
    book(db, act, "print", [], reason=reason, batch_id=subject.batch_id, facts=facts)
    kept = Print(
        id=act.id,
        what_kind=subject.kind,
        what_id=subject.id,
        style=style,
        reason=reason,
        missing_marks=lacking,
        printed_at=act.occurred_at,
        recorded_at=act.recorded_at,
        by_id=act.by.id,
        by_name=act.by.display_name,
    )
    db.add(kept)
    db.flush()
    db.add_all(
        PrintedLabel(
            print_id=act.id,
            position=position,
            code=code,
            number=before[code].number + 1 if code in before else 1,
        )
        for position, code in enumerate(codes, start=1)
    )
    db.flush()
    return Printed(kept, len(codes), len(before), _remarks(db, act, subject))


def printed_pdf(db: Session, print_id: UUID) -> bytes:
    """The paper of a print: the same labels on the same sheets, saying what the book knows now.

    Raises UnknownPrint, and what `drawn.pdf` raises.
    """
    kept = db.get(Print, print_id)
    if kept is None:
        raise rules.UnknownPrint("There is no such print. Choose one of the list.")
    kind, style = cast(SubjectKind, kept.what_kind), cast(Style, kept.style)
    subject = recorded(db, kind, kept.what_id, style, store.labels_of(db, print_id))
    paper = Paper(**store.facts_of(db, print_id).get("paper", {}))
    return drawn.pdf(db, subject, subject.codes, style, paper)


def _lacking(db: Session, subject: Subject) -> list[str]:
    if subject.batch_id is None:
        return []
    return missing(drawn.marks_on(db, subject.batch_id), bank.station_of(db).required_marks)


def _told(before: dict[str, LastPrint]) -> list[rules.Earlier]:
    return [
        rules.Earlier(code, last.number, last.at, last.by) for code, last in sorted(before.items())
    ]


def _remarks(db: Session, act: Act, subject: Subject) -> list[Warned]:
    """What to look at again on straws."""
    if subject.batch_id is None:
        return []
    batch = db.get_one(Batch, subject.batch_id)
    stallion = db.get_one(Stallion, batch.stallion_id)
    today = bank.day_of(db, act.recorded_at)
    return rules.remarks_on_day(
        drawn.marks_on(db, batch.id),
        bank.station_of(db).mark_date_format,
        earliest=stallion.foaled_on or today - _OLDEST_STRAWS,
        today=today,
    )
