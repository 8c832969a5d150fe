"""What a code stands for: one query a kind, by the code's own key."""

from datetime import date
from typing import Any

from sqlalchemy import bindparam, func
from sqlalchemy import select as sa_select
from sqlmodel import col

from service.bank.store import COLOUR, Batch, Canister, Goblet, Hold, Stallion, Station, Tank
from service.kernel.codes import Kind
from service.ledger.store import Stock, Straw

CODE: Any = bindparam("code")

#: Until when a hold stands that names no day.
FOR_EVER = date.max

_FILLED = (
    sa_select(func.coalesce(func.sum(Stock.straws), 0))
    .where(col(Stock.goblet_id) == col(Goblet.id))
    .scalar_subquery()
)
_IN_CANISTER = (
    sa_select(func.coalesce(func.sum(Stock.straws), 0))
    .join(Goblet, col(Goblet.id) == col(Stock.goblet_id))
    .where(col(Goblet.canister_id) == col(Canister.id))
    .scalar_subquery()
)
_IN_TANK = (
    sa_select(func.coalesce(func.sum(Stock.straws), 0))
    .join(Goblet, col(Goblet.id) == col(Stock.goblet_id))
    .join(Canister, col(Canister.id) == col(Goblet.canister_id))
    .where(col(Canister.tank_id) == col(Tank.id))
    .scalar_subquery()
)
_OF_BATCH = (
    sa_select(func.coalesce(func.sum(Stock.straws), 0))
    .where(col(Stock.batch_id) == col(Batch.id))
    .scalar_subquery()
)

#: The last day on which a hold of the batch ends; whether it has come is for the caller to say, by
#: the station's own time zone.
_HELD_UNTIL = (
    sa_select(func.max(func.coalesce(Hold.until, FOR_EVER)))
    .where(col(Hold.batch_id) == col(Batch.id), col(Hold.released_at).is_(None))
    .scalar_subquery()
)
_TIME_ZONE = sa_select(col(Station.time_zone)).where(col(Station.id) == 1).scalar_subquery()
_HELD = (_HELD_UNTIL.label("held_until"), _TIME_ZONE.label("time_zone"))

_COLOUR = COLOUR.label("straw_colour")

#: For each kind the query of everything its answer shows; the columns bear the fields' names.
BY_CODE: dict[Kind, Any] = {
    Kind.STRAW: sa_select(
        col(Straw.code),
        *(col(Straw.state), col(Straw.provisional), col(Straw.goblet_id)),
        col(Goblet.address),
        *(col(Batch.id).label("batch_id"), col(Batch.code).label("batch_code")),
        *(col(Batch.collected_on), _COLOUR),
        *(col(Stallion.id).label("stallion_id"), col(Stallion.name).label("stallion_name")),
        *(col(Straw.withdrawal_id), col(Straw.since), col(Tank.quarantine), *_HELD),
    )
    .join(Batch, col(Batch.id) == col(Straw.batch_id))
    .join(Stallion, col(Stallion.id) == col(Batch.stallion_id))
    .outerjoin(Goblet, col(Goblet.id) == col(Straw.goblet_id))
    .outerjoin(Canister, col(Canister.id) == col(Goblet.canister_id))
    .outerjoin(Tank, col(Tank.id) == col(Canister.tank_id))
    .where(col(Straw.code) == CODE, col(Straw.coded).is_(True)),
    Kind.BATCH: sa_select(
        *(col(Batch.id), col(Batch.code), col(Batch.state), col(Batch.collected_on)),
        *(_COLOUR, _OF_BATCH.label("straws"), *_HELD),
        *(col(Stallion.id).label("stallion_id"), col(Stallion.name).label("stallion_name")),
    )
    .join(Stallion, col(Stallion.id) == col(Batch.stallion_id))
    .where(col(Batch.code) == CODE),
    Kind.GOBLET: sa_select(
        *(col(Goblet.id), col(Goblet.code), col(Goblet.address), col(Goblet.tier)),
        *(col(Goblet.capacity_straws), _FILLED.label("straws"), col(Goblet.retired_at)),
        *(col(Canister.id).label("canister_id"), col(Canister.number).label("canister_number")),
        *(col(Tank.id).label("tank_id"), col(Tank.name).label("tank_name"), col(Tank.quarantine)),
    )
    .join(Canister, col(Canister.id) == col(Goblet.canister_id))
    .join(Tank, col(Tank.id) == col(Canister.tank_id))
    .where(col(Goblet.code) == CODE),
    Kind.CANISTER: sa_select(
        *(col(Canister.id), col(Canister.code), col(Canister.number), col(Canister.retired_at)),
        *(_IN_CANISTER.label("straws"), col(Tank.id).label("tank_id")),
        *(col(Tank.name).label("tank_name"), col(Tank.quarantine)),
    )
    .join(Tank, col(Tank.id) == col(Canister.tank_id))
    .where(col(Canister.code) == CODE),
    Kind.TANK: sa_select(
        *(col(Tank.id), col(Tank.code), col(Tank.name), col(Tank.quarantine)),
        *(_IN_TANK.label("straws"), col(Tank.retired_at)),
    ).where(col(Tank.code) == CODE),
}
