"""The life of an alert: every state with every event, and long lives that keep their promises.

The states are those of ISA-18.2 and OPC UA part 9 as practice guidance tells them (the standards
themselves were not read).
"""

import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import product

import pytest

from service.alerts import life
from service.alerts.life import Standing
from service.alerts.rules import Card, Finding, Priority, State, Subject

NOW = datetime(2026, 3, 3, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)

CARD = Card(
    title="A test",
    priority="medium",
    owner="manager",
    means="It tests.",
    what_to_do=("Look.",),
    how_long="A second.",
    again_after=8 * HOUR,
)
SLOW = replace(CARD, off_delay=2 * HOUR)


def finding(priority: Priority = "medium", *, opens: bool = True, inspect: bool = False) -> Finding:
    return Finding(
        kind="low-nitrogen",
        subject=Subject("tank", "1", "North"),
        priority=priority,
        words="Low.",
        opens=opens,
        inspect=inspect,
    )


def standing(state: State, priority: Priority = "medium") -> Standing:
    made = {
        "open": Standing(priority=priority),
        "acknowledged": Standing(priority=priority, seen=True, again_at=NOW + 8 * HOUR),
        "cleared-unseen": Standing(priority=priority, true=False),
        "shelved": Standing(priority=priority, shelved_until=NOW + HOUR),
        "closed": Standing(priority=priority, true=False, seen=True, over=True),
    }[state]
    assert made.state == state
    return made


#: (state, event) -> (state afterwards, what its history says)
TABLE = {
    ("open", "true"): ("open", ()),
    ("open", "false"): ("cleared-unseen", ("cleared",)),
    ("open", "between"): ("open", ()),
    ("open", "worse"): ("open", ("worse",)),
    ("open", "acknowledge"): ("acknowledged", ("acknowledged",)),
    ("open", "shelve"): ("shelved", ("shelved",)),
    ("open", "time"): ("open", ()),
    ("acknowledged", "true"): ("acknowledged", ()),
    ("acknowledged", "false"): ("closed", ("cleared", "closed")),
    ("acknowledged", "between"): ("acknowledged", ()),
    ("acknowledged", "worse"): ("open", ("worse",)),
    ("acknowledged", "acknowledge"): ("acknowledged", ("acknowledged",)),
    ("acknowledged", "shelve"): ("shelved", ("shelved",)),
    ("acknowledged", "time"): ("open", ("told-again",)),
    ("cleared-unseen", "true"): ("open", ("came-back",)),
    ("cleared-unseen", "false"): ("cleared-unseen", ()),
    ("cleared-unseen", "between"): ("cleared-unseen", ()),
    ("cleared-unseen", "worse"): ("open", ("worse", "came-back")),
    ("cleared-unseen", "acknowledge"): ("closed", ("acknowledged", "closed")),
    ("cleared-unseen", "shelve"): ("shelved", ("shelved",)),
    ("cleared-unseen", "time"): ("open", ("came-back",)),
    ("shelved", "true"): ("shelved", ()),
    ("shelved", "false"): ("shelved", ("cleared",)),
    ("shelved", "between"): ("shelved", ()),
    ("shelved", "worse"): ("open", ("worse",)),
    ("shelved", "acknowledge"): ("acknowledged", ("acknowledged",)),
    ("shelved", "shelve"): ("shelved", ("shelved",)),
    ("shelved", "time"): ("open", ("shelf-ended",)),
    ("closed", "true"): ("closed", ()),
    ("closed", "false"): ("closed", ()),
    ("closed", "between"): ("closed", ()),
    ("closed", "worse"): ("closed", ()),
    ("closed", "time"): ("closed", ()),
}


def happen(before: Standing, event: str, *, now: datetime = NOW) -> life.Changed:
    """`time`: nine hours pass, and the condition is still met."""
    if event == "acknowledge":
        return life.acknowledged(before, CARD, now)
    if event == "shelve":
        return life.shelved(before, now + HOUR)
    found = {
        "true": finding(),
        "time": finding(),
        "between": finding(opens=False),
        "worse": finding("critical"),
        "false": None,
    }[event]
    return life.looked_at(before, found, CARD, now + 9 * HOUR if event == "time" else now)


@pytest.mark.parametrize(("state", "event"), TABLE)
def test_every_state_with_every_event(state: State, event: str) -> None:
    after, said = happen(standing(state), event)
    assert (after.state, said) == TABLE[state, event]


def test_the_table_is_whole() -> None:
    events = {event for _, event in TABLE}
    expected = set(product(life.State.__args__, events))
    refused = {("closed", "acknowledge"), ("closed", "shelve")}  # the actions refuse these
    assert expected - refused == TABLE.keys()


def test_what_is_low_needs_nobody_to_look() -> None:
    after, said = life.looked_at(Standing(priority="low"), None, CARD, NOW)
    assert (after.state, said) == ("closed", ("cleared", "closed"))


def test_it_counts_as_gone_only_after_its_delay() -> None:
    after, said = life.looked_at(Standing(priority="medium"), None, SLOW, NOW)
    assert (after.state, said, after.false_since) == ("open", (), NOW)
    again, said = life.looked_at(after, finding(), SLOW, NOW + HOUR)
    assert (again.state, said, again.false_since) == ("open", (), None)
    late, said = life.looked_at(after, None, SLOW, NOW + 2 * HOUR)
    assert (late.state, said) == ("cleared-unseen", ("cleared",))


def test_what_has_to_be_inspected_stays_until_somebody_looked_at_the_thing_itself() -> None:
    dry, _ = life.opened(finding("critical", inspect=True))
    seen, _ = life.acknowledged(dry, CARD, NOW)
    full, said = life.looked_at(seen, None, CARD, NOW)
    assert (full.state, said) == ("acknowledged", ("cleared",))
    after, said = life.inspected(full)
    assert (after.state, said) == ("closed", ("inspected", "closed"))


def test_an_alert_that_became_better_keeps_who_took_care_of_it() -> None:
    critical = Standing(priority="critical", seen=True)
    after, said = life.looked_at(critical, finding("medium"), CARD, NOW)
    assert (after.priority, after.state, said) == ("medium", "acknowledged", ())


def test_ten_thousand_steps_of_long_lives_keep_their_promises() -> None:
    """Closed only when it is over and was seen (or is low), never twice, never while shelved."""
    chance = random.Random(20_260_303)
    events = ("true", "false", "between", "worse", "acknowledge", "shelve", "time")
    one, now = Standing(priority="medium"), NOW
    lives = 0
    for _ in range(10_000):
        if one.state == "closed":
            one, lives = Standing(priority="medium"), lives + 1
        event = chance.choice(events)
        before, now = one, now + chance.choice([timedelta(minutes=1), HOUR, 10 * HOUR])
        one, said = happen(before, event, now=now)
        assert ("closed" in said) == (one.state == "closed")
        if one.state == "closed":
            assert one.seen
            assert not one.true
        if event == "acknowledge":
            assert one.seen
        if event in ("true", "worse") and before.shelved_until is None:
            assert one.true
        if "worse" in said:
            assert one.state in ("open", "cleared-unseen")
    assert lives > 400
