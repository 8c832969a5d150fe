"""Stock-takes over HTTP: opened, counted, compared, counted again, adjusted, reviewed, closed."""

from typing import Annotated
from uuid import UUID

from fastapi import Depends, Request, Response
from fastapi.responses import StreamingResponse
from starlette.background import BackgroundTask

from service.audits import actions, adjusting, closing, evidence, rules, shown, store, wire
from service.audits.actions import NewCount, Scope
from service.audits.adjusting import NewAdjustment
from service.audits.report_pdf import pdf_of
from service.audits.wire import AdjustmentOut, CountedOut, ReviewOut, StockTakeLine, StockTakeOut
from service.bank.shapes import answered_again
from service.edge.asking import Allow, Anyone, Manager
from service.edge.listing import AskedPage, Listing, page_of
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, once
from service.edge.transaction import Reading, Router, Writing
from service.kernel import clock
from service.kernel.acts import Act, Person

router = Router(prefix="/api", tags=["stock-takes"])

ManagerOrAuditor = Annotated[Person, Depends(Allow("manager", "auditor"))]
Auditor = Annotated[Person, Depends(Allow("auditor"))]


def _readings_settled(request: Request) -> None:
    """What this person read before they counted is written down before the count is kept."""
    request.app.state.readings.settle()


def _readings_anew(request: Request) -> None:
    """Whether somebody's reading matters changes with this request."""
    request.app.state.readings.look_again()


Settled = Annotated[None, Depends(_readings_settled)]
Anew = Annotated[None, Depends(_readings_anew)]

_OF_A_TAKE = (rules.UnknownStockTake, rules.StockTakeClosed, IdReused)


@router.post(
    "/stock-takes",
    operation_id="open_stock_take",
    summary="Open a stock-take",
    status_code=201,
    response_model=StockTakeOut,
    responses=answered_again(StockTakeOut) | problems(rules.BadScope, IdReused),
)
def open_stock_take(
    who: ManagerOrAuditor, anew: Anew, db: Writing, body: wire.StockTakeIn, asked: AskedOnce
) -> Response:
    """Its freeze point is the newest entry; work goes on while it is counted."""
    sample = body.scope.sample
    plan = store.plan_of(db)
    scope = Scope(
        tank_ids=body.scope.tank_ids,
        goblet_ids=body.scope.goblet_ids,
        confidence_percent=sample.confidence_percent or plan.confidence_percent if sample else None,
        detect_percent=sample.detect_percent or plan.detect_percent if sample else None,
    )
    words = body.scope.model_dump(mode="json", exclude_none=True)

    def do(act: Act) -> StockTakeOut:
        take = actions.open_take(db, act, scope, asked=words, blind=body.blind)
        return shown.stock_take_out(db, take)

    return once(db, asked, who, body, do)


@router.get("/stock-takes", operation_id="list_stock_takes", summary="All stock-takes")
def list_stock_takes(who: Anyone, db: Reading, page: AskedPage) -> Listing[StockTakeLine]:
    """Newest first."""
    return page_of(
        store.page_of_takes(db, page),
        page,
        key=lambda take: (clock.as_text(take.opened_at), take.id),
        show=lambda take: shown.line_out(db, take),
    )


@router.get(
    "/stock-takes/{take_id}",
    operation_id="read_stock_take",
    summary="One stock-take",
    responses=problems(rules.UnknownStockTake),
)
def read_stock_take(who: Anyone, db: Reading, take_id: UUID) -> StockTakeOut:
    """What is to be counted, by whom it was, and, once compared, every difference."""
    return shown.stock_take_out(db, actions.take_of(db, take_id))


@router.post(
    "/stock-takes/{take_id}/counts",
    operation_id="count_goblet",
    summary="Enter what stands in a goblet",
    status_code=201,
    response_model=CountedOut,
    responses=answered_again(CountedOut) | problems(*_OF_A_TAKE, rules.NotInScope, rules.BadCount),
)
def count_goblet(
    who: Anyone,
    settled: Settled,
    db: Writing,
    take_id: UUID,
    body: wire.CountIn,
    asked: AskedOnce,
) -> Response:
    """A count is kept as it is, whatever the book expects, which nobody is told here."""

    def do(act: Act) -> CountedOut:
        take = actions.take_of(db, take_id)
        count = actions.count(db, act, take, _new_count(db, body))
        goblet = db.get_one(store.TakeGoblet, (take.id, count.goblet_id))
        return CountedOut(
            id=count.id,
            goblet_id=count.goblet_id,
            address=goblet.address,
            straws=sum(one["straws"] for one in count.batches) + len(count.codes or ()),
            unreadable=count.unreadable,
            foreign=count.foreign,
            left_to_count=shown.left_to_count(db, take),
        )

    return once(db, asked, who, body, do)


def _new_count(db: Writing, body: wire.CountIn) -> NewCount:
    """Codes read, batches found; what names nothing of ours is kept as a foreign mark."""
    codes, foreign = actions.read_codes(body.straw_codes or ())
    named = actions.batches_named(
        db, [one.batch_code for one in body.batches or () if one.batch_code]
    )
    batches: dict[UUID, int] = {}
    for one in body.batches or ():
        batch_id = one.batch_id or named.get(one.batch_code or "")
        if batch_id is None or not actions.is_batch(db, batch_id):
            foreign += [str(one.batch_code or one.batch_id)] * max(one.straws, 1)
        elif one.straws:
            batches[batch_id] = batches.get(batch_id, 0) + one.straws
    return NewCount(
        goblet_id=body.goblet_id,
        started_at=body.started_at,
        batches=list(batches.items()),
        codes=None if body.straw_codes is None else codes,
        unreadable=body.unreadable,
        foreign=[*body.foreign, *foreign],
    )


@router.post(
    "/stock-takes/{take_id}/compare",
    operation_id="compare_stock_take",
    summary="Compare the counts with the book",
    status_code=201,
    response_model=StockTakeOut,
    responses=answered_again(StockTakeOut) | problems(*_OF_A_TAKE),
)
def compare_stock_take(
    who: ManagerOrAuditor,
    db: Writing,
    take_id: UUID,
    asked: AskedOnce,
    body: wire.CompareIn = wire.CompareIn(),
) -> Response:
    """Each goblet with the book as it stood when that goblet was counted. Codes that were read
    settle which of two twins it is.
    """

    def do(act: Act) -> StockTakeOut:
        take = actions.take_of(db, take_id)
        actions.compare_now(db, act, take)
        return shown.stock_take_out(db, take)

    return once(db, asked, who, body, do)


@router.post(
    "/stock-takes/{take_id}/recounts",
    operation_id="ask_for_recounts",
    summary="Let goblets be counted again",
    status_code=201,
    response_model=StockTakeOut,
    responses=answered_again(StockTakeOut) | problems(*_OF_A_TAKE, rules.NotInScope),
)
def ask_for_recounts(
    who: ManagerOrAuditor, db: Writing, take_id: UUID, body: wire.RecountsIn, asked: AskedOnce
) -> Response:
    """Best by another person, who has not seen the differences; both counts are kept."""

    def do(act: Act) -> StockTakeOut:
        take = actions.take_of(db, take_id)
        actions.ask_again(db, act, take, body.goblet_ids)
        return shown.stock_take_out(db, take)

    return once(db, asked, who, body, do)


@router.post(
    "/stock-takes/{take_id}/adjustments",
    operation_id="propose_adjustment",
    summary="Propose to adjust the book",
    status_code=201,
    response_model=AdjustmentOut,
    responses=answered_again(AdjustmentOut)
    | problems(*_OF_A_TAKE, rules.NotCompared, rules.NoSuchDifference, rules.RecountFirst),
)
def propose_adjustment(
    who: ManagerOrAuditor, db: Writing, take_id: UUID, body: wire.AdjustmentIn, asked: AskedOnce
) -> Response:
    """Nothing is booked before a manager approves who neither proposed nor counted."""

    def do(act: Act) -> AdjustmentOut:
        facts = body.model_dump(include=set(NewAdjustment.__dataclass_fields__))
        take = actions.take_of(db, take_id)
        made = adjusting.propose(db, act, take, NewAdjustment(**facts))
        return shown.adjustment_out(db, made, None)

    return once(db, asked, who, body, do)


@router.post(
    "/stock-takes/{take_id}/adjustments/{adjustment_id}/approve",
    operation_id="approve_adjustment",
    summary="Approve an adjustment, and book it",
    status_code=201,
    response_model=AdjustmentOut,
    responses=answered_again(AdjustmentOut)
    | problems(
        *_OF_A_TAKE,
        rules.UnknownAdjustment,
        rules.SamePerson,
        rules.AlreadyApproved,
        rules.TakeBackFirst,
    ),
)
def approve_adjustment(
    who: Manager,
    db: Writing,
    take_id: UUID,
    adjustment_id: UUID,
    asked: AskedOnce,
    body: wire.ApproveIn = wire.ApproveIn(),
) -> Response:
    """By a manager who neither proposed it nor counted that goblet; the database sees to it."""

    def do(act: Act) -> AdjustmentOut:
        take = actions.take_of(db, take_id)
        adjustment = adjusting.adjustment_of(db, take, adjustment_id)
        return shown.adjustment_out(db, adjustment, adjusting.approve(db, act, take, adjustment))

    return once(db, asked, who, body, do)


@router.post(
    "/stock-takes/{take_id}/reviews",
    operation_id="review_stock_take",
    summary="Sign a stock-take",
    status_code=201,
    response_model=ReviewOut,
    responses=answered_again(ReviewOut) | problems(rules.UnknownStockTake, IdReused),
)
def review_stock_take(
    who: Auditor, db: Writing, take_id: UUID, body: wire.ReviewIn, asked: AskedOnce
) -> Response:
    """The auditor's name, the time, and what the signature means."""

    def do(act: Act) -> ReviewOut:
        take = actions.take_of(db, take_id)
        one = closing.review(db, act, take, meaning=body.meaning, note=body.note)
        return ReviewOut(
            id=one.id, by=one.by_name, role=one.role, meaning=one.meaning, note=one.note, at=one.at
        )

    return once(db, asked, who, body, do)


@router.post(
    "/stock-takes/{take_id}/close",
    operation_id="close_stock_take",
    summary="Close a stock-take",
    status_code=201,
    response_model=StockTakeOut,
    responses=answered_again(StockTakeOut)
    | problems(*_OF_A_TAKE, rules.NotAllCounted, rules.NotCompared, rules.NotExplained),
)
def close_stock_take(
    who: ManagerOrAuditor,
    db: Writing,
    take_id: UUID,
    asked: AskedOnce,
    body: wire.CloseIn = wire.CloseIn(),
) -> Response:
    """Its report is made, kept as it is, and its hash stands in the book from then on."""

    def do(act: Act) -> StockTakeOut:
        take = actions.take_of(db, take_id)
        closing.close(db, act, take, note=body.note)
        return shown.stock_take_out(db, take)

    return once(db, asked, who, body, do)


@router.get(
    "/stock-takes/{take_id}/report.json",
    operation_id="read_stock_take_report",
    summary="The report",
    response_class=Response,
    responses=problems(rules.UnknownStockTake)
    | {200: {"content": {"application/json": {"schema": {"type": "object"}}}}},
)
def read_report(who: Anyone, db: Reading, take_id: UUID, asked: AskedOnce) -> Response:
    """Of an open stock-take a draft; of a closed one what was signed, byte for byte."""
    content = closing.report_bytes(db, actions.take_of(db, take_id), now=asked.wires.clock())
    return Response(content, media_type="application/json")


@router.get(
    "/stock-takes/{take_id}/report.pdf",
    operation_id="print_stock_take_report",
    summary="The report on paper",
    response_class=Response,
    responses=problems(rules.UnknownStockTake)
    | {200: {"content": {"application/pdf": {"schema": {"type": "string"}}}}},
)
def print_report(who: Anyone, db: Reading, take_id: UUID, asked: AskedOnce) -> Response:
    """The same, for signing by hand."""
    report = closing.report_of(db, actions.take_of(db, take_id), now=asked.wires.clock())
    return Response(pdf_of(report), media_type="application/pdf")


@router.get(
    "/stock-takes/{take_id}/evidence.zip",
    operation_id="export_stock_take_evidence",
    summary="Report, ledger and checker in one archive",
    response_class=StreamingResponse,
    responses=problems(rules.UnknownStockTake)
    | {200: {"content": {"application/zip": {"schema": {"type": "string"}}}}},
)
def export_evidence(who: Anyone, db: Reading, take_id: UUID, asked: AskedOnce) -> Response:
    """For another machine: the checker in it needs Python and nothing else."""
    take, now = actions.take_of(db, take_id), asked.wires.clock()
    report = closing.report_of(db, take, now=now)
    held = evidence.archive(db, closing.report_bytes(db, take, now=now), pdf_of(report))
    return StreamingResponse(
        held,
        media_type="application/zip",
        headers={"Content-Disposition": f'attachment; filename="{evidence.name_of(take)}.zip"'},
        background=BackgroundTask(held.close),
    )
