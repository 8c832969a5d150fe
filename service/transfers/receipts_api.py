"""Receipts over HTTP."""

from fastapi import Response

from service.bank.plausibility import Implausible
from service.bank.rules import UnknownStallion
from service.bank.shapes import BatchName, answered_again, warnings_out
from service.edge.asking import Worker
from service.edge.problems import problems
from service.edge.replay import AskedOnce, IdReused, once
from service.edge.transaction import Router, Writing
from service.kernel.acts import Act
from service.ledger.batch_doses import doses_of
from service.ledger.neighbours import QuarantinedTank
from service.ledger.rules import (
    BeforeWhatItFollows,
    GobletFull,
    GobletRetired,
    PlacementsDoNotAddUp,
    SameCodeTwice,
    UnknownGoblet,
)
from service.ledger.wire import exchanged_out
from service.transfers import coming_back, receipts
from service.transfers import receipts_rules as rules
from service.transfers.owners import spelled
from service.transfers.receipts_wire import ReceiptIn, ReceiptOut, ReceivedStraw

router = Router(prefix="/api", tags=["transfers"])


@router.post(
    "/receipts",
    operation_id="receive_straws",
    summary="Take in straws that were not frozen here",
    status_code=201,
    response_model=ReceiptOut,
    responses=answered_again(ReceiptOut)
    | problems(
        *(UnknownStallion, UnknownGoblet, Implausible, PlacementsDoNotAddUp, SameCodeTwice),
        *(rules.CodesWithoutLabels, rules.OneBatchAReceipt, rules.WrongStallion),
        *(rules.KnownAlready, rules.CodeTaken, GobletFull, GobletRetired, QuarantinedTank),
        *(BeforeWhatItFollows, IdReused),
    ),
)
def receive_straws(who: Worker, db: Writing, body: ReceiptIn, asked: AskedOnce) -> Response:
    """Opening stock, and what others send. What is unknown may stay unknown, and is told."""

    def do(act: Act) -> ReceiptOut:
        receipt = body.receipt(None if body.owner is None else spelled(db, body.owner))
        back = coming_back.find(db, receipt)
        done = (
            receipts.receive(db, act, receipt)
            if back is None
            else coming_back.take_back(db, act, receipt, back)
        )
        doses = doses_of(db, done.batch)
        return ReceiptOut(
            id=act.id,
            batch=BatchName(id=done.batch.id, code=done.batch.code),
            came_back=back is not None,
            progressive_million_per_straw=doses.progressive_million_per_straw,
            straws_per_dose=doses.straws_per_dose,
            doses=doses.doses,
            straws=[ReceivedStraw(code=code, goblet_id=place) for code, place in done.stored],
            exchanged=exchanged_out(done.exchanged),
            warnings=warnings_out(done.warnings),
        )

    return once(db, asked, who, body, do)
