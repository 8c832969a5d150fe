"""Cards on paper for a withdrawal: the way to its straws, and how they are thawed."""

from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session

from labels import sheets
from labels.cards import Stop, ThawBatch, ThawCard, ThawStep, WalkCard, thaw_card, walk_card
from labels.errors import NotDrawn
from labels.shapes import Face, Printer
from service.bank import store as bank
from service.bank.store import Batch, Goblet, Mare, Stallion
from service.kernel.acts import Person
from service.ledger.picking import Pick
from service.ledger.rules import StrawNow, UnknownGoblet
from service.withdrawals import rules, store
from service.withdrawals.store import Withdrawal

#: Paper cards go to an ordinary printer; their symbols are large enough for any.
_PRINTER = Printer(600)


def walk_of(db: Session, withdrawal: Withdrawal, foot: str) -> bytes:
    """The way to the straws of a withdrawal, by where they were lifted. Raises CardNotDrawn."""
    lifted = Counter(
        (straw.left_goblet_id, straw.batch_id)
        for straw in store.straws_of(db, withdrawal.id)
        if straw.left_goblet_id is not None
    )
    picks = [Pick(goblet, batch, straws) for (goblet, batch), straws in lifted.items() if goblet]
    mare = db.get_one(Mare, withdrawal.mare_id).name
    return walk(db, withdrawal.stallion_id, mare, picks, foot)


def walk(db: Session, stallion_id: UUID, mare: str, picks: Sequence[Pick], foot: str) -> bytes:
    """The way of a plan. Raises UnknownGoblet, UnknownBatch, CardNotDrawn."""
    stallion = db.get_one(Stallion, stallion_id)
    stops = [_stop(db, stallion, pick) for pick in picks]
    straws = sum(pick.straws for pick in picks)
    lifts = len({db.get_one(Goblet, pick.goblet_id).canister_id for pick in picks})
    lead = (
        f"{_counted(straws, 'straw')} from {_counted(len(stops), 'goblet')}, "
        f"{_counted(lifts, 'canister lift')}."
    )
    card = WalkCard(stallion=stallion.name, mare=mare, lead=lead, stops=tuple(stops), foot=foot)
    try:
        return _paper(walk_card(card, _PRINTER), f"Walk card, {stallion.name}")
    except NotDrawn as error:
        raise rules.CardNotDrawn(str(error)) from error


def thaw_of(db: Session, withdrawal: Withdrawal, foot: str) -> bytes:
    """How the straws of a withdrawal are thawed, a page for each batch. Raises CardNotDrawn."""
    straws = store.straws_of(db, withdrawal.id)
    batches = store.batches(db, list({straw.batch_id for straw in straws}))
    stallion = db.get_one(Stallion, withdrawal.stallion_id)
    card = ThawCard(
        stallion=stallion.name,
        mare=db.get_one(Mare, withdrawal.mare_id).name,
        batches=tuple(
            _batch(batch, [straw for straw in straws if straw.batch_id == batch.id])
            for batch in batches.values()
        ),
        foot=foot,
    )
    try:
        return _paper(thaw_card(card), f"Thaw card, {stallion.name}")
    except NotDrawn as error:
        raise rules.CardNotDrawn(str(error)) from error


def _paper(pages: Sequence[Face], title: str) -> bytes:
    return sheets.roll(pages, title=title)


def _stop(db: Session, stallion: Stallion, pick: Pick) -> Stop:
    goblet, batch = db.get(Goblet, pick.goblet_id), db.get(Batch, pick.batch_id)
    if goblet is None or batch is None:
        raise UnknownGoblet(
            "There is no such goblet or batch. Plan the dose again.", goblet_id=pick.goblet_id
        )
    return Stop(
        address=goblet.address,
        goblet_code=goblet.code,
        straws=pick.straws,
        batch_code=batch.code,
        collected=f"{batch.collected_on:%-d %b %Y}" if batch.collected_on else None,
        straw_colour=bank.colour_of(batch, stallion),
    )


def _batch(batch: Batch, straws: Sequence[StrawNow]) -> ThawBatch:
    return ThawBatch(
        batch_code=batch.code,
        straws=len(straws),
        straw_codes=tuple(straw.code for straw in straws if straw.coded),
        steps=_steps(batch),
    )


def _steps(batch: Batch) -> tuple[ThawStep, ...]:
    return tuple(
        ThawStep(water_c=_plain(step["water_c"]), seconds=_plain(step["seconds"]))
        for step in batch.thaw or []
    )


def _plain(amount: object) -> str:
    return f"{Decimal(str(amount)).normalize():f}"


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def foot_of(db: Session, who: Person, now: datetime) -> str:
    """Where, when and by whom it was printed."""
    station = bank.station_of(db)
    local = now.astimezone(ZoneInfo(station.time_zone))
    return f"{station.name} · {local:%-d %b %Y %H:%M} · printed by {who.display_name}"
