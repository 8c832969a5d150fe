"""A dose as it was taken: planned, lifted for a mare, inseminated, and what came of it."""

from collections.abc import Iterator
from dataclasses import dataclass

from seed_data.chronicle import Chronicle, Moment, Step
from seed_data.horses import MARES
from service.bank.actions import new_mare
from service.bank.store import Mare, dose_rule_of
from service.kernel.acts import Act
from service.ledger.picking import Pick
from service.withdrawals import afterwards, plans, store
from service.withdrawals.actions import WithdrawalOrder, stallion_of, withdraw
from service.withdrawals.plans import StockPlan

#: Minutes from lifting the straws to the insemination, then to what is put back.
_TO_INSEMINATION, _TO_RETURN = 35, 40

#: On this day after the insemination the mare is scanned.
DAYS_TO_CHECK = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Dose:
    """Straws taken by the plan for one mare.

    `straws` overrides the plan's number, with a reason. `scanned`: the codes were read, otherwise
    the straws went by count. `seen_again` names an earlier dose taken by count: one of the straws
    that the book thought gone then is in the hand now. `returned_to` is the goblet that the straws
    not used went back to, still frozen. `inseminated` is false while that is not recorded yet.
    `taken_by` is who left the station with them.
    """

    stallion: str
    mare: str
    days_ago: int
    key: str | None = None
    wall: str = "21:40"
    doses: int = 1
    straws: int | None = None
    override_reason: str | None = None
    scanned: bool = False
    seen_again: str | None = None
    used: int | None = None
    thawed_unused: int = 0
    returned_to: str | None = None
    inseminated: bool = True
    taken_by: str | None = None
    method: str = "deep horn"
    note: str | None = None
    pregnant: bool | None = None
    by: str = "vera"

    def __post_init__(self) -> None:
        """Only a mare of the list (ValueError): a typing error would invent another one."""
        if self.mare not in MARES:
            raise ValueError(f"no mare {self.mare}")

    @property
    def name(self) -> str:
        """What the dose is remembered by."""
        return self.key or f"{self.stallion} for {self.mare}, {self.days_ago} days ago"

    def steps(self) -> Iterator[Step]:
        """Lifting, insemination, return, check: as far as they happened."""
        lifted = Moment(self.days_ago, self.wall)
        yield Step(lifted, self.by, self._lift)
        if not self.inseminated:
            return
        yield Step(Moment(self.days_ago, self.wall, _TO_INSEMINATION), self.by, self._inseminate)
        if self.returned_to is not None:
            yield Step(Moment(self.days_ago, self.wall, _TO_RETURN), self.by, self._put_back)
        if self.pregnant is not None:
            checked = Moment(self.days_ago - DAYS_TO_CHECK, "08:50")
            yield Step(checked, self.by, self._check)

    def _lift(self, chronicle: Chronicle, act: Act) -> None:
        db = chronicle.db
        stallion = stallion_of(db, chronicle.stallions[self.stallion])
        plan = plans.plan_for(
            db,
            plans.Wish(stallion, self.doses),
            dose_rule_of(db, stallion.id),
            chronicle.day_of(act),
        )
        codes = self._codes(chronicle, plan) if self.scanned else []
        order = WithdrawalOrder(
            stallion_id=stallion.id,
            mare=self._mare(chronicle, act),
            doses=self.doses,
            picks=() if codes else self._picks(plan),
            codes=codes,
            override_reason=self.override_reason,
            taken_by=self.taken_by,
        )
        withdrawal, _ = withdraw(db, act, order, chronicle.day_of(act))
        chronicle.acts[self.name] = withdrawal.id

    def _picks(self, plan: StockPlan) -> list[Pick]:
        left = plan.straws if self.straws is None else self.straws
        picks = []
        for stop in plan.picks:
            here = min(left, stop.straws)
            left -= here
            if here:
                picks.append(Pick(stop.goblet_id, stop.batch.id, here))
        return picks

    def _codes(self, chronicle: Chronicle, plan: StockPlan) -> list[str]:
        codes = [code for stop in plan.picks for code in stop.codes]
        if self.seen_again is None:
            return codes
        gone = store.straws_of(chronicle.db, chronicle.acts[self.seen_again])
        return [next(straw.code for straw in gone if straw.provisional), *codes[1:]]

    def _mare(self, chronicle: Chronicle, act: Act) -> Mare:
        """Every mare enters the book with her first dose."""
        db, known = chronicle.db, chronicle.mares
        if self.mare in known:
            return db.get_one(Mare, known[self.mare])
        mare = new_mare(db, act, MARES[self.mare], id=act.new_id())
        known[self.mare] = mare.id
        return mare

    def _inseminate(self, chronicle: Chronicle, act: Act) -> None:
        withdrawal_id = chronicle.acts[self.name]
        lifted = len(store.lifted_of(chronicle.db, withdrawal_id))
        facts = afterwards.InseminationFacts(
            inseminated_at=act.occurred_at,
            straws_used=lifted - self.thawed_unused if self.used is None else self.used,
            straws_thawed_unused=self.thawed_unused,
            method=self.method,
            note=self.note,
        )
        insemination = afterwards.inseminate(chronicle.db, act, withdrawal_id, facts)
        chronicle.acts[f"insemination, {self.name}"] = insemination.id

    def _put_back(self, chronicle: Chronicle, act: Act) -> None:
        assert self.returned_to is not None
        afterwards.put_back(
            chronicle.db,
            act,
            chronicle.acts[self.name],
            goblet_id=chronicle.goblets[self.returned_to],
            straws=None,
            codes=(),
            kept_in_nitrogen=True,
        )

    def _check(self, chronicle: Chronicle, act: Act) -> None:
        assert self.pregnant is not None
        afterwards.record_outcome(
            chronicle.db,
            act,
            chronicle.acts[f"insemination, {self.name}"],
            checked_on=chronicle.day_of(act),
            pregnant=self.pregnant,
            today=chronicle.day_of(act),
        )
