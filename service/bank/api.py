"""The bank over HTTP: the station; tanks and horses have files of their own."""

from decimal import Decimal
from typing import Annotated

from fastapi import Response
from pydantic import BaseModel, Field

from service.bank import actions, horses_api, rooms_api, tanks_api
from service.bank.actions import STATION_ID
from service.bank.clearance import SOURCE
from service.bank.identity import BadCountry
from service.bank.marks import MARK_NAMES, MarkName
from service.bank.rules import (
    BadTimeZone,
    LabelStyle,
    LevelUnit,
    MarkDateFormat,
    PrinterDpi,
    SameMarkTwice,
    SameTestTwice,
    StripForm,
)
from service.bank.shapes import history_of, said, unsaid
from service.bank.store import Station, station_of
from service.edge.asking import Anyone, Manager
from service.edge.fields import Amount, Code, Count, Figure, Flag, Input, Name
from service.edge.listing import AskedPage, Listing
from service.edge.problems import problems
from service.edge.replay import AskedOnce, act_now
from service.edge.transaction import Reading, Router, Writing
from service.edge.versions import ChangeOut, IfMatch, expect, versioned
from service.kernel.errors import Stale, VersionMissing

#: Ten years, and more tests than anyone asks for: slips of the hand above it.
MOST_DAYS_IN_STORE, MOST_TESTS = 3_650, 20

router = Router(prefix="/api", tags=["bank"])
router.include_router(tanks_api.router)
router.include_router(rooms_api.router)
router.include_router(horses_api.router)


class StationOut(BaseModel):
    """The station: defaults for every freeze, label and screen."""

    name: str
    country: str | None
    approval_number: str | None
    processing_approval_number: str | None
    time_zone: str
    mark_date_format: MarkDateFormat
    level_unit: LevelUnit
    days_in_store: int
    required_tests: list[str]
    required_marks: list[MarkName]
    species_mark: str
    label_style: LabelStyle
    printer_dpi: PrinterDpi
    straw_diameter_mm: Figure
    strip_length_mm: Figure
    strip_form: StripForm
    strip_symbol: bool


class StationChange(Input):
    """What is to change; what is left out stays."""

    name: Annotated[Name, Field(examples=["Quillhaven Stallion Station"])] = Field(
        default_factory=unsaid
    )
    country: Annotated[
        Code | None, Field(description="ISO 3166-1, two letters.", examples=["IE"])
    ] = None
    approval_number: Code | None = None
    processing_approval_number: Annotated[
        Code | None, Field(description="Of the processing establishment, where another.")
    ] = None
    time_zone: Annotated[
        Name, Field(description="Of the IANA data base.", examples=["Europe/Dublin"])
    ] = Field(default_factory=unsaid)
    mark_date_format: Annotated[
        MarkDateFormat, Field(description="How the collection date is written on straws.")
    ] = Field(default_factory=unsaid)
    level_unit: Annotated[LevelUnit, Field(description="What people read off the tanks here.")] = (
        Field(default_factory=unsaid)
    )
    days_in_store: Annotated[
        Count,
        Field(le=MOST_DAYS_IN_STORE, description=f"From collection until straws leave; {SOURCE}."),
    ] = Field(default_factory=unsaid)
    required_tests: Annotated[
        list[Code],
        Field(max_length=MOST_TESTS, description=f"Needed before straws leave; {SOURCE}."),
    ] = Field(default_factory=unsaid)
    required_marks: Annotated[
        list[MarkName],
        Field(
            max_length=len(MARK_NAMES),
            description="What the local authority wants on every straw; by default what "
            "Delegated Regulation (EU) 2020/686, Article 10, names.",
        ),
    ] = Field(default_factory=unsaid)
    species_mark: Annotated[
        Name, Field(max_length=20, description="How the species is written on straws.")
    ] = Field(default_factory=unsaid)
    label_style: Annotated[
        LabelStyle, Field(description="Offered first when straws are marked.")
    ] = Field(default_factory=unsaid)
    printer_dpi: Annotated[PrinterDpi, Field(description="Dots an inch of the label printer.")] = (
        Field(default_factory=unsaid)
    )
    straw_diameter_mm: Annotated[
        Amount, Field(ge=Decimal("1.5"), le=4, description="2.8 for 0.5 mL, 2.0 for 0.25 mL.")
    ] = Field(default_factory=unsaid)
    strip_length_mm: Annotated[
        Amount, Field(ge=30, le=130, description="At most as long as the straw's free body.")
    ] = Field(default_factory=unsaid)
    strip_form: Annotated[
        StripForm, Field(description="`band`: on the side that is seen; `wrap`: all round.")
    ] = Field(default_factory=unsaid)
    strip_symbol: Annotated[
        Flag, Field(description="Whether a Data Matrix stands before the words of a strip.")
    ] = Field(default_factory=unsaid)


def _out(station: Station) -> StationOut:
    return StationOut.model_validate(station, from_attributes=True)


@router.get("/station", operation_id="read_station", summary="The station")
def read_station(who: Anyone, db: Reading, response: Response) -> StationOut:
    """The station's record; its ETag is what a change starts from."""
    return versioned(_out(station_of(db)), response)


@router.patch(
    "/station",
    operation_id="change_station",
    summary="Change the station's record",
    responses=problems(
        Stale, VersionMissing, BadTimeZone, BadCountry, SameTestTwice, SameMarkTwice
    ),
)
def change_station(
    who: Manager,
    db: Writing,
    body: StationChange,
    asked: AskedOnce,
    response: Response,
    if_match: IfMatch = None,
) -> StationOut:
    """Change what is given; the old values stay in the history."""
    expect(_out(station_of(db)), if_match)
    return versioned(_out(actions.change_station(db, act_now(asked, who), said(body))), response)


@router.get(
    "/station/changes", operation_id="read_station_changes", summary="What the station was before"
)
def read_station_changes(who: Anyone, db: Reading, page: AskedPage) -> Listing[ChangeOut]:
    """Every change, newest first."""
    return history_of(db, "station", STATION_ID, page)
