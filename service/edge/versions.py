"""Records that people edit: a version to read, that version to change, old values kept."""

import hashlib
from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, Any, TypeVar
from uuid import UUID

from fastapi import Header, Response
from pydantic import BaseModel
from sqlalchemy import JSON, Text
from sqlmodel import Field, Session, SQLModel, col, select

from service.edge.listing import Listing, Page, page_of
from service.kernel import clock
from service.kernel.acts import Person
from service.kernel.columns import UtcMoment
from service.kernel.errors import Stale, VersionMissing

R = TypeVar("R", bound=BaseModel)

IfMatch = Annotated[str | None, Header(description="The ETag of the version you are changing.")]


class RecordChange(SQLModel, table=True):
    """One change of one record: its changed fields before and after. Never changed itself."""

    __tablename__ = "record_changes"

    id: UUID = Field(primary_key=True)
    kind: str = Field(max_length=20, index=True)
    record_id: UUID = Field(index=True)
    changed_at: datetime = Field(sa_type=UtcMoment, index=True)
    changed_by: UUID
    changed_by_name: str = Field(sa_type=Text)
    before: dict[str, Any] = Field(sa_type=JSON)
    after: dict[str, Any] = Field(sa_type=JSON)


class ChangeOut(BaseModel):
    """A change as it is read: `before` and `after` hold the fields that changed."""

    changed_at: datetime
    changed_by: str
    before: dict[str, Any]
    after: dict[str, Any]


class ChangeByOut(ChangeOut):
    """A change of some record, told of the person who made it."""

    kind: str
    record_id: UUID


def etag(record: BaseModel) -> str:
    """The version of a record: a digest of what is read."""
    return f'"{hashlib.sha256(record.model_dump_json().encode()).hexdigest()[:20]}"'


def versioned(record: R, response: Response) -> R:
    """The record, with its ETag on the answer."""
    response.headers["ETag"] = etag(record)
    return record


def expect(record: BaseModel, if_match: str | None) -> None:
    """Raise VersionMissing without a version, Stale when the record is another by now."""
    if if_match is None:
        raise VersionMissing("Read the record first and send its ETag back as If-Match.")
    if if_match != etag(record):
        raise Stale(
            "Someone changed this record after you read it. Read it again, then change it.",
            current=record.model_dump(mode="json"),
        )


def keep_change(
    db: Session,
    *,
    id: UUID,
    kind: str,
    record_id: UUID,
    who: Person,
    at: datetime,
    before: Mapping[str, Any],
    after: Mapping[str, Any],
) -> None:
    """Keep what a record said before, beside what it says now; nothing when nothing changed."""
    changed = [name for name in after if before.get(name) != after[name]]
    if changed:
        db.add(
            RecordChange(
                id=id,
                kind=kind,
                record_id=record_id,
                changed_at=at,
                changed_by=who.id,
                changed_by_name=who.display_name,
                before={name: before.get(name) for name in changed},
                after={name: after[name] for name in changed},
            )
        )


def changes_of(db: Session, kind: str, record_id: UUID) -> list[ChangeOut]:
    """Every change of a record, newest first."""
    rows = db.exec(
        select(RecordChange)
        .where(RecordChange.kind == kind, RecordChange.record_id == record_id)
        .order_by(col(RecordChange.changed_at).desc())
    )
    return [_change_out(row) for row in rows]


def changes_by(db: Session, person_id: UUID, page: Page) -> Listing[ChangeByOut]:
    """A page of the changes of records that a person made, newest first."""
    query = (
        select(RecordChange)
        .where(RecordChange.changed_by == person_id)
        .order_by(col(RecordChange.changed_at).desc(), col(RecordChange.id).desc())
        .where(*page.older(col(RecordChange.changed_at), col(RecordChange.id)))
        .limit(page.limit + 1)
    )
    return page_of(
        list(db.exec(query)),
        page,
        key=lambda row: (clock.as_text(row.changed_at), row.id),
        show=lambda row: ChangeByOut(
            kind=row.kind, record_id=row.record_id, **dict(_change_out(row))
        ),
    )


def _change_out(row: RecordChange) -> ChangeOut:
    return ChangeOut(
        changed_at=row.changed_at,
        changed_by=row.changed_by_name,
        before=row.before,
        after=row.after,
    )
