"""What a scanned or typed code is, and where."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Annotated, Any, Literal
from uuid import UUID
from zoneinfo import ZoneInfo

from fastapi import Request
from pydantic import BaseModel, Field

from service.edge.asking import Anyone
from service.edge.problems import problems
from service.edge.transaction import Reading, Router
from service.edge.wiring import wiring
from service.kernel import codes
from service.kernel.codes import Kind, MisreadCode
from service.ledger.rules import UnknownCode
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


@router.get(
    "/scan/{code}",
    operation_id="scan_code",
    summary="What a code is, and where",
    responses=problems(UnknownCode, MisreadCode),
)
def scan_code(request: Request, code: str, who: Anyone, db: Reading) -> Found:
    """Any case, spaces and hyphens; i and l are read as 1, o as 0."""
    read = codes.read(code)
    row = db.connection().execute(BY_CODE[read.kind], {"code": read.code}).mappings().first()
    if row is None:
        raise UnknownCode(
            f"{codes.grouped(read.code)} is well formed, but this bank never issued it. "
            "It may be of another bank, or two symbols are wrong.",
            code_read=read.code,
            kind=read.kind.value,
        )
    now = wiring(request).clock()
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
