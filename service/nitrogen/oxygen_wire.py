"""What travels about the oxygen in a room."""

from typing import Annotated
from uuid import UUID

from pydantic import BaseModel, Field

from service.bank.rooms_rules import Ventilation
from service.edge.fields import Figure


class TankInRoom(BaseModel):
    """A tank as it is reckoned with."""

    tank_id: UUID
    tank_name: str
    capacity_litres: Figure
    rated_loss_litres_per_day: Figure


class ReleaseOut(BaseModel):
    """So much liquid boiled off at once in fresh air."""

    litres: Figure
    gas_m3: Figure
    percent: Figure
    recovery_minutes: Annotated[
        Figure | None,
        Field(description="Until there are 19.5 % again; null when that never comes by itself."),
    ]


class PointInTime(BaseModel):
    """Oxygen at a moment."""

    hours: Figure
    percent: Figure


class CurvesOut(BaseModel):
    """Oxygen over time: from fresh air while tanks evaporate, and after a filling and a spill."""

    evaporation: list[PointInTime]
    filling: list[PointInTime]
    spill: list[PointInTime]


class FormulaOut(BaseModel):
    """How a figure is reckoned, and who says so."""

    figure: str
    formula: str
    source: str


class AssumptionOut(BaseModel):
    """What is taken for granted, and whose it is."""

    name: str
    value: Figure | str
    source: str


class ThresholdOut(BaseModel):
    """A level of oxygen, what it means, and who says so."""

    percent: Figure
    meaning: str
    source: str


class OxygenOut(BaseModel):
    """What oxygen is left in a room; percentages are of volume, nothing is rounded."""

    room_id: UUID
    room_name: str
    volume_m3: Figure
    air_changes_per_hour: Figure
    ventilation: Ventilation
    tanks: list[TankInRoom]
    evaporation_m3_per_hour: Figure
    steady_percent: Annotated[
        Figure | None, Field(description="Null without ventilation: it only falls.")
    ]
    hours_to_19_5_percent: Annotated[
        Figure | None, Field(description="From fresh air, by evaporation; null when never.")
    ]
    filling_percent: Annotated[
        Figure, Field(description="10 % of the largest tank's capacity boils off at once.")
    ]
    spill_percent: Annotated[Figure, Field(description="All of the largest tank's capacity.")]
    full_loss_percent: Annotated[Figure, Field(description="1.1 × the capacity of all tanks.")]
    filling: ReleaseOut
    spill: ReleaseOut
    full_loss: ReleaseOut
    curves: CurvesOut
    formulas: list[FormulaOut]
    assumptions: list[AssumptionOut]
    thresholds: list[ThresholdOut]
    may_enter_words: Annotated[
        list[str], Field(description="Whether one may go in, as far as an estimate can tell.")
    ]
    alarm_words: Annotated[list[str], Field(description="What an oxygen alarm must do here.")]
    what_to_do: list[str]
    caution: str
