"""What the estimate of a tank means for the round.

Pure. A tank of which too little was read goes by twice its rated loss, as its estimate says; one
that nobody has read is taken to be at its minimum.
"""

from uuid import UUID

from service.nitrogen.estimating import AGEING, Ahead, Estimate, TankFacts
from service.nitrogen.rounds import Cause, Course, Need

#: A level after a filling is read with about that error (common practice, no source).
FILLED_ERROR_CM = 0.5

#: The side of a normal 90 % interval; an estimate's own is wider when few readings are behind it.
_SIDE = 1.6449


def need_of(
    tank_id: UUID,
    tank_name: str,
    tank: TankFacts,
    *,
    fill_to_litres: float,
    top_litres_per_cm: float,
    estimate: Estimate,
) -> Need:
    """The tank as the round sees it."""
    filled_variance = (FILLED_ERROR_CM * top_litres_per_cm) ** 2
    ahead = estimate.ahead
    if ahead is None:
        loss = AGEING * tank.rated_loss_litres_per_day
        now = Course(litres=tank.minimum_litres, loss_per_day=loss)
        full = Course(litres=fill_to_litres, loss_per_day=loss, variance=(filled_variance, 0, 0, 0))
    else:
        now = _from_now(ahead, tank)
        full = _course(ahead, fill_to_litres, filled_variance, ahead.openings)
    return Need(
        tank_id=tank_id,
        tank_name=tank_name,
        minimum_litres=tank.minimum_litres,
        fill_to_litres=fill_to_litres,
        now=now,
        full=full,
        cause=cause_of(estimate),
    )


def cause_of(estimate: Estimate) -> Cause:
    """Why a tank with this estimate is filled when it is."""
    if estimate.state == "failing":
        return "failing"
    if estimate.litres is None:
        return "unread"
    if estimate.by_rating:
        return "by-rating"
    return "rising" if estimate.state == "rising" else "due"


def _from_now(ahead: Ahead, tank: TankFacts) -> Course:
    line = ahead.line
    return _course(
        ahead,
        min(max(line.litres, 0), tank.capacity_litres),
        line.litres_variance,
        ahead.openings - 2 * line.covariance,
    )


def _course(ahead: Ahead, litres: float, v0: float, v1: float) -> Course:
    wider = (ahead.side / _SIDE) ** 2
    v2, v3 = ahead.line.loss_variance, ahead.wander / 3
    return Course(
        litres=litres,
        loss_per_day=max(ahead.line.loss, 0),
        variance=(wider * v0, wider * v1, wider * v2, wider * v3),
    )
