"""Who is told of an alert, and when again, until somebody acknowledges it. Pure.

| priority | first              | then, if nobody acknowledges                                    |
|----------|--------------------|-----------------------------------------------------------------|
| critical | who is on duty     | 15 min: the second; 30 min: managers; then everybody every 15   |
| medium   | who is on duty     | after 4 h the managers, in the morning; then every day          |
| low      | nobody: the digest |                                                                 |

The station's own channels (of no person) hear the first time and whenever it is told again. A
critical alert ignores quiet hours, a medium one waits for their end. The times are practice
guidance on ISA-18.2 and our own choice.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from service.alerts import duty
from service.alerts.duty import Duty, QuietHours
from service.alerts.rules import Priority
from service.kernel.acts import Role

CRITICAL_EVERY = timedelta(minutes=15)
MEDIUM_FIRST = timedelta(hours=4)

#: A message waits so long for others that belong with it.
GROUP_WAIT: Mapping[Priority, timedelta] = {
    "critical": timedelta(seconds=5),
    "medium": timedelta(seconds=20),
    "low": timedelta(seconds=20),
}
#: And so long after the message before, to the same channel; in a flood longer, unless critical.
GROUP_INTERVAL = timedelta(seconds=30)
FLOOD_INTERVAL = timedelta(minutes=5)
FLOOD_IS, FLOOD_WITHIN = 3, timedelta(minutes=10)


@dataclass(frozen=True, slots=True)
class Way:
    """A channel as far as it matters here; `person_id` None: the station's own."""

    id: UUID
    person_id: UUID | None
    priorities: Collection[str]


@dataclass(frozen=True, slots=True)
class House:
    """Who is there to be told: on duty now, the roles of all, the station's clock and quiet."""

    duty: Duty | None
    roles: Mapping[UUID, Role]
    zone: ZoneInfo
    quiet: QuietHours | None
    morning: time


@dataclass(frozen=True, slots=True)
class Notice:
    """Tell these channels, not before `not_before`; the next telling is due at `then`."""

    ways: Sequence[Way]
    not_before: datetime
    then: datetime | None


def notice(
    priority: Priority, told: int, ways: Sequence[Way], house: House, now: datetime
) -> Notice:
    """The next telling of an alert that was told `told` times before."""
    usable = [way for way in ways if priority in way.priorities]
    if priority == "low":
        return Notice([], now, None)
    people = _people(priority, told, house)
    named = [way for way in usable if way.person_id in people]
    if people and not named:
        # Whom the rota names has no channel: better all managers than nobody.
        named = [way for way in usable if way.person_id in _managers(house)]
    station = [way for way in usable if way.person_id is None and told == 0]
    held = duty.held_until(house.quiet, now, house.zone) if priority == "medium" else None
    return Notice([*named, *station], held or now, _then(priority, told, house, now))


def _people(priority: Priority, told: int, house: House) -> set[UUID]:
    on_duty = house.duty
    first = {on_duty.person_id} if on_duty else _managers(house)
    if told == 0:
        return first
    if priority == "medium":
        return first | _managers(house)
    second = {on_duty.second_id} if on_duty and on_duty.second_id else set()
    if told == 1:
        return first | second
    if told == 2:
        return first | second | _managers(house)
    return set(house.roles)


def _managers(house: House) -> set[UUID]:
    return {person for person, role in house.roles.items() if role == "manager"}


def _then(priority: Priority, told: int, house: House, now: datetime) -> datetime:
    if priority == "critical":
        return now + CRITICAL_EVERY
    if told == 0:
        return duty.next_at(now + MEDIUM_FIRST, house.morning, house.zone)
    return duty.next_at(now, house.morning, house.zone)


def send_at(
    priority: Priority, sent_lately: Sequence[datetime], not_before: datetime, now: datetime
) -> datetime:
    """When a new message to a channel goes, given when those before it went."""
    flood = sum(1 for at in sent_lately if now - at < FLOOD_WITHIN) >= FLOOD_IS
    interval = FLOOD_INTERVAL if flood and priority != "critical" else GROUP_INTERVAL
    after_last = max(sent_lately) + interval if sent_lately else now
    return max(now + GROUP_WAIT[priority], after_last, not_before)
