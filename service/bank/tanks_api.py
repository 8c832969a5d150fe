"""Tanks over HTTP."""

from datetime import datetime
from typing import Annotated, Any, Literal
from uuid import UUID

from fastapi import Response
from pydantic import BaseModel, Discriminator, Field, StringConstraints, Tag
from sqlmodel import Session

from service.bank import rules, search, tanks_actions
from service.bank.rooms_rules import RoomRetired
from service.bank.rules import Tier, Warned
from service.bank.search import TankTree
from service.bank.shapes import (
    WarningOut,
    after_name,
    answered_again,
    history_of,
    said,
    unsaid,
    warnings_out,
)
from service.bank.store import Canister, Goblet, Tank
from service.bank.tanks_rules import (
    MOST_GOBLETS,
    SHORT_NAME_LENGTH,
    CalibrationPoint,
    NewGoblet,
    NewTank,
    even_layout,
    in_tiers,
)
from service.edge.asking import Anyone, Manager
from service.edge.fields import (
    Amount,
    EventInput,
    Figure,
    Flag,
    Identifier,
    Input,
    Name,
    PositiveAmount,
    PositiveCount,
    Untagged,
)
from service.edge.listing import AskedPage, Listing, page_of
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, act_now, once
from service.edge.transaction import Reading, Router, Writing
from service.edge.versions import ChangeOut, IfMatch, etag, expect
from service.kernel.acts import Act
from service.kernel.errors import Stale, VersionMissing

router = Router()

ShortName = Annotated[
    str,
    StringConstraints(
        strict=True, pattern=f"^[A-Z0-9]{{1,{SHORT_NAME_LENGTH}}}$", max_length=SHORT_NAME_LENGTH
    ),
    Field(
        description="What its goblets' addresses begin with; made from the name unless given.",
        examples=["NORTH"],
    ),
]


class PointIn(Input):
    """A line of the dipstick table."""

    level_cm: Amount
    litres: Amount

    def point(self) -> CalibrationPoint:
        """As the rules take it."""
        return CalibrationPoint(level_cm=self.level_cm, litres=self.litres)


class EvenLayoutIn(Input):
    """The same in every canister; half of the goblets stand in each tier, the lower one first."""

    canisters: Annotated[PositiveCount, Field(le=MOST_GOBLETS, examples=[6])]
    goblets_per_canister: Annotated[PositiveCount, Field(le=MOST_GOBLETS, examples=[2])]
    straws_per_goblet: Annotated[PositiveCount, Field(examples=[85])]


class GobletIn(Input):
    """A goblet; without `tier` the first half of a canister stands in the lower one."""

    tier: Tier | None = None
    capacity_straws: PositiveCount


class CanisterIn(Input):
    """A canister with its goblets."""

    goblets: Annotated[list[GobletIn], Field(min_length=1, max_length=MOST_GOBLETS)]


class MixedLayoutIn(Input):
    """Each canister by itself, numbered from 1 as listed."""

    canisters: Annotated[list[CanisterIn], Field(min_length=1, max_length=MOST_GOBLETS)]


def _even_or_mixed(value: Any) -> Literal["even", "mixed"]:
    # Asked twice: about what arrived, and about the model when it is written out.
    found = value if isinstance(value, dict) else getattr(value, "__dict__", {})
    canisters = found.get("canisters")
    return "mixed" if isinstance(canisters, list) else "even"


LayoutIn = Annotated[
    Annotated[EvenLayoutIn, Tag("even")] | Annotated[MixedLayoutIn, Tag("mixed")],
    Discriminator(_even_or_mixed),
    Untagged,
]

Table = Annotated[
    list[PointIn],
    Field(
        max_length=500,
        description="The dipstick table, lowest level first. Both columns rise.",
        examples=[[{"level_cm": 0, "litres": 0}, {"level_cm": 60, "litres": 47}]],
    ),
]


class TankIn(EventInput):
    """A tank with all that hangs in it."""

    name: Annotated[Name, Field(examples=["North"])]
    short_name: ShortName | None = None
    capacity_litres: Annotated[PositiveAmount, Field(examples=[47])]
    rated_loss_litres_per_day: Annotated[
        PositiveAmount, Field(description="The maker's static evaporation.", examples=[0.39])
    ]
    minimum_level_cm: Annotated[Amount, Field(examples=[12])]
    calibration: Table
    empty_weight_kg: PositiveAmount | None = None
    layout: LayoutIn
    room_id: Identifier | None = None
    quarantine: Flag = False

    def new_tank(self) -> NewTank:
        """As the rules take it."""
        return NewTank(
            name=self.name,
            short_name=self.short_name,
            capacity_litres=self.capacity_litres,
            rated_loss_litres_per_day=self.rated_loss_litres_per_day,
            minimum_level_cm=self.minimum_level_cm,
            empty_weight_kg=self.empty_weight_kg,
            calibration=[line.point() for line in self.calibration],
            quarantine=self.quarantine,
            canisters=_canisters(self.layout),
            room_id=self.room_id,
        )


def _canisters(layout: EvenLayoutIn | MixedLayoutIn) -> list[list[NewGoblet]]:
    if isinstance(layout, EvenLayoutIn):
        return even_layout(
            canisters=layout.canisters,
            goblets_per_canister=layout.goblets_per_canister,
            straws_per_goblet=layout.straws_per_goblet,
        )
    return [
        in_tiers([(goblet.tier, goblet.capacity_straws) for goblet in canister.goblets])
        for canister in layout.canisters
    ]


class TankChange(Input):
    """What is to change; what is left out stays."""

    name: Name = Field(default_factory=unsaid)
    short_name: ShortName = Field(default_factory=unsaid)
    capacity_litres: PositiveAmount = Field(default_factory=unsaid)
    rated_loss_litres_per_day: PositiveAmount = Field(default_factory=unsaid)
    minimum_level_cm: Amount = Field(default_factory=unsaid)
    calibration: Table = Field(default_factory=unsaid)
    empty_weight_kg: PositiveAmount | None = None
    room_id: Annotated[
        Identifier | None, Field(description="The room it stands in; null takes it out.")
    ] = None
    quarantine: Flag = Field(default_factory=unsaid)


class PointOut(BaseModel):
    """A line of the dipstick table."""

    level_cm: Figure
    litres: Figure


class GobletOut(BaseModel):
    """A goblet; `address` stands on its plate."""

    id: UUID
    code: str
    address: str
    tier: Tier
    capacity_straws: int


class CanisterOut(BaseModel):
    """A canister with its goblets, the lower tier first."""

    id: UUID
    code: str
    number: int
    goblets: list[GobletOut]


class TankOut(BaseModel):
    """A tank with all that hangs in it (what was retired is left out)."""

    id: UUID
    code: str
    name: str
    short_name: str
    capacity_litres: Figure
    rated_loss_litres_per_day: Figure
    minimum_level_cm: Figure
    empty_weight_kg: Figure | None
    calibration: list[PointOut]
    room_id: UUID | None
    quarantine: bool
    retired_at: datetime | None
    canisters: list[CanisterOut]
    warnings: list[WarningOut]


def _out(tree: TankTree, also: list[Warned] | None = None) -> TankOut:
    tank = tree.tank
    return TankOut(
        id=tank.id,
        code=tank.code,
        name=tank.name,
        short_name=tank.short_name,
        capacity_litres=tank.capacity_litres,
        rated_loss_litres_per_day=tank.rated_loss_litres_per_day,
        minimum_level_cm=tank.minimum_level_cm,
        empty_weight_kg=tank.empty_weight_kg,
        calibration=[
            PointOut(level_cm=point.level_cm, litres=point.litres)
            for point in tanks_actions.points_of(tank)
        ],
        room_id=tank.room_id,
        quarantine=tank.quarantine,
        retired_at=tank.retired_at,
        canisters=[_canister_out(canister, goblets) for canister, goblets in tree.canisters],
        warnings=warnings_out((also or []) + tanks_actions.weigh_tank(tank)),
    )


def _canister_out(canister: Canister, goblets: list[Goblet]) -> CanisterOut:
    return CanisterOut(
        id=canister.id,
        code=canister.code,
        number=canister.number,
        goblets=[GobletOut.model_validate(goblet, from_attributes=True) for goblet in goblets],
    )


def _read(db: Session, tank: Tank, also: list[Warned] | None = None) -> TankOut:
    [tree] = search.trees_of(db, [tank])
    return _out(tree, also)


def _version(tank: TankOut) -> TankOut:
    """What the ETag is of: warnings may come and go while the record stays as it is."""
    return tank.model_copy(update={"warnings": []})


@router.post(
    "/tanks",
    operation_id="add_tank",
    summary="Set up a tank",
    status_code=201,
    response_model=TankOut,
    responses=answered_again(TankOut)
    | problems(
        rules.BadCalibration,
        rules.BadLayout,
        rules.NameTaken,
        rules.AddressTaken,
        IdReused,
        rules.UnknownRoom,
        RoomRetired,
    ),
)
def add_tank(who: Manager, db: Writing, body: TankIn, asked: AskedOnce) -> Response:
    """A tank with its canisters and goblets, laid out evenly or each by itself, in one call."""

    def do(act: Act) -> TankOut:
        return _read(db, tanks_actions.add_tank(db, act, body.new_tank()))

    return once(db, asked, who, body, do)


@router.get("/tanks", operation_id="list_tanks", summary="All tanks")
def list_tanks(who: Anyone, db: Reading, page: AskedPage) -> Listing[TankOut]:
    """Tanks by name, with all that hangs in them; retired ones have `retired_at`."""
    tanks = search.tanks_after(db, after_name(page), page.limit)
    trees = search.trees_of(db, tanks)
    return page_of(trees, page, key=lambda tree: (tree.tank.name, tree.tank.id), show=_out)


@router.get(
    "/tanks/{tank_id}",
    operation_id="read_tank",
    summary="One tank",
    responses=problems(rules.UnknownTank),
)
def read_tank(who: Anyone, db: Reading, tank_id: UUID, response: Response) -> TankOut:
    """A tank; its ETag is what a change starts from."""
    found = _read(db, tanks_actions.tank_of(db, tank_id))
    response.headers["ETag"] = etag(_version(found))
    return found


@router.patch(
    "/tanks/{tank_id}",
    operation_id="change_tank",
    summary="Change a tank's record",
    responses=problems(
        rules.UnknownTank,
        Stale,
        VersionMissing,
        rules.BadCalibration,
        rules.NameTaken,
        rules.AddressTaken,
        rules.TankRetired,
        rules.UnknownRoom,
        RoomRetired,
    ),
)
def change_tank(
    who: Manager,
    db: Writing,
    tank_id: UUID,
    body: TankChange,
    asked: AskedOnce,
    response: Response,
    if_match: IfMatch = None,
) -> TankOut:
    """Change what is given. Addresses follow a new name; `warnings` says which plates to print."""
    tank = tanks_actions.tank_of(db, tank_id)
    expect(_version(_read(db, tank)), if_match)
    changes = said(body)
    if "calibration" in changes:
        changes["calibration"] = tanks_actions.table_of([line.point() for line in body.calibration])
    to_do = tanks_actions.change_tank(db, act_now(asked, who), tank, changes)
    now = _read(db, tank, to_do)
    response.headers["ETag"] = etag(_version(now))
    return now


@router.get(
    "/tanks/{tank_id}/changes",
    operation_id="read_tank_changes",
    summary="What a tank's record said before",
    responses=problems(rules.UnknownTank),
)
def read_tank_changes(
    who: Anyone, db: Reading, tank_id: UUID, page: AskedPage
) -> Listing[ChangeOut]:
    """Every change, newest first."""
    return history_of(db, "tank", tanks_actions.tank_of(db, tank_id).id, page)
