"""How this station wants to be told: times, limits, mail server, rota. Changed by a manager."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.alerts import addresses, channels, duty, mail, rules, store
from service.alerts.duty import Handover, StandIn
from service.alerts.rota import quiet_of, rota_of
from service.alerts.store import AlertPlan
from service.bank.records import apply, kept
from service.kernel.acts import Act

PLAN, DUTY = "alert-settings", "duty"

#: Under which changes are kept; the table's own key is a plain 1.
PLAN_ID = UUID(int=1)

_ROTA = {"handovers", "stand_ins"}


def change_plan(db: Session, act: Act, changes: Mapping[str, Any]) -> AlertPlan:
    """Change what is given; addresses were `checked_addresses`. Raises BadQuietHours."""
    plan = store.plan_of(db)
    with kept(db, act, PLAN, PLAN_ID, lambda: plan_facts(plan)):
        apply(plan, changes)
        if "outside_watch_url" in changes:
            _forget_pings(db)
        if any(name.startswith("mail_") for name in changes):
            channels.try_letters_at_once(db)
        _refuse_half_a_night(plan)
        db.add(plan)
    return plan


def checked_addresses(changes: Mapping[str, Any], *, private_allowed: bool) -> dict[str, Any]:
    """The changes with their addresses as they are kept. Raises what is wrong with one.

    It may ask the network for a name, so it is called before the book is locked.
    """
    changed = dict(changes)
    if url := changed.get("outside_watch_url"):
        addresses.pinned(url, private_allowed=private_allowed)
    if sender := changed.get("mail_sender"):
        changed["mail_sender"] = mail.checked_mailbox(sender)
    return changed


def _refuse_half_a_night(plan: AlertPlan) -> None:
    if (plan.quiet_from is None) != (plan.quiet_until is None):
        message = "say when quiet hours begin and when they end, or leave both out"
        raise duty.BadQuietHours(
            "Quiet hours have a beginning and an end.",
            errors=[{"field": "quiet_until", "message": message}],
        )
    quiet_of(plan)


def _forget_pings(db: Session) -> None:
    watch = store.watch_of(db)
    watch.last_ping_at = watch.ping_failing_since = watch.ping_error = None
    db.add(watch)


def plan_facts(plan: AlertPlan) -> dict[str, Any]:
    """What the history may say: no password, no address that may hold a key."""
    facts = plan.model_dump(mode="json", exclude={"id", "mail_password", *_ROTA})
    url = plan.outside_watch_url
    return facts | {
        "outside_watch_url": channels.host_of(url) if url else None,
        "mail_password_set": plan.mail_password is not None,
    }


def change_rota(db: Session, act: Act, changes: Mapping[str, Any]) -> AlertPlan:
    """Change the duty rota. Raises BadRota, CannotBeTold."""
    plan = store.plan_of(db)
    with kept(db, act, DUTY, PLAN_ID, lambda: plan.model_dump(mode="json", include=_ROTA)):
        apply(plan, changes)
        rota = rota_of(plan)
        duty.check(rota)
        _refuse_unreachable(db, rota)
        db.add(plan)
    return plan


def _refuse_unreachable(db: Session, rota: duty.Rota) -> None:
    people = store.people_by_id(db)
    shifts: list[Handover | StandIn] = [*rota.handovers, *rota.stand_ins]
    pairs = [(shift.person_id, shift.second_id) for shift in shifts]
    for person in sorted({one for pair in pairs for one in pair if one is not None}, key=str):
        if person not in people:
            raise rules.CannotBeTold(
                "Somebody in the rota cannot sign in here (any more). Choose somebody else.",
                person_id=person,
            )
        if not channels.reaches(db, person):
            name = people[person].display_name
            raise rules.CannotBeTold(
                f"No channel reaches {name}. Enter one first that takes critical alerts.",
                person_id=person,
            )
