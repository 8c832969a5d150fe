"""The daily summary: how all stands, sent even when all is well, with the head of the book.

A summary that does not come is a message, too: somebody notices that Rimebook is silent.
"""

from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.alerts import duty, outbox, store
from service.alerts.cards import CARDS
from service.alerts.messages import Words, moment
from service.alerts.rules import rank
from service.alerts.service_conditions import Machine
from service.alerts.store import Alert, Channel, WatchRun
from service.bank.search import tanks_in_use
from service.bank.store import station_of, today_at
from service.kernel import chain
from service.kernel.clock import as_text
from service.ledger import stock
from service.ledger.store import head_of
from service.nitrogen import states
from service.nitrogen.rounds_schedule import schedule_of
from service.nitrogen.rounds_words import day_words
from service.nitrogen.shown import at_a_glance, house_of
from service.nitrogen.wire import AtAGlance

#: Rounds of the next so many days are named.
_DAYS_AHEAD = 7

#: Of each state so many alerts are told.
_MOST_LINES = 40


def due(db: Session, now: datetime) -> list[tuple[Channel, str]]:
    """The channels whose summary is due, each with the mark that it is queued under once.

    A channel that never had one gets its first at once, so that whoever set it up sees it come.
    """
    wanting = [one for one in store.channels_in_use(db) if one.digest]
    if not wanting:
        return []
    zone = ZoneInfo(station_of(db).time_zone)
    due_at = duty.last_at(now, time.fromisoformat(store.plan_of(db).digest_at), zone)
    marked = []
    for channel in wanting:
        new = channel.created_at > due_at
        day = "first" if new else due_at.astimezone(zone).date().isoformat()
        mark = f"digest:{day}:{channel.id}"
        if not store.is_marked(db, mark):
            marked.append((channel, mark))
    return marked


def queue_due(db: Session, machine: Machine, *, now: datetime, new_id: Callable[[], UUID]) -> int:
    """Queue the summary to every channel where it is due; how many were queued."""
    marked = due(db, now)
    words = compose(db, machine, now=now) if marked else None
    for channel, mark in marked:
        assert words is not None
        outbox.queue_settled(
            db, channel, kind="digest", mark=mark, letter=words, now=now, new_id=new_id
        )
    return len(marked)


def compose(db: Session, machine: Machine, *, now: datetime) -> Words:
    """The summary of this moment."""
    station = station_of(db)
    zone = ZoneInfo(station.time_zone)
    today = today_at(station, now)
    alerts = sorted(store.standing_alerts(db), key=lambda one: (rank(one.priority), one.opened_at))
    head = head_of(db)
    parts = [
        _alerts(alerts, zone),
        _nitrogen(db, now),
        _doses(db, today),
        _service(db, machine, zone, now),
    ]
    hash_, entries = (head.hash, head.seq) if head else (chain.GENESIS, 0)
    text = "\n\n".join("\n".join(part) for part in parts)
    asking = sum(1 for one in alerts if one.state in ("open", "cleared-unseen"))
    state = "all is well" if not alerts else f"{asking} to look at, {len(alerts) - asking} known"
    return Words(
        subject=f"{station.name}, {_day(today)}: {state}",
        text=f"{text}\n\nThe book: {entries} entries, head\n{hash_}\nKeep this message: a book "
        "that was rewritten later has another head.",
        data={
            "station": station.name,
            "date": today.isoformat(),
            "entries": entries,
            "head": hash_,
            "sound": None if machine.soundness is None else machine.soundness.sound,
            "alerts": [
                {"id": str(one.id), "kind": one.kind, "priority": one.priority, "state": one.state}
                for one in alerts[:100]
            ],
            "made_at": as_text(now),
        },
    )


def _alerts(alerts: Sequence[Alert], zone: ZoneInfo) -> Iterator[str]:
    if not alerts:
        yield "No alert is open."
        return
    titles = {
        "open": "Open",
        "cleared-unseen": "Came and went, nobody has looked yet",
        "acknowledged": "Somebody takes care of it",
        "shelved": "Put aside",
    }
    for state, title in titles.items():
        told = [one for one in alerts if one.state == state]
        if not told:
            continue
        yield f"{title}:"
        for one in told[:_MOST_LINES]:
            yield f"- {CARDS[one.kind].title_at(one.priority)}: {one.words}{_who(one, zone)}"
        if len(told) > _MOST_LINES:
            yield f"- and {len(told) - _MOST_LINES} more"


def _who(alert: Alert, zone: ZoneInfo) -> str:
    if alert.state == "acknowledged" and alert.acknowledged_at:
        return f" ({alert.acknowledged_by}, {moment(alert.acknowledged_at, zone)})"
    if alert.state == "shelved" and alert.shelved_until:
        until = moment(alert.shelved_until, zone)
        return f" (until {until}, {alert.shelved_by}: {alert.shelf_reason})"
    return ""


def _nitrogen(db: Session, now: datetime) -> Iterator[str]:
    house = house_of(db)
    found = states.states_of(db, tanks_in_use(db), now=now)
    yield "Nitrogen:"
    if not found:
        yield "- no tank is in the book"
    for state in sorted(found, key=lambda one: one.tank.name):
        yield f"- {_tank(at_a_glance(state, house))}"
    schedule = schedule_of(db, now=now, days=_DAYS_AHEAD, found=found)
    for visit in schedule.visits:
        names = ", ".join(fill.need.tank_name for fill in visit.fills)
        litres = sum(fill.litres for fill in visit.fills)
        yield f"- to fill on {day_words(schedule.on(visit.day))}: {names} (about {litres:.0f} L)"


def _tank(glance: AtAGlance) -> str:
    if glance.litres is None:
        return f"{glance.tank_name}: never read"
    words = f"{glance.tank_name}: {glance.litres:.0f} L ({glance.percent:.0f} %), {glance.state}"
    if glance.reaches_minimum_on is not None:
        words += f", at its minimum about {_day(glance.reaches_minimum_on)}"
    return words + ", reading overdue" * glance.reading_overdue


def _doses(db: Session, today: date) -> Iterator[str]:
    found = stock.by_stallion(db, today, stock.Scope())
    straws, doses = sum(one.straws for one in found), sum(one.doses for one in found)
    yield f"In the bank: {straws} straws of {len(found)} stallions, {doses} doses to use."


def _service(db: Session, machine: Machine, zone: ZoneInfo, now: datetime) -> Iterator[str]:
    yield "Rimebook itself:"
    newest = machine.backups.items[0] if machine.backups.items else None
    if newest is not None:
        yield f"- newest verified backup: {moment(newest.created_at, zone)}"
    else:
        yield "- there is no verified backup"
    yield f"- the book: {_sound(machine)}"
    yield f"- the watch: {_watch(store.watch_of(db), now)}"
    counts = store.message_counts(db)
    waiting = counts.get("waiting", 0) + counts.get("sending", 0)
    yield f"- messages: {waiting} waiting, {counts.get('given-up', 0)} given up"
    for channel in store.channels(db):
        if channel.failing_since:
            yield f"- {channel.name} fails since {moment(channel.failing_since, zone)}"


def _sound(machine: Machine) -> str:
    if machine.soundness is None:
        return "not checked since the start"
    return "sound" if machine.soundness.sound else "NOT SOUND"


def _watch(watch: WatchRun, now: datetime) -> str:
    if watch.gap_until and now - watch.gap_until < timedelta(days=1) and watch.gap_from:
        hours = (watch.gap_until - watch.gap_from) / timedelta(hours=1)
        return f"it did not run for {hours:.1f} hours in the last day"
    return "it runs"


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"
