"""Long lists in pages: `{items, next}`, `?limit=`, `?after=`."""

import base64
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any, Generic, TypeVar
from uuid import UUID

from fastapi import Depends, Query
from pydantic import BaseModel
from sqlalchemy import ColumnElement, and_, or_

from service.kernel import clock
from service.kernel.errors import Invalid

T = TypeVar("T")
Row = TypeVar("Row")
K = TypeVar("K")

DEFAULT_LIMIT = 100
MOST = 1_000


class BadCursor(Invalid):
    """`after` is not one that this service gave."""

    code = "bad-cursor"
    title = "This page marker is not one of ours"


class Listing(BaseModel, Generic[T]):
    """One page; `next` is the marker to send as `after`, null on the last page."""

    items: list[T]
    next: str | None = None


@dataclass(frozen=True, slots=True)
class Page:
    """Which part of a list is asked for: `limit` rows after the row with the sort key `after`."""

    limit: int
    after: tuple[Any, ...] | None

    def after_one(self, kind: Callable[[Any], K]) -> K | None:
        """The marker of a list that is sorted by one value, as `kind`. Raises BadCursor."""
        marker = self.after_as(kind)
        return None if marker is None else marker[0]

    def after_as(self, *kinds: Callable[[Any], K]) -> tuple[K, ...] | None:
        """The marker's values, each as its kind. Raises BadCursor."""
        if self.after is None:
            return None
        try:
            return tuple(kind(value) for kind, value in zip(kinds, self.after, strict=True))
        except (ValueError, TypeError, AttributeError, OverflowError) as error:
            raise _bad_cursor() from error

    def older(self, at: Any, id: Any) -> list[ColumnElement[bool]]:
        """What comes after the marker in a list that is sorted newest first, by moment and id.

        `at` and `id` are the columns. Raises BadCursor.
        """
        after = self.after_as(moment, UUID)
        if after is None:
            return []
        return [or_(at < after[0], and_(at == after[0], id < after[1]))]


def moment(text: str) -> datetime:
    """A marker's moment as `clock.as_text` wrote it; ValueError for any other spelling."""
    read = clock.from_text(text)
    if clock.as_text(read) != text:
        raise ValueError(f"{text} is not how a moment is kept")
    return read


def _page(
    limit: Annotated[int, Query(ge=1, le=MOST)] = DEFAULT_LIMIT,
    after: Annotated[str | None, Query(max_length=500)] = None,
) -> Page:
    return Page(limit, None if after is None else _key_of(after))


AskedPage = Annotated[Page, Depends(_page)]


def page_of(
    rows: Sequence[Row],
    page: Page,
    *,
    key: Callable[[Row], tuple[Any, ...]],
    show: Callable[[Row], T],
) -> Listing[T]:
    """A page out of up to `limit + 1` rows, already ordered by `key` and cut at `after`."""
    shown = rows[: page.limit]
    more = len(rows) > page.limit
    return Listing[Any](
        items=[show(row) for row in shown], next=_marker(key(shown[-1])) if more else None
    )


def _marker(key: tuple[Any, ...]) -> str:
    text = json.dumps([str(part) if not isinstance(part, int) else part for part in key])
    return base64.urlsafe_b64encode(text.encode()).decode().rstrip("=")


def _key_of(marker: str) -> tuple[Any, ...]:
    try:
        padded = marker + "=" * (-len(marker) % 4)
        key = json.loads(base64.urlsafe_b64decode(padded.encode()))
        if not isinstance(key, list) or not all(map(_can_be_asked_for, key)):
            raise ValueError
        return tuple(key)
    except ValueError as error:
        raise _bad_cursor() from error


def _can_be_asked_for(part: object) -> bool:
    """Whether every engine takes this as a value: text in UTF-8, an integer of 32 bits."""
    if isinstance(part, str):
        part.encode()  # half a surrogate pair raises a ValueError
        return "\x00" not in part
    return isinstance(part, int) and -(2**31) <= part < 2**31


def _bad_cursor() -> BadCursor:
    return BadCursor("Send `after` as it came in `next`, or leave it out.")
