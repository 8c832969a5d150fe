"""Stallions, their dose rules, and mares over HTTP."""

from collections.abc import Sequence
from datetime import date
from typing import Annotated
from uuid import UUID

from fastapi import Response
from pydantic import BaseModel, Field
from sqlmodel import Session

from service.bank import actions, rules, search
from service.bank.actions import StallionSeen
from service.bank.identity import BadMicrochip, BadUeln
from service.bank.rules import NewMare, NewStallion
from service.bank.shapes import (
    DoseRuleIn,
    DoseRuleOut,
    RuleSinceOut,
    SearchText,
    WarningOut,
    after_name,
    answered_again,
    history_of,
    page_of_history,
    rule_out,
    said,
    unsaid,
    warnings_out,
    with_version,
)
from service.bank.store import Mare, Stallion, rule_in
from service.edge.asking import Anyone, VetOrManager, Worker
from service.edge.fields import Code, Count, Day, EventInput, Input, Name
from service.edge.listing import AskedPage, Listing, page_of
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, act_now, once
from service.edge.transaction import Reading, Router, Writing
from service.edge.versions import ChangeOut, IfMatch, expect
from service.kernel.acts import Act
from service.kernel.clock import Clock
from service.kernel.errors import Stale, VersionMissing

router = Router()

Doses = Annotated[Count, Field(le=10_000)]


class StallionIn(EventInput):
    """A stallion with his first dose rule."""

    name: Annotated[Name, Field(examples=["Lanternfield"])]
    ueln: Annotated[Code | None, Field(description="15 characters, in any spelling.")] = None
    microchip: Annotated[Code | None, Field(description="15 digits, in any spelling.")] = None
    breed: Name | None = None
    foaled_on: Day | None = None
    died_on: Day | None = None
    owner: Name | None = None
    straw_colour: Name | None = None
    dose_rule: DoseRuleIn
    low_stock_doses: Annotated[
        Doses | None, Field(description="Below so many available doses the stock is low.")
    ] = None
    reserve_doses: Annotated[
        Doses, Field(description="The last doses, which only a manager releases.")
    ] = 0

    def new_stallion(self) -> NewStallion:
        """As the rules take it."""
        facts = {name: getattr(self, name) for name in StallionChange.model_fields}
        return NewStallion(**facts | {"dose_rule": self.dose_rule.amounts()})


class StallionChange(Input):
    """What is to change; what is left out stays. Another dose rule is added to those before."""

    name: Name = Field(default_factory=unsaid)
    ueln: Code | None = None
    microchip: Code | None = None
    breed: Name | None = None
    foaled_on: Day | None = None
    died_on: Day | None = None
    owner: Name | None = None
    straw_colour: Name | None = None
    dose_rule: DoseRuleIn = Field(default_factory=unsaid)
    low_stock_doses: Doses | None = None
    reserve_doses: Doses = Field(default_factory=unsaid)


class StallionOut(BaseModel):
    """A stallion, the dose rule that holds, and what is unusual about him."""

    id: UUID
    name: str
    ueln: str | None
    microchip: str | None
    breed: str | None
    foaled_on: date | None
    died_on: date | None
    owner: str | None
    straw_colour: str | None
    dose_rule: DoseRuleOut
    low_stock_doses: int | None
    reserve_doses: int
    warnings: list[WarningOut]


class MareIn(EventInput):
    """A mare; others may have her name."""

    name: Annotated[Name, Field(examples=["Bramblewick"])]
    ueln: Code | None = None
    owner: Name | None = None


class MareChange(Input):
    """What is to change; what is left out stays."""

    name: Name = Field(default_factory=unsaid)
    ueln: Code | None = None
    owner: Name | None = None


class MareOut(BaseModel):
    """A mare, and what is unusual about her."""

    id: UUID
    name: str
    ueln: str | None
    owner: str | None
    warnings: list[WarningOut]


def _stallion_out(seen: StallionSeen) -> StallionOut:
    kept = seen.stallion.model_dump(include=set(StallionOut.model_fields))
    return StallionOut(**kept, dose_rule=rule_out(seen.rule), warnings=warnings_out(seen.warnings))


def _looked_at(db: Session, stallions: Sequence[Stallion], clock: Clock) -> list[StallionOut]:
    return [_stallion_out(seen) for seen in actions.look_at(db, stallions, clock())]


def _version(stallion: StallionOut) -> StallionOut:
    """What the ETag is of: warnings may come and go while the record stays as it is."""
    return stallion.model_copy(update={"warnings": []})


@router.post(
    "/stallions",
    operation_id="add_stallion",
    summary="Enter a stallion",
    status_code=201,
    response_model=StallionOut,
    responses=answered_again(StallionOut)
    | problems(BadUeln, BadMicrochip, rules.BadDates, rules.AlreadyKnown, IdReused),
)
def add_stallion(who: VetOrManager, db: Writing, body: StallionIn, asked: AskedOnce) -> Response:
    """A stallion whose straws are kept, with the rule of how many make a dose."""

    def do(act: Act) -> StallionOut:
        stallion = actions.add_stallion(db, act, body.new_stallion())
        [out] = _looked_at(db, [stallion], asked.wires.clock)
        return out

    return once(db, asked, who, body, do)


@router.get("/stallions", operation_id="list_stallions", summary="All stallions")
def list_stallions(
    who: Anyone, db: Reading, page: AskedPage, asked: AskedOnce, q: SearchText = ""
) -> Listing[StallionOut]:
    """Stallions by name, or those that answer to `q`."""
    found = search.stallions_after(db, q, after_name(page), page.limit)
    shown = {out.id: out for out in _looked_at(db, found, asked.wires.clock)}
    return page_of(
        found,
        page,
        key=lambda stallion: (stallion.folded_name, stallion.id),
        show=lambda stallion: shown[stallion.id],
    )


@router.get(
    "/stallions/{stallion_id}",
    operation_id="read_stallion",
    summary="One stallion",
    responses=problems(rules.UnknownStallion),
)
def read_stallion(
    who: Anyone, db: Reading, stallion_id: UUID, asked: AskedOnce, response: Response
) -> StallionOut:
    """A stallion; his ETag is what a change starts from."""
    [found] = _looked_at(db, [actions.stallion_of(db, stallion_id)], asked.wires.clock)
    return with_version(found, _version(found), response)


@router.patch(
    "/stallions/{stallion_id}",
    operation_id="change_stallion",
    summary="Change a stallion's record or dose rule",
    responses=problems(
        rules.UnknownStallion,
        Stale,
        VersionMissing,
        BadUeln,
        BadMicrochip,
        rules.BadDates,
        rules.AlreadyKnown,
        rules.ReserveIsManagers,
    ),
)
def change_stallion(
    who: VetOrManager,
    db: Writing,
    stallion_id: UUID,
    body: StallionChange,
    asked: AskedOnce,
    response: Response,
    if_match: IfMatch = None,
) -> StallionOut:
    """Change what is given; old values and old rules stay in his history."""
    stallion = actions.stallion_of(db, stallion_id)
    [before] = _looked_at(db, [stallion], asked.wires.clock)
    expect(_version(before), if_match)
    changes = said(body)
    rule = changes.pop("dose_rule", None)
    amounts = None if rule is None else rule.amounts()
    actions.change_stallion(db, act_now(asked, who), stallion, changes, amounts)
    db.flush()
    [after] = _looked_at(db, [stallion], asked.wires.clock)
    return with_version(after, _version(after), response)


@router.get(
    "/stallions/{stallion_id}/dose-rules",
    operation_id="read_dose_rules",
    summary="The dose rules he has had",
    responses=problems(rules.UnknownStallion),
)
def read_dose_rules(
    who: Anyone, db: Reading, stallion_id: UUID, page: AskedPage
) -> Listing[RuleSinceOut]:
    """Every rule with its date, the one that holds first."""
    actions.stallion_of(db, stallion_id)
    rows = [
        RuleSinceOut(
            number=row.number,
            since=row.since,
            by=row.set_by_name,
            dose_rule=rule_out(rule_in(row)),
        )
        for row in search.rules_of(db, stallion_id)
    ]
    return page_of_history(rows, page)


@router.get(
    "/stallions/{stallion_id}/changes",
    operation_id="read_stallion_changes",
    summary="What his record said before",
    responses=problems(rules.UnknownStallion),
)
def read_stallion_changes(
    who: Anyone, db: Reading, stallion_id: UUID, page: AskedPage
) -> Listing[ChangeOut]:
    """Every change, newest first."""
    actions.stallion_of(db, stallion_id)
    return history_of(db, "stallion", stallion_id, page)


def _mares_out(db: Session, mares: Sequence[Mare]) -> list[MareOut]:
    return [
        MareOut(
            id=mare.id,
            name=mare.name,
            ueln=mare.ueln,
            owner=mare.owner,
            warnings=warnings_out(warnings),
        )
        for mare, warnings in actions.look_at_mares(db, mares)
    ]


def _mare_out(db: Session, mare: Mare) -> MareOut:
    [out] = _mares_out(db, [mare])
    return out


def _mare_version(mare: MareOut) -> MareOut:
    return mare.model_copy(update={"warnings": []})


@router.post(
    "/mares",
    operation_id="add_mare",
    summary="Enter a mare",
    status_code=201,
    response_model=MareOut,
    responses=answered_again(MareOut) | problems(BadUeln, IdReused),
)
def add_mare(who: Worker, db: Writing, body: MareIn, asked: AskedOnce) -> Response:
    """A mare; a withdrawal may also bring a new one along."""

    def do(act: Act) -> MareOut:
        new = NewMare(name=body.name, ueln=body.ueln, owner=body.owner)
        return _mare_out(db, actions.new_mare(db, act, new, id=act.id))

    return once(db, asked, who, body, do)


@router.get("/mares", operation_id="list_mares", summary="All mares")
def list_mares(who: Anyone, db: Reading, page: AskedPage, q: SearchText = "") -> Listing[MareOut]:
    """Mares by name, or those that answer to `q`."""
    found = search.mares_after(db, q, after_name(page), page.limit)
    shown = {out.id: out for out in _mares_out(db, found)}
    return page_of(
        found,
        page,
        key=lambda mare: (mare.folded_name, mare.id),
        show=lambda mare: shown[mare.id],
    )


@router.get(
    "/mares/{mare_id}",
    operation_id="read_mare",
    summary="One mare",
    responses=problems(rules.UnknownMare),
)
def read_mare(who: Anyone, db: Reading, mare_id: UUID, response: Response) -> MareOut:
    """A mare; her ETag is what a change starts from."""
    found = _mare_out(db, actions.mare_of(db, mare_id))
    return with_version(found, _mare_version(found), response)


@router.patch(
    "/mares/{mare_id}",
    operation_id="change_mare",
    summary="Change a mare's record",
    responses=problems(rules.UnknownMare, Stale, VersionMissing, BadUeln),
)
def change_mare(
    who: Worker,
    db: Writing,
    mare_id: UUID,
    body: MareChange,
    asked: AskedOnce,
    response: Response,
    if_match: IfMatch = None,
) -> MareOut:
    """Change what is given; the old values stay in her history."""
    mare = actions.mare_of(db, mare_id)
    expect(_mare_version(_mare_out(db, mare)), if_match)
    actions.change_mare(db, act_now(asked, who), mare, said(body))
    db.flush()
    found = _mare_out(db, mare)
    return with_version(found, _mare_version(found), response)


@router.get(
    "/mares/{mare_id}/changes",
    operation_id="read_mare_changes",
    summary="What her record said before",
    responses=problems(rules.UnknownMare),
)
def read_mare_changes(
    who: Anyone, db: Reading, mare_id: UUID, page: AskedPage
) -> Listing[ChangeOut]:
    """Every change, newest first."""
    actions.mare_of(db, mare_id)
    return history_of(db, "mare", mare_id, page)
