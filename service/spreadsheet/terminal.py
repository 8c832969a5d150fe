"""An import as the command line does it: every row's fate by line, then all of them or none."""

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from sqlmodel import Session

from service.kernel.acts import Act, Person
from service.kernel.database import Database
from service.kernel.errors import Forbidden
from service.people.actions import named
from service.people.store import as_person
from service.spreadsheet import actions, fates, reading, rules
from service.spreadsheet.actions import Looked, Spreadsheet
from service.spreadsheet.rules import BadAnswer

_MAY = ("technician", "vet", "manager")

#: Progress is told about so many times.
_TIMES_TOLD = 20

#: Words of a question, and the option that answers it.
_OPTIONS = {
    "decimal": "--decimal comma, or --decimal point",
    "date-order": "--dates day-first, or --dates month-first",
    "column-missing": "--map COLUMN={}",
    "column-twice": "--map COLUMN={}, and --map OTHER= for those to leave out",
}


def read_file(path: Path) -> bytes:
    """The bytes of a file, of a huge one none at all. Raises FileTooLarge, OSError."""
    reading.refuse_size(path.stat().st_size)
    with path.open("rb") as file:
        # A pipe says no size: one byte beyond the limit is enough to know.
        content = file.read(rules.LARGEST_FILE_BYTES + 1)
    reading.refuse_size(len(content))
    return content


def read_mapping(words: Sequence[str]) -> dict[str, str | None]:
    """`COLUMN=FIELD`, or `COLUMN=` to leave it out. Raises BadAnswer."""
    mapping: dict[str, str | None] = {}
    for word in words:
        column, sign, field = word.rpartition("=")
        if not sign:
            raise BadAnswer(f"--map takes COLUMN=FIELD; {word!r} has no =.")
        mapping[column] = field or None
    return mapping


def importer(db: Session, username: str) -> Person:
    """Who imports. Raises UnknownPerson, Forbidden."""
    user = named(db, username)
    if user.disabled_at is not None or user.role not in _MAY:
        raise Forbidden(
            f"{user.display_name} may not book straws: that takes an account in use of a "
            f"{_MAY[0]}, {_MAY[1]} or {_MAY[2]}."
        )
    return as_person(user)


def dry_run(
    database: Database, username: str, sheet: Spreadsheet, act_of: Callable[[Person], Act]
) -> Looked:
    """What would become of every row."""
    with database.reading() as db:
        act = act_of(importer(db, username))
        return actions.look(db, sheet, role=act.by.role, now=act.recorded_at)


def carry_out(
    database: Database,
    username: str,
    sheet: Spreadsheet,
    act_of: Callable[[Person], Act],
    say: Callable[[str], None],
) -> Looked:
    """Book every row or none; `say` is told how far it is. Raises ImportRefused."""
    told = 0

    def tell(state: str, done: int, rows: int) -> None:
        nonlocal told
        if state == "booking" and rows and done * _TIMES_TOLD // rows > told:
            told = done * _TIMES_TOLD // rows
            say(f"{done:,} of {rows:,} rows")

    with database.writing() as db:
        return actions.carry_out(db, act_of(importer(db, username)), sheet, tell=tell)


def in_words(looked: Looked) -> Iterator[str]:
    """What a file would do: what was assumed, what is open, every row by line, the totals."""
    for assumed in looked.understood.assumptions:
        yield f"Assumed: {assumed}"
    for question in looked.understood.questions:
        option = _OPTIONS[question.code].format(question.choices[0][0])
        yield f"Asked: {question.message} Answer with {option}."
    for fate in looked.plan.fates:
        yield f"{fate.line:>6}  {'' if fate.booked else 'REFUSED: '}{fate.message}"
        for warning in fate.warnings:
            yield f"        look again: {warning}"
    refused = len(looked.plan.refused)
    yield (
        f"{len(looked.plan.fates):,} rows, {refused:,} of them refused; "
        f"{looked.straws:,} straws in {len(looked.plan.batches):,} batches."
    )
    if any(fate.message.startswith(fates.UNKNOWN) for fate in looked.plan.refused):
        yield "Stallions that are not there are entered with --make-stallions STRAWS-A-DOSE."
    if looked.plan.new_stallions:
        yield f"New stallions: {', '.join(one.name for one in looked.plan.new_stallions)}."
