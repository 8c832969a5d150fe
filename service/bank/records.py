"""Changes to the bank's records: what a record said before is kept beside what it says now."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any
from uuid import UUID

from sqlmodel import Session, SQLModel

from service.edge.versions import keep_change
from service.kernel.acts import Act

Facts = dict[str, Any]
"""What a record says, as JSON has it."""

Changes = Mapping[str, Any]
"""The fields of a record that change, under the table's names, each of the column's type."""

#: Kept in the table for searching, but nothing that anyone said.
_DERIVED = {"folded_name"}


@contextmanager
def kept(
    db: Session, act: Act, kind: str, record_id: UUID, facts: Callable[[], Facts]
) -> Iterator[None]:
    """Keep what `facts` says before and after the block; nothing when the block raises.

    Queries inside the block do not write the half-changed record first: a number that another
    horse bears is to be refused in words, not by the unique index.
    """
    before = facts()
    with db.no_autoflush:
        yield
    keep_change(
        db,
        id=act.id,
        kind=kind,
        record_id=record_id,
        who=act.by,
        at=act.recorded_at,
        before=before,
        after=facts(),
    )
    db.flush()


def facts_of(row: SQLModel) -> Facts:
    """What a row says, as JSON has it."""
    return row.model_dump(mode="json", exclude=_DERIVED)


def apply(row: SQLModel, changes: Changes) -> None:
    """Set the row's fields."""
    for name, value in changes.items():
        setattr(row, name, value)
