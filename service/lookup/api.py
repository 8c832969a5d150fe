"""What a scanned or typed code is, and where."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Annotated, Any, Literal
from uuid import UUID
from zoneinfo import ZoneInfo

from fastapi import Depends, Header, Request
from pydantic import BaseModel, Field
from sqlmodel import Session

from service.edge.asking import Anyone
from service.edge.problems import problems
from service.edge.transaction import Reading, Router
from service.edge.wiring import wiring
from service.kernel import codes
from service.kernel.codes import Code, Kind, MisreadCode
from service.ledger.rules import UnknownCode
from service.lookup import pictures
from service.lookup.rules import NotAPicture, NothingRead, OtherPicture
from service.lookup.store import BY_CODE, FOR_EVER

router = Router(prefix="/api", tags=["lookup"])


class StrawFound(BaseModel):
    """A straw; its `id` is its code. On hold with its batch, or in a quarantined tank."""

    kind: Literal["straw"] = "straw"
    id: str
    code: str
    state: str
    provisional: bool
    stallion_id: UUID
    stallion_name: str
    straw_colour: str | None
    batch_id: UUID
    batch_code: str
    collected_on: date | None
    goblet_id: UUID | None
    address: str | None
    withdrawal_id: UUID | None
    since: datetime
    on_hold: bool
    hold_until: date | None


class BatchFound(BaseModel):
    """A batch, with its straws in store."""

    kind: Literal["batch"] = "batch"
    id: UUID
    code: str
    state: str
    stallion_id: UUID
    stallion_name: str
    straw_colour: str | None
    collected_on: date | None
    straws: int
    on_hold: bool
    hold_until: date | None


class GobletFound(BaseModel):
    """A goblet; a place, not a straw."""

    kind: Literal["goblet"] = "goblet"
    id: UUID
    code: str
    address: str
    tier: str
    capacity_straws: int
    straws: int
    free_straws: int
    canister_id: UUID
    canister_number: int
    tank_id: UUID
    tank_name: str
    quarantine: bool
    retired_at: datetime | None


class CanisterFound(BaseModel):
    """A canister; a place, not a straw."""

    kind: Literal["canister"] = "canister"
    id: UUID
    code: str
    number: int
    tank_id: UUID
    tank_name: str
    quarantine: bool
    straws: int
    retired_at: datetime | None


class TankFound(BaseModel):
    """A tank; a place, not a straw."""

    kind: Literal["tank"] = "tank"
    id: UUID
    code: str
    name: str
    quarantine: bool
    straws: int
    retired_at: datetime | None


Found = Annotated[
    StrawFound | BatchFound | GobletFound | CanisterFound | TankFound, Field(discriminator="kind")
]


class CodeSeen(BaseModel):
    """A code in a picture, and what it stands for; null where this bank never issued it."""

    code: str
    kind: str
    found: Found | None


class PictureRead(BaseModel):
    """The codes in a picture, in the order they were found."""

    codes: list[CodeSeen]


#: Pictures are larger than what other routes take.
LARGE_BODIES = {"/api/scan/picture": pictures.MOST_BYTES}


@router.get(
    "/scan/{code}",
    operation_id="scan_code",
    summary="What a code is, and where",
    responses=problems(UnknownCode, MisreadCode),
)
def scan_code(request: Request, code: str, who: Anyone, db: Reading) -> Found:
    """Any case, spaces and hyphens; i and l are read as 1, o as 0."""
    read = codes.read(code)
    found = _found(db, read, wiring(request).clock())
    if found is None:
        raise UnknownCode(
            f"{codes.grouped(read.code)} is well formed, but this bank never issued it. "
            "It may be of another bank, or two symbols are wrong.",
            code_read=read.code,
            kind=read.kind.value,
        )
    return found


async def _picture(request: Request) -> bytes:
    return await request.body()


def _codes_in_picture(
    picture: Annotated[bytes, Depends(_picture)], content_type: Annotated[str, Header()] = ""
) -> tuple[Code, ...]:
    return pictures.codes_in(picture, content_type.partition(";")[0].strip().lower())


#: A picture takes a whole core for a moment: one is read at a time, and others wait without a
#: thread, so that the book stays quick meanwhile.
CodesInPicture = Annotated[tuple[Code, ...], Depends(_codes_in_picture, max_concurrency=1)]


@router.post(
    "/scan/picture",
    operation_id="scan_picture",
    summary="What the codes in a picture are, and where",
    max_body_size=pictures.MOST_BYTES,
    responses=problems(NothingRead, NotAPicture, OtherPicture, MisreadCode),
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {
                media_type: {"schema": {"type": "string", "format": "binary"}}
                for media_type in pictures.MEDIA_TYPES
            },
        }
    },
)
def scan_picture(request: Request, who: Anyone, seen: CodesInPicture, db: Reading) -> PictureRead:
    """Read in memory and never kept; a code that this bank never issued has no `found`."""
    now = wiring(request).clock()
    return PictureRead(
        codes=[
            CodeSeen(code=read.code, kind=read.kind.value, found=_found(db, read, now))
            for read in seen
        ]
    )


def _found(db: Session, read: Code, now: datetime) -> Found | None:
    """What a code stands for; None for one that was never issued."""
    row = db.connection().execute(BY_CODE[read.kind], {"code": read.code}).mappings().first()
    if row is None:
        return None
    match read.kind:
        case Kind.STRAW:
            return StrawFound(id=row["code"], **row, **_hold(row, now))
        case Kind.BATCH:
            return BatchFound(**row, **_hold(row, now))
        case Kind.GOBLET:
            return GobletFound(**row, free_straws=row["capacity_straws"] - row["straws"])
        case Kind.CANISTER:
            return CanisterFound(**row)
        case Kind.TANK:
            return TankFound(**row)


def _hold(row: Mapping[Any, Any], now: datetime) -> dict[str, Any]:
    """Whether what was found is held back today; on the day that a hold names it is free."""
    until: date | None = row["held_until"]
    held = until is not None and until > now.astimezone(ZoneInfo(row["time_zone"])).date()
    return {
        "on_hold": held or bool(row.get("quarantine")),
        "hold_until": until if held and until != FOR_EVER else None,
    }
