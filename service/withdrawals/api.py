"""Taking a dose over HTTP: the plan, the withdrawal, the insemination, what came of it."""

from datetime import date
from typing import Annotated
from uuid import UUID

from fastapi import Query, Request, Response
from sqlmodel import Session

from service.bank import store as bank
from service.bank.actions import mare_of, new_mare
from service.bank.rules import NewMare, UnknownMare
from service.bank.store import Mare
from service.edge.asking import Anyone, Worker
from service.edge.listing import AskedPage, Listing, page_of
from service.edge.problems import problems
from service.edge.replay import AskedOnce, once
from service.edge.transaction import Reading, Router, Writing
from service.edge.wiring import wiring
from service.kernel import clock
from service.kernel.acts import Act
from service.kernel.errors import Unknown
from service.ledger.rules import (
    GobletFull,
    NotEnoughStraws,
    OnHold,
    OwnedByAnother,
    ReserveReached,
    StrawElsewhere,
    StrawGone,
    UnknownCode,
    Whose,
)
from service.withdrawals import actions, afterwards, plans, rules, store
from service.withdrawals.shown import insemination_out, withdrawal_out
from service.withdrawals.wire import (
    CorrectInseminationIn,
    DiscardRestIn,
    IdentifyIn,
    InseminationIn,
    InseminationOut,
    LostIn,
    OutcomeIn,
    PlanIn,
    PlannedPick,
    PlanOut,
    ReturnIn,
    WithdrawalIn,
    WithdrawalOut,
)

router = Router(prefix="/api", tags=["withdrawals"])


@router.post(
    "/withdrawals/plan",
    operation_id="plan_withdrawal",
    summary="Which straws, from where",
    responses=problems(Unknown, UnknownMare, NotEnoughStraws, ReserveReached, rules.Promised),
)
def plan_withdrawal(request: Request, body: PlanIn, who: Anyone, db: Reading) -> PlanOut:
    """Books nothing. One batch a dose if it can be, then the fewest lifts, then the oldest."""
    actions.refuse_reasons_of_others(
        who, override_reason=None, release_reserve=body.release_reserve
    )
    stallion = actions.stallion_of(db, body.stallion_id)
    rule = bank.dose_rule_of(db, stallion.id)
    plan = plans.plan_for(
        db,
        plans.Wish(
            stallion,
            body.doses,
            batch_id=body.batch_id,
            release_reserve=body.release_reserve,
            whose=Whose(body.owner),
            mare=None if body.mare_id is None else mare_of(db, body.mare_id),
        ),
        rule,
        _today(request, db),
    )
    return PlanOut(
        rule=rules.rule_facts(rule),
        straws=plan.straws,
        progressive_million=plan.progressive_million,
        canister_lifts=plan.canister_lifts,
        picks=[
            PlannedPick(
                goblet_id=pick.goblet_id,
                address=pick.address,
                batch_id=pick.batch.id,
                batch_code=pick.batch.code,
                straw_colour=bank.colour_of(pick.batch, stallion),
                straws=pick.straws,
                straw_codes=pick.codes,
            )
            for pick in plan.picks
        ],
        why=plan.why,
        warnings=plan.warnings,
    )


def _today(request: Request, db: Session) -> date:
    return bank.day_of(db, wiring(request).clock())


@router.post(
    "/withdrawals",
    operation_id="withdraw",
    summary="Lift straws for a mare",
    status_code=201,
    response_model=WithdrawalOut,
    responses=problems(
        Unknown,
        UnknownCode,
        StrawGone,
        StrawElsewhere,
        NotEnoughStraws,
        OnHold,
        OwnedByAnother,
        ReserveReached,
        rules.Promised,
        rules.WrongStallion,
        rules.BelowDoseRule,
        rules.AboveDoseRule,
        rules.NameTheMare,
    ),
)
def withdraw(
    request: Request, body: WithdrawalIn, who: Worker, db: Writing, asked: AskedOnce
) -> Response:
    """From now on the straws are out of stock; what becomes of them is recorded next."""

    def do(act: Act) -> WithdrawalOut:
        order = actions.WithdrawalOrder(
            stallion_id=body.stallion_id,
            mare=_mare(db, act, body),
            doses=body.doses,
            picks=[pick.pick() for pick in body.picks or []],
            codes=body.straw_codes or [],
            override_reason=body.override_reason,
            release_reserve=body.release_reserve,
            owner=body.owner,
            taken_by=body.taken_by,
        )
        withdrawal, exchanged = actions.withdraw(db, act, order, _today(request, db))
        return withdrawal_out(db, withdrawal, exchanged)

    return once(db, asked, who, body, do)


def _mare(db: Session, act: Act, body: WithdrawalIn) -> Mare:
    if (body.mare_id is None) == (body.mare is None):
        raise rules.NameTheMare(
            "Send either mare_id (a mare in the book) or mare (a new one).",
            errors=[{"field": "mare_id", "message": "send either mare_id or mare"}],
        )
    if body.mare is not None:
        new = NewMare(name=body.mare.name, ueln=body.mare.ueln, owner=body.mare.owner)
        return new_mare(db, act, new, id=act.new_id())
    mare = db.get(Mare, body.mare_id)
    if mare is None:
        raise Unknown("There is no such mare.", mare_id=body.mare_id)
    return mare


@router.get("/withdrawals", operation_id="list_withdrawals", summary="Withdrawals, newest first")
def list_withdrawals(
    who: Anyone,
    db: Reading,
    page: AskedPage,
    state: Annotated[str | None, Query(pattern="^lifted$", description="Only those out.")] = None,
    stallion_id: UUID | None = None,
    mare_id: UUID | None = None,
) -> Listing[WithdrawalOut]:
    """With `state=lifted` only those of which straws are still out."""
    rows = store.page_of_withdrawals(
        db, page, stallion_id=stallion_id, mare_id=mare_id, lifted=state == "lifted"
    )
    return page_of(
        rows,
        page,
        key=lambda one: (clock.as_text(one.recorded_at), str(one.id)),
        show=lambda one: withdrawal_out(db, one),
    )


@router.get(
    "/withdrawals/{withdrawal_id}",
    operation_id="read_withdrawal",
    summary="One withdrawal",
    responses=problems(Unknown),
)
def read_withdrawal(withdrawal_id: UUID, who: Anyone, db: Reading) -> WithdrawalOut:
    """The straws, how to thaw them, and what became of them."""
    return withdrawal_out(db, actions.withdrawal_of(db, withdrawal_id))


@router.post(
    "/withdrawals/{withdrawal_id}/identify",
    operation_id="identify_withdrawal",
    summary="Which straws they were",
    status_code=201,
    response_model=WithdrawalOut,
    responses=problems(Unknown, UnknownCode, StrawGone),
)
def identify_withdrawal(
    withdrawal_id: UUID, body: IdentifyIn, who: Worker, db: Writing, asked: AskedOnce
) -> Response:
    """Makes provisional codes certain; twins are exchanged where the hand took another one."""

    def do(act: Act) -> WithdrawalOut:
        withdrawal, exchanged = actions.identify(db, act, withdrawal_id, body.straw_codes)
        return withdrawal_out(db, withdrawal, exchanged)

    return once(db, asked, who, body, do)


@router.post(
    "/withdrawals/{withdrawal_id}/insemination",
    operation_id="record_insemination",
    summary="What was used",
    status_code=201,
    response_model=InseminationOut,
    responses=problems(
        Unknown,
        rules.NothingUsed,
        rules.TooFewLifted,
        rules.WhichStraws,
        rules.BeforeWithdrawal,
        rules.LaterThanNow,
    ),
)
def record_insemination(
    request: Request,
    withdrawal_id: UUID,
    body: InseminationIn,
    who: Worker,
    db: Writing,
    asked: AskedOnce,
) -> Response:
    """Used straws are used, thawed and unused ones discarded; the rest stays lifted."""

    def do(act: Act) -> InseminationOut:
        facts = afterwards.InseminationFacts(
            inseminated_at=body.inseminated_at,
            straws_used=body.straws_used,
            straws_thawed_unused=body.straws_thawed_unused,
            method=body.method,
            note=body.note,
            used_codes=body.used_straw_codes,
            thawed_unused_codes=body.thawed_unused_straw_codes,
        )
        return insemination_out(db, afterwards.inseminate(db, act, withdrawal_id, facts))

    return once(db, asked, who, body, do)


@router.post(
    "/withdrawals/{withdrawal_id}/return",
    operation_id="return_straws",
    summary="Back into nitrogen",
    status_code=201,
    response_model=WithdrawalOut,
    responses=problems(
        Unknown,
        rules.MayHaveThawed,
        rules.AlreadyUsed,
        rules.TooFewLifted,
        rules.WhichStraws,
        GobletFull,
        StrawGone,
    ),
)
def return_straws(
    withdrawal_id: UUID, body: ReturnIn, who: Worker, db: Writing, asked: AskedOnce
) -> Response:
    """Only straws that stayed in nitrogen, and the person says so."""

    def do(act: Act) -> WithdrawalOut:
        withdrawal, exchanged = afterwards.put_back(
            db,
            act,
            withdrawal_id,
            goblet_id=body.goblet_id,
            straws=body.straws,
            codes=body.straw_codes or [],
            kept_in_nitrogen=body.kept_in_nitrogen,
        )
        return withdrawal_out(db, withdrawal, exchanged)

    return once(db, asked, who, body, do)


@router.post(
    "/withdrawals/{withdrawal_id}/discard",
    operation_id="discard_rest",
    summary="Throw the rest away",
    status_code=201,
    response_model=WithdrawalOut,
    responses=problems(Unknown, rules.TooFewLifted),
)
def discard_rest(
    withdrawal_id: UUID, body: DiscardRestIn, who: Worker, db: Writing, asked: AskedOnce
) -> Response:
    """What is still out of this withdrawal is discarded."""

    def do(act: Act) -> WithdrawalOut:
        return withdrawal_out(db, afterwards.discard_rest(db, act, withdrawal_id, body.reason))

    return once(db, asked, who, body, do)


@router.post(
    "/withdrawals/{withdrawal_id}/lost",
    operation_id="lose_straws",
    summary="Nobody knows where they are",
    status_code=201,
    response_model=WithdrawalOut,
    responses=problems(
        Unknown, UnknownCode, rules.AlreadyUsed, rules.TooFewLifted, rules.WhichStraws, StrawGone
    ),
)
def lose_straws(
    withdrawal_id: UUID, body: LostIn, who: Worker, db: Writing, asked: AskedOnce
) -> Response:
    """They are missing from now on; one that turns up is taken back by a counter-entry."""

    def do(act: Act) -> WithdrawalOut:
        withdrawal, exchanged = afterwards.lose(
            db,
            act,
            withdrawal_id,
            straws=body.straws,
            codes=body.straw_codes or [],
            reason=body.reason,
        )
        return withdrawal_out(db, withdrawal, exchanged)

    return once(db, asked, who, body, do)


@router.post(
    "/inseminations/{insemination_id}/outcome",
    operation_id="record_outcome",
    summary="Pregnant or not",
    status_code=201,
    response_model=InseminationOut,
    responses=problems(Unknown, rules.WrongDay),
)
def record_outcome(
    request: Request,
    insemination_id: UUID,
    body: OutcomeIn,
    who: Worker,
    db: Writing,
    asked: AskedOnce,
) -> Response:
    """A later check replaces an earlier one; both stay readable."""

    def do(act: Act) -> InseminationOut:
        afterwards.record_outcome(
            db,
            act,
            insemination_id,
            checked_on=body.checked_on,
            pregnant=body.pregnant,
            today=_today(request, db),
        )
        return insemination_out(db, afterwards.insemination_of(db, insemination_id))

    return once(db, asked, who, body, do)


@router.post(
    "/inseminations/{insemination_id}/correct",
    operation_id="correct_insemination",
    summary="Take an insemination back that was recorded by mistake",
    status_code=201,
    response_model=WithdrawalOut,
    responses=problems(Unknown),
)
def correct_insemination(
    insemination_id: UUID,
    body: CorrectInseminationIn,
    who: Worker,
    db: Writing,
    asked: AskedOnce,
) -> Response:
    """Its straws are out again, until what truly happened is recorded."""

    def do(act: Act) -> WithdrawalOut:
        record = afterwards.take_back_insemination(db, act, insemination_id, body.reason)
        return withdrawal_out(db, actions.withdrawal_of(db, record.withdrawal_id))

    return once(db, asked, who, body, do)
