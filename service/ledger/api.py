"""The book and the stock over HTTP."""

from datetime import date, datetime
from typing import Annotated, TypeVar
from uuid import UUID

from fastapi import Query, Request, Response
from pydantic import BaseModel

from service.bank import store as bank
from service.bank.rules import AddressTaken, TankRetired
from service.edge.asking import Anyone, Worker
from service.edge.fields import EventInput, Reason
from service.edge.listing import AskedPage, Listing, page_of
from service.edge.problems import problems
from service.edge.replay import AskedOnce, once
from service.edge.transaction import Reading, Router, Writing
from service.edge.wiring import wiring
from service.kernel import chain
from service.kernel import codes as code_rules
from service.kernel.errors import Unknown
from service.ledger import history, stock, store
from service.ledger.check import Watch
from service.ledger.correct import MovedOn, NotCorrectable, correct
from service.ledger.history import Step
from service.ledger.relocate_rules import CanisterRetired, NumberTaken, PlaceTaken
from service.ledger.rules import GobletFull, GobletRetired, UnknownCode
from service.ledger.store import Entry, head_of
from service.ledger.wire import OwnedOut, owned_out
from service.people.actions import person_called
from service.people.rules import UnknownPerson

M = TypeVar("M", bound=BaseModel)

router = Router(prefix="/api", tags=["ledger"])


class StockItem(BaseModel):
    """Straws of one batch in one goblet."""

    goblet_id: UUID
    address: str
    batch_id: UUID
    batch_code: str
    stallion_id: UUID
    stallion_name: str
    straw_colour: str | None
    straws: int
    collected_on: date | None
    on_hold: bool
    owners: list[OwnedOut]


class StockOut(Listing[StockItem]):
    """Stock; `straws` counts all that the filter finds, `doses` only what may be used."""

    straws: int
    doses: int
    doses_in_reserve: int
    straws_on_hold: int


class StallionStockOut(BaseModel):
    """One stallion's stock; `doses` may be used without a manager's release."""

    stallion_id: UUID
    stallion_name: str
    straw_colour: str | None
    straws: int
    doses: int
    doses_in_reserve: int
    straws_on_hold: int
    straws_not_plannable: int
    straws_owned: int
    low_stock_doses: int | None
    low: bool


class StepOut(BaseModel):
    """One thing that happened to a straw; places are states, or addresses when stored."""

    entry_seq: int
    entry_id: UUID
    kind: str
    occurred_at: datetime
    recorded_at: datetime
    by: str
    from_: str
    to: str
    reason: str | None
    provisional: bool
    withdrawal_id: UUID | None

    model_config = {"alias_generator": lambda name: name.rstrip("_"), "populate_by_name": True}


class StrawOut(BaseModel):
    """A straw, where it is, and everything that happened to it."""

    code: str
    state: str
    provisional: bool
    stallion_id: UUID
    stallion_name: str
    batch_id: UUID
    batch_code: str
    goblet_id: UUID | None
    address: str | None
    withdrawal_id: UUID | None
    owner: str | None
    collected_on: date | None
    straw_colour: str | None
    history: list[StepOut]


class LineOut(BaseModel):
    """One straw's part in an entry; `straw_code` is null for one from before labels."""

    straw_code: str | None
    batch_code: str
    from_: str
    to: str
    provisional: bool

    model_config = {"alias_generator": lambda name: name.rstrip("_"), "populate_by_name": True}


class GobletMovedOut(BaseModel):
    """A goblet that hangs elsewhere since an entry."""

    goblet_id: UUID
    from_address: str
    address: str


class EntryOut(BaseModel):
    """One act in the book."""

    seq: int
    id: UUID
    kind: str
    by: str
    by_id: UUID
    occurred_at: datetime
    recorded_at: datetime
    reason: str | None
    withdrawal_id: UUID | None
    batch_id: UUID | None
    straws: int
    hash: str
    lines: list[LineOut]
    goblets_moved: list[GobletMovedOut]


class CheckOut(BaseModel):
    """What the last check found; `sound` is null while the check after the start still runs."""

    entries: int
    head: str
    sound: bool | None
    problems: list[str]


class CorrectionIn(EventInput):
    """Why an entry is taken back."""

    reason: Reason


class CorrectionOut(BaseModel):
    """The counter-entry."""

    id: UUID
    seq: int
    corrects: UUID


_STOCK_ROW = StockItem.model_fields.keys() - {"on_hold", "owners"}


@router.get("/stock", operation_id="read_stock", summary="What stands where")
def read_stock(
    request: Request,
    who: Anyone,
    db: Reading,
    page: AskedPage,
    stallion_id: UUID | None = None,
    batch_id: UUID | None = None,
    tank_id: UUID | None = None,
) -> StockOut:
    """Stock by goblet and batch; the totals are over everything the filter finds."""
    scope = stock.Scope(stallion_id, batch_id, tank_id)
    today = bank.day_of(db, wiring(request).clock())
    held = bank.holds_on(db, today)
    totals = stock.by_stallion(db, today, scope)
    rows = stock.rows(db, scope, page)
    owned = store.owned_straws(db, {row.batch_id for row in rows})
    listed = page_of(
        rows,
        page,
        key=lambda row: (row.address, row.batch_code),
        show=lambda row: StockItem(
            on_hold=row.quarantine or row.batch_id in held,
            owners=owned_out(owned.get((row.batch_id, row.goblet_id), {})),
            **{name: getattr(row, name) for name in _STOCK_ROW},
        ),
    )
    return StockOut(
        items=listed.items,
        next=listed.next,
        straws=sum(one.straws for one in totals),
        doses=sum(one.doses for one in totals),
        doses_in_reserve=sum(one.doses_in_reserve for one in totals),
        straws_on_hold=sum(one.straws_on_hold for one in totals),
    )


@router.get("/stock/stallions", operation_id="read_stock_by_stallion", summary="Doses by stallion")
def read_stock_by_stallion(
    request: Request, who: Anyone, db: Reading, page: AskedPage
) -> Listing[StallionStockOut]:
    """Every stallion that has straws in store, by name."""
    today = bank.day_of(db, wiring(request).clock())
    found = stock.by_stallion(db, today, stock.Scope())
    key = _stallion_key
    if after := page.after_as(str, str):
        found = [one for one in found if key(one) > after]
    return page_of(found[: page.limit + 1], page, key=key, show=_stallion_stock)


def _stallion_key(one: stock.StallionStock) -> tuple[str, str]:
    return one.stallion.name, str(one.stallion.id)


def _stallion_stock(one: stock.StallionStock) -> StallionStockOut:
    limit = one.stallion.low_stock_doses
    return StallionStockOut(
        stallion_id=one.stallion.id,
        stallion_name=one.stallion.name,
        straw_colour=one.stallion.straw_colour,
        straws=one.straws,
        doses=one.doses,
        doses_in_reserve=one.doses_in_reserve,
        straws_on_hold=one.straws_on_hold,
        straws_not_plannable=one.straws_not_plannable,
        straws_owned=one.straws_owned,
        low_stock_doses=limit,
        low=limit is not None and one.doses < limit,
    )


@router.get(
    "/straws/{code}",
    operation_id="read_straw",
    summary="A straw and its history",
    responses=problems(UnknownCode, code_rules.MisreadCode),
)
def read_straw(code: str, who: Anyone, db: Reading) -> StrawOut:
    """Where a straw is and everything that happened to it, oldest first."""
    read = code_rules.read(code).code
    straw = store.straws_by_code(db, [read]).get(read)
    if straw is None or not straw.coded:
        raise UnknownCode(f"No straw here has the code {code_rules.grouped(read)}.")
    batch = db.get_one(bank.Batch, straw.batch_id)
    stallion = db.get_one(bank.Stallion, batch.stallion_id)
    goblet = db.get_one(bank.Goblet, straw.goblet_id) if straw.goblet_id else None
    return StrawOut(
        code=straw.code,
        state=straw.state,
        provisional=straw.provisional,
        stallion_id=stallion.id,
        stallion_name=stallion.name,
        batch_id=batch.id,
        batch_code=batch.code,
        goblet_id=straw.goblet_id,
        address=goblet.address if goblet else None,
        withdrawal_id=straw.withdrawal_id,
        owner=straw.owner,
        collected_on=batch.collected_on,
        straw_colour=bank.colour_of(batch, stallion),
        history=[_shown(step, StepOut) for step in history.straw_steps(db, straw.code)],
    )


def _shown(step: Step, model: type[M]) -> M:
    return model(**{name: getattr(step, name) for name in model.model_fields})


@router.get(
    "/ledger",
    operation_id="read_ledger",
    summary="The book, entry by entry",
    responses=problems(UnknownPerson),
)
def read_ledger(
    who: Anyone,
    db: Reading,
    page: AskedPage,
    straw: str | None = None,
    stallion_id: UUID | None = None,
    person: Annotated[str | None, Query(description="A person's id or username.")] = None,
    newest_first: bool = False,
) -> Listing[EntryOut]:
    """Entries in the order of the book, or the newest first; with their lines."""
    found = history.entries(
        db,
        straw=code_rules.read(straw).code if straw else None,
        stallion_id=stallion_id,
        by_id=person_called(db, person).id if person else None,
        after=page.after_one(int),
        newest_first=newest_first,
        limit=page.limit + 1,
    )
    seqs = [entry.seq for entry in found[: page.limit]]
    lines, moved = history.lines_of(db, seqs), history.goblets_moved(db, seqs)
    return page_of(
        found,
        page,
        key=lambda entry: (entry.seq,),
        show=lambda entry: _entry(entry, lines[entry.seq], moved[entry.seq]),
    )


def _entry(entry: Entry, lines: list[Step], moved: list[history.PlateChanged]) -> EntryOut:
    return EntryOut(
        seq=entry.seq,
        id=entry.id,
        kind=entry.kind,
        by=entry.by_name,
        by_id=entry.by_id,
        occurred_at=entry.occurred_at,
        recorded_at=entry.recorded_at,
        reason=entry.reason,
        withdrawal_id=entry.withdrawal_id,
        batch_id=entry.batch_id,
        straws=len(lines),
        hash=entry.hash,
        lines=[_shown(step, LineOut) for step in lines],
        goblets_moved=[GobletMovedOut(**one._asdict()) for one in moved],
    )


@router.get("/ledger/check", operation_id="check_ledger", summary="Is the book sound?")
def check_ledger(request: Request, who: Anyone, db: Reading) -> CheckOut:
    """The whole book read again, unless nothing was added since the last time."""
    watch: Watch = request.app.state.watch
    if not watch.first_is_done(within_seconds=2.0):
        head = head_of(db)
        return CheckOut(
            entries=head.seq if head else 0,
            head=head.hash if head else chain.GENESIS,
            sound=None,
            problems=[],
        )
    last = watch.renew()
    return CheckOut(entries=last.entries, head=last.head, sound=last.sound, problems=last.problems)


@router.post(
    "/ledger/{entry_id}/correct",
    operation_id="correct_entry",
    summary="Take an entry back by a counter-entry",
    status_code=201,
    response_model=CorrectionOut,
    responses=problems(
        *(Unknown, NotCorrectable, MovedOn, GobletFull, GobletRetired),
        *(CanisterRetired, TankRetired, NumberTaken, PlaceTaken, AddressTaken),
    ),
)
def correct_entry(
    entry_id: UUID, body: CorrectionIn, who: Worker, db: Writing, asked: AskedOnce
) -> Response:
    """The straws go back to where they were; the entry and the reason stay in the book."""
    return once(
        db,
        asked,
        who,
        body,
        lambda act: CorrectionOut(
            id=act.id, seq=correct(db, act, entry_id, body.reason), corrects=entry_id
        ),
    )
