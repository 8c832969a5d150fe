"""What a scanned or typed code is, and where."""

from datetime import date, datetime
from typing import Annotated, Literal
from uuid import UUID

from pydantic import BaseModel, Field

from service.edge.asking import Anyone
from service.edge.problems import problems
from service.edge.transaction import Reading, Router
from service.kernel import codes
from service.kernel.codes import Kind, MisreadCode
from service.ledger.rules import UnknownCode
from service.lookup.store import BY_CODE

router = Router(prefix="/api", tags=["lookup"])


class StrawFound(BaseModel):
    """A straw; its `id` is its code."""

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
def scan_code(code: str, who: Anyone, db: Reading) -> Found:
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
    match read.kind:
        case Kind.STRAW:
            return StrawFound(id=row["code"], **row)
        case Kind.BATCH:
            return BatchFound(**row)
        case Kind.GOBLET:
            return GobletFound(**row, free_straws=row["capacity_straws"] - row["straws"])
        case Kind.CANISTER:
            return CanisterFound(**row)
        case Kind.TANK:
            return TankFound(**row)
