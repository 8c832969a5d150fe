"""Dispatches over HTTP: straws that leave, their seals, their packing list, how long they hold."""

from uuid import UUID

from fastapi import Response

from service.edge.asking import Anyone, Worker
from service.edge.listing import AskedPage, Listing, page_of
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, once
from service.edge.transaction import Reading, Router, Writing
from service.kernel import clock
from service.kernel.acts import Act
from service.ledger.rules import (
    BeforeWhatItFollows,
    NotEnoughStraws,
    NothingNamed,
    OnHold,
    OwnedByAnother,
    ReserveNotYours,
    ReserveReached,
    StrawElsewhere,
    StrawGone,
    UnknownCode,
)
from service.transfers import dispatches, rules, store
from service.transfers.dispatches_shown import dispatch_out, holding_out, summaries
from service.transfers.dispatches_wire import (
    DispatchIn,
    DispatchOut,
    DispatchSummaryOut,
    HoldingIn,
    HoldingOut,
    SealIn,
)
from service.transfers.owners import spelled

router = Router(prefix="/api", tags=["transfers"])


@router.post(
    "/dispatches",
    operation_id="dispatch_straws",
    summary="Let straws leave for another place",
    status_code=201,
    response_model=DispatchOut,
    responses=problems(
        *(UnknownCode, StrawGone, StrawElsewhere, NotEnoughStraws, NothingNamed, OwnedByAnother),
        *(OnHold, ReserveReached, ReserveNotYours, rules.NotYet, IdReused),
    ),
)
def dispatch_straws(who: Worker, db: Writing, body: DispatchIn, asked: AskedOnce) -> Response:
    """They are out of stock from now on. What is lacking for their papers is warned of."""

    def do(act: Act) -> DispatchOut:
        owner = None if body.owner is None else spelled(db, body.owner)
        done = dispatches.send(
            db,
            act,
            body.going(owner),
            picks=[pick.pick() for pick in body.picks or []],
            codes=body.straw_codes or [],
        )
        return dispatch_out(db, done.dispatch, done.exchanged, done.warnings)

    return once(db, asked, who, body, do)


@router.get("/dispatches", operation_id="list_dispatches", summary="Dispatches, newest first")
def list_dispatches(who: Anyone, db: Reading, page: AskedPage) -> Listing[DispatchSummaryOut]:
    """Also those that were taken back; their `state` says so."""
    found = store.page_of_dispatches(db, page)
    shown = summaries(db, found[: page.limit])
    return page_of(
        found,
        page,
        key=lambda one: (clock.as_text(one.recorded_at), str(one.id)),
        show=lambda one: shown[one.id],
    )


@router.get(
    "/dispatches/{dispatch_id}",
    operation_id="read_dispatch",
    summary="One dispatch and its packing list",
    responses=problems(rules.UnknownDispatch),
)
def read_dispatch(dispatch_id: UUID, who: Anyone, db: Reading) -> DispatchOut:
    """The packing list says what the book knows of these straws now."""
    return dispatch_out(db, dispatches.dispatch_of(db, dispatch_id))


@router.post(
    "/dispatches/{dispatch_id}/seals",
    operation_id="put_seal",
    summary="Another seal on the container",
    status_code=201,
    response_model=DispatchOut,
    responses=problems(
        *(rules.UnknownDispatch, rules.DispatchTakenBack, rules.SameSeal, rules.NotYet),
        *(BeforeWhatItFollows, IdReused),
    ),
)
def put_seal(
    dispatch_id: UUID, who: Worker, db: Writing, body: SealIn, asked: AskedOnce
) -> Response:
    """An official vet may open a container and seal it anew; the seals before stay readable."""

    def do(act: Act) -> DispatchOut:
        dispatch = dispatches.put_seal(
            db,
            act,
            dispatch_id,
            number=body.number,
            applied_at=body.applied_at or act.occurred_at,
            reason=body.reason,
        )
        return dispatch_out(db, dispatch)

    return once(db, asked, who, body, do)


@router.post(
    "/dispatches/holding",
    operation_id="reckon_holding",
    summary="How long a dry shipper holds",
    responses=problems(rules.WhichHolding, rules.NotYet),
)
def reckon_holding(who: Anyone, body: HoldingIn, asked: AskedOnce) -> HoldingOut:
    """Books nothing. By the maker's days, or by weight: what it took up by what it loses a day."""
    rules.refuse_future(body.filled_at, field="filled_at", now=asked.wires.clock())
    days = rules.reckoned_days(
        rated=body.holding_days_rated,
        absorbed_kg=body.absorbed_kg,
        loss_kg_per_day=body.loss_kg_per_day,
    )
    return holding_out(rules.holding(days_rated=days, filled_at=body.filled_at))
