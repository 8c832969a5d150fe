"""A tank's past and what is to be expected of it, as pictures need them."""

from bisect import bisect_left
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from sqlmodel import Session

from service.nitrogen import estimating, levels, states
from service.nitrogen.calibrated import Dipstick
from service.nitrogen.levels import Counted, Series
from service.nitrogen.rules import Content
from service.nitrogen.shown import House, nitrogen_out
from service.nitrogen.states import TankState
from service.nitrogen.strange import Point, far_off
from service.nitrogen.wire import Forecast, HistoryOut, PastLoss, PastReading, PastTopUp

#: A forecast is drawn until the likely minimum and a quarter on, within these bounds.
_SHORTEST_DAYS, _LONGEST_DAYS = 14, 180


def history_out(db: Session, state: TankState, house: House, *, days: int) -> HistoryOut:
    """The last `days` until `state.as_of`: everything that was read, struck or not."""
    since = state.as_of - timedelta(days=days)
    now = nitrogen_out(state, house)
    struck = levels.struck(db, state.tank.id, since=since, until=state.as_of)
    return HistoryOut(
        as_of=state.as_of,
        since=since,
        capacity_litres=now.capacity_litres,
        minimum_litres=now.minimum_litres,
        rated_loss_litres_per_day=now.rated_loss_litres_per_day,
        settled_loss_litres_per_day=now.settled_loss_litres_per_day,
        changed_at=now.changed_at,
        reaches_minimum_on=now.reaches_minimum_on,
        reaches_minimum_earliest_on=now.reaches_minimum_earliest_on,
        reaches_minimum_latest_on=now.reaches_minimum_latest_on,
        readings=_readings(state, struck, since),
        top_ups=_top_ups(state, struck, since),
        forecast=_forecast(state),
        losses=_losses(state, since),
    )


def _readings(state: TankState, struck: Series, since: datetime) -> list[PastReading]:
    standing = [
        (level, content)
        for level in state.series.levels
        if (content := _by_record(state, level)) is not None
    ]
    filled_at = [filling.at for filling in state.series.fillings]
    points = [
        Point(
            at=states.days(level.at),
            level_cm=float(content.level_cm),
            filled=bisect_left(filled_at, level.at),
        )
        for level, content in standing
    ]
    shown = [
        _reading(level, content, struck=False, questioned=wild)
        for (level, content), wild in zip(standing, far_off(points), strict=True)
        if level.at >= since
    ]
    shown += [
        _reading(level, content, struck=True, questioned=False)
        for level in struck.levels
        if (content := _by_record(state, level)) is not None
    ]
    return sorted(shown, key=lambda reading: reading.at)


def _by_record(state: TankState, level: Counted) -> Content | None:
    return states.content_by(state.tank, state.dipstick, level.figure)


def _reading(level: Counted, content: Content, *, struck: bool, questioned: bool) -> PastReading:
    return PastReading(
        id=level.id,
        at=level.at,
        litres=content.litres,
        level_cm=content.level_cm,
        signs=level.signs,
        struck=struck,
        questioned=questioned,
    )


def _top_ups(state: TankState, struck: Series, since: datetime) -> list[PastTopUp]:
    standing = [(one, False) for one in state.series.fillings if one.at >= since]
    both = [*standing, *((one, True) for one in struck.fillings)]
    return [
        PastTopUp(
            id=one.id,
            at=one.at,
            litres_added=one.litres_added,
            litres_after=_litres_after(one.level_after_cm, state.dipstick),
            struck=was_struck,
        )
        for one, was_struck in sorted(both, key=lambda pair: pair[0].at)
    ]


def _litres_after(level_after_cm: Decimal | None, dipstick: Dipstick) -> Decimal | None:
    return None if level_after_cm is None else dipstick.litres_at(level_after_cm)


def _forecast(state: TankState) -> list[Forecast]:
    likely = state.estimate.days_to_minimum
    wanted = _LONGEST_DAYS if likely is None else likely * 1.25
    horizon = int(min(max(wanted, _SHORTEST_DAYS), _LONGEST_DAYS))
    return [
        Forecast(
            at=state.as_of + timedelta(days=day), litres_low=low, litres=litres, litres_high=high
        )
        for day, low, litres, high in estimating.fan(state.estimate, horizon)
    ]


def _losses(state: TankState, since: datetime) -> list[PastLoss]:
    first = states.days(since)
    found: Sequence[tuple[float, float, float, float]] = estimating.loss_history(
        state.facts, state.readings, state.filled
    )
    return [
        PastLoss(at=_moment(at), loss_litres_per_day=loss, loss_low=low, loss_high=high)
        for at, loss, low, high in found
        if at >= first
    ]


def _moment(days: float) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(days=days)
