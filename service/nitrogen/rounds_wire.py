"""What travels about rounds: how they are made, and the schedule."""

import datetime
from decimal import Decimal
from typing import Annotated, Any, Literal
from uuid import UUID

from pydantic import AfterValidator, BaseModel, Field, StrictInt

from service.bank.shapes import unsaid
from service.edge.fields import Amount, Day, Figure, Input, PositiveAmount

MOST_DELIVERIES = 100

Weekday = Annotated[StrictInt, Field(ge=0, le=6)]
FillWeekdays = Annotated[
    list[Weekday],
    Field(min_length=1, max_length=7, description="0 is Monday.", examples=[[0, 3]]),
    AfterValidator(lambda days: sorted(set(days))),
]
Confidence = Annotated[
    Amount,
    Field(
        ge=50,
        le=Decimal("99.9"),
        description="How sure it is to be, for each tank, that it stays above its minimum.",
        examples=[95],
    ),
]
LevelEvery = Annotated[
    StrictInt, Field(ge=1, le=90, description="Later than that a reading is overdue.")
]
Litres = Annotated[Amount, Field(ge=0, le=1_000_000)]


class DeliveryIn(Input):
    """Nitrogen that arrives at the supply vessel."""

    on: Day
    litres: PositiveAmount

    def kept(self) -> dict[str, str]:
        """As the plan keeps it: text."""
        return {"on": self.on.isoformat(), "litres": f"{self.litres:f}"}


Deliveries = Annotated[list[DeliveryIn], Field(max_length=MOST_DELIVERIES)]


class PlanChange(Input):
    """What is to change; what is left out stays."""

    fill_weekdays: FillWeekdays = Field(default_factory=unsaid)
    confidence_percent: Confidence = Field(default_factory=unsaid)
    level_every_days: LevelEvery = Field(default_factory=unsaid)
    supply_capacity_litres: PositiveAmount | None = None
    supply_litres: Annotated[
        Litres | None,
        Field(description="In the supply vessel, after all that happened on the day it was read."),
    ] = None
    supply_measured_on: Annotated[
        Day | None, Field(description="Default today, where supply_litres is sent.")
    ] = None
    supply_loss_litres_per_day: Litres | None = None
    deliveries: Deliveries = Field(default_factory=unsaid)

    def changes(self) -> dict[str, Any]:
        """As the table has them."""
        said = {name: getattr(self, name) for name in self.model_fields_set}
        if "deliveries" in said:
            said["deliveries"] = [one.kept() for one in sorted(self.deliveries, key=_by_day)]
        return said


def _by_day(delivery: DeliveryIn) -> datetime.date:
    return delivery.on


class DeliveryOut(BaseModel):
    """Nitrogen that arrives at the supply vessel."""

    on: datetime.date
    litres: Figure


class PlanOut(BaseModel):
    """How this station makes its rounds."""

    fill_weekdays: list[int]
    confidence_percent: Figure
    level_every_days: int
    supply_capacity_litres: Figure | None
    supply_litres: Figure | None
    supply_measured_on: datetime.date | None
    supply_loss_litres_per_day: Figure | None
    deliveries: list[DeliveryOut]


class ItemOut(BaseModel):
    """A tank to be filled on a day; the most urgent of a day comes first."""

    date: datetime.date
    tank_id: UUID
    tank_name: str
    litres: Annotated[Figure, Field(description="Likely to go in.")]
    litres_most: Annotated[Figure, Field(description="No more than this, with the confidence.")]
    fill_to_litres: Figure
    cause: Literal["failing", "unread", "by-rating", "rising", "due"]
    reason: str


class VisitOut(BaseModel):
    """A day on which tanks are filled."""

    date: datetime.date
    fill_day: Annotated[bool, Field(description="False: a day beside the plan's fill days.")]
    tanks: int
    litres: Figure
    litres_most: Figure
    supply_litres_after: Annotated[
        Figure | None, Field(description="In the supply vessel that evening; null: not known.")
    ]
    missing_litres: Annotated[
        Figure | None, Field(description="What the supply vessel lacks; null: not known.")
    ]


class MissedTank(BaseModel):
    """A tank that a missed visit leaves unfilled."""

    tank_id: UUID
    tank_name: str
    may_reach_minimum_on: Annotated[
        datetime.date, Field(description="From then on not above it with the plan's confidence.")
    ]
    reaches_minimum_on: Annotated[datetime.date | None, Field(description="Likely.")]


class MissedOut(BaseModel):
    """What changes when a visit is missed."""

    date: datetime.date
    next_visit_on: datetime.date | None
    tanks: list[MissedTank]
    words: str


class SupplyDay(BaseModel):
    """What is in the supply vessel at the end of a day."""

    date: datetime.date
    litres: Figure


class ShortageOut(BaseModel):
    """A delivery that is needed by a day, beside those that are planned."""

    needed_by: datetime.date
    litres: Figure
    late_delivery_on: Annotated[
        datetime.date | None,
        Field(description="The next planned delivery after it: too late as it is."),
    ]


class SupplyOut(BaseModel):
    """The vessel that tanks are filled from, as it will be if the plan is followed."""

    measured_on: datetime.date
    measured_litres: Figure
    capacity_litres: Figure | None
    loss_litres_per_day: Figure
    litres: Annotated[Figure, Field(description="This evening.")]
    days: list[SupplyDay]
    shortages: list[ShortageOut]


class PlanWarningOut(BaseModel):
    """Something to look at before relying on the plan."""

    code: str
    tank_id: UUID | None
    message: str


class ScheduleOut(BaseModel):
    """The round of the next days: as few visits as keep every tank above its minimum."""

    from_day: Annotated[datetime.date, Field(alias="from")]
    until: datetime.date
    confidence_percent: Figure
    items: list[ItemOut]
    litres: Figure
    visits: list[VisitOut]
    supply: SupplyOut | None
    if_missed: list[MissedOut]
    warnings: list[PlanWarningOut]
