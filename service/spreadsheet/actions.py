"""The station's spreadsheet: looked at (a dry run), and carried out whole or not at all."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime

from sqlmodel import Session

from service.bank import store as bank
from service.kernel.acts import Act, Role
from service.spreadsheet import booking, fates, reading, rules, store
from service.spreadsheet.booking import Origin
from service.spreadsheet.fates import Plan
from service.spreadsheet.reading import Delimiter, Table
from service.spreadsheet.understanding import Answers, Understood, understand

#: Told what goes on and how far it is: ("booking", rows done, rows in all).
Tell = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spreadsheet:
    """A file, and what a person said of it.

    `make_stallions` is how many straws a dose takes of stallions that are not in the book yet;
    None leaves them out.
    """

    content: bytes
    answers: Answers = field(default_factory=Answers)
    delimiter: Delimiter | None = None
    kind: Origin | None = None
    make_stallions: int | None = None


@dataclass(frozen=True, slots=True)
class Looked:
    """What a file is and would do."""

    table: Table
    understood: Understood
    plan: Plan

    @property
    def ready(self) -> bool:
        """Whether it can be carried out: no question is open and no row refused."""
        return not self.understood.questions and not self.plan.refused and bool(self.plan.batches)

    @property
    def straws(self) -> int:
        """All straws that would be booked."""
        return sum(batch.straws for batch in self.plan.batches)


def look(db: Session, sheet: Spreadsheet, *, role: Role, now: datetime) -> Looked:
    """What would become of every row; nothing is changed.

    Raises UnreadableFile, FileTooLarge, BadAnswer, MakingStallions.
    """
    if sheet.make_stallions is not None and role not in ("vet", "manager"):
        raise rules.MakingStallions(
            "Stallions that are not in the book are entered by a vet or a manager. Ask one to send "
            "this file, or to enter them first."
        )
    today: date = bank.day_of(db, now)
    table = reading.read(sheet.content, delimiter=sheet.delimiter)
    understood = understand(table, sheet.answers, today)
    known = store.known_for(db, understood.said, today)
    plan = fates.plan(
        understood.said,
        understood.complaints,
        known,
        make_stallions=sheet.make_stallions is not None,
    )
    return Looked(table, understood, plan)


def carry_out(db: Session, act: Act, sheet: Spreadsheet, *, tell: Tell) -> Looked:
    """Book every row, or none: one receipt a batch.

    Raises ImportRefused when a row is refused or a question open, and what `look` raises.
    """
    tell("reading", 0, 0)
    looked = look(db, sheet, role=act.by.role, now=act.recorded_at)
    if not looked.ready:
        raise _refused(looked)
    rows = len(looked.plan.fates)
    tell("booking", 0, rows)
    made = booking.enter_stallions(
        db, act, looked.plan.new_stallions, straws_a_dose=sheet.make_stallions or 1
    )
    booking.book_batches(
        db,
        act,
        looked.plan.batches,
        made,
        kind=sheet.kind,
        tell=lambda done: tell("booking", done, rows),
    )
    return looked


def _refused(looked: Looked) -> rules.ImportRefused:
    questions, refused = looked.understood.questions, looked.plan.refused
    said = [question.message for question in questions]
    said += [f"Line {fate.line}: {fate.message}" for fate in refused[: rules.MOST_ROWS_SHOWN]]
    if questions:
        detail = f"A question is open: {questions[0].message}"
    elif refused:
        more = f" and {len(refused) - 1:,} more" if len(refused) > 1 else ""
        detail = f"Line {refused[0].line}{more} cannot be booked: {refused[0].message}"
    else:
        detail = "There is no row below the header. Choose the file with the rows in it."
    return rules.ImportRefused(
        f"{detail} Nothing of the file was booked.",
        problems=said,
        rows_refused=len(refused),
        questions=[question.code for question in questions],
    )
