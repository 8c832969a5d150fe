"""What travels over HTTP about levels, top-ups and how a tank stands."""

from datetime import date, datetime
from typing import Annotated, Literal
from uuid import UUID

from pydantic import BaseModel, Field, field_validator

from service.bank.shapes import WarningOut
from service.edge.fields import Amount, EventInput, Figure, Moment, Note, PositiveAmount, Reason
from service.nitrogen import rules
from service.nitrogen.rules import ReadAs, Sign

State = Literal["steady", "rising", "failing", "unknown"]

_AMOUNT = "One of level_cm, litres and weight_kg."


class LevelIn(EventInput):
    """A level as it was read: one figure, and outward signs of a lost vacuum, if any."""

    measured_at: Annotated[
        Moment | None, Field(description="Default occurred_at, and that is now.")
    ] = None
    level_cm: Annotated[Amount | None, Field(description=_AMOUNT, examples=[23.5])] = None
    litres: Annotated[Amount | None, Field(description=_AMOUNT)] = None
    weight_kg: Annotated[
        Amount | None, Field(description=f"{_AMOUNT} The whole tank on a balance.")
    ] = None
    signs: Annotated[
        tuple[Sign, ...],
        Field(max_length=3, description="What was seen or heard at the tank.", examples=[[]]),
    ] = ()
    note: Note | None = None

    @field_validator("signs")
    @classmethod
    def _each_once(cls, signs: tuple[Sign, ...]) -> tuple[Sign, ...]:
        return tuple(sorted(set(signs)))

    def figure(self) -> rules.Figure:
        """The one figure. Raises ReadOneWay."""
        ways: tuple[ReadAs, ...] = ("level_cm", "litres", "weight_kg")
        sent = [way for way in ways if getattr(self, way) is not None]
        if len(sent) != 1:
            raise rules.ReadOneWay(
                "Send exactly one of level_cm, litres and weight_kg.",
                errors=[{"field": "level_cm", "message": "send exactly one of the three figures"}],
            )
        return rules.Figure(read_as=sent[0], amount=getattr(self, sent[0]))


class TopUpIn(EventInput):
    """Nitrogen that was filled in: the litres, or the level afterwards."""

    filled_at: Annotated[
        Moment | None, Field(description="Default occurred_at, and that is now.")
    ] = None
    level_after_cm: Annotated[
        Amount | None, Field(description="This or litres_added.", examples=[48])
    ] = None
    litres_added: PositiveAmount | None = None
    note: Note | None = None

    def refuse_both(self) -> None:
        """Raise ReadOneWay unless one of the two figures was sent."""
        if (self.level_after_cm is None) == (self.litres_added is None):
            raise rules.ReadOneWay(
                "Send either level_after_cm or litres_added.",
                errors=[{"field": "level_after_cm", "message": "send this or litres_added"}],
            )


class StrikeIn(EventInput):
    """Why it does not count."""

    reason: Reason


class StruckOut(BaseModel):
    """Who struck it, when and why."""

    by: str
    at: datetime
    reason: str


class LevelKept(BaseModel):
    """A level that was kept, and what is strange about it."""

    id: UUID
    litres: Figure
    level_cm: Figure
    percent: Annotated[Figure, Field(description="Of the tank's capacity.")]
    below_minimum: Annotated[bool, Field(description="Lower than the tank's minimum level.")]
    warnings: Annotated[
        list[WarningOut],
        Field(
            description="`rise-without-top-up`, `jump`, `entered-twice`: it was kept; measure "
            "again, or strike it."
        ),
    ]


class LevelOut(BaseModel):
    """A level of the past. What it makes by the tank's table is null where no table reads it."""

    id: UUID
    measured_at: datetime
    read_as: ReadAs
    level_cm: Figure | None
    litres: Figure | None
    weight_kg: Figure | None
    signs: list[Sign]
    note: str | None
    recorded_at: datetime
    by: str
    struck: StruckOut | None


class TopUpKept(BaseModel):
    """A top-up that was kept, and what is strange about it."""

    id: UUID
    litres_added: Figure | None
    level_after_cm: Figure | None
    litres_after: Figure | None
    warnings: Annotated[
        list[WarningOut],
        Field(description="`more-than-it-holds`, `lower-after-top-up`, `entered-twice`."),
    ]


class TopUpOut(BaseModel):
    """A top-up of the past."""

    id: UUID
    filled_at: datetime
    litres_added: Figure | None
    level_after_cm: Figure | None
    litres_after: Figure | None
    note: str | None
    recorded_at: datetime
    by: str
    struck: StruckOut | None


class NitrogenOut(BaseModel):
    """How a tank stands. Low and high are a 90 % interval; what is not known is null."""

    tank_id: UUID
    tank_name: str
    as_of: datetime
    level_cm: Figure | None
    litres: Figure | None
    litres_low: Figure | None
    litres_high: Figure | None
    percent: Annotated[Figure | None, Field(description="Of the tank's capacity.")]
    loss_litres_per_day: Figure | None
    loss_low: Figure | None
    loss_high: Figure | None
    rated_loss_litres_per_day: Figure
    ratio_to_rated: Annotated[Figure | None, Field(description="The loss over the rated loss.")]
    settled_loss_litres_per_day: Annotated[
        Figure | None, Field(description="The tank's own past loss, before it changed.")
    ]
    changed_at: Annotated[
        datetime | None, Field(description="About when the loss left its settled past.")
    ]
    heat_leak_watts: Annotated[
        Figure | None,
        Field(
            description="Latent-equivalent: the heat that boils off this loss. A lower bound, "
            "since the cold vapour takes up more on its way out."
        ),
    ]
    capacity_litres: Figure
    minimum_level_cm: Figure
    minimum_litres: Figure
    below_minimum: bool
    reaches_minimum_on: Annotated[
        date | None, Field(description="Likely; null when not known, or not within a century.")
    ]
    reaches_minimum_earliest_on: date | None
    reaches_minimum_latest_on: date | None
    state: State
    by_rating: Annotated[
        bool,
        Field(
            description="Too little was read: the rated loss serves, doubled for age (allowance "
            "of the University of Oxford, Policy Statement S4/03)."
        ),
    ]
    signs: Annotated[list[Sign], Field(description="Outward signs that stand.")]
    reading_overdue: bool
    last_read_at: datetime | None
    next_reading_on: Annotated[date, Field(description="The last day on which it is not overdue.")]
    readings_used: int
    why: str


class AtAGlance(BaseModel):
    """A tank in the list of all."""

    tank_id: UUID
    tank_name: str
    state: State
    litres: Figure | None
    level_cm: Figure | None
    percent: Figure | None
    below_minimum: bool
    reaches_minimum_on: date | None
    reaches_minimum_earliest_on: date | None
    signs: list[Sign]
    reading_overdue: bool
    last_read_at: datetime | None
    why: str


class PastReading(BaseModel):
    """A reading in the picture of a tank's levels."""

    id: UUID
    at: datetime
    litres: Figure
    level_cm: Figure
    signs: list[Sign]
    struck: bool
    questioned: Annotated[bool, Field(description="Far off its neighbours; it stands.")]


class PastTopUp(BaseModel):
    """A top-up in the picture of a tank's levels."""

    id: UUID
    at: datetime
    litres_added: Figure | None
    litres_after: Figure | None
    struck: bool


class Forecast(BaseModel):
    """What will be in the tank if nobody fills it: likely, and a 90 % interval."""

    at: datetime
    litres_low: Figure
    litres: Figure
    litres_high: Figure


class PastLoss(BaseModel):
    """The loss as it looked then, with its 90 % interval."""

    at: datetime
    loss_litres_per_day: Figure
    loss_low: Figure
    loss_high: Figure


class HistoryOut(BaseModel):
    """A tank's past and what is to be expected, for pictures; in order of time."""

    as_of: datetime
    since: datetime
    capacity_litres: Figure
    minimum_litres: Figure
    rated_loss_litres_per_day: Figure
    settled_loss_litres_per_day: Figure | None
    changed_at: datetime | None
    reaches_minimum_on: date | None
    reaches_minimum_earliest_on: date | None
    reaches_minimum_latest_on: date | None
    readings: list[PastReading]
    top_ups: list[PastTopUp]
    forecast: list[Forecast]
    losses: list[PastLoss]
