"""What a message says: one subject line, plain text for a person, JSON for a program."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from service.alerts.cards import CARDS
from service.alerts.rules import rank
from service.alerts.store import Alert
from service.bank.store import Station
from service.kernel.clock import as_text

#: So many are told in full, the rest in a line each, and beyond that by their number.
_IN_FULL, _IN_A_LINE = 8, 30

#: A webhook's body stays under 20 kB (Standard Webhooks 1.0.0): so many alerts, so long a sentence.
_IN_DATA, _LONGEST = 25, 300

_URGENCY = {"critical": "CRITICAL", "medium": "TODAY", "low": "This week"}

_FOOT = (
    "Whoever takes care of it opens the link and presses “I take care of it”: only that stops the "
    "messages. Opening the link alone changes nothing."
)
_NO_ADDRESS = "Open Rimebook: everything that is open stands on its first page."


@dataclass(frozen=True, slots=True)
class Words:
    """A message that is settled."""

    subject: str
    text: str
    data: Mapping[str, Any]


def of_alerts(
    alerts: Sequence[Alert], *, station: Station, address: str | None, now: datetime
) -> Words:
    """One message that tells of these alerts, the most pressing first."""
    told = sorted(alerts, key=lambda one: (rank(one.priority), one.opened_at))
    zone = ZoneInfo(station.time_zone)
    return Words(
        subject=_subject(told),
        text="\n".join([f"{station.name}:", "", *_text(told, zone, address)]),
        data={
            "station": station.name,
            "told_at": as_text(now),
            "alerts": [_data(one, address) for one in told[:_IN_DATA]],
            "more": max(len(told) - _IN_DATA, 0),
        },
    )


def link_to(alert: Alert, address: str | None) -> str | None:
    """Where a person reads and acknowledges it; a GET of it changes nothing."""
    return None if address is None else f"{address}/#/alerts/{alert.id}"


def _subject(told: Sequence[Alert]) -> str:
    first = told[0]
    title = CARDS[first.kind].title_at(first.priority)
    more = f" (and {len(told) - 1} more)" if len(told) > 1 else ""
    return f"{_URGENCY[first.priority]}: {first.subject}: {title}{more}"


def _text(told: Sequence[Alert], zone: ZoneInfo, address: str | None) -> Iterator[str]:
    for alert in told[:_IN_FULL]:
        yield from _in_full(alert, zone, address)
        yield ""
    for alert in told[_IN_FULL : _IN_FULL + _IN_A_LINE]:
        yield f"- {_URGENCY[alert.priority]}: {alert.words}"
    left = len(told) - _IN_FULL - _IN_A_LINE
    if left > 0:
        yield f"- and {left} more"
    if len(told) > _IN_FULL:
        yield ""
        yield f"All of them: {address}/#/" if address else _NO_ADDRESS
        yield ""
    yield _FOOT if address else _NO_ADDRESS


def _in_full(alert: Alert, zone: ZoneInfo, address: str | None) -> Iterator[str]:
    card = CARDS[alert.kind]
    yield f"{_URGENCY[alert.priority]}: {card.title_at(alert.priority)}"
    yield alert.words
    if alert.state == "cleared-unseen" and alert.cleared_at:
        yield f"(Over since {moment(alert.cleared_at, zone)}; somebody should still look at it.)"
    yield f"Since {moment(alert.opened_at, zone)}. How long there is: {card.how_long}"
    for number, step in enumerate(card.what_to_do, start=1):
        yield f"  {number}. {step}"
    if card.caution:
        yield card.caution
    if link := link_to(alert, address):
        yield link


def moment(at: datetime, zone: ZoneInfo) -> str:
    """A moment on the station's clock: `3 Mar 2026, 14:05 GMT`."""
    local = at.astimezone(zone)
    return f"{local.day} {local:%b %Y, %H:%M %Z}"


def _data(alert: Alert, address: str | None) -> dict[str, Any]:
    return {
        "id": str(alert.id),
        "kind": alert.kind,
        "priority": alert.priority,
        "state": alert.state,
        "subject": alert.subject[:_LONGEST],
        "words": alert.words[:_LONGEST],
        "opened_at": as_text(alert.opened_at),
        "link": link_to(alert, address),
    }


def of_test(station: str, by: str) -> Words:
    """A message that only shows that it arrives."""
    return Words(
        subject=f"A test from {station}",
        text=f"{by} sent this to see whether alerts arrive here. They do; nothing is to be done.",
        data={"station": station, "by": by},
    )
