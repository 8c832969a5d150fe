"""Alerts over HTTP: what is open, what to do, who takes care of it."""

from typing import Annotated
from uuid import UUID

from fastapi import Query, Request, Response
from pydantic import BaseModel
from sqlmodel import Session

from service.alerts import actions, rules, store, wire
from service.alerts.quality import QualityOut, quality
from service.alerts.rules import KINDS, Kind, State
from service.alerts.standing import StandingOut, standing
from service.alerts.store import Alert
from service.alerts.wire import AlertOut, CardOut, OneAlertOut
from service.bank.shapes import answered_again
from service.edge.asking import Anyone, Manager, Worker
from service.edge.listing import AskedPage, Listing, page_of
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, once
from service.edge.transaction import Reading, Router, Writing
from service.edge.wiring import wiring
from service.kernel import clock
from service.kernel.acts import Act

router = Router(prefix="/api", tags=["alerts"])


class SeveralOut(BaseModel):
    """The alerts as they stand now."""

    items: list[AlertOut]


@router.get("/alerts", operation_id="list_alerts", summary="Alerts")
def list_alerts(
    who: Anyone,
    db: Reading,
    page: AskedPage,
    state: Annotated[State | None, Query(description="Only these; else all not closed.")] = None,
    kind: Annotated[Kind | None, Query(description="Only of this kind.")] = None,
) -> Listing[AlertOut]:
    """Newest first. Without `state`, all that are not closed."""
    rows = store.page_of_alerts(db, page, state=state, kind=kind)
    told = store.messages_of(db, [alert.id for alert in rows])
    return page_of(
        rows,
        page,
        key=lambda alert: (clock.as_text(alert.opened_at), alert.id),
        show=lambda alert: wire.alert_out(alert, told),
    )


@router.get("/alerts/cards", operation_id="list_alert_cards", summary="What each kind means")
def list_alert_cards(who: Anyone) -> Listing[CardOut]:
    """A card for each kind of alert: what it means, what to do, how long there is, whose job."""
    return Listing[CardOut](items=[wire.card_out(kind) for kind in KINDS])


@router.get("/alerts/watch", operation_id="read_alert_watch", summary="Is anybody watching?")
def read_watch(
    request: Request,
    who: Anyone,
    db: Reading,
    messages: Annotated[int, Query(ge=0, le=100, description="So many of the newest.")] = 20,
) -> StandingOut:
    """When tanks and stock were looked at last, what waits to be sent, and who is on duty."""
    return standing(db, now=wiring(request).clock(), messages=messages)


@router.get("/alerts/quality", operation_id="read_alert_quality", summary="How good are they?")
def read_quality(
    request: Request,
    who: Anyone,
    db: Reading,
    days: Annotated[int, Query(ge=1, le=730, description="Of the last so many days.")] = 90,
) -> QualityOut:
    """By kind: how many, how soon somebody took care, how many led to an act; beside the goals."""
    return quality(db, now=wiring(request).clock(), days=days)


@router.post(
    "/alerts/acknowledge",
    operation_id="acknowledge_alerts",
    summary="Acknowledge several alerts",
    status_code=201,
    response_model=SeveralOut,
    responses=answered_again(SeveralOut) | problems(rules.UnknownAlert, IdReused),
)
def acknowledge_alerts(
    who: Worker, db: Writing, body: wire.AcknowledgeAllIn, asked: AskedOnce
) -> Response:
    """As each by itself; those that are closed or acknowledged already are passed over."""

    def do(act: Act) -> SeveralOut:
        alerts = actions.acknowledge_all(db, act, body.ids, body.note)
        told = store.messages_of(db, [alert.id for alert in alerts])
        return SeveralOut(items=[wire.alert_out(alert, told) for alert in alerts])

    return once(db, asked, who, body, do)


@router.get(
    "/alerts/{alert_id}",
    operation_id="read_alert",
    summary="One alert",
    responses=problems(rules.UnknownAlert),
)
def read_alert(who: Anyone, db: Reading, alert_id: UUID) -> OneAlertOut:
    """An alert with its facts, card and history. Reading it acknowledges nothing."""
    return _one(db, actions.alert_of(db, alert_id))


def _one(db: Session, alert: Alert) -> OneAlertOut:
    return OneAlertOut(
        **wire.alert_facts(alert, store.messages_of(db, [alert.id])[alert.id]),
        card=wire.card_out(alert.kind),
        history=[wire.happened(event) for event in store.events_of(db, alert.id)],
    )


@router.post(
    "/alerts/{alert_id}/acknowledge",
    operation_id="acknowledge_alert",
    summary="Take care of an alert",
    status_code=201,
    response_model=OneAlertOut,
    responses=answered_again(OneAlertOut)
    | problems(rules.UnknownAlert, rules.AlertClosed, IdReused),
)
def acknowledge_alert(
    who: Worker,
    db: Writing,
    alert_id: UUID,
    asked: AskedOnce,
    body: wire.AcknowledgeIn = wire.AcknowledgeIn(),
) -> Response:
    """Nobody is told of it any more, until it gets worse or is still true after its time."""

    def do(act: Act) -> OneAlertOut:
        alert = actions.alert_of(db, alert_id)
        actions.acknowledge(db, act, alert, body.note)
        return _one(db, alert)

    return once(db, asked, who, body, do)


@router.post(
    "/alerts/{alert_id}/shelve",
    operation_id="shelve_alert",
    summary="Put an alert aside for a while",
    status_code=201,
    response_model=OneAlertOut,
    responses=answered_again(OneAlertOut)
    | problems(rules.UnknownAlert, rules.AlertClosed, rules.NeverShelved, rules.BadShelf, IdReused),
)
def shelve_alert(
    who: Manager, db: Writing, alert_id: UUID, body: wire.ShelveIn, asked: AskedOnce
) -> Response:
    """For a day at most, with a reason; never a critical one. It stays in every summary."""

    def do(act: Act) -> OneAlertOut:
        alert = actions.alert_of(db, alert_id)
        actions.shelve(db, act, alert, body.until, body.reason)
        return _one(db, alert)

    return once(db, asked, who, body, do)


@router.post(
    "/alerts/{alert_id}/take-down",
    operation_id="take_down_alert",
    summary="Put an alert aside no longer",
    status_code=201,
    response_model=OneAlertOut,
    responses=answered_again(OneAlertOut)
    | problems(rules.UnknownAlert, rules.AlertClosed, rules.NotShelved, IdReused),
)
def take_down_alert(
    who: Manager,
    db: Writing,
    alert_id: UUID,
    asked: AskedOnce,
    body: wire.TakeDownIn = wire.TakeDownIn(),
) -> Response:
    """It is as it was before it was put aside."""

    def do(act: Act) -> OneAlertOut:
        alert = actions.alert_of(db, alert_id)
        actions.take_down(db, act, alert, body.note)
        return _one(db, alert)

    return once(db, asked, who, body, do)


@router.post(
    "/alerts/{alert_id}/inspection",
    operation_id="inspect_alert",
    summary="Say what was found in the tank",
    status_code=201,
    response_model=OneAlertOut,
    responses=answered_again(OneAlertOut)
    | problems(rules.UnknownAlert, rules.AlertClosed, rules.NothingToInspect, IdReused),
)
def inspect_alert(
    who: Worker, db: Writing, alert_id: UUID, body: wire.InspectionIn, asked: AskedOnce
) -> Response:
    """An alert with `inspection_needed` does not end before somebody looked at the thing itself."""

    def do(act: Act) -> OneAlertOut:
        alert = actions.alert_of(db, alert_id)
        actions.inspect(db, act, alert, body.found)
        return _one(db, alert)

    return once(db, asked, who, body, do)
