"""The oxygen in a room, over HTTP."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any
from uuid import UUID

from service.bank import rooms_actions
from service.bank.rooms import Room
from service.bank.rules import UnknownRoom
from service.bank.store import Tank
from service.edge.asking import Anyone
from service.edge.problems import problems
from service.edge.transaction import Reading, Router
from service.nitrogen import oxygen_cases, oxygen_words
from service.nitrogen.oxygen import Air
from service.nitrogen.oxygen_cases import Curve, Left, Release, Standing
from service.nitrogen.oxygen_wire import (
    AssumptionOut,
    CurvesOut,
    FormulaOut,
    OxygenOut,
    PointInTime,
    ReleaseOut,
    TankInRoom,
    ThresholdOut,
)

router = Router(prefix="/api", tags=["nitrogen"])

_MINUTES_AN_HOUR = 60


@router.get(
    "/rooms/{room_id}/oxygen",
    operation_id="read_oxygen",
    summary="What oxygen is left in a room",
    responses=problems(UnknownRoom),
)
def read_oxygen(who: Anyone, db: Reading, room_id: UUID) -> OxygenOut:
    """By evaporation, after a filling, a spill and a loss of everything; an estimate for planning.

    It is no substitute for a fixed oxygen alarm.
    """
    room = rooms_actions.room_of(db, room_id)
    return _out(room, rooms_actions.tanks_in(db, [room.id])[room.id])


def _out(room: Room, tanks: Sequence[Tank]) -> OxygenOut:
    air, ageing_factor = air_of(room), float(room.ageing_factor)
    left = oxygen_cases.left_in(
        air,
        [
            Standing(
                capacity_litres=float(tank.capacity_litres),
                rated_loss_litres_per_day=float(tank.rated_loss_litres_per_day),
            )
            for tank in tanks
        ],
        ageing_factor=ageing_factor,
    )
    return OxygenOut(
        room_id=room.id,
        room_name=room.name,
        volume_m3=room.volume_m3,
        air_changes_per_hour=room.air_changes_per_hour,
        ventilation=air.ventilation,
        tanks=[_tank_out(tank) for tank in tanks],
        **_figures(left),
        formulas=[FormulaOut(**asdict(one)) for one in oxygen_words.FORMULAS],
        assumptions=[
            AssumptionOut(name=name, value=value, source=source)
            for name, value, source in oxygen_words.assumptions(air, ageing_factor=ageing_factor)
        ],
        thresholds=[ThresholdOut(**asdict(one)) for one in oxygen_words.THRESHOLDS],
        may_enter_words=list(oxygen_words.may_enter_words(left, tanks=len(tanks))),
        alarm_words=list(oxygen_words.alarm_words(left)),
        what_to_do=list(oxygen_words.WHAT_TO_DO),
        caution=oxygen_words.CAUTION,
    )


def air_of(room: Room) -> Air:
    """A room's record as the formulae take it."""
    ways: dict[str, Any] = {"ventilation": room.ventilation}
    return Air(
        volume_m3=float(room.volume_m3),
        air_changes_per_hour=float(room.air_changes_per_hour),
        expansion_ratio=float(room.expansion_ratio),
        oxygen_percent=float(room.oxygen_percent),
        **ways,
    )


def _figures(left: Left) -> dict[str, Any]:
    return {
        "evaporation_m3_per_hour": left.evaporation_m3_per_hour,
        "steady_percent": left.steady_percent,
        "hours_to_19_5_percent": left.hours_to_deficient,
        "filling_percent": left.filling.percent,
        "spill_percent": left.spill.percent,
        "full_loss_percent": left.full_loss.percent,
        "filling": _release_out(left.filling),
        "spill": _release_out(left.spill),
        "full_loss": _release_out(left.full_loss),
        "curves": CurvesOut(
            evaporation=_points(left.evaporation_curve),
            filling=_points(left.filling_curve),
            spill=_points(left.spill_curve),
        ),
    }


def _release_out(release: Release) -> ReleaseOut:
    hours = release.recovery_hours
    return ReleaseOut(
        litres=release.litres,
        gas_m3=release.gas_m3,
        percent=release.percent,
        recovery_minutes=None if hours is None else hours * _MINUTES_AN_HOUR,
    )


def _points(curve: Curve) -> list[PointInTime]:
    return [PointInTime(hours=hours, percent=percent) for hours, percent in curve]


def _tank_out(tank: Tank) -> TankInRoom:
    return TankInRoom(
        tank_id=tank.id,
        tank_name=tank.name,
        capacity_litres=tank.capacity_litres,
        rated_loss_litres_per_day=tank.rated_loss_litres_per_day,
    )
