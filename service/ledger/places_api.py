"""Goblets and what is in them, and retiring what is empty, over HTTP."""

from collections.abc import Callable
from datetime import datetime
from uuid import UUID

from fastapi import Response
from pydantic import BaseModel, Field
from sqlmodel import Session

from service.bank import store as bank
from service.bank.rules import AddressTaken, BadAddress
from service.bank.shapes import history_of, said, unsaid
from service.edge.asking import Anyone, Manager
from service.edge.fields import Code, EventInput, Input, PositiveCount, Reason
from service.edge.listing import AskedPage, Listing
from service.edge.problems import problems
from service.edge.replay import AskedOnce, act_now, once
from service.edge.transaction import Reading, Router, Writing
from service.edge.versions import ChangeOut, IfMatch, etag, expect
from service.kernel.acts import Act
from service.kernel.errors import Stale, VersionMissing
from service.ledger import places, store
from service.ledger.rules import GobletRetired
from service.ledger.wire import OwnedOut, owned_out

router = Router(prefix="/api", tags=["bank"])


class ContentOut(BaseModel):
    """Straws of one batch in the goblet."""

    batch_id: UUID
    batch_code: str
    stallion_id: UUID
    stallion_name: str
    straw_colour: str | None
    straws: int
    owners: list[OwnedOut]


class GobletChange(Input):
    """What is to change; what is left out stays."""

    address: Code = Field(default_factory=unsaid)
    capacity_straws: PositiveCount = Field(default_factory=unsaid)


class GobletContents(BaseModel):
    """A goblet and what is in it."""

    id: UUID
    code: str
    address: str
    tier: str
    canister_id: UUID
    capacity_straws: int
    free_straws: int
    retired_at: datetime | None
    contents: list[ContentOut]


class RetireIn(EventInput):
    """Why it is taken out of use."""

    reason: Reason


class RetiredOut(BaseModel):
    """What is no longer in use."""

    id: UUID
    retired_at: datetime


def _shown(db: Session, goblet_id: UUID) -> GobletContents:
    goblet = places.goblet_of(db, goblet_id)
    contents = places.contents(db, goblet.id)
    owned = store.owned_straws(db, {batch.id for batch, *_ in contents})
    return GobletContents(
        id=goblet.id,
        code=goblet.code,
        address=goblet.address,
        tier=goblet.tier,
        canister_id=goblet.canister_id,
        capacity_straws=goblet.capacity_straws,
        free_straws=goblet.capacity_straws - sum(straws for _, _, straws in contents),
        retired_at=goblet.retired_at,
        contents=[
            ContentOut(
                batch_id=batch.id,
                batch_code=batch.code,
                stallion_id=stallion.id,
                stallion_name=stallion.name,
                straw_colour=bank.colour_of(batch, stallion),
                straws=straws,
                owners=owned_out(owned.get((batch.id, goblet.id), {})),
            )
            for batch, stallion, straws in contents
        ],
    )


def _version(goblet: GobletContents) -> BaseModel:
    """What the ETag is of: straws come and go while the goblet's record stays as it is."""
    return goblet.model_copy(update={"contents": [], "free_straws": 0})


@router.get(
    "/goblets/{goblet_id}",
    operation_id="read_goblet",
    summary="A goblet and what is in it",
    responses=problems(places.UnknownPlace),
)
def read_goblet(goblet_id: UUID, who: Anyone, db: Reading, response: Response) -> GobletContents:
    """Its ETag is what a change of address or capacity starts from."""
    goblet = _shown(db, goblet_id)
    response.headers["ETag"] = etag(_version(goblet))
    return goblet


@router.patch(
    "/goblets/{goblet_id}",
    operation_id="change_goblet",
    summary="Change a goblet's address or capacity",
    responses=problems(
        places.UnknownPlace,
        BadAddress,
        AddressTaken,
        places.HoldsMore,
        GobletRetired,
        Stale,
        VersionMissing,
    ),
)
def change_goblet(
    goblet_id: UUID,
    who: Manager,
    db: Writing,
    body: GobletChange,
    asked: AskedOnce,
    response: Response,
    if_match: IfMatch = None,
) -> GobletContents:
    """Print its plate anew afterwards."""
    expect(_version(_shown(db, goblet_id)), if_match)
    places.change_goblet(db, act_now(asked, who), places.goblet_of(db, goblet_id), said(body))
    goblet = _shown(db, goblet_id)
    response.headers["ETag"] = etag(_version(goblet))
    return goblet


@router.get(
    "/goblets/{goblet_id}/changes",
    operation_id="read_goblet_changes",
    summary="What a goblet's record said before",
    responses=problems(places.UnknownPlace),
)
def read_goblet_changes(
    goblet_id: UUID, who: Anyone, db: Reading, page: AskedPage
) -> Listing[ChangeOut]:
    """Every change, newest first."""
    return history_of(db, "goblet", places.goblet_of(db, goblet_id).id, page)


_RETIRING = problems(places.UnknownPlace, places.NotEmpty, places.AlreadyRetired)


@router.post(
    "/goblets/{goblet_id}/retire",
    operation_id="retire_goblet",
    summary="Take an empty goblet out of use",
    status_code=201,
    response_model=RetiredOut,
    responses=_RETIRING,
)
def retire_goblet(
    goblet_id: UUID, who: Manager, db: Writing, body: RetireIn, asked: AskedOnce
) -> Response:
    """Only when it is empty; it stays in the history."""
    return once(db, asked, who, body, _retiring(db, places.retire_goblet, goblet_id, body))


@router.post(
    "/canisters/{canister_id}/retire",
    operation_id="retire_canister",
    summary="Take an empty canister out of use",
    status_code=201,
    response_model=RetiredOut,
    responses=_RETIRING,
)
def retire_canister(
    canister_id: UUID, who: Manager, db: Writing, body: RetireIn, asked: AskedOnce
) -> Response:
    """With its goblets, and only when all of them are empty."""
    return once(db, asked, who, body, _retiring(db, places.retire_canister, canister_id, body))


@router.post(
    "/tanks/{tank_id}/retire",
    operation_id="retire_tank",
    summary="Take an empty tank out of use",
    status_code=201,
    response_model=RetiredOut,
    responses=_RETIRING,
)
def retire_tank(
    tank_id: UUID, who: Manager, db: Writing, body: RetireIn, asked: AskedOnce
) -> Response:
    """With all that hangs in it, and only when it is empty."""
    return once(db, asked, who, body, _retiring(db, places.retire_tank, tank_id, body))


def _retiring(
    db: Session,
    retire: Callable[[Session, Act, UUID, str], datetime],
    place_id: UUID,
    body: RetireIn,
) -> Callable[[Act], RetiredOut]:
    def do(act: Act) -> RetiredOut:
        return RetiredOut(id=place_id, retired_at=retire(db, act, place_id, body.reason))

    return do
