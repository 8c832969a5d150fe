"""What people do about nitrogen: enter a level or a top-up, strike one that was wrong.

Inside the write transaction of the caller. Keeping is one thing, questioning another: whatever is
possible is kept first, and then looked at beside the others.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from uuid import UUID

from sqlmodel import Session

from service.bank import store as bank
from service.bank.rules import TankRetired, Warned
from service.bank.store import Tank
from service.bank.tanks_actions import tank_of
from service.kernel.acts import Act
from service.nitrogen import estimating, levels, rules, states
from service.nitrogen.calibrated import Dipstick
from service.nitrogen.levels import Counted, Filling, Series
from service.nitrogen.rules import Content, Expected, Figure, Seen, Sign
from service.nitrogen.store import Level, Strike, TopUp

#: A level is looked at beside those of this time before and after it.
_AROUND = timedelta(days=200)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewLevel:
    """A level as it was read."""

    measured_at: datetime
    figure: Figure
    signs: Sequence[Sign] = ()
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NewTopUp:
    """A top-up: the litres, or the level afterwards."""

    filled_at: datetime
    litres_added: Decimal | None = None
    level_after_cm: Decimal | None = None
    note: str | None = None


def keep_level(db: Session, act: Act, tank_id: UUID, new: NewLevel) -> tuple[Level, Content]:
    """Keep a level that is possible, and say what is in the tank by it.

    Raises UnknownTank, TankRetired, ImpossibleLevel, NoEmptyWeight.
    """
    tank = _tank_at(db, tank_id, new.measured_at)
    content = rules.possible_content(new.figure, states.dipstick_of(tank), tank.empty_weight_kg)
    level = Level(
        id=act.id,
        tank_id=tank.id,
        measured_at=new.measured_at,
        signs=list(new.signs),
        note=new.note,
        recorded_at=act.recorded_at,
        by_id=act.by.id,
        by_name=act.by.display_name,
        **{new.figure.read_as: new.figure.amount},
    )
    db.add(level)
    db.flush()
    return level, content


def question_level(db: Session, level: Level, content: Content) -> list[Warned]:
    """What is strange about a level that was kept, beside the others that count."""
    tank, at = db.get_one(Tank, level.tank_id), level.measured_at
    dipstick = states.dipstick_of(tank)
    figure = levels.figure_of(level.level_cm, level.litres, level.weight_kg)
    around = _around(db, tank, at, but=level.id)
    for other in around.levels:
        if other.figure == figure and _near(other.at, at):
            return [rules.entered_twice(figure.read_as, other.by)]
    seen = [
        _seen(other, other_content, around.fillings, at=at, on=bank.day_of(db, other.at))
        for other in _neighbours(around.levels, at)
        if (other_content := states.content_by(tank, dipstick, other.figure)) is not None
    ]
    return rules.question_level(
        content,
        figure.read_as,
        dipstick,
        before=next((one for one in seen if not one.later), None),
        after=next((one for one in seen if one.later), None),
        expected=_expected(tank, dipstick, around, at),
    )


def keep_top_up(
    db: Session, act: Act, tank_id: UUID, new: NewTopUp
) -> tuple[TopUp, Content | None]:
    """Keep a top-up that is possible; and what is in the tank after it, where that was read.

    Raises UnknownTank, TankRetired, ImpossibleLevel.
    """
    tank = _tank_at(db, tank_id, new.filled_at)
    dipstick = states.dipstick_of(tank)
    content = None
    if new.level_after_cm is not None:
        figure = Figure(read_as="level_cm", amount=new.level_after_cm)
        content = rules.possible_content(figure, dipstick, None, name="level_after_cm")
    if new.litres_added is not None:
        rules.refuse_flood(new.litres_added, dipstick)
    top_up = TopUp(
        id=act.id,
        tank_id=tank.id,
        filled_at=new.filled_at,
        litres_added=new.litres_added,
        level_after_cm=new.level_after_cm,
        note=new.note,
        recorded_at=act.recorded_at,
        by_id=act.by.id,
        by_name=act.by.display_name,
    )
    db.add(top_up)
    db.flush()
    return top_up, content


def question_top_up(db: Session, top_up: TopUp, content: Content | None) -> list[Warned]:
    """What is strange about a top-up that was kept, beside what else counts."""
    tank = db.get_one(Tank, top_up.tank_id)
    dipstick = states.dipstick_of(tank)
    around = _around(db, tank, top_up.filled_at, but=top_up.id)
    field = "litres_added" if top_up.level_after_cm is None else "level_after_cm"
    for other in reversed(around.fillings):
        same = (other.litres_added, other.level_after_cm)
        if same == (top_up.litres_added, top_up.level_after_cm) and _near(
            other.at, top_up.filled_at
        ):
            return [rules.entered_twice(field, other.by)]
    expected = _expected(tank, dipstick, around, top_up.filled_at)
    if content is not None:
        return rules.question_filling(content, dipstick, expected)
    assert top_up.litres_added is not None
    return rules.question_amount(top_up.litres_added, dipstick, expected)


def strike_level(db: Session, act: Act, level: Level, reason: str) -> Strike:
    """A level counts no more. Raises AlreadyStruck."""
    return _strike(db, act, levels.strike_of(db, level_id=level.id), reason, level_id=level.id)


def strike_top_up(db: Session, act: Act, top_up: TopUp, reason: str) -> Strike:
    """A top-up counts no more. Raises AlreadyStruck."""
    return _strike(db, act, levels.strike_of(db, top_up_id=top_up.id), reason, top_up_id=top_up.id)


def _strike(
    db: Session,
    act: Act,
    earlier: Strike | None,
    reason: str,
    *,
    level_id: UUID | None = None,
    top_up_id: UUID | None = None,
) -> Strike:
    if earlier is not None:
        raise rules.AlreadyStruck(
            f"{earlier.by_name} struck this before: {earlier.reason}.",
            by=earlier.by_name,
            at=earlier.struck_at,
        )
    strike = Strike(
        id=act.id,
        level_id=level_id,
        top_up_id=top_up_id,
        reason=reason,
        struck_at=act.recorded_at,
        by_id=act.by.id,
        by_name=act.by.display_name,
    )
    db.add(strike)
    db.flush()
    return strike


def _tank_at(db: Session, tank_id: UUID, moment: datetime) -> Tank:
    """The tank, in use at that moment: what was measured before it was retired may come late."""
    tank = tank_of(db, tank_id)
    if tank.retired_at is not None and moment >= tank.retired_at:
        raise TankRetired(
            f"{tank.name} was retired; it holds no nitrogen any more. Choose another tank.",
            retired_at=tank.retired_at,
        )
    return tank


def _around(db: Session, tank: Tank, moment: datetime, *, but: UUID) -> Series:
    """What counts around this moment, but for one."""
    of = {"since": moment - _AROUND, "until": moment + _AROUND}
    found = levels.counted(db, [tank.id], **of)[tank.id]
    return Series(
        [one for one in found.levels if one.id != but],
        [one for one in found.fillings if one.id != but],
    )


def _near(one: datetime, other: datetime) -> bool:
    return abs(one - other) <= rules.TWICE_WITHIN


def _neighbours(around: Sequence[Counted], at: datetime) -> list[Counted]:
    """The last reading until this moment, and the first one after it."""
    place = bisect_right(around, at, key=lambda one: one.at)
    return [*around[max(place - 1, 0) : place], *around[place : place + 1]]


def _seen(
    other: Counted, content: Content, fillings: Sequence[Filling], *, at: datetime, on: date
) -> Seen:
    first, last = sorted((other.at, at))
    return Seen(
        on=on,
        level_cm=content.level_cm,
        by=other.by,
        later=other.at > at,
        filled_between=any(first <= filling.at <= last for filling in fillings),
    )


def _expected(tank: Tank, dipstick: Dipstick, around: Series, moment: datetime) -> Expected | None:
    """What the estimate from what was measured before says for this moment, if anything."""
    before = [one for one in around.levels if one.at < moment]
    fillings = [one for one in around.fillings if one.at < moment]
    readings = states.readings_of(before, tank, dipstick)
    if not readings:
        return None
    found = estimating.estimate(
        states.facts_of(tank, dipstick),
        readings,
        states.filled_of(fillings, dipstick),
        as_of=states.days(moment),
        signs=False,
    )
    if found.litres is None or found.litres_low is None or found.litres_high is None:
        return None
    return Expected(litres=found.litres, litres_low=found.litres_low, litres_high=found.litres_high)
