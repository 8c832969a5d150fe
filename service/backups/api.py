"""How things stand with the backups, over HTTP: names of files, never paths."""

from datetime import datetime

from fastapi import Request
from pydantic import BaseModel

from service.backups.automatic import Automatic
from service.backups.rules import Manifest
from service.edge.asking import Anyone
from service.edge.transaction import Router

router = Router(prefix="/api", tags=["service"])


class BackupOut(BaseModel):
    """A verified backup."""

    file: str
    created_at: datetime
    bytes: int
    sha256: str
    rimebook: str
    engine: str
    revision: str
    entries: int
    head: str
    straws: dict[str, int]
    people: int


class BackupFailureOut(BaseModel):
    """The last try that failed since the last that worked."""

    at: datetime
    detail: str


class BackupsOut(BaseModel):
    """How things stand; `folder_set` false means that nothing is made automatically."""

    folder_set: bool
    every_hours: float
    newest: BackupOut | None
    overdue: bool
    overdue_since: datetime | None
    last_failure: BackupFailureOut | None
    items: list[BackupOut]


@router.get("/backups", operation_id="read_backups", summary="Is the book backed up?")
def read_backups(request: Request, who: Anyone) -> BackupsOut:
    """The backups that are there, the newest first, and whether the next is overdue."""
    automatic: Automatic = request.app.state.backups
    standing = automatic.standing()
    items = [_shown(one) for one in standing.items]
    failed = standing.last_failure
    return BackupsOut(
        folder_set=standing.folder_set,
        every_hours=standing.every_hours,
        newest=items[0] if items else None,
        overdue=standing.overdue,
        overdue_since=standing.overdue_since,
        last_failure=failed and BackupFailureOut(at=failed.at, detail=failed.detail),
        items=items,
    )


def _shown(one: Manifest) -> BackupOut:
    return BackupOut(
        file=one.file,
        created_at=one.created_at,
        bytes=one.bytes,
        sha256=one.sha256,
        rimebook=one.rimebook,
        engine=one.engine,
        revision=one.contents.revision,
        entries=one.contents.entries,
        head=one.contents.head,
        straws=dict(one.contents.straws),
        people=one.contents.people,
    )
