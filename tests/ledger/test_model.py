"""The book against a world: a Hypothesis state machine whose oracle is a dict of real straws.

The world knows where every straw really is and which one a hand really took. The book is told only
what a person tells it, by count or by scan. After every act the book must have the right number of
straws of each batch in each goblet and in each withdrawal, must be sound, and must have every
straw that was ever scanned out where the world has it.

RIMEBOOK_MODEL_EXAMPLES and RIMEBOOK_MODEL_STEPS make it longer (25 and 25 unless set; 8 and 25 on
PostgreSQL).
"""

import os
import random
import shutil
import tempfile
from collections import Counter
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any, ClassVar
from uuid import UUID

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    initialize,
    invariant,
    multiple,
    rule,
    run_state_machine_as_test,
)
from sqlmodel import Session, col, select

from service.app import open_book
from service.bank import actions as bank_actions
from service.bank import tanks_actions, tanks_rules
from service.bank.rules import NewMare, NewStallion, RuleAmounts
from service.bank.store import Canister, Goblet, Mare
from service.freezing import actions as freezing
from service.freezing.calculation import Collection, Filling, StrawCounts
from service.kernel.acts import Act, Person
from service.kernel.errors import Conflict, Invalid
from service.ledger import picking, relocate
from service.ledger.check import check
from service.ledger.correct import MovedOn, correct
from service.ledger.picking import Pick
from service.ledger.store import Entry, Straw
from service.people.actions import add_user
from service.people.events import Occasion
from service.people.store import as_person
from service.transfers import actions as transfers
from service.transfers import coming_back, dispatches, receipts
from service.transfers.receipts import Put, Receipt
from service.withdrawals import actions as withdrawals
from service.withdrawals import afterwards
from service.withdrawals.afterwards import InseminationFacts
from tests.engine import ON_POSTGRESQL, Books

EXAMPLES = int(os.environ.get("RIMEBOOK_MODEL_EXAMPLES", "8" if ON_POSTGRESQL else "25"))
STEPS = int(os.environ.get("RIMEBOOK_MODEL_STEPS", "25"))
CAPACITY = 12
GOBLETS = range(4)

Place = tuple[str, Any]
few = st.integers(1, 4)
goblets = st.sampled_from(list(GOBLETS))
chance = st.randoms(use_true_random=False)


class BookAndWorld(RuleBasedStateMachine):
    """Each rule does something in the world and tells the book about it."""

    books: ClassVar[Books]

    batches = Bundle("batches")
    lifts = Bundle("lifts")
    acts = Bundle("acts")

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.book = self.books.new(self.folder)
        self.database = open_book(self.book)
        self.now = datetime(2026, 3, 3, 8, tzinfo=UTC)
        self.dice = random.Random(7)
        self.world: dict[str, Place] = {}  # code -> ("goblet", n) | ("lifted", id) | (state, None)
        self.batch_of: dict[str, UUID] = {}
        self.heads: list[tuple[int, str]] = []

    def teardown(self) -> None:
        self.database.close()
        self.books.drop(self.book)
        shutil.rmtree(self.folder)

    @initialize()
    def found(self) -> None:
        """A tank of four goblets, a stallion at one straw a dose, a mare, a manager."""
        occasion = Occasion(at=self.now, new_id=self._id)
        with self.database.writing() as db:
            user, _ = add_user(
                db, username="manager", display_name="M", role="manager", occasion=occasion
            )
            self.who: Person = as_person(user)
            tank = tanks_rules.NewTank(
                name="North",
                short_name=None,
                capacity_litres=Decimal(35),
                rated_loss_litres_per_day=Decimal("0.2"),
                minimum_level_cm=Decimal(10),
                empty_weight_kg=None,
                calibration=[
                    tanks_rules.CalibrationPoint(level_cm=Decimal(n), litres=Decimal(n))
                    for n in (0, 35)
                ],
                quarantine=False,
                canisters=tanks_rules.even_layout(
                    canisters=2, goblets_per_canister=2, straws_per_goblet=CAPACITY
                ),
                room_id=None,
            )
            self.tank_id = tanks_actions.add_tank(db, self._act(), tank).id
            new = NewStallion(name="Lanternfield", dose_rule=RuleAmounts(straws=1))
            self.stallion_id = bank_actions.add_stallion(db, self._act(), new).id
            act = self._act()
            self.mare_id = bank_actions.new_mare(db, act, NewMare(name="B"), id=act.id).id
            found = db.exec(select(Goblet.id).order_by(col(Goblet.address)))
            self.goblet_ids = list(found)
            hooks = select(Canister.id).order_by(col(Canister.number))
            self.canister_ids = list(db.exec(hooks))

    def _id(self) -> UUID:
        return UUID(int=self.dice.getrandbits(128), version=4)

    def _act(self) -> Act:
        self.now += timedelta(minutes=1)
        return Act(self._id(), getattr(self, "who", None), self.now, self.now, self._id,
                   self.dice.getrandbits)  # fmt: skip

    def _tell(self, do: Any) -> Any:
        """What the book makes of an act; None when it refuses."""
        act = self._act()
        try:
            with self.database.writing() as db:
                return do(db, act)
        except (Conflict, Invalid) as refusal:
            self.refused = refusal
            return None

    def _in_goblet(self, batch: UUID, goblet: int) -> list[str]:
        place = ("goblet", goblet)
        return sorted(c for c, p in self.world.items() if p == place and self.batch_of[c] == batch)

    def _filled(self, goblet: int) -> int:
        return sum(place == ("goblet", goblet) for place in self.world.values())

    def _pick(self, batch: UUID, goblet: int, straws: int, seen: tuple[str, ...] = ()) -> Pick:
        return Pick(self.goblet_ids[goblet], batch, straws, seen)

    # --- what people do -----------------------------------------------------------------------

    @rule(target=batches, stored=few, spoiled=st.integers(0, 2), other=goblets, goblet=goblets,
          prepared=st.booleans(), more=st.integers(0, 3), chance=chance)  # fmt: skip
    def freeze(
        self, stored: int, spoiled: int, goblet: int, other: int, prepared: bool, more: int,
        chance: random.Random,
    ) -> Any:  # fmt: skip
        """Straws go into two goblets in any order; the book gets the counts."""
        batch_id = None
        if prepared:
            marks = freezing.Marks(straws=2 * stored + spoiled + more)
            batch_id = self._tell(
                lambda db, act: freezing.prepare(db, act, self.stallion_id, marks).id
            )
        placements = [
            freezing.Placement(goblet_id=self.goblet_ids[place], straws=stored)
            for place in (goblet, other)
        ]
        asked = freezing.Freeze(
            stallion_id=self.stallion_id, batch_id=batch_id, collected_at=self.now,
            collected_where=None, approval_number=None,
            collection=Collection(
                volume_ml=Fraction(60), concentration_million_per_ml=Fraction(200),
                progressive_motility_percent=Fraction(70),
            ),
            straw=Filling(
                volume_ml=Fraction(1, 2), concentration_million_per_ml=Fraction(200)
            ),
            recovery_percent=None, extender=None, post_thaw_percent=None, post_thaw_minutes=None,
            thaw=None, straw_colour=None, hold_until=None,
            counts=StrawCounts(stored=2 * stored, spoiled=spoiled, tested=0),
            placements=placements, note=None,
        )  # fmt: skip
        frozen = self._tell(lambda db, act: freezing.freeze(db, act, asked))
        wanted = Counter([goblet] * stored + [other] * stored)
        fits = all(self._filled(g) + n <= CAPACITY for g, n in wanted.items())
        assert (frozen is not None) == fits
        if frozen is None:
            return multiple()
        with self.database.reading() as db:
            codes = sorted(db.exec(select(Straw.code).where(Straw.batch_id == frozen.batch.id)))
        chance.shuffle(codes)
        ends: list[Place] = [("goblet", goblet)] * stored + [("goblet", other)] * stored
        ends += [("discarded", None)] * spoiled
        ends += [("void", None)] * (len(codes) - len(ends))
        self.world |= dict(zip(codes, ends, strict=True))
        self.batch_of |= dict.fromkeys(codes, frozen.batch.id)
        return frozen.batch.id

    @rule(target=batches, straws=few, goblet=goblets, other=goblets)
    def receive(self, straws: int, goblet: int, other: int) -> Any:
        """Straws of elsewhere get labels, goblet by goblet: the book is told where each one is."""
        places = (goblet, other)
        receipt = self._receipt(
            2 * straws, [Put(goblet_id=self.goblet_ids[place], straws=straws) for place in places]
        )
        done = self._tell(lambda db, act: receipts.receive(db, act, receipt))
        wanted = Counter([goblet] * straws + [other] * straws)
        assert (done is not None) == all(self._filled(g) + n <= CAPACITY for g, n in wanted.items())
        if done is None:
            return multiple()
        numbers = {id: number for number, id in enumerate(self.goblet_ids)}
        self.world |= {code: ("goblet", numbers[place]) for code, place in done.stored}
        self.batch_of |= dict.fromkeys((code for code, _ in done.stored), done.batch.id)
        return done.batch.id

    def _receipt(self, straws: int, placements: list[Put]) -> Receipt:
        return Receipt(
            kind="received", stallion_id=self.stallion_id, straws=straws, placements=placements,
            coded=True,
        )  # fmt: skip

    @rule(batch=batches, goblet=goblets, to=goblets, straws=few, chance=chance, scan=st.booleans())
    def move(
        self, batch: UUID, goblet: int, to: int, straws: int, chance: random.Random, scan: bool
    ) -> None:
        """A hand moves whatever twins it grips."""
        codes = self._in_goblet(batch, goblet)
        hand = chance.sample(codes, min(straws, len(codes)))
        pick = self._pick(
            batch, goblet, straws, tuple(hand) if scan and len(hand) == straws else ()
        )
        done = self._tell(
            lambda db, act: transfers.move(
                db, act, picks=[pick], codes=[], goblet_id=self.goblet_ids[to], reason=None
            )
        )
        there = len(codes) >= straws
        fits = self._filled(to) + straws <= CAPACITY
        assert (done is not None) == (there and fits and goblet != to), self.refused
        if done is not None:
            self.world |= dict.fromkeys(hand, ("goblet", to))

    @rule(target=lifts, batch=batches, goblet=goblets, straws=few, chance=chance,
          scanned=st.integers(0, 4))  # fmt: skip
    def withdraw(
        self, batch: UUID, goblet: int, straws: int, chance: random.Random, scanned: int
    ) -> Any:
        """A hand lifts twins; some, all or none of them are scanned."""
        codes = self._in_goblet(batch, goblet)
        hand = chance.sample(codes, min(straws, len(codes)))
        seen = tuple(hand[:scanned]) if len(hand) == straws else ()
        order = withdrawals.WithdrawalOrder(
            stallion_id=self.stallion_id, mare=Mare(id=self.mare_id, name="B"), doses=straws,
            picks=[self._pick(batch, goblet, straws, seen)],
        )  # fmt: skip
        done = self._tell(
            lambda db, act: withdrawals.withdraw(db, act, order, act.occurred_at.date())[0].id
        )
        assert (done is not None) == (len(codes) >= straws), self.refused
        if done is None:
            return multiple()
        self.world |= dict.fromkeys(hand, ("lifted", done))
        return done

    @rule(lift=lifts, chance=chance, scanned=few)
    def identify(self, lift: UUID, chance: random.Random, scanned: int) -> None:
        """Straws in hand are scanned later; the book must believe what was really taken."""
        hand = sorted(code for code, place in self.world.items() if place == ("lifted", lift))
        if not hand:
            return
        seen = chance.sample(hand, min(scanned, len(hand)))
        done = self._tell(lambda db, act: withdrawals.identify(db, act, lift, seen))
        assert done is not None, self.refused
        with self.database.reading() as db:
            ended = db.exec(select(Straw).where(Straw.withdrawal_id == lift)).all()
            for code in seen:
                straw = db.get_one(Straw, code)
                assert straw.withdrawal_id == lift
                if all(one.state == "lifted" for one in ended):
                    assert not straw.provisional

    @rule(lift=lifts, used=st.integers(0, 3), wasted=st.integers(0, 2), chance=chance)
    def inseminate(self, lift: UUID, used: int, wasted: int, chance: random.Random) -> None:
        """Some are used, some thawed for nothing."""
        hand = sorted(code for code, place in self.world.items() if place == ("lifted", lift))
        facts = InseminationFacts(self.now, used, wasted)
        done = self._tell(lambda db, act: afterwards.inseminate(db, act, lift, facts))
        assert (done is not None) == (0 < used + wasted <= len(hand)), self.refused
        if done is not None:
            chance.shuffle(hand)
            self.world |= dict.fromkeys(hand[:used], ("used", None))
            self.world |= dict.fromkeys(hand[used : used + wasted], ("discarded", None))

    @rule(lift=lifts, straws=few, goblet=goblets, chance=chance, scan=st.booleans())
    def put_back(
        self, lift: UUID, straws: int, goblet: int, chance: random.Random, scan: bool
    ) -> None:
        """Straws that stayed frozen go back, by count or by scan."""
        hand = sorted(code for code, place in self.world.items() if place == ("lifted", lift))
        chance.shuffle(hand)
        back = hand[:straws]
        by_scan = scan and len(back) == straws
        done = self._tell(
            lambda db, act: afterwards.put_back(
                db,
                act,
                lift,
                goblet_id=self.goblet_ids[goblet],
                kept_in_nitrogen=True,
                straws=None if by_scan else straws,
                codes=back if by_scan else [],
            )
        )
        fits = self._filled(goblet) + straws <= CAPACITY
        assert (done is not None) == (len(hand) >= straws and fits), self.refused
        if done is not None:
            self.world |= dict.fromkeys(back, ("goblet", goblet))

    @rule(lift=lifts, straws=few, chance=chance, scan=st.booleans())
    def lose(self, lift: UUID, straws: int, chance: random.Random, scan: bool) -> None:
        """Straws that are out do not come back; of some a code is known."""
        hand = sorted(code for code, place in self.world.items() if place == ("lifted", lift))
        chance.shuffle(hand)
        lost = hand[:straws]
        by_scan = scan and len(lost) == straws
        done = self._tell(
            lambda db, act: afterwards.lose(
                db, act, lift, reason="gone",
                straws=None if by_scan else straws, codes=lost if by_scan else [],
            )
        )  # fmt: skip
        assert (done is not None) == (len(hand) >= straws), self.refused
        if done is not None:
            self.world |= dict.fromkeys(lost, ("missing", None))

    @rule(target=acts, batch=batches, goblet=goblets, straws=few, chance=chance,
          sent=st.booleans())  # fmt: skip
    def discard_or_send(
        self, batch: UUID, goblet: int, straws: int, chance: random.Random, sent: bool
    ) -> Any:
        """Straws are thrown away, or leave for another place, by count."""
        codes = self._in_goblet(batch, goblet)
        picks = [self._pick(batch, goblet, straws)]

        def do(db: Session, act: Act) -> UUID:
            if sent:
                dispatches.send(db, act, dispatches.Going(to="Tarn"), picks=picks, codes=[])
            else:
                transfers.discard(db, act, picks=picks, codes=[], reason="split")
            return act.id

        done = self._tell(do)
        assert (done is not None) == (len(codes) >= straws), self.refused
        if done is None:
            return multiple()
        hand = chance.sample(codes, straws)
        self.world |= dict.fromkeys(hand, ("dispatched" if sent else "discarded", None))
        return done, hand, goblet

    @rule(done=acts)
    def take_back(self, done: Any) -> None:
        """It was the wrong entry: nothing was thrown away, and nothing left after all."""
        act_id, hand, goblet = done
        before = Counter(self.world.values())
        corrected = self._tell(lambda db, act: correct(db, act, act_id, "never happened"))
        if corrected is None:
            full = before[("goblet", goblet)] + len(hand) > CAPACITY
            assert full or isinstance(self.refused, MovedOn)
        else:
            self.world |= dict.fromkeys(hand, ("goblet", goblet))

    @rule(done=acts, goblet=goblets)
    def come_back(self, done: Any, goblet: int) -> None:
        """What left by count comes back and is scanned, whichever twins the book took for it."""
        away = [code for code in done[1] if self.world[code] == ("dispatched", None)]
        if not away:
            return
        put = Put(goblet_id=self.goblet_ids[goblet], straws=len(away), codes=tuple(away))
        receipt = self._receipt(len(away), [put])

        def do(db: Session, act: Act) -> Any:
            batch = coming_back.find(db, receipt)
            assert batch is not None
            return coming_back.take_back(db, act, receipt, batch)

        back = self._tell(do)
        assert (back is not None) == (self._filled(goblet) + len(away) <= CAPACITY), self.refused
        if back is not None:
            self.world |= dict.fromkeys(away, ("goblet", goblet))

    @rule(goblet=goblets, to=st.sampled_from([0, 1]), back=st.booleans(),
          what=st.sampled_from(["goblet", "canister's goblets", "canister"]))  # fmt: skip
    def move_house(self, goblet: int, to: int, back: bool, what: str) -> None:
        """A goblet or a whole canister hangs elsewhere; no straw leaves its goblet by it."""
        with self.database.reading() as db:
            canister_id = db.get_one(Goblet, self.goblet_ids[goblet]).canister_id
            empty = not relocate.goblets_in(db, canister_id)
            number = max(relocate.numbers_in(db, self.tank_id)) + 1
        into = self.canister_ids[to]

        def do(db: Session, act: Act) -> UUID:
            if what == "goblet":
                planned = relocate.goblet_into(db, self.goblet_ids[goblet], canister_id=into)
            elif what == "canister":
                planned = relocate.canister_into(
                    db, canister_id, tank_id=self.tank_id, number=number
                )
            else:
                planned = relocate.goblets_into(db, canister_id, into_canister_id=into)
            relocate.carry_out(db, act, planned, None)
            return act.id

        done = self._tell(do)
        assert (done is not None) == (what == "canister" or (canister_id != into and not empty))
        if done is not None and back:
            assert self._tell(lambda db, act: correct(db, act, done, "never")), self.refused

    @rule()
    def restart(self) -> None:
        """The service is stopped and started."""
        self.database.close()
        self.database = open_book(self.book)

    # --- what must hold -----------------------------------------------------------------------

    @invariant()
    def numbers_are_right(self) -> None:
        """As many straws of each batch in each place as the world has."""
        with self.database.reading() as db:
            assert self._counted(db) == Counter(
                (self.batch_of[code], place) for code, place in self.world.items()
            )

    def _counted(self, db: Session) -> Counter[Any]:
        counted: Counter[Any] = Counter()
        numbers = {id: number for number, id in enumerate(getattr(self, "goblet_ids", []))}
        for straw in db.exec(select(Straw)):
            place: Place = (straw.state, None)
            if straw.state == "stored":
                assert straw.goblet_id is not None
                place = ("goblet", numbers[straw.goblet_id])
            elif straw.state == "lifted":
                place = ("lifted", straw.withdrawal_id)
            if straw.state != "prepared":
                counted[(straw.batch_id, place)] += 1
        return counted

    @invariant()
    def the_book_is_sound(self) -> None:
        """Every hash, every way, every count; and what was there is there unchanged."""
        with self.database.reading() as db:
            found = check(db)
            assert found.problems == []
            for seq, head in self.heads[-3:]:
                assert db.get_one(Entry, seq).hash == head
        if found.entries:
            self.heads.append((found.entries, found.head))


@pytest.fixture(autouse=True)
def where_books_come_from(books: Books) -> None:
    BookAndWorld.books = books


def _run(phases: tuple[Phase, ...] = tuple(Phase), *, same_each_time: bool = False) -> None:
    run_state_machine_as_test(
        BookAndWorld,
        settings=settings(
            max_examples=EXAMPLES,
            stateful_step_count=STEPS,
            deadline=None,
            database=None,
            derandomize=same_each_time,
            phases=phases,
            suppress_health_check=list(HealthCheck),
        ),
    )


def test_the_book_agrees_with_the_world() -> None:
    _run()


@pytest.mark.sqlite_only
def test_a_book_that_lets_twins_go_unnoticed_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The negative control: without exchanges the same world finds the book wrong."""
    monkeypatch.setattr(picking, "_swapped", lambda _hand, straw, _goblet_id: straw)
    with pytest.raises((AssertionError, ExceptionGroup)):
        _run(phases=(Phase.generate,), same_each_time=True)
