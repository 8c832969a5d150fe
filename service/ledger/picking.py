"""From what a hand took to which straws the book lets go: by count, by code, twins exchanged.

Straws of one batch in one goblet are twins. An act by count takes the right number and leaves
open which (`provisional`); an act by code is certain. Where a scan shows that the hand took
another twin than the book did, the two change places by an `exchange` entry: numbers were right
all along, and now the codes are.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from uuid import UUID

from sqlmodel import Session, col

from service.kernel import codes as code_rules
from service.kernel.acts import Act
from service.ledger import store, twins
from service.ledger.book import book
from service.ledger.rules import (
    Movement,
    NotAStraw,
    NotEnoughStraws,
    NothingNamed,
    Place,
    SameCodeTwice,
    StrawElsewhere,
    StrawGone,
    StrawNow,
    UnknownCode,
    Whose,
    place_of,
)
from service.ledger.store import Straw
from service.ledger.twins import Exchange


@dataclass(frozen=True, slots=True)
class Pick:
    """So many straws of a batch out of a goblet; `seen` are codes that were scanned there."""

    goblet_id: UUID
    batch_id: UUID
    straws: int
    seen: tuple[str, ...] = ()


@dataclass(slots=True)
class Taken:
    """The straws of an act; `provisional` holds the codes that are the book's choice."""

    straws: list[StrawNow] = field(default_factory=list)
    provisional: set[str] = field(default_factory=set)
    exchanged: list[Exchange] = field(default_factory=list)

    def to(self, place: Place) -> list[Movement]:
        """All of them on their way to this place."""
        return [
            Movement(straw, place, provisional=straw.code in self.provisional)
            for straw in self.straws
        ]


@dataclass(slots=True)
class _Hand:
    """One act's hand: what it has taken so far, and every code that it names.

    `named` says in which goblet each code was seen; None where the act does not say.
    """

    db: Session
    act: Act
    named: Mapping[str, UUID | None]
    whose: Whose | None
    taken: Taken = field(default_factory=Taken)


def take(
    db: Session,
    act: Act,
    *,
    picks: Sequence[Pick] = (),
    codes: Sequence[str] = (),
    whose: Whose | None = None,
) -> Taken:
    """The stored straws that an act takes; exchanges are booked on the way.

    With `whose` only their straws are taken. A scanned twin of another owner's changes owners with
    one of theirs in the same goblet: they own numbers of twins, not codes. Raises NothingNamed
    (neither or both), SameCodeTwice, UnknownCode, MisreadCode, StrawGone (left by scan, or has no
    twin left), StrawElsewhere, OwnedByAnother, NotEnoughStraws.
    """
    if bool(picks) == bool(codes):
        raise NothingNamed("Send either picks or straw_codes.")
    read = [straw_code(code) for code in codes]
    merged = _merged(picks)
    seen = [(code, pick.goblet_id) for pick in merged for code in pick.seen]
    _refuse_twice([*read, *(code for code, _ in seen)])
    hand = _Hand(db, act, dict.fromkeys(read) | dict(seen), whose)
    if read:
        _take_codes(hand, read)
    # All that was scanned comes first: a count must not choose a straw that a scan names elsewhere.
    for pick in merged:
        _take_seen(hand, pick)
    for pick in merged:
        _take_by_count(hand, pick)
    return hand.taken


def identify(
    db: Session,
    act: Act,
    withdrawal_id: UUID,
    codes: Sequence[str],
) -> list[Exchange]:
    """Make certain which straws a withdrawal took; twins are exchanged where the hand differed.

    Which of them were used and which are still out stays the book's choice as long as both are
    among a batch's straws here: a code does not tell. Raises as `take` does; StrawGone also for a
    code that is no twin of a straw still open here.
    """
    read = [straw_code(code) for code in codes]
    _refuse_twice(read)
    ours = store.straws_where(db, col(Straw.withdrawal_id) == withdrawal_id)
    exchanged = exchange_into(db, act, read, ours, open_ones=ours)
    now = store.straws_where(db, col(Straw.withdrawal_id) == withdrawal_id)
    states = {batch: {s.state for s in now if s.batch_id == batch} for batch in _batches(now)}
    certain = [s for s in now if s.code in read and len(states[s.batch_id]) == 1]
    book(
        db,
        act,
        "identify",
        [Movement(straw, place_of(straw), since=straw.since) for straw in certain],
        withdrawal_id=withdrawal_id,
        facts={"read": read},
    )
    return exchanged


def _batches(straws: Sequence[StrawNow]) -> set[UUID]:
    return {straw.batch_id for straw in straws}


def exchange_into(
    db: Session,
    act: Act,
    read: Sequence[str],
    there: Sequence[StrawNow],
    *,
    open_ones: Sequence[StrawNow],
) -> list[Exchange]:
    """Let straws that were read take the places where the book has others by its own choice.

    Those `there` already stay; `open_ones` are the straws whose places may be taken. Raises
    UnknownCode, and StrawGone for a code that is nobody's twin.
    """
    found = _found(db, read)
    known = {straw.code for straw in there}
    free = [straw for straw in open_ones if straw.provisional and straw.code not in read]
    exchanged = []
    for code in read:
        if code in known:
            continue
        twin = _twin_of(found[code], free)
        if twin is None:
            raise _gone(db, found[code])
        free.remove(twin)
        exchanged.append(twins.exchange(db, act, found[code], twin))
    return exchanged


def _twin_of(straw: StrawNow, open_ones: Sequence[StrawNow]) -> StrawNow | None:
    """The straw that the book says was taken where the hand took this one; None if it cannot be.

    A code that left by scan elsewhere is nobody's twin any more.
    """
    if straw.state != "stored" and not straw.provisional:
        return None
    twins = [other for other in open_ones if other.batch_id == straw.batch_id]
    return min(twins, key=lambda twin: twin.left_goblet_id != straw.goblet_id, default=None)


def _merged(picks: Sequence[Pick]) -> list[Pick]:
    straws: dict[tuple[UUID, UUID], int] = defaultdict(int)
    seen: dict[tuple[UUID, UUID], list[str]] = defaultdict(list)
    for pick in picks:
        place = (pick.goblet_id, pick.batch_id)
        straws[place] += pick.straws
        seen[place] += [straw_code(code) for code in pick.seen]
    return [
        Pick(goblet_id, batch_id, number, tuple(seen[goblet_id, batch_id]))
        for (goblet_id, batch_id), number in straws.items()
    ]


def straw_code(text: str) -> str:
    """The straw's code in what was scanned or typed. Raises MisreadCode, NotAStraw."""
    read = code_rules.read(text)
    if read.kind is not code_rules.Kind.STRAW:
        raise NotAStraw(
            f"{code_rules.grouped(read.code)} is the code of a {read.kind.name.lower()}, "
            "not of a straw. Scan the straw itself.",
            kind=read.kind.name.lower(),
        )
    return read.code


def _refuse_twice(codes: Sequence[str]) -> None:
    twice = [code for code in set(codes) if codes.count(code) > 1]
    if twice:
        raise SameCodeTwice(
            f"Straw {code_rules.grouped(twice[0])} is named twice. Name each straw once.",
            straw_code=twice[0],
        )


def _found(db: Session, codes: Collection[str]) -> dict[str, StrawNow]:
    found = store.straws_by_code(db, codes)
    for code in codes:
        if code not in found or not found[code].coded:
            raise UnknownCode(
                f"No straw here has the code {code_rules.grouped(code)}. "
                "Read it once more; if it stands, set the straw aside and ask the manager.",
                code_read=code,
            )
    return found


def _take_codes(hand: _Hand, codes: Sequence[str]) -> None:
    found = _found(hand.db, codes)
    for code in codes:
        straw = found[code]
        if straw.state != "stored":
            straw = _back_for_a_twin(hand, straw)
        hand.taken.straws.append(_theirs(hand, straw))


def _back_for_a_twin(hand: _Hand, straw: StrawNow) -> StrawNow:
    """A straw that the book let go by count, stored again in a twin's stead; or StrawGone."""
    if not straw.provisional or straw.left_goblet_id is None:
        raise _gone(hand.db, straw)
    return _swapped(hand, straw, straw.left_goblet_id)


def _theirs(hand: _Hand, straw: StrawNow) -> StrawNow:
    """The straw, belonging to whom it is taken for; or OwnedByAnother."""
    if hand.whose is None or straw.owner == hand.whose.owner:
        return straw
    busy = {other.code for other in hand.taken.straws} | set(hand.named)
    return twins.given_to(hand.db, hand.act, straw, hand.whose, busy)


def _swapped(hand: _Hand, straw: StrawNow, goblet_id: UUID) -> StrawNow:
    """The straw in that goblet after it changed places with a twin there, or StrawGone."""
    busy = {other.code for other in hand.taken.straws}
    busy |= {code for code, seen_in in hand.named.items() if seen_in in (goblet_id, None)}
    there = store.stored_twins(hand.db, straw.batch_id, goblet_id)
    free = [twin for twin in there if twin.code not in busy and twin.coded]
    twin = min(free, key=lambda twin: _doubts(hand, twin), default=None)
    if twin is None:
        raise _elsewhere(straw) if straw.state == "stored" else _gone(hand.db, straw)
    hand.taken.exchanged.append(twins.exchange(hand.db, hand.act, straw, twin))
    return store.straws_by_code(hand.db, [straw.code])[straw.code]


def _doubts(hand: _Hand, twin: StrawNow) -> tuple[bool, bool, bool]:
    """What speaks against giving this twin away, the weightiest first.

    That it was not seen elsewhere in this act; that it came only after the time claimed; that the
    book is sure of it.
    """
    return (
        twin.code not in hand.named,
        twin.since > hand.act.occurred_at,
        not twin.provisional,
    )


def _take_seen(hand: _Hand, pick: Pick) -> None:
    if len(pick.seen) > pick.straws:
        raise NothingNamed("More codes were scanned than straws are taken from this goblet.")
    for straw in _found(hand.db, pick.seen).values():
        hand.taken.straws.append(_theirs(hand, _seen_in(hand, straw, pick)))


def _take_by_count(hand: _Hand, pick: Pick) -> None:
    taken = hand.taken
    by_count = pick.straws - len(pick.seen)
    there = store.straws_in_stock(hand.db, pick.batch_id, pick.goblet_id)
    if hand.whose is not None:
        owned = store.owned_straws(hand.db, [pick.batch_id])
        there = hand.whose.of(owned.get((pick.batch_id, pick.goblet_id), {}), there)
    busy = {straw.code for straw in taken.straws if straw.goblet_id == pick.goblet_id}
    if there - len(busy) < by_count:
        raise NotEnoughStraws(
            f"That goblet holds {there} straws of this batch{_of(hand.whose)}, "
            f"not {pick.straws}. "
            "Read the stock again: someone may have been there.",
            available_straws=there,
            goblet_id=pick.goblet_id,
            batch_id=pick.batch_id,
        )
    chosen = store.twins_to_take(
        hand.db,
        pick.batch_id,
        pick.goblet_id,
        at=hand.act.occurred_at,
        but=busy,
        number=by_count,
        whose=hand.whose,
    )
    taken.straws += chosen
    if there - len(busy) > by_count or store.twins_in_doubt(hand.db, pick.batch_id, pick.goblet_id):
        taken.provisional |= {twin.code for twin in chosen if twin.coded}


def _of(whose: Whose | None) -> str:
    return f" that belong to {whose.owner}" if whose and whose.owner else ""


def _seen_in(hand: _Hand, straw: StrawNow, pick: Pick) -> StrawNow:
    """A straw that was scanned in this goblet, which the book may have elsewhere."""
    if straw.batch_id != pick.batch_id:
        raise StrawElsewhere(
            f"Straw {code_rules.grouped(straw.code)} is of another batch than the one named. "
            "Put it aside and look again.",
            straw_code=straw.code,
            batch_id=straw.batch_id,
        )
    if straw.state != "stored" and not straw.provisional:
        raise _gone(hand.db, straw)
    if straw.state != "stored":
        return _swapped(hand, straw, pick.goblet_id)
    if straw.goblet_id == pick.goblet_id:
        return straw
    if not store.batch_in_doubt(hand.db, straw.batch_id):
        raise _elsewhere(straw)
    return _swapped(hand, straw, pick.goblet_id)


def _elsewhere(straw: StrawNow) -> StrawElsewhere:
    return StrawElsewhere(
        f"The book has straw {code_rules.grouped(straw.code)} in another goblet, and no twin of it "
        "here that may have been taken for it. Book its move first, or ask for a count.",
        straw_code=straw.code,
        goblet_id=straw.goblet_id,
    )


def _gone(db: Session, straw: StrawNow) -> StrawGone:
    entry = store.entry_numbered(db, straw.last_seq)
    return StrawGone(
        f"Straw {code_rules.grouped(straw.code)} is {straw.state} since "
        f"{entry.occurred_at:%d %b %Y %H:%M} UTC, by {entry.by_name}. Take another one.",
        straw_code=straw.code,
        state=straw.state,
        by=entry.by_name,
        at=entry.occurred_at,
        entry_id=entry.id,
    )
