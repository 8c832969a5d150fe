"""Opening a stock-take, counting, comparing, counting again. Inside the caller's transaction."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlmodel import Session, col, select

from service.audits import as_it_was, rules, sampling, store
from service.audits.compare import compare
from service.audits.rules import Comparison
from service.audits.store import Count, Difference, StockTake, TakeGoblet
from service.audits.stories import stories
from service.bank.store import Batch, Canister, Goblet, Tank
from service.kernel import chain, codes
from service.kernel.acts import Act
from service.kernel.codes import Kind
from service.kernel.database import in_parts
from service.ledger import twins
from service.ledger.book import book
from service.ledger.store import head_of, straws_by_code

#: Bits of chance in a seed: nobody guesses a draw.
_SEED_BITS = 128


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """What is to be counted: everything unless one of these is given.

    Percentages of a sample are those of its claim: with so much confidence it finds a bank in which
    so many of the goblets are wrong.
    """

    tank_ids: Sequence[UUID] | None = None
    goblet_ids: Sequence[UUID] | None = None
    confidence_percent: Decimal | None = None
    detect_percent: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NewCount:
    """What somebody saw in a goblet."""

    goblet_id: UUID
    started_at: datetime | None
    batches: Sequence[tuple[UUID, int]]
    codes: Sequence[str] | None
    unreadable: int
    foreign: Sequence[str]


def take_of(db: Session, take_id: UUID) -> StockTake:
    """The stock-take. Raises UnknownStockTake."""
    take = db.get(StockTake, take_id)
    if take is None:
        raise rules.UnknownStockTake("No stock-take has this id.", id=take_id)
    return take


def refuse_closed(take: StockTake) -> None:
    """Raise StockTakeClosed."""
    if take.state == "closed":
        raise rules.StockTakeClosed(
            "It was closed and signed. Open a new stock-take to count again.",
            closed_at=take.closed_at,
        )


def open_take(
    db: Session, act: Act, scope: Scope, *, asked: dict[str, Any], blind: bool
) -> StockTake:
    """Open a stock-take: the freeze point is the newest entry, which its own entry follows.

    Raises BadScope.
    """
    head = head_of(db)
    take = StockTake(
        id=act.id,
        state="counting",
        scope=asked,
        blind=blind,
        frozen_at_entry=head.seq if head else 0,
        frozen_head=head.hash if head else chain.GENESIS,
        opened_at=act.recorded_at,
        opened_by_id=act.by.id,
        opened_by=act.by.display_name,
    )
    places = _places(db, scope)
    if scope.confidence_percent is not None:
        places = _drawn(db, act, take, scope, places)
    if not places:
        raise rules.BadScope(
            "There is no goblet to count there.",
            errors=[{"field": "scope", "message": "names no goblet in use"}],
        )
    db.add(take)
    db.flush()
    db.add_all(
        TakeGoblet(
            take_id=take.id,
            goblet_id=goblet.id,
            address=goblet.address,
            tank_id=tank.id,
            tank_name=tank.name,
        )
        for goblet, tank in places
    )
    db.flush()
    facts = {
        "stock_take_id": take.id,
        "frozen_at_entry": take.frozen_at_entry,
        "scope": asked,
        "seed": take.seed,
    }
    book(db, act, "stock-take", [], facts=facts)
    return take


def _places(db: Session, scope: Scope) -> list[tuple[Goblet, Tank]]:
    """The goblets in use of a scope, in order of address; of a sample all of the bank."""
    query = (
        select(Goblet, Tank)
        .join(Canister, col(Canister.id) == col(Goblet.canister_id))
        .join(Tank, col(Tank.id) == col(Canister.tank_id))
        .where(col(Goblet.retired_at).is_(None))
        .order_by(col(Goblet.address), col(Goblet.id))
    )
    if scope.tank_ids is not None:
        return list(db.exec(query.where(col(Tank.id).in_(scope.tank_ids))))
    if scope.goblet_ids is not None:
        found = [
            row
            for some in in_parts(scope.goblet_ids)
            for row in db.exec(query.where(col(Goblet.id).in_(some)))
        ]
        if len(found) != len(set(scope.goblet_ids)):
            raise rules.BadScope(
                "One of these goblets is not in use (any more). Choose again.",
                errors=[{"field": "scope.goblet_ids", "message": "names no goblet in use"}],
            )
        return sorted(found, key=lambda row: (row[0].address, str(row[0].id)))
    return list(db.exec(query))


def _drawn(
    db: Session,
    act: Act,
    take: StockTake,
    scope: Scope,
    places: Sequence[tuple[Goblet, Tank]],
) -> list[tuple[Goblet, Tank]]:
    """A random sample, sized so that its claim holds however the wrong goblets are spread."""
    plan = store.plan_of(db)
    confidence = scope.confidence_percent or plan.confidence_percent
    detect = scope.detect_percent or plan.detect_percent
    by_tank: dict[UUID, list[UUID]] = {}
    for goblet, tank in places:
        by_tank.setdefault(tank.id, []).append(goblet.id)
    populations = {tank_id: len(ids) for tank_id, ids in by_tank.items()}
    numbers = sampling.allocation(populations, detect_percent=detect, confidence_percent=confidence)
    take.seed = f"{act.draw(_SEED_BITS):032x}"
    take.sample = {
        "confidence_percent": f"{confidence:f}",
        "detect_percent": f"{detect:f}",
        "tanks": [
            {"tank_id": str(tank_id), "goblets": populations[tank_id], "drawn": numbers[tank_id]}
            for tank_id in populations
        ],
    }
    drawn = set(sampling.draw(by_tank, numbers, take.seed))
    return [(goblet, tank) for goblet, tank in places if goblet.id in drawn]


# --- counting ----------------------------------------------------------------------------------


def count(db: Session, act: Act, take: StockTake, new: NewCount) -> Count:
    """Keep what somebody counted; a count is never refused for what it says.

    Raises StockTakeClosed, NotInScope, BadCount.
    """
    refuse_closed(take)
    goblet = db.get(TakeGoblet, (take.id, new.goblet_id))
    if goblet is None:
        raise rules.NotInScope(
            "This goblet is not part of the stock-take. Scan the plate again.",
            errors=[{"field": "goblet_id", "message": "is not to be counted"}],
        )
    started_at = new.started_at or act.occurred_at
    if not take.opened_at <= act.occurred_at or started_at > act.occurred_at:
        raise rules.BadCount(
            "It is said to have ended before it began, or before the stock-take was opened. "
            "Check the clock of this device.",
            errors=[{"field": "started_at", "message": "does not fit occurred_at"}],
            opened_at=take.opened_at,
        )
    kept = Count(
        id=act.id,
        take_id=take.id,
        goblet_id=new.goblet_id,
        round=goblet.rounds,
        started_at=started_at,
        counted_at=act.occurred_at,
        recorded_at=act.recorded_at,
        by_id=act.by.id,
        by_name=act.by.display_name,
        batches=[{"batch_id": str(batch), "straws": straws} for batch, straws in new.batches],
        codes=None if new.codes is None else list(new.codes),
        unreadable=new.unreadable,
        foreign=list(new.foreign),
        not_blind=store.has_read(db, take.id, act.by.id, new.goblet_id, until=act.occurred_at),
    )
    db.add(kept)
    # What was compared before knows nothing of this count.
    take.state = "counting"
    db.add(take)
    db.flush()
    return kept


def read_codes(texts: Sequence[str]) -> tuple[list[str], list[str]]:
    """Straws' codes among what was scanned, and what is none: foreign marks, as they were read."""
    ours, foreign = [], []
    for text in texts:
        try:
            read = codes.read(text)
        except codes.MisreadCode:
            foreign.append(text)
            continue
        if read.kind is Kind.STRAW:
            ours.append(read.code)
        else:
            foreign.append(text)
    return list(dict.fromkeys(ours)), foreign


def batches_named(db: Session, texts: Sequence[str]) -> dict[str, UUID]:
    """The batches that these codes name; those that name none are left out."""
    wanted: dict[str, str] = {}
    for text in texts:
        try:
            wanted[text] = codes.read(text).code
        except codes.MisreadCode:
            continue
    found: dict[str, UUID] = {}
    for some in in_parts(wanted.values()):
        found |= dict(db.exec(select(Batch.code, Batch.id).where(col(Batch.code).in_(some))).all())
    return {text: found[code] for text, code in wanted.items() if code in found}


def is_batch(db: Session, batch_id: UUID) -> bool:
    """Whether there is such a batch."""
    return db.get(Batch, batch_id) is not None


def ask_again(db: Session, act: Act, take: StockTake, goblet_ids: Sequence[UUID]) -> None:
    """Let goblets be counted once more, best by somebody else. Raises StockTakeClosed,
    NotInScope.
    """
    refuse_closed(take)
    counted = store.latest(store.counts_of(db, take.id))
    for goblet_id in dict.fromkeys(goblet_ids):
        goblet = db.get(TakeGoblet, (take.id, goblet_id))
        if goblet is None:
            raise rules.NotInScope(
                "One of these goblets is not part of the stock-take.",
                errors=[{"field": "goblet_ids", "message": "is not to be counted"}],
            )
        if goblet_id in counted and counted[goblet_id].round == goblet.rounds:
            goblet.rounds += 1
            db.add(goblet)
    take.state = "counting"
    db.add(take)
    facts = {"stock_take_id": take.id, "goblets": sorted(map(str, goblet_ids))}
    book(db, act, "recount", [], facts=facts)


# --- comparing ---------------------------------------------------------------------------------


def compare_now(db: Session, act: Act, take: StockTake) -> None:
    """Compare what was counted with the book at each goblet's cut-off, and settle codes.

    Goblets that were not counted yet are left out. Raises StockTakeClosed.
    """
    refuse_closed(take)
    goblets = store.goblets_of(db, take.id)
    counts = store.latest(store.counts_of(db, take.id))
    known = head_of(db)
    sheets, elsewhere = as_it_was.sheets(db, take, goblets, counts, until=known.seq if known else 0)
    found = compare(sheets, elsewhere)
    take.comparisons += 1
    for one in found.differences:
        beside = [
            other
            for other in found.differences
            if other is not one and other.goblet_id == one.goblet_id
        ]
        db.add(_kept(db, act, take, one, count=counts[one.goblet_id], beside=beside))
    settled = _settle(db, act, found)
    head = head_of(db)
    take.state, take.compared_at = "compared", act.recorded_at
    take.compared_at_entry = head.seq if head else 0
    take.compared_head = head.hash if head else chain.GENESIS
    take.settled = take.settled + settled
    db.add(take)
    db.flush()


def _kept(
    db: Session,
    act: Act,
    take: StockTake,
    one: rules.Difference,
    *,
    count: Count,
    beside: Sequence[rules.Difference],
) -> Difference:
    acts = as_it_was.recent_acts(db, one.goblet_id, one.batch_id)
    others = as_it_was.acts_elsewhere(db, one.goblet_id, one.batch_id)
    return Difference(
        id=act.new_id(),
        take_id=take.id,
        comparison=take.comparisons,
        goblet_id=one.goblet_id,
        batch_id=one.batch_id,
        count_id=count.id,
        expected=one.expected,
        counted=one.counted,
        kind=one.kind,
        codes=list(one.codes),
        foreign=list(one.foreign),
        candidates=[str(candidate) for candidate in one.candidates],
        move=None if one.move is None else _as_json(one.move),
        note=one.note,
        recent=[_act_as_json(known) for known in acts],
        stories=[
            {
                "rank": story.rank,
                "kind": story.kind,
                "words": story.words,
                "entry_seq": story.entry_seq,
            }
            for story in stories(one, [*acts, *others], beside)
        ],
    )


def _as_json(move: rules.Move) -> dict[str, Any]:
    return {
        "from_goblet_id": str(move.from_goblet_id),
        "to_goblet_id": str(move.to_goblet_id),
        "batch_id": str(move.batch_id),
        "straws": move.straws,
        "sure": move.sure,
        "codes": list(move.codes),
    }


def _act_as_json(act: rules.Act) -> dict[str, Any]:
    return {
        "seq": act.seq,
        "kind": act.kind,
        "occurred_at": act.occurred_at.isoformat(),
        "by": act.by,
        "change": act.change,
    }


def _settle(db: Session, act: Act, found: Comparison) -> list[dict[str, str]]:
    """Let twins change places where a scan showed which is which; those that moved on stay."""
    done = []
    wanted = {code for one in found.settled for code in (one.seen, one.instead_of)}
    straws = straws_by_code(db, wanted)
    for one in found.settled:
        seen, twin = straws.get(one.seen), straws.get(one.instead_of)
        if seen is None or twin is None or twin.goblet_id != one.goblet_id:
            continue
        if seen.goblet_id == one.goblet_id or not (twin.provisional or seen.provisional):
            continue
        twins.exchange(db, act, seen, twin)
        done.append(
            {"goblet_id": str(one.goblet_id), "seen": one.seen, "instead_of": one.instead_of}
        )
        straws |= straws_by_code(db, [one.seen, one.instead_of])
    return done
