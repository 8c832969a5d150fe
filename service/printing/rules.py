"""What is refused before something is printed. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo

from service.bank.marks import StrawMarks, in_words, other_reading, written_day
from service.bank.rules import Warned
from service.kernel.clock import as_text
from service.kernel.codes import grouped
from service.kernel.errors import Invalid, Unknown

#: Far above any batch; bounds how long one paper takes.
MOST_LABELS = 2_000


class UnknownPrint(Unknown):
    """No such print."""

    code = "unknown-print"
    title = "There is no such print"


class UnknownSubject(Unknown):
    """Nothing that could be printed stands under this id or code."""

    code = "unknown-subject"
    title = "There is nothing to print under this"


class NoLabels(Invalid):
    """Nothing of it has a label."""

    code = "no-labels"
    title = "There is nothing to print"


class OtherStraws(Invalid):
    """Straws that are not of what is printed."""

    code = "other-straws"
    title = "These straws are not of this batch"


class OtherStyle(Invalid):
    """A style that this kind of thing does not have."""

    code = "other-style"
    title = "This is not printed so"


class TooManyLabels(Invalid):
    """More labels than one paper holds."""

    code = "too-many-labels"
    title = "Too many labels at once"


class ReasonNeeded(Invalid):
    """A label that was printed before, or one that lacks a mark."""

    code = "reason-needed"
    title = "Say why this is printed"


class LabelDoesNotFit(Invalid):
    """Words that have no room on the label."""

    code = "does-not-fit"
    title = "The words do not fit"


class SymbolNotHonest(Invalid):
    """A symbol that this printer cannot draw in whole dots."""

    code = "not-honest"
    title = "The symbol would not be read"


class LettersNotDrawn(Invalid):
    """Letters that no typeface here has."""

    code = "cannot-draw"
    title = "These letters cannot be printed"


class SheetNotPossible(Invalid):
    """Labels that have no room on the sheet, or a place that it does not have."""

    code = "sheet-too-small"
    title = "This sheet does not hold them"


@dataclass(frozen=True, slots=True)
class Earlier:
    """A label that was printed before: how many times, when last and by whom."""

    code: str
    times: int
    at: datetime
    by: str


def refuse_without_reason(
    reason: str | None, *, missing: Sequence[str], before: Sequence[Earlier], zone: tzinfo
) -> None:
    """Raise ReasonNeeded where a label lacks a mark or may exist twice, and no reason is given.

    Times are told in `zone`.
    """
    if reason is not None:
        return
    told = []
    if before:
        last = max(before, key=lambda one: one.at)
        told.append(
            f"{len(before)} of these labels {'was' if len(before) == 1 else 'were'} printed "
            f"before, last on {last.at.astimezone(zone):%Y-%m-%d at %H:%M} by {last.by}: there may "
            "be two with one code. Say why, and destroy the others."
        )
    if missing:
        told.append(
            f"These straws must say {in_words(missing)}, which is not known. Enter it, or say why "
            "they are printed without."
        )
    if told:
        raise ReasonNeeded(
            " ".join(told),
            missing_marks=list(missing),
            reprinted=len(before),
            printed_before=[
                {"code": one.code, "times": one.times, "at": as_text(one.at), "by": one.by}
                for one in before
            ],
            errors=[{"field": "reason", "message": "is needed"}],
        )


def remarks_on_day(
    marks: StrawMarks, mark_date_format: str, *, earliest: date, today: date
) -> list[Warned]:
    """Whether the day on the straws can be taken for another one."""
    day = marks.collected_on
    other = day and other_reading(day, earliest=earliest, latest=today)
    if day is None or other is None:
        return []
    written = written_day(day, mark_date_format)
    message = (
        f"“{written}” stands for {day}, and somebody who begins at the other end reads {other}. "
        "Both forms are permitted; tell whoever gets these straws which one is yours."
    )
    return [Warned("day-can-be-misread", "what", message)]


def refuse_too_many(labels: int) -> None:
    """Raise TooManyLabels."""
    if labels > MOST_LABELS:
        raise TooManyLabels(
            f"These are {labels} labels, and one paper holds {MOST_LABELS}. Print them in parts."
        )


def refuse_other_straws(asked: Sequence[str], known: Sequence[str]) -> None:
    """Raise OtherStraws for codes that are not among those of the batch."""
    strange = [code for code in asked if code not in set(known)]
    if strange:
        raise OtherStraws(
            f"{grouped(strange[0])} is no straw of this batch that a label is printed for. Choose "
            "straws of its list.",
            straw_codes=strange,
        )
