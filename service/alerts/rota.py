"""The duty rota and quiet hours as the plan keeps them."""

from collections.abc import Mapping
from datetime import time
from typing import Any
from uuid import UUID

from service.alerts.duty import Handover, QuietHours, Rota, StandIn
from service.alerts.store import AlertPlan
from service.kernel import clock


def rota_of(plan: AlertPlan) -> Rota:
    """The rota that the plan keeps."""
    return Rota(
        handovers=tuple(_handover(one) for one in plan.handovers),
        stand_ins=tuple(_stand_in(one) for one in plan.stand_ins),
    )


def _handover(kept: Mapping[str, Any]) -> Handover:
    return Handover(
        weekday=kept["weekday"],
        at=time.fromisoformat(kept["at"]),
        person_id=UUID(kept["person_id"]),
        second_id=_second(kept),
    )


def _stand_in(kept: Mapping[str, Any]) -> StandIn:
    return StandIn(
        starts_at=clock.from_text(kept["starts_at"]),
        ends_at=clock.from_text(kept["ends_at"]),
        person_id=UUID(kept["person_id"]),
        second_id=_second(kept),
    )


def _second(kept: Mapping[str, Any]) -> UUID | None:
    return UUID(kept["second_id"]) if kept.get("second_id") else None


def quiet_of(plan: AlertPlan) -> QuietHours | None:
    """The hours in which only what is critical is told."""
    if plan.quiet_from is None or plan.quiet_until is None:
        return None
    return QuietHours(time.fromisoformat(plan.quiet_from), time.fromisoformat(plan.quiet_until))
