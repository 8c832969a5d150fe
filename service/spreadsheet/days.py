"""Days as people write them: 2026-03-03, 03.04.26, 3/4/2026, 3 Mar 2026, 3. März 2026. Pure.

Which of 3/4/2026 is the month is found out from the column where one cell settles it (13/4/2026),
and asked otherwise. A year of two digits is of this century unless it would lie in the future.
"""

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

DateOrder = Literal["day-first", "month-first"]

_MIDNIGHT = re.compile(r"[T ]0?0:00(?::00(?:\.0+)?)?$")
_ISO = re.compile(r"([0-9]{4})[-./]([0-9]{1,2})[-./]([0-9]{1,2})")
_NUMBERS = re.compile(r"([0-9]{1,2})\s*([-./])\s*([0-9]{1,2})\s*\2\s*([0-9]{4}|[0-9]{2})")
_NUMBERED = "([0-9]{1,2})(?:st|nd|rd|th)?"
_YEAR = "([0-9]{4}|[0-9]{2})"
_DAY_NAME_YEAR = re.compile(rf"{_NUMBERED}[ .\-/]*([a-z]+)[ .,\-/]*{_YEAR}")
_NAME_DAY_YEAR = re.compile(rf"([a-z]+)[ .\-/]*{_NUMBERED}[ .,\-/]+{_YEAR}")

#: Months in English and German by every beginning that people cut them to.
_MONTHS: dict[str, int] = {}
for _number, _names in enumerate(
    (
        "january januar jaenner janner jan",
        "february februar feb feber",
        "march maerz marz mar mrz",
        "april apr",
        "may mai",
        "june juni jun",
        "july juli jul",
        "august aug",
        "september sept sep",
        "october oktober oct okt",
        "november nov",
        "december dezember dec dez",
    ),
    start=1,
):
    _MONTHS |= dict.fromkeys(_names.split(), _number)


class NotADay(ValueError):
    """Why a cell is no day, in words for after the cell's text."""


@dataclass(frozen=True, slots=True)
class Orders:
    """What a column's cells say of the order.

    `found` is the only order that some cells allow; `unsettled` the first cell that is another day
    by the other order; `two_digits` whether a year has two digits.
    """

    found: DateOrder | None
    unsettled: str | None
    two_digits: bool


def orders_in(cells: Iterable[str]) -> Orders:
    """What these cells say; what is no day of numbers says nothing."""
    seen: set[DateOrder] = set()
    unsettled = None
    two_digits = False
    for cell in cells:
        text = _plain(cell)
        found = _NUMBERS.fullmatch(text)
        two_digits |= (found is not None and len(found[4]) == 2) or _named_short(text)
        if not found:
            continue
        first, second = int(found[1]), int(found[3])
        if first > 12 >= second:
            seen.add("day-first")
        elif second > 12 >= first:
            seen.add("month-first")
        elif first != second and unsettled is None:
            unsettled = cell.strip()
    return Orders(next(iter(seen)) if len(seen) == 1 else None, unsettled, two_digits)


def _named_short(text: str) -> bool:
    found = _DAY_NAME_YEAR.fullmatch(text) or _NAME_DAY_YEAR.fullmatch(text)
    return found is not None and len(found[3]) == 2


def read_day(cell: str, order: DateOrder | None, today: date) -> date:
    """The day in a cell. Without an order for the column a cell must settle its own.

    Raises NotADay.
    """
    text = _plain(cell)
    if found := _ISO.fullmatch(text):
        return _day(int(found[1]), int(found[2]), int(found[3]))
    if found := _NUMBERS.fullmatch(text):
        first, second = int(found[1]), int(found[3])
        order = order or _own_order(first, second)
        if order is None:
            raise NotADay("can be read in two ways")
        day, month = (first, second) if order == "day-first" else (second, first)
        if month > 12 >= day:
            raise NotADay(f"is no day read {order.replace('-', ' ')}")
        return _day(_year(found[4], month, day, today), month, day)
    if found := _DAY_NAME_YEAR.fullmatch(text):
        return _with_name(found[1], found[2], found[3], today)
    if found := _NAME_DAY_YEAR.fullmatch(text):
        return _with_name(found[2], found[1], found[3], today)
    if re.fullmatch(r"[0-9]{5}([.,][0-9]+)?", text):
        raise NotADay("is a spreadsheet program's own number of a day. Format the column as a date")
    raise NotADay("is not a day. Write it like 2026-03-03")


def _plain(cell: str) -> str:
    """Lower case, German umlauts spelled out, other accents off, midnight left out."""
    text = _MIDNIGHT.sub("", cell.strip()).casefold().replace("ä", "ae")
    apart = unicodedata.normalize("NFKD", text)
    return "".join(sign for sign in apart if not unicodedata.combining(sign))


def _own_order(first: int, second: int) -> DateOrder | None:
    if first == second or first > 12:
        return "day-first"
    return "month-first" if second > 12 else None


def _with_name(day: str, name: str, year: str, today: date) -> date:
    month = _MONTHS.get(name)
    if month is None:
        raise NotADay("has a month that is not known. Write the day like 2026-03-03")
    return _day(_year(year, month, int(day), today), month, int(day))


def _year(digits: str, month: int, day: int, today: date) -> int:
    """Two digits: this century, or the one before when that would lie in the future."""
    year = int(digits)
    if len(digits) == 4:
        return year
    year += today.year // 100 * 100
    return year if (year, month, day) <= (today.year, today.month, today.day) else year - 100


def _day(year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise NotADay("is a day that no calendar has") from None
