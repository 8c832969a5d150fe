"""Rows of text to what they say: figures, days, names; questions that only a person can answer.

Pure: today is an argument. A cell that cannot be right is a complaint of its row; what a file as a
whole leaves open (the decimal sign, the order of day and month, a column) is asked once.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from typing import Any

from pydantic import TypeAdapter, ValidationError

from service.edge.fields import MOST_STRAWS, Name, Note
from service.kernel import codes
from service.kernel.codes import Kind
from service.kernel.errors import Invalid
from service.kernel.quoting import shown
from service.spreadsheet import columns, days, figures, thaws
from service.spreadsheet.cells import is_power, unguarded
from service.spreadsheet.columns import Matched
from service.spreadsheet.days import DateOrder, NotADay
from service.spreadsheet.figures import DecimalSign, NotAFigure
from service.spreadsheet.reading import Row, Table
from service.spreadsheet.thaws import NotAThaw

_NAME: TypeAdapter[str] = TypeAdapter(Name)
_NOTE: TypeAdapter[str] = TypeAdapter(Note)

#: What people write where they do not know; a name may be any of these, but for a lone hyphen.
_UNKNOWN = frozenset({"?", "??", "–", "—", "n/a", "na", "unknown", "unbekannt", "k.a."})
_TEXTS = ("line", "text")

_FIGURES = ("count", "amount", "percent")

#: Columns whose text names something: 3E10 there was a code once.
_CODES = ("stallion", "ueln", "place", "marks_as_read", "batch_code", "straw_codes")


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What a person said of the file; None where it is to be found out."""

    mapping: Mapping[str, str | None] = field(default_factory=dict)
    decimal: DecimalSign | None = None
    date_order: DateOrder | None = None


@dataclass(frozen=True, slots=True)
class Question:
    """What only a person can say: `choices` are (value, words)."""

    code: str
    message: str
    choices: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What one row says; None is unknown. `thaw` is kept as its text, which two rows share."""

    line: int
    stallion: str | None = None
    ueln: str | None = None
    place: str | None = None
    straws: int = 0
    marks_as_read: str | None = None
    collected_on: date | None = None
    collected_where: str | None = None
    approval_number: str | None = None
    extender: str | None = None
    straw_volume_ml: Decimal | None = None
    concentration_million_per_ml: Decimal | None = None
    post_thaw_percent: Decimal | None = None
    post_thaw_minutes: Decimal | None = None
    straw_colour: str | None = None
    thaw: str | None = None
    from_: str | None = None
    owner: str | None = None
    note: str | None = None
    batch_code: str | None = None
    straw_codes: tuple[str, ...] = ()
    hold_reason: str | None = None
    hold_until: date | None = None


@dataclass(slots=True)
class Understood:
    """A file as it was understood: rows by line, complaints by line, what is open."""

    matched: Matched
    decimal: DecimalSign | None
    date_order: DateOrder | None
    said: list[Said] = field(default_factory=list)
    complaints: dict[int, str] = field(default_factory=dict)
    questions: list[Question] = field(default_factory=list)
    assumptions: list[str] = field(default_factory=list)


def understand(table: Table, answers: Answers, today: date) -> Understood:
    """What a table says, with what only a person can answer. Raises BadAnswer."""
    matched = columns.mapped(table.header, answers.mapping)
    found = Understood(matched, answers.decimal, answers.date_order)
    found.complaints |= table.ragged
    found.assumptions += table.assumptions
    found.questions += _about_columns(matched)
    _settle_signs(found, table)
    _settle_days(found, table)
    if found.questions:
        return found
    reader = _Reader(matched, found.decimal, found.date_order, today)
    for row in table.rows:
        try:
            found.said.append(reader.read(row))
        except _Complaint as complaint:
            found.complaints[row.line] = str(complaint)
    return found


def _about_columns(matched: Matched) -> Iterator[Question]:
    titles = {column.name: column.title for column in columns.COLUMNS}
    for name in matched.missing:
        yield Question("column-missing", f"Which column is “{titles[name]}”?", ((name, ""),))
    for name in matched.twice:
        yield Question(
            "column-twice",
            f"More than one column seems to be “{titles[name]}”. Say which one is, and leave the "
            "others out.",
            ((name, ""),),
        )


def _cells(table: Table, matched: Matched, kinds: Sequence[str]) -> Iterator[str]:
    wanted = [
        at for at, name in enumerate(matched.fields) if name and columns.BY_NAME[name].kind in kinds
    ]
    for row in table.rows:
        for at in wanted:
            if row.cells[at]:
                yield row.cells[at]


def _settle_signs(found: Understood, table: Table) -> None:
    if found.decimal is not None:
        return
    signs = figures.signs_in(_cells(table, found.matched, _FIGURES))
    found.decimal = signs.found
    if signs.unsettled is not None and signs.found is None:
        found.questions.append(
            Question(
                "decimal",
                f"Is {shown(signs.unsettled)} a little more than a thousandth of what it is "
                "without the sign, or are thousands grouped? Say which is the decimal sign.",
                (("comma", "The comma: 0,5 is a half"), ("point", "The point: 0.5 is a half")),
            )
        )
    elif signs.unsettled is not None:
        found.assumptions.append(
            f"{shown(signs.unsettled)} is read with the decimal {signs.found} that other figures "
            "of the file have."
        )


def _settle_days(found: Understood, table: Table) -> None:
    orders = days.orders_in(_cells(table, found.matched, ("day",)))
    if orders.two_digits:
        found.assumptions.append(
            "A year of two digits is of this century, or of the one before when that day would "
            "lie in the future."
        )
    if found.date_order is not None:
        return
    found.date_order = orders.found
    if orders.unsettled is None:
        return
    if orders.found is None:
        found.questions.append(
            Question(
                "date-order",
                f"Which comes first in {shown(orders.unsettled)}, the day or the month?",
                (("day-first", "The day"), ("month-first", "The month")),
            )
        )
    else:
        found.assumptions.append(
            f"{shown(orders.unsettled)} is read {orders.found.replace('-', ' ')}, as another day "
            "of the file can only be read that way."
        )


class _Complaint(ValueError):
    """What is wrong with a row."""


class _Reader:
    """Reads rows of one file; equal cells are read once."""

    def __init__(
        self,
        matched: Matched,
        decimal: DecimalSign | None,
        order: DateOrder | None,
        today: date,
    ) -> None:
        self._decimal = decimal
        self._order = order
        self._today = today
        self._wanted = [
            (at, columns.BY_NAME[name]) for at, name in enumerate(matched.fields) if name
        ]
        self._kept: dict[tuple[str, str], Any] = {}
        self._kinds: dict[str, Callable[[str], Any]] = {
            "line": self._line,
            "text": _text,
            "ueln": self._line,
            "place": self._line,
            "count": self._count,
            "amount": self._amount,
            "percent": self._amount,
            "day": self._day,
            "thaw": _thaw,
            "code": lambda text: codes.read(text).code,
            "codes": _straw_codes,
        }

    def read(self, row: Row) -> Said:
        """What a row says. Raises _Complaint with all that is wrong with it."""
        values: dict[str, Any] = {}
        wrong = []
        for at, column in self._wanted:
            cell = row.cells[at]
            if not cell:
                continue
            try:
                values[column.name] = self._value(column, cell)
            except _Complaint as complaint:
                wrong.append(str(complaint))
        said = Said(line=row.line, **_as_fields(values))
        wrong += _lacking(said) if not wrong else []
        if wrong:
            raise _Complaint(" ".join(wrong))
        return said

    def _value(self, column: columns.Column, cell: str) -> Any:
        key = (column.name, cell)
        if key not in self._kept:
            self._kept[key] = self._read(column, cell)
        return self._kept[key]

    def _read(self, column: columns.Column, cell: str) -> Any:
        if column.name in _CODES and is_power(cell):
            raise _Complaint(
                f"{column.title}: a spreadsheet program made the number {shown(cell)} of what "
                "stood there. Format the column as text and type it again."
            )
        bare = cell.strip()
        if bare in ("", "-") or (column.kind not in _TEXTS and bare.casefold() in _UNKNOWN):
            return None
        text = unguarded(cell)
        try:
            return self._kinds[column.kind](text)
        except (NotAFigure, NotADay, NotAThaw) as wrong:
            raise _Complaint(f"{column.title}: {shown(text.strip())} {wrong}.") from None
        except ValidationError as wrong:
            message = wrong.errors()[0]["msg"].removeprefix("Value error, ")
            raise _Complaint(f"{column.title}: {message}.") from None
        except Invalid as wrong:
            raise _Complaint(f"{column.title}: {wrong.detail}") from None

    def _line(self, text: str) -> str:
        return _NAME.validate_python(text)

    def _count(self, text: str) -> int:
        straws = figures.read_count(text, self._decimal)
        if not 1 <= straws <= MOST_STRAWS:
            raise NotAFigure(f"is not between 1 and {MOST_STRAWS:,}")
        return straws

    def _amount(self, text: str) -> Decimal:
        return figures.read_figure(text, self._decimal)

    def _day(self, text: str) -> date:
        return days.read_day(text, self._order, self._today)


def _text(cell: str) -> str | None:
    return _NOTE.validate_python(cell) or None


def _thaw(text: str) -> str:
    return thaws.written_thaw(thaws.read_thaw(text))


def _straw_codes(text: str) -> tuple[str, ...]:
    found = []
    for word in text.split():
        read = codes.read(word)
        if read.kind is not Kind.STRAW:
            raise NotAFigure("is not the code of a straw")
        found.append(read.code)
    if len(set(found)) != len(found):
        raise NotAFigure("names a straw twice")
    return tuple(found)


def _as_fields(values: Mapping[str, Any]) -> dict[str, Any]:
    known = {name: value for name, value in values.items() if value is not None}
    if "from" in known:
        known["from_"] = known.pop("from")
    return known


def _lacking(said: Said) -> list[str]:
    """What a row cannot do without."""
    wrong = []
    if said.stallion is None and said.ueln is None:
        wrong.append("It names no stallion.")
    if said.place is None:
        wrong.append("It says no place.")
    if not said.straws:
        wrong.append("It says no number of straws.")
    if said.straw_codes and len(said.straw_codes) != said.straws:
        wrong.append(
            f"It says {said.straws} straws and names {len(said.straw_codes)} codes. Correct one."
        )
    if said.batch_code and codes.read(said.batch_code).kind is not Kind.BATCH:
        wrong.append("The batch code is a code of something else.")
    if said.hold_until and not said.hold_reason:
        wrong.append("It has a day to hold until, and no reason.")
    return wrong


def figures_of(said: Said) -> Said:
    """A row without what differs between rows of one batch: line, place, straws, owner, note."""
    return replace(said, line=0, place=None, straws=0, owner=None, note=None, straw_codes=())
