"""Numbers as people write them: decimal comma or point, found out from the file or asked. Pure."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

DecimalSign = Literal["comma", "point"]

_SIGNS: dict[DecimalSign, str] = {"comma": ",", "point": "."}

#: Units that people write behind a figure; they stand in the columns' names already.
_UNIT = re.compile(
    r"\s*(?:%|ml|m/ml|mio\.?/ml|mio\.?|million(?:/ml)?|straws?|stk\.?|st\.?)$", re.IGNORECASE
)
_FIGURE = re.compile(r"[+-]?[0-9][0-9.,' \u00a0\u202f]*")
_GROUPED_BLANKS = re.compile(r"(?<=[0-9])['\u00a0\u202f ](?=[0-9]{3}(?![0-9]))")

#: Amounts are kept with at most so many digits.
_MOST_DIGITS = 28


class NotAFigure(ValueError):
    """Why a cell is no figure, in words for after the cell's text."""


@dataclass(frozen=True, slots=True)
class Signs:
    """What the file's figures say of the decimal sign.

    `found` is the one sign that is used (None: none, or both); `unsettled` the first figure that
    means another amount by the other sign.
    """

    found: DecimalSign | None
    unsettled: str | None
    both: bool


def signs_in(cells: Iterable[str]) -> Signs:
    """What these cells say; what is no figure says nothing."""
    seen: set[DecimalSign] = set()
    unsettled = None
    for cell in cells:
        bare = _bare(cell)
        if "," not in bare and "." not in bare:
            continue
        sign = _said(bare)
        if sign is not None:
            seen.add(sign)
        elif unsettled is None and _is_unsettled(bare):
            unsettled = cell.strip()
    return Signs(next(iter(seen)) if len(seen) == 1 else None, unsettled, len(seen) > 1)


def _bare(cell: str) -> str:
    return _GROUPED_BLANKS.sub("", _UNIT.sub("", cell.strip()))


def _said(bare: str) -> DecimalSign | None:
    """The decimal sign that a figure itself settles."""
    if not _FIGURE.fullmatch(bare):
        return None
    if "," in bare and "." in bare:
        return "comma" if bare.rindex(",") > bare.rindex(".") else "point"
    sign = "," if "," in bare else "."
    if bare.count(sign) > 1:
        return "point" if sign == "," else "comma"  # it groups thousands
    whole, _, after = bare.partition(sign)
    if len(after) != 3 or whole.lstrip("+-") in ("", "0") or len(whole.lstrip("+-")) > 3:
        return "comma" if sign == "," else "point"
    return None


def _is_unsettled(bare: str) -> bool:
    return re.fullmatch(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}", bare) is not None


def read_figure(cell: str, decimal: DecimalSign | None) -> Decimal:
    """The amount in a cell. Without a sign for the file a figure must settle its own.

    Raises NotAFigure.
    """
    bare = _bare(cell)
    if re.fullmatch(r"[+-]?[0-9]+", bare):
        return _kept(Decimal(bare))
    if not _FIGURE.fullmatch(bare):
        raise NotAFigure("is not a number")
    sign = decimal or _said(bare)
    if sign is None:
        raise NotAFigure("can be read in two ways")
    mark = _SIGNS[sign]
    group = "." if mark == "," else ","
    whole = rf"(?:[0-9]+|[0-9]{{1,3}}(?:{re.escape(group)}[0-9]{{3}})+)"
    if not re.fullmatch(rf"[+-]?{whole}(?:{re.escape(mark)}[0-9]+)?", bare):
        raise NotAFigure(f"is not a number with a decimal {sign}")
    return _kept(Decimal(bare.replace(group, "").replace(mark, ".")))


def _kept(amount: Decimal) -> Decimal:
    if len(amount.as_tuple().digits) > _MOST_DIGITS:
        raise NotAFigure(f"has more than {_MOST_DIGITS} digits")
    return Decimal(format(amount.normalize(), "f"))


def read_count(cell: str, decimal: DecimalSign | None) -> int:
    """A whole number. Raises NotAFigure."""
    amount = read_figure(cell, decimal)
    if amount != amount.to_integral_value():
        raise NotAFigure("is not a whole number")
    return int(amount)


def written(amount: Decimal | int, decimal: DecimalSign) -> str:
    """A figure as it goes out; no thousands are grouped."""
    plain = str(amount) if isinstance(amount, int) else format(amount, "f")
    return plain.replace(".", _SIGNS[decimal])
