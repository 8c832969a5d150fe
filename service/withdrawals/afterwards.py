"""What becomes of lifted straws: used, thawed for nothing, put back, discarded; outcomes."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from sqlmodel import Session, select

from service.bank import store as bank
from service.kernel.acts import Act
from service.kernel.codes import grouped
from service.kernel.errors import Refusal, Unknown
from service.ledger import picking
from service.ledger.book import book
from service.ledger.correct import take_back
from service.ledger.rules import Movement, Place, StrawNow, place_of
from service.ledger.store import Entry
from service.ledger.twins import Exchange
from service.withdrawals import rules, store
from service.withdrawals.actions import withdrawal_of
from service.withdrawals.store import Insemination, Outcome, Withdrawal


@dataclass(frozen=True, slots=True)
class InseminationFacts:
    """What happened at the mare; codes say which straws, where a number does not."""

    inseminated_at: datetime
    straws_used: int
    straws_thawed_unused: int = 0
    method: str | None = None
    note: str | None = None
    used_codes: Sequence[str] = ()
    thawed_unused_codes: Sequence[str] = ()


def inseminate(
    db: Session, act: Act, withdrawal_id: UUID, facts: InseminationFacts
) -> Insemination:
    """Record an insemination: used are used, thawed-unused discarded, the rest stay lifted.

    Raises NothingUsed, TooFewLifted, WhichStraws (mixed batches and only a number),
    BeforeWithdrawal.
    """
    withdrawal = withdrawal_of(db, withdrawal_id)
    rules.refuse_wrong_time(
        facts.inseminated_at, withdrawn_at=withdrawal.occurred_at, now=act.recorded_at
    )
    lifted = store.lifted_of(db, withdrawal.id)
    used, wasted = _used_and_wasted(lifted, facts)
    rest = [straw for straw in lifted if straw not in used and straw not in wasted]
    named = _named(lifted, [*facts.used_codes, *facts.thawed_unused_codes])
    open_codes = _open_codes([used, wasted, rest], named)
    ends = [(straw, Place("used", withdrawal_id=withdrawal.id)) for straw in used]
    ends += [(straw, Place("discarded", withdrawal_id=withdrawal.id)) for straw in wasted]
    book(
        db,
        act,
        "use",
        [
            Movement(straw, place, provisional=straw.provisional or straw.code in open_codes)
            for straw, place in ends
        ],
        withdrawal_id=withdrawal.id,
        facts={"inseminated_at": facts.inseminated_at, "thawed_unused": len(wasted)},
    )
    _book_doubt(db, act, withdrawal, [straw for straw in rest if straw.code in open_codes])
    insemination = Insemination(
        id=act.id,
        withdrawal_id=withdrawal.id,
        inseminated_at=facts.inseminated_at,
        straws_used=len(used),
        straws_thawed_unused=len(wasted),
        method=facts.method,
        note=facts.note,
        recorded_at=act.recorded_at,
        by_id=act.by.id,
        by_name=act.by.display_name,
    )
    db.add(insemination)
    return insemination


def _open_codes(parts: Sequence[Sequence[StrawNow]], named: Sequence[StrawNow]) -> set[str]:
    """Codes of which nobody knows which way they went: twins that were only counted.

    `parts` are the ways that the straws of a withdrawal went, those that stay out among them. Twins
    that all went the same way are not in doubt.
    """
    counted = [[straw for straw in part if straw.coded and straw not in named] for part in parts]
    ways = Counter(batch_id for part in counted for batch_id in {s.batch_id for s in part})
    return {straw.code for part in counted for straw in part if ways[straw.batch_id] > 1}


def _book_doubt(db: Session, act: Act, withdrawal: Withdrawal, straws: Sequence[StrawNow]) -> None:
    """Say that it is open which twins these are: the others went by number alone.

    Otherwise a straw in the hand that the book has counted as gone would be refused as such.
    """
    sure = [straw for straw in straws if not straw.provisional]
    if sure:
        book(
            db,
            act,
            "doubt",
            [Movement(s, place_of(s), provisional=True, since=s.since) for s in sure],
            entry_id=act.new_id(),
            withdrawal_id=withdrawal.id,
        )


def _used_and_wasted(
    lifted: Sequence[StrawNow], facts: InseminationFacts
) -> tuple[list[StrawNow], list[StrawNow]]:
    wanted = facts.straws_used + facts.straws_thawed_unused
    if wanted == 0:
        raise rules.NothingUsed(
            "At least one straw was used or thawed. If none was, put them back or discard them."
        )
    if wanted > len(lifted):
        raise rules.TooFewLifted(
            f"{len(lifted)} straws of this withdrawal are still out, not {wanted}.",
            available_straws=len(lifted),
        )
    used = _named(lifted, facts.used_codes)
    wasted = _named(lifted, facts.thawed_unused_codes)
    left = [straw for straw in lifted if straw not in used and straw not in wasted]
    more_used = facts.straws_used - len(used)
    more_wasted = facts.straws_thawed_unused - len(wasted)
    if more_used < 0 or more_wasted < 0:
        raise rules.WhichStraws("More codes are named than straws are counted.")
    rules.refuse_mixed_guess([straw.batch_id for straw in left], more_used)
    rules.refuse_mixed_guess([straw.batch_id for straw in left[more_used:]], more_wasted)
    used += left[:more_used]
    wasted += left[more_used : more_used + more_wasted]
    return used, wasted


def _not_among_them(code: str) -> rules.WhichStraws:
    return rules.WhichStraws(
        f"Straw {grouped(code)} is not among those that are out. "
        "Identify the withdrawal's straws first.",
        straw_code=code,
    )


def _named(
    lifted: Sequence[StrawNow],
    codes: Sequence[str],
    not_out: Callable[[str], Refusal] = _not_among_them,
) -> list[StrawNow]:
    """The lifted straws with these codes, each once; raises `not_out` for one that is not out."""
    by_code = {straw.code: straw for straw in lifted}
    read = list(dict.fromkeys(picking.straw_code(text) for text in codes))
    for code in read:
        if code not in by_code:
            raise not_out(code)
    return [by_code[code] for code in read]


def put_back(
    db: Session,
    act: Act,
    withdrawal_id: UUID,
    *,
    goblet_id: UUID,
    straws: int | None,
    codes: Sequence[str],
    kept_in_nitrogen: bool,
) -> tuple[Withdrawal, list[Exchange]]:
    """Return straws that stayed in nitrogen.

    Raises MayHaveThawed unless the person says they stayed frozen, AlreadyUsed, TooFewLifted,
    WhichStraws, GobletFull.
    """
    withdrawal = withdrawal_of(db, withdrawal_id)
    if not kept_in_nitrogen:
        raise rules.MayHaveThawed(
            "Only straws that stayed in nitrogen the whole time go back. "
            "Discard what may have warmed."
        )
    exchanged: list[Exchange] = []
    if codes:
        exchanged = _make_ours(db, act, withdrawal, codes)
    lifted = store.lifted_of(db, withdrawal.id)
    back = _going_back(db, withdrawal, lifted, straws, codes)
    rest = [straw for straw in lifted if straw not in back]
    open_codes = _open_codes([back, rest], back if codes else ())
    book(
        db,
        act,
        "return",
        [
            Movement(
                straw,
                Place("stored", goblet_id=goblet_id),
                provisional=not codes and (straw.provisional or straw.code in open_codes),
            )
            for straw in back
        ],
        withdrawal_id=withdrawal.id,
        facts={"kept_in_nitrogen": True},
    )
    _book_doubt(db, act, withdrawal, [straw for straw in rest if straw.code in open_codes])
    return withdrawal, exchanged


def _make_ours(
    db: Session, act: Act, withdrawal: Withdrawal, codes: Sequence[str]
) -> list[Exchange]:
    """What the hand holds is what is out: twins are exchanged before they go back."""
    ours = {straw.code: straw for straw in store.straws_of(db, withdrawal.id)}
    lifted = [straw for straw in ours.values() if straw.state == "lifted"]
    read = list(dict.fromkeys(picking.straw_code(code) for code in codes))
    for code in read:
        if code not in ours or _may_be_out(ours[code], lifted):
            continue
        if ours[code].state in rules.ENDED:
            raise _already_used(withdrawal, code)
        if ours[code].state == "stored":
            raise rules.TooFewLifted(
                f"Straw {grouped(code)} was put back already.",
                available_straws=len(lifted),
                straw_code=code,
            )
    return picking.exchange_into(db, act, read, lifted, open_ones=lifted)


def _may_be_out(straw: StrawNow, lifted: Sequence[StrawNow]) -> bool:
    """Whether the book chose this straw as used or put back, and a twin may have been it."""
    return straw.provisional and any(
        other.provisional and other.batch_id == straw.batch_id for other in lifted
    )


def _already_used(withdrawal: Withdrawal, code: str | None = None) -> rules.AlreadyUsed:
    which = f"Straw {grouped(code)} was" if code else "These straws were"
    return rules.AlreadyUsed(
        f"{which} used or discarded, and no longer out. What thawed never goes back.",
        withdrawal_id=withdrawal.id,
        straw_code=code,
    )


def _going_back(
    db: Session,
    withdrawal: Withdrawal,
    lifted: Sequence[StrawNow],
    straws: int | None,
    codes: Sequence[str],
) -> list[StrawNow]:
    if codes:
        return _named(lifted, codes, lambda code: _already_used(withdrawal, code))
    wanted = len(lifted) if straws is None else straws
    ended = [one for one in store.straws_of(db, withdrawal.id) if one.state in rules.ENDED]
    if ended and not 0 < wanted <= len(lifted):
        raise _already_used(withdrawal)
    return _number_of(lifted, straws)


def _number_of(lifted: Sequence[StrawNow], straws: int | None) -> list[StrawNow]:
    """So many of them, all without a number. Raises TooFewLifted, WhichStraws."""
    wanted = len(lifted) if straws is None else straws
    if wanted > len(lifted) or wanted == 0:
        raise rules.TooFewLifted(
            f"{len(lifted)} straws of this withdrawal are still out, not {wanted}.",
            available_straws=len(lifted),
        )
    rules.refuse_mixed_guess([straw.batch_id for straw in lifted], wanted)
    return list(lifted[:wanted])


def discard_rest(db: Session, act: Act, withdrawal_id: UUID, reason: str) -> Withdrawal:
    """Discard what is still out of a withdrawal."""
    withdrawal = withdrawal_of(db, withdrawal_id)
    lifted = store.lifted_of(db, withdrawal.id)
    if not lifted:
        raise rules.TooFewLifted("Nothing of this withdrawal is still out.", available_straws=0)
    place = Place("discarded", withdrawal_id=withdrawal.id)
    book(
        db,
        act,
        "discard",
        [Movement(straw, place, provisional=straw.provisional) for straw in lifted],
        reason=reason,
        withdrawal_id=withdrawal.id,
    )
    return withdrawal


def lose(
    db: Session,
    act: Act,
    withdrawal_id: UUID,
    *,
    straws: int | None,
    codes: Sequence[str],
    reason: str,
) -> tuple[Withdrawal, list[Exchange]]:
    """Book straws that are out as missing: nobody knows any more where they are.

    All that are out when neither a number nor codes are given. Raises AlreadyUsed, TooFewLifted,
    WhichStraws.
    """
    withdrawal = withdrawal_of(db, withdrawal_id)
    exchanged = _make_ours(db, act, withdrawal, codes) if codes else []
    lifted = store.lifted_of(db, withdrawal.id)
    lost = _named(lifted, codes) if codes else _number_of(lifted, straws)
    rest = [straw for straw in lifted if straw not in lost]
    open_codes = _open_codes([lost, rest], lost if codes else ())
    place = Place("missing", withdrawal_id=withdrawal.id)
    book(
        db,
        act,
        "lose",
        [
            Movement(
                straw,
                place,
                provisional=not codes and (straw.provisional or straw.code in open_codes),
            )
            for straw in lost
        ],
        reason=reason,
        withdrawal_id=withdrawal.id,
    )
    _book_doubt(db, act, withdrawal, [straw for straw in rest if straw.code in open_codes])
    return withdrawal, exchanged


def insemination_of(db: Session, insemination_id: UUID) -> Insemination:
    """The insemination, or Unknown."""
    insemination = db.get(Insemination, insemination_id)
    if insemination is None:
        raise Unknown("There is no such insemination.", insemination_id=insemination_id)
    return insemination


def take_back_insemination(
    db: Session, act: Act, insemination_id: UUID, reason: str
) -> Insemination:
    """Undo an insemination that was recorded by mistake: its straws are out again."""
    insemination = insemination_of(db, insemination_id)
    entry = db.exec(select(Entry).where(Entry.id == insemination.id)).one()
    take_back(db, act, entry, reason, kinds=frozenset({"use"}))
    insemination.corrected_at = act.recorded_at
    db.add(insemination)
    return insemination


def record_outcome(
    db: Session, act: Act, insemination_id: UUID, *, checked_on: date, pregnant: bool, today: date
) -> Outcome:
    """What a check of the mare found; a later one replaces it and both stay readable."""
    insemination = insemination_of(db, insemination_id)
    inseminated_on = bank.day_of(db, insemination.inseminated_at)
    rules.refuse_wrong_check_day(checked_on, inseminated_on, today)
    outcome = Outcome(
        id=act.id,
        insemination_id=insemination.id,
        checked_on=checked_on,
        pregnant=pregnant,
        recorded_at=act.recorded_at,
        by_id=act.by.id,
        by_name=act.by.display_name,
    )
    db.add(outcome)
    return outcome
