"""Twins that stand for each other: they change places, or owners, by an `exchange` entry.

Straws of one batch in one goblet are alike; what is true is how many there are and how many belong
to whom. So when a code turns up where the book has its twin, the two change, and no number moves.
"""

from collections.abc import Collection
from dataclasses import dataclass

from sqlmodel import Session

from service.kernel.acts import Act
from service.kernel.codes import grouped
from service.ledger import store
from service.ledger.book import book
from service.ledger.rules import Movement, OwnedByAnother, StrawNow, Whose, place_of


@dataclass(frozen=True, slots=True)
class Exchange:
    """Two twins that changed places in the book: `in_` is stored again, `out` went instead."""

    in_: str
    out: str


def exchange(db: Session, act: Act, straw: StrawNow, twin: StrawNow) -> Exchange:
    """Let two twins change places, and owners; each counts from when the other came there."""
    book(
        db,
        act,
        "exchange",
        [
            Movement(straw._replace(owner=twin.owner), place_of(twin), since=twin.since),
            Movement(
                twin._replace(owner=straw.owner),
                place_of(straw),
                provisional=True,
                since=straw.since,
            ),
        ],
        entry_id=act.new_id(),
        facts=_owners(straw, twin),
    )
    if twin.state == "stored":
        return Exchange(in_=straw.code, out=twin.code)
    return Exchange(in_=twin.code, out=straw.code)


def given_to(
    db: Session, act: Act, straw: StrawNow, whose: Whose, busy: Collection[str]
) -> StrawNow:
    """A stored straw after it changed owners with a twin of `whose` beside it; the twin is not
    `busy`. Raises OwnedByAnother when there is none.
    """
    there = store.stored_twins(db, straw.batch_id, straw.goblet_id) if straw.goblet_id else []
    twin = next((t for t in there if t.owner == whose.owner and t.code not in busy), None)
    if twin is None:
        raise OwnedByAnother(
            f"Straw {grouped(straw.code)} belongs to {straw.owner or 'the common stock'}, and no "
            f"straw of its batch in that goblet belongs to {whose.owner or 'the common stock'}. "
            "Put it back, or say whose straws you take.",
            straw_code=straw.code,
            owner=straw.owner,
        )
    book(
        db,
        act,
        "exchange",
        [
            Movement(one._replace(owner=other.owner), place_of(one), one.provisional, one.since)
            for one, other in ((straw, twin), (twin, straw))
        ],
        entry_id=act.new_id(),
        facts=_owners(straw, twin),
    )
    return store.straws_by_code(db, [straw.code])[straw.code]


def _owners(straw: StrawNow, twin: StrawNow) -> dict[str, dict[str, str | None]]:
    """Whose each of two that change is afterwards, where that is not the same."""
    if straw.owner == twin.owner:
        return {}
    return {"owners": {straw.code: twin.owner, twin.code: straw.owner}}
