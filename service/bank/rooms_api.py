"""Rooms over HTTP. What oxygen is left in one is asked of the nitrogen."""

from datetime import datetime
from typing import Annotated
from uuid import UUID

from fastapi import Response
from pydantic import BaseModel, Field
from sqlmodel import Session

from service.bank import rooms_actions, rooms_rules, rules
from service.bank.rooms import Room
from service.bank.rooms_rules import (
    AGEING_FACTOR,
    EXPANSION_RATIO,
    OXYGEN_PERCENT,
    NewRoom,
    Ventilation,
)
from service.bank.shapes import (
    WarningOut,
    after_name,
    answered_again,
    history_of,
    said,
    unsaid,
    warnings_out,
    with_version,
)
from service.bank.store import Tank
from service.edge.asking import Anyone, Manager
from service.edge.fields import (
    Amount,
    EventInput,
    Figure,
    Input,
    Name,
    PositiveAmount,
    Reason,
)
from service.edge.listing import AskedPage, Listing, page_of
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, act_now, once
from service.edge.transaction import Reading, Router, Writing
from service.edge.versions import ChangeOut, IfMatch, expect
from service.kernel.acts import Act
from service.kernel.errors import Stale, VersionMissing

router = Router()

#: Slips of the hand beyond these: the largest hall, a gale, air of no place on earth.
Volume = Annotated[
    PositiveAmount,
    Field(
        le=1_000_000,
        description="The air of the room in m³: count the height up to 2 m at most, and take off "
        "what stands in it (10 % is a common figure); a bare room flatters the estimate.",
        examples=[60],
    ),
]
AirChanges = Annotated[
    Amount,
    Field(ge=0, le=200, description="Of a fan, per hour; 0 without one.", examples=[4]),
]
Way = Annotated[
    Ventilation,
    Field(description="`supply`: a fan blows in; `exhaust`: a fan draws out; `none`: no fan."),
]
Expansion = Annotated[
    Amount,
    Field(ge=600, le=1_200, description="Litres of gas of one litre of liquid; sources: 680–700."),
]
Oxygen = Annotated[
    Amount, Field(ge=20, le=22, description="Of fresh air; sources say 20.9 to 21 %.")
]
Ageing = Annotated[
    Amount, Field(ge=1, le=20, description="Allowance for aged insulation, times the rated loss.")
]


class RoomIn(EventInput):
    """A room that tanks stand in."""

    name: Annotated[Name, Field(examples=["Cold store"])]
    volume_m3: Volume
    air_changes_per_hour: AirChanges
    ventilation: Way
    expansion_ratio: Expansion = EXPANSION_RATIO
    oxygen_percent: Oxygen = OXYGEN_PERCENT
    ageing_factor: Ageing = AGEING_FACTOR

    def new_room(self) -> NewRoom:
        """As the actions take it."""
        return NewRoom(**{name: getattr(self, name) for name in NewRoom.__dataclass_fields__})


class RoomChange(Input):
    """What is to change; what is left out stays."""

    name: Name = Field(default_factory=unsaid)
    volume_m3: Volume = Field(default_factory=unsaid)
    air_changes_per_hour: AirChanges = Field(default_factory=unsaid)
    ventilation: Way = Field(default_factory=unsaid)
    expansion_ratio: Expansion = Field(default_factory=unsaid)
    oxygen_percent: Oxygen = Field(default_factory=unsaid)
    ageing_factor: Ageing = Field(default_factory=unsaid)


class RetireRoomIn(EventInput):
    """Why it is no longer in use."""

    reason: Reason


class TankHere(BaseModel):
    """A tank that stands in the room."""

    id: UUID
    name: str


class RoomOut(BaseModel):
    """A room and the tanks in use that stand in it."""

    id: UUID
    name: str
    volume_m3: Figure
    air_changes_per_hour: Figure
    ventilation: Ventilation
    expansion_ratio: Figure
    oxygen_percent: Figure
    ageing_factor: Figure
    retired_at: datetime | None
    tanks: list[TankHere]
    warnings: list[WarningOut]


def _out(room: Room, tanks: list[Tank]) -> RoomOut:
    facts = {name: getattr(room, name) for name in RoomOut.model_fields if hasattr(room, name)}
    return RoomOut(
        **facts,
        tanks=[TankHere(id=tank.id, name=tank.name) for tank in tanks],
        warnings=warnings_out(
            rooms_rules.weigh_room(
                ventilation=room.ventilation, air_changes_per_hour=room.air_changes_per_hour
            )
        ),
    )


def _read(db: Session, room: Room) -> RoomOut:
    return _out(room, rooms_actions.tanks_in(db, [room.id])[room.id])


def _version(room: RoomOut) -> RoomOut:
    """What the ETag is of: tanks come and go while the room's record stays as it is."""
    return room.model_copy(update={"tanks": [], "warnings": []})


@router.post(
    "/rooms",
    operation_id="add_room",
    summary="Enter a room",
    status_code=201,
    response_model=RoomOut,
    responses=answered_again(RoomOut) | problems(rooms_rules.RoomNameTaken, IdReused),
)
def add_room(who: Manager, db: Writing, body: RoomIn, asked: AskedOnce) -> Response:
    """A room that tanks stand in: how much air, and which fan changes how much of it."""

    def do(act: Act) -> RoomOut:
        return _read(db, rooms_actions.add_room(db, act, body.new_room()))

    return once(db, asked, who, body, do)


@router.get("/rooms", operation_id="list_rooms", summary="All rooms")
def list_rooms(who: Anyone, db: Reading, page: AskedPage) -> Listing[RoomOut]:
    """Rooms by name, with the tanks in them; retired ones have `retired_at`."""
    rooms = rooms_actions.rooms_after(db, after_name(page), page.limit)
    tanks = rooms_actions.tanks_in(db, [room.id for room in rooms])
    return page_of(
        rooms,
        page,
        key=lambda room: (room.name, room.id),
        show=lambda room: _out(room, tanks[room.id]),
    )


@router.get(
    "/rooms/{room_id}",
    operation_id="read_room",
    summary="One room",
    responses=problems(rules.UnknownRoom),
)
def read_room(who: Anyone, db: Reading, room_id: UUID, response: Response) -> RoomOut:
    """A room; its ETag is what a change starts from."""
    found = _read(db, rooms_actions.room_of(db, room_id))
    return with_version(found, _version(found), response)


@router.patch(
    "/rooms/{room_id}",
    operation_id="change_room",
    summary="Change a room's record",
    responses=problems(
        rules.UnknownRoom,
        Stale,
        VersionMissing,
        rooms_rules.RoomNameTaken,
        rooms_rules.RoomRetired,
    ),
)
def change_room(
    who: Manager,
    db: Writing,
    room_id: UUID,
    body: RoomChange,
    asked: AskedOnce,
    response: Response,
    if_match: IfMatch = None,
) -> RoomOut:
    """Change what is given; the old values stay in the history."""
    room = rooms_actions.room_of(db, room_id)
    expect(_version(_read(db, room)), if_match)
    now = _read(db, rooms_actions.change_room(db, act_now(asked, who), room, said(body)))
    return with_version(now, _version(now), response)


@router.post(
    "/rooms/{room_id}/retire",
    operation_id="retire_room",
    summary="Take a room out of use",
    status_code=201,
    response_model=RoomOut,
    responses=answered_again(RoomOut)
    | problems(rules.UnknownRoom, rooms_rules.RoomRetired, rooms_rules.TanksStandHere, IdReused),
)
def retire_room(
    who: Manager, db: Writing, room_id: UUID, body: RetireRoomIn, asked: AskedOnce
) -> Response:
    """Only when no tank stands in it; it stays in the history, and its name is free again."""

    def do(act: Act) -> RoomOut:
        room = rooms_actions.room_of(db, room_id)
        return _read(db, rooms_actions.retire_room(db, act, room, body.reason))

    return once(db, asked, who, body, do)


@router.get(
    "/rooms/{room_id}/changes",
    operation_id="read_room_changes",
    summary="What a room's record said before",
    responses=problems(rules.UnknownRoom),
)
def read_room_changes(
    who: Anyone, db: Reading, room_id: UUID, page: AskedPage
) -> Listing[ChangeOut]:
    """Every change, newest first."""
    return history_of(db, "room", rooms_actions.room_of(db, room_id).id, page)
