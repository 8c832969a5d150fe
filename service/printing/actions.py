"""Recording that something was printed, and printing it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
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
from service.printing.subjects import Style, Subject, narrowed, styled, subject_of

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
    rules.refuse_without_reason(reason, missing=lacking, before=_told(db, before))
    drawn.pdf(db, subject, codes, style, paper)
    facts = {
        "what": subject.kind,
        "style": style,
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


def printed_pdf(db: Session, print_id: UUID, paper: Paper) -> bytes:
    """The paper of a print: the same labels, as the book knows them now. Raises UnknownPrint."""
    kept = db.get(Print, print_id)
    if kept is None:
        raise rules.UnknownPrint("There is no such print. Choose one of the list.")
    subject = subject_of(db, kept.what_kind, kept.what_id, inside=kept.style == "plates")  # type: ignore[arg-type]
    return drawn.pdf(db, subject, store.labels_of(db, print_id), kept.style, paper)  # type: ignore[arg-type]


def _lacking(db: Session, subject: Subject) -> list[str]:
    if subject.batch_id is None:
        return []
    return missing(drawn.marks_on(db, subject.batch_id), bank.station_of(db).required_marks)


def _told(db: Session, before: dict[str, LastPrint]) -> rules.Before | None:
    if not before:
        return None
    last = max(before.values(), key=lambda one: one.at)
    local = last.at.astimezone(ZoneInfo(bank.station_of(db).time_zone))
    return rules.Before(len(before), f"{local:%Y-%m-%d at %H:%M}", last.by)


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
