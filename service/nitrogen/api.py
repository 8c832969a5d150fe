"""Nitrogen over HTTP: levels, top-ups, what was struck, and how each tank stands."""

from datetime import datetime
from typing import Annotated
from uuid import UUID

from fastapi import Query, Response

from service.bank.rules import TankRetired, UnknownTank
from service.bank.search import tanks_in_use
from service.bank.shapes import answered_again, warnings_out
from service.bank.tanks_actions import tank_of
from service.edge.asking import Anyone, Worker
from service.edge.fields import Moment
from service.edge.listing import AskedPage, Listing, page_of
from service.edge.problems import problems
from service.edge.replay import AHEAD, AskedOnce, IdReused, InTheFuture, once
from service.edge.transaction import Reading, Router, Writing
from service.kernel import clock
from service.kernel.acts import Act
from service.nitrogen import actions, history, levels, rules, shown, states
from service.nitrogen.wire import (
    AtAGlance,
    HistoryOut,
    LevelIn,
    LevelKept,
    LevelOut,
    NitrogenOut,
    StrikeIn,
    TopUpIn,
    TopUpKept,
    TopUpOut,
)

router = Router(prefix="/api", tags=["nitrogen"])

AsOf = Annotated[
    Moment | None,
    Query(description="By what was measured until then, whenever it was entered. Default now."),
]


def _happened(act: Act, moment: datetime | None, field: str) -> datetime:
    """When it was measured or filled. Raises InTheFuture, BeyondTime."""
    at = moment or act.occurred_at
    rules.refuse_beyond_time(at, field)
    if at > act.recorded_at + AHEAD:
        raise InTheFuture(
            f"{field} is more than five minutes ahead of the service's clock. "
            "Check the clock of this device, or leave the field out.",
            errors=[{"field": field, "message": "lies in the future"}],
            now=act.recorded_at,
        )
    return at


@router.post(
    "/tanks/{tank_id}/levels",
    operation_id="enter_level",
    summary="Enter a level",
    status_code=201,
    response_model=LevelKept,
    responses=answered_again(LevelKept)
    | problems(
        rules.ReadOneWay,
        rules.ImpossibleLevel,
        rules.NoEmptyWeight,
        rules.BeyondTime,
        InTheFuture,
        UnknownTank,
        TankRetired,
        IdReused,
    ),
)
def enter_level(
    who: Worker, db: Writing, tank_id: UUID, body: LevelIn, asked: AskedOnce
) -> Response:
    """A strange reading is kept and questioned in `warnings`; only an impossible one is refused.

    Levels may come late and in any order.
    """

    def do(act: Act) -> LevelKept:
        new = actions.NewLevel(
            measured_at=_happened(act, body.measured_at, "measured_at"),
            figure=body.figure(),
            signs=body.signs,
            note=body.note or None,
        )
        level, content = actions.keep_level(db, act, tank_id, new)
        tank = tank_of(db, tank_id)
        return LevelKept(
            id=level.id,
            litres=content.litres,
            level_cm=content.level_cm,
            percent=content.litres / tank.capacity_litres * 100,
            below_minimum=content.level_cm < tank.minimum_level_cm,
            warnings=warnings_out(actions.question_level(db, level, content)),
        )

    return once(db, asked, who, body, do)


@router.get(
    "/tanks/{tank_id}/levels",
    operation_id="list_levels",
    summary="A tank's levels, newest first",
    responses=problems(UnknownTank),
)
def list_levels(who: Anyone, db: Reading, tank_id: UUID, page: AskedPage) -> Listing[LevelOut]:
    """By when they were measured; those that were struck say by whom and why."""
    tank = tank_of(db, tank_id)
    dipstick = states.dipstick_of(tank)
    return page_of(
        levels.levels_page(db, tank.id, page),
        page,
        key=lambda row: (clock.as_text(row[0].measured_at), row[0].id),
        show=lambda row: shown.level_out(*row, tank, dipstick),
    )


@router.post(
    "/tanks/{tank_id}/levels/{level_id}/strike",
    operation_id="strike_level",
    summary="Strike a level that was wrong",
    status_code=201,
    response_model=LevelOut,
    responses=answered_again(LevelOut)
    | problems(UnknownTank, rules.UnknownLevel, rules.AlreadyStruck, IdReused),
)
def strike_level(
    who: Worker, db: Writing, tank_id: UUID, level_id: UUID, body: StrikeIn, asked: AskedOnce
) -> Response:
    """It stays in the list and counts no more."""

    def do(act: Act) -> LevelOut:
        tank = tank_of(db, tank_id)
        level = levels.level_of(db, tank.id, level_id)
        strike = actions.strike_level(db, act, level, body.reason)
        return shown.level_out(level, strike, tank, states.dipstick_of(tank))

    return once(db, asked, who, body, do)


@router.post(
    "/tanks/{tank_id}/top-ups",
    operation_id="enter_top_up",
    summary="Enter a top-up",
    status_code=201,
    response_model=TopUpKept,
    responses=answered_again(TopUpKept)
    | problems(
        rules.ReadOneWay,
        rules.ImpossibleLevel,
        rules.BeyondTime,
        InTheFuture,
        UnknownTank,
        TankRetired,
        IdReused,
    ),
)
def enter_top_up(
    who: Worker, db: Writing, tank_id: UUID, body: TopUpIn, asked: AskedOnce
) -> Response:
    """The level afterwards tells more than the litres: some of those boil off while filling."""

    def do(act: Act) -> TopUpKept:
        body.refuse_both()
        new = actions.NewTopUp(
            filled_at=_happened(act, body.filled_at, "filled_at"),
            litres_added=body.litres_added,
            level_after_cm=body.level_after_cm,
            note=body.note or None,
        )
        top_up, content = actions.keep_top_up(db, act, tank_id, new)
        return TopUpKept(
            id=top_up.id,
            litres_added=top_up.litres_added,
            level_after_cm=top_up.level_after_cm,
            litres_after=None if content is None else content.litres,
            warnings=warnings_out(actions.question_top_up(db, top_up, content)),
        )

    return once(db, asked, who, body, do)


@router.get(
    "/tanks/{tank_id}/top-ups",
    operation_id="list_top_ups",
    summary="A tank's top-ups, newest first",
    responses=problems(UnknownTank),
)
def list_top_ups(who: Anyone, db: Reading, tank_id: UUID, page: AskedPage) -> Listing[TopUpOut]:
    """By when they were filled in; those that were struck say by whom and why."""
    tank = tank_of(db, tank_id)
    dipstick = states.dipstick_of(tank)
    return page_of(
        levels.top_ups_page(db, tank.id, page),
        page,
        key=lambda row: (clock.as_text(row[0].filled_at), row[0].id),
        show=lambda row: shown.top_up_out(*row, dipstick),
    )


@router.post(
    "/tanks/{tank_id}/top-ups/{top_up_id}/strike",
    operation_id="strike_top_up",
    summary="Strike a top-up that was wrong",
    status_code=201,
    response_model=TopUpOut,
    responses=answered_again(TopUpOut)
    | problems(UnknownTank, rules.UnknownTopUp, rules.AlreadyStruck, IdReused),
)
def strike_top_up(
    who: Worker, db: Writing, tank_id: UUID, top_up_id: UUID, body: StrikeIn, asked: AskedOnce
) -> Response:
    """It stays in the list and counts no more."""

    def do(act: Act) -> TopUpOut:
        tank = tank_of(db, tank_id)
        top_up = levels.top_up_of(db, tank.id, top_up_id)
        strike = actions.strike_top_up(db, act, top_up, body.reason)
        return shown.top_up_out(top_up, strike, states.dipstick_of(tank))

    return once(db, asked, who, body, do)


@router.get(
    "/tanks/{tank_id}/nitrogen",
    operation_id="read_nitrogen",
    summary="How a tank stands",
    responses=problems(UnknownTank, rules.BeyondTime),
)
def read_nitrogen(
    who: Anyone, db: Reading, tank_id: UUID, asked: AskedOnce, as_of: AsOf = None
) -> NitrogenOut:
    """What is in it, how fast it goes, when the minimum is reached, and whether it is failing.

    Weekly levels cannot catch a vacuum that is lost within hours: look for frost every day.
    """
    if as_of is not None:
        rules.refuse_beyond_time(as_of, "as_of")
    tank = tank_of(db, tank_id)
    [state] = states.states_of(db, [tank], now=asked.wires.clock(), as_of=as_of)
    return shown.nitrogen_out(state, shown.house_of(db))


@router.get(
    "/tanks/{tank_id}/nitrogen/history",
    operation_id="read_nitrogen_history",
    summary="A tank's levels, losses and forecast, for pictures",
    responses=problems(UnknownTank),
)
def read_nitrogen_history(
    who: Anyone,
    db: Reading,
    tank_id: UUID,
    asked: AskedOnce,
    days: Annotated[int, Query(ge=1, le=3_660)] = 365,
) -> HistoryOut:
    """The last days' readings and top-ups, struck ones too, and what follows from them."""
    tank = tank_of(db, tank_id)
    [state] = states.states_of(db, [tank], now=asked.wires.clock())
    return history.history_out(db, state, shown.house_of(db), days=days)


@router.get("/nitrogen", operation_id="list_nitrogen", summary="All tanks at a glance")
def list_nitrogen(who: Anyone, db: Reading, asked: AskedOnce) -> Listing[AtAGlance]:
    """Tanks in use, in one page: failing ones first, then by how soon they need nitrogen."""
    house = shown.house_of(db)
    found = states.states_of(db, tanks_in_use(db), now=asked.wires.clock())
    found.sort(key=lambda state: shown.worst_first(state, house))
    return Listing(items=[shown.at_a_glance(state, house) for state in found])
