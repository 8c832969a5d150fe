"""Who is told, when again, in which hours, and how few messages that makes."""

from datetime import UTC, datetime, time, timedelta
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

import pytest

from service.alerts import telling
from service.alerts.duty import Duty, QuietHours
from service.alerts.rules import Priority
from service.alerts.telling import House, Way

NOW = datetime(2026, 3, 3, 14, tzinfo=UTC)
ON_DUTY, SECOND, MANAGER, OTHER = (uuid4() for _ in range(4))
DUBLIN = ZoneInfo("Europe/Dublin")
NAMES = {ON_DUTY: "on duty", SECOND: "second", MANAGER: "manager", OTHER: "other"}


def house(*, quiet: QuietHours | None = None, duty: bool = True) -> House:
    return House(
        duty=Duty(person_id=ON_DUTY, second_id=SECOND, stands_in=False) if duty else None,
        roles={ON_DUTY: "technician", SECOND: "vet", MANAGER: "manager", OTHER: "auditor"},
        zone=DUBLIN,
        quiet=quiet,
        morning=time(7),
    )


def way(person: UUID | None, *priorities: Priority) -> Way:
    return Way(uuid4(), person, priorities or ("critical", "medium"))


WAYS = [way(person) for person in (*NAMES, None)]


def told(priority: Priority, number: int, **more: bool) -> set[str]:
    notice = telling.notice(priority, number, WAYS, house(**more), NOW)
    return {NAMES.get(one.person_id, "station") for one in notice.ways}


def test_a_critical_alert_climbs_until_everybody_is_told() -> None:
    assert told("critical", 0) == {"on duty", "station"}
    assert told("critical", 1) == {"on duty", "second"}
    assert told("critical", 2) == {"on duty", "second", "manager"}
    assert told("critical", 3) == set(NAMES.values())
    assert told("critical", 40) == set(NAMES.values())


def test_a_medium_alert_goes_to_the_managers_in_the_next_morning() -> None:
    assert told("medium", 0) == {"on duty", "station"}
    assert told("medium", 1) == {"on duty", "manager"}
    first = telling.notice("medium", 0, WAYS, house(), NOW)
    assert first.then == datetime(2026, 3, 4, 7, tzinfo=UTC)


def test_a_low_alert_waits_for_the_summary() -> None:
    assert told("low", 0) == set()


def test_without_a_rota_the_managers_are_told_first() -> None:
    assert told("critical", 0, duty=False) == {"manager", "station"}


def test_somebody_on_duty_without_a_channel_does_not_swallow_it() -> None:
    ways = [way(MANAGER), way(OTHER)]
    notice = telling.notice("critical", 0, ways, house(), NOW)
    assert [one.person_id for one in notice.ways] == [MANAGER]


def test_a_channel_takes_only_what_it_is_for() -> None:
    ways = [way(ON_DUTY, "critical")]
    assert telling.notice("critical", 0, ways, house(), NOW).ways
    assert not telling.notice("medium", 0, ways, house(), NOW).ways


@pytest.mark.parametrize(
    ("at", "until"),
    [
        # The night in which clocks go forward (29 March 2026, 01:00 UTC) and the one they go back.
        (datetime(2026, 3, 29, 0, 30, tzinfo=UTC), datetime(2026, 3, 29, 5, 30, tzinfo=UTC)),
        (datetime(2026, 10, 25, 0, 30, tzinfo=UTC), datetime(2026, 10, 25, 6, 30, tzinfo=UTC)),
    ],
)
def test_quiet_hours_hold_what_is_medium_until_their_end_on_both_nights_of_change(
    at: datetime, until: datetime
) -> None:
    quiet = house(quiet=QuietHours(time(22), time(6, 30)))
    assert telling.notice("medium", 0, WAYS, quiet, at).not_before == until
    assert telling.notice("critical", 0, WAYS, quiet, at).not_before == at


def test_messages_to_one_channel_keep_their_distance() -> None:
    wait = timedelta(seconds=20)
    assert telling.send_at("medium", [], NOW, NOW) == NOW + wait
    just = NOW - timedelta(seconds=5)
    assert telling.send_at("medium", [just], NOW, NOW) == just + telling.GROUP_INTERVAL
    flood = [NOW - timedelta(minutes=minutes) for minutes in (1, 2, 3)]
    late = max(flood) + telling.FLOOD_INTERVAL
    assert telling.send_at("medium", flood, NOW, NOW) == late
    assert telling.send_at("critical", flood, NOW, NOW) == NOW + timedelta(seconds=5)
