"""The round on a phone: a feed that two independent libraries read, behind a key of one's own."""

import hashlib
import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from ical.calendar_stream import IcsCalendarStream
from icalendar import Calendar, Event
from sqlmodel import Session, select

from service.nitrogen.store import CalendarKey
from tests.bank.changing import change
from tests.conftest import Founded
from tests.nitrogen.station import TUESDAY, Station, open_station

KEYS = "/api/calendar-keys"
FEED = "/api/nitrogen/schedule.ics"


@pytest.fixture
def station(app: FastAPI, data: Path, founded: Founded) -> Iterator[Station]:
    with open_station(app, data, founded) as opened:
        yield opened


def key_of(station: Station, role: str = "technician") -> Any:
    return station.person(role).ok("POST", KEYS, status=201)


def fetched(station: Station, path: str) -> bytes:
    answer = station.stranger().get(path)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    return answer.content


def refused(station: Station, path: str) -> None:
    answer = station.stranger().get(path)
    assert (answer.status_code, answer.json()["code"]) == (404, "unknown-calendar-key")


def events_of(feed: bytes) -> list[Event]:
    return Calendar.from_ical(feed).events


def unfolded(feed: bytes) -> str:
    return feed.replace(b"\r\n ", b"").decode()


def test_every_visit_is_an_all_day_event_with_its_tanks_and_litres(station: Station) -> None:
    for name in ("North", "South"):
        station.read_daily(station.tank(name), 12, loss=0.25)
    [visit] = station.schedule(days=30)["visits"]
    items = station.schedule(days=30)["items"]
    feed = fetched(station, key_of(station)["path"] + "&days=30")
    [event] = events_of(feed)
    on = date.fromisoformat(visit["date"])
    assert (event.start, event.end) == (on, on + timedelta(days=1)), "the end is the day after"
    assert event["summary"] == f"Fill nitrogen: North, South (about {visit['litres']:.0f} L)"
    for item in items:
        line = f"{item['tank_name']}: about {item['litres']:.0f} L, at most "
        assert line in event["description"]
        assert item["reason"] in event["description"]
    assert "If this visit is missed: " in event["description"]
    assert b"DTSTART;VALUE=DATE:" + visit["date"].replace("-", "").encode() in feed


def test_another_library_reads_the_same(station: Station) -> None:
    """`ical` has a parser of its own, and refuses what RFC 5545 does not allow."""
    for number in range(5):
        station.read_daily(station.tank(f"Tank {number}"), 11 + number, loss=0.25)
    station.plan(fill_weekdays=[1])
    feed = fetched(station, key_of(station)["path"] + "&days=200")
    theirs = IcsCalendarStream.calendar_from_ics(feed.decode()).events
    ours = events_of(feed)
    visits = station.schedule(days=200)["visits"]
    assert len(visits) > 1
    assert [one.dtstart.isoformat() for one in theirs] == [one["date"] for one in visits]
    assert [(one.uid, one.dtstart, one.dtend, one.summary, one.description) for one in theirs] == [
        (one.uid, one.start, one.end, str(one["summary"]), str(one["description"])) for one in ours
    ]
    assert theirs[0].summary is not None
    assert "5 tanks" in theirs[0].summary


def test_what_calendar_programs_need_is_there(station: Station) -> None:
    change(station.manager, "/api/station", {"name": "Quillhaven, Ltd; old yard"})
    station.tank()
    feed = fetched(station, key_of(station)["path"])
    found = Calendar.from_ical(feed)
    assert (found["version"], found["prodid"]) == ("2.0", "-//Rimebook//Nitrogen round//EN")
    assert found["method"] == "PUBLISH"
    # RFC 7986: the calendar's name, and how often to look again.
    lines = feed.split(b"\r\n")
    for name in (b"NAME", b"X-WR-CALNAME"):
        assert name + rb":Nitrogen\, Quillhaven\, Ltd\; old yard" in lines
    for name in (b"REFRESH-INTERVAL;VALUE=DURATION", b"X-PUBLISHED-TTL"):
        assert name + b":PT6H" in lines
    assert found.refresh_interval == timedelta(hours=6)
    [event] = [one for one in events_of(feed) if one.start == TUESDAY.date()]
    assert event.DTSTAMP == event.LAST_MODIFIED == TUESDAY
    assert event["transp"] == "TRANSPARENT"
    assert not event.errors
    uids = [one.uid for one in events_of(feed)]
    assert len(set(uids)) == len(uids)


def test_lines_end_and_fold_as_rfc_5545_wants_and_no_sign_is_cut_in_two(station: Station) -> None:
    """At most 75 octets a line, CRLF (section 3.1); signs of several octets stay whole."""
    names = ["🧊" * 40, "Nörðri Ægir " * 8, "家" * 50]
    for name in names:
        station.tank(name)
    feed = fetched(station, key_of(station)["path"])
    assert feed.endswith(b"END:VCALENDAR\r\n")
    lines = feed.split(b"\r\n")
    assert not any(b"\n" in line or b"\r" in line for line in lines)
    assert max(map(len, lines)) <= 75
    for line in lines:
        line.decode()  # raises where a sign was cut
    first = next(iter(events_of(feed)))
    for name in names:
        assert name.strip() in first["summary"]
        assert name.strip() in first["description"]


@pytest.mark.parametrize(
    ("moment", "zone", "today"),
    [
        # Clocks go forward and back at 01:00 UTC; a day of 23 and one of 25 hours.
        (datetime(2026, 3, 28, 23, 30, tzinfo=UTC), "Europe/Dublin", date(2026, 3, 28)),
        (datetime(2026, 3, 29, 0, 30, tzinfo=UTC), "Europe/Dublin", date(2026, 3, 29)),
        (datetime(2026, 10, 24, 23, 30, tzinfo=UTC), "Europe/Dublin", date(2026, 10, 25)),
        (datetime(2026, 10, 25, 23, 30, tzinfo=UTC), "Europe/Dublin", date(2026, 10, 25)),
        # A day that begins at 01:00, because midnight does not exist.
        (datetime(2026, 4, 24, 12, 0, tzinfo=UTC), "Africa/Cairo", date(2026, 4, 24)),
    ],
)
def test_a_day_is_the_stations_day_also_when_clocks_change(
    station: Station, moment: datetime, zone: str, today: date
) -> None:
    station.now = moment
    change(station.manager, "/api/station", {"time_zone": zone})
    station.tank()
    feed = fetched(station, key_of(station)["path"])
    first = events_of(feed)[0]
    assert (first.start, first.end) == (today, today + timedelta(days=1))
    theirs = IcsCalendarStream.calendar_from_ics(feed.decode()).events[0]
    assert (theirs.dtstart, theirs.dtend) == (today, today + timedelta(days=1))


def test_a_visit_that_is_no_longer_needed_is_gone_and_another_keeps_its_name(
    station: Station,
) -> None:
    north, south = station.tank(), station.tank("South")
    station.read_daily(north, 12, loss=0.25)
    station.read_daily(south, 12, loss=0.25)
    path = key_of(station)["path"] + "&days=30"
    [before] = events_of(fetched(station, path))
    station.now += timedelta(minutes=10)
    station.fill(north, level_after_cm=34.5)
    [after] = events_of(fetched(station, path))
    assert (after.uid, after.start) == (before.uid, before.start)
    assert "North" in before["summary"]
    assert "North" not in after["summary"]
    assert after.LAST_MODIFIED > before.LAST_MODIFIED
    station.fill(south, level_after_cm=34.5)
    feed = fetched(station, path)
    assert events_of(feed) == []
    assert IcsCalendarStream.calendar_from_ics(feed.decode()).events == []
    # A calendar without any component is none (RFC 5545, 3.6).
    assert "BEGIN:VJOURNAL" in unfolded(feed)


def test_a_key_opens_the_calendar_without_a_cookie_and_nothing_else(station: Station) -> None:
    made = key_of(station)
    assert made["path"] == f"{FEED}?key={made['key']}"
    stranger = station.stranger()
    assert stranger.get(made["path"]).status_code == 200
    assert "set-cookie" not in stranger.get(made["path"]).headers
    for path in (f"/api/nitrogen/schedule?key={made['key']}", KEYS, "/api/tanks"):
        assert stranger.get(path).status_code == 401
        bearer = {"Authorization": f"Bearer {made['key']}"}
        assert stranger.get(path, headers=bearer).status_code == 401


def test_a_wrong_key_finds_nothing(station: Station) -> None:
    made = key_of(station)
    for wrong in (
        "",
        "?key=",
        "?key=rimebook_guessed",
        f"?key={made['key']}x",
        "?key=%00",
        "?key=ü",
    ):
        refused(station, FEED + wrong)
    # Being signed in does not open it: a key does.
    answer = station.technician.get(FEED)
    assert (answer.status_code, answer.json()["code"]) == (404, "unknown-calendar-key")


def test_a_revoked_key_finds_nothing_and_others_go_on(station: Station) -> None:
    first, second = key_of(station), key_of(station)
    listed = station.technician.ok("GET", KEYS)["items"]
    assert [one["id"] for one in listed] == [first["id"], second["id"]]
    assert all(one.keys() == {"id", "created_at"} for one in listed)
    station.technician.ok("DELETE", f"{KEYS}/{first['id']}", status=204)
    refused(station, first["path"])
    fetched(station, second["path"])
    assert [one["id"] for one in station.technician.ok("GET", KEYS)["items"]] == [second["id"]]
    again = station.technician.delete(f"{KEYS}/{first['id']}")
    assert (again.status_code, again.json()["code"]) == (404, "unknown-calendar-key")


def test_keys_are_ones_own(station: Station) -> None:
    made = key_of(station, "vet")
    assert station.manager.ok("GET", KEYS)["items"] == []
    answer = station.manager.delete(f"{KEYS}/{made['id']}")
    assert (answer.status_code, answer.json()["code"]) == (404, "unknown-calendar-key")
    fetched(station, made["path"])
    other = key_of(station, "auditor")
    station.tank()
    uids = {
        frozenset(event.uid for event in events_of(fetched(station, one["path"])))
        for one in (made, other)
    }
    assert len(uids) == 2, "two people's calendars on one phone do not get in each other's way"


def test_a_key_stops_with_its_owners_account(station: Station) -> None:
    made = key_of(station, "vet")
    [vet] = [
        one for one in station.manager.ok("GET", "/api/people")["items"] if one["username"] == "vet"
    ]
    change(station.manager, f"/api/people/{vet['id']}", {"disabled": True})
    refused(station, made["path"])


def test_a_key_is_kept_hashed_and_its_making_is_on_record(station: Station, app: FastAPI) -> None:
    made = key_of(station)
    station.technician.ok("DELETE", f"{KEYS}/{made['id']}", status=204)
    with app.state.wiring.database.reading() as db:
        assert isinstance(db, Session)
        [kept] = db.exec(select(CalendarKey)).all()
    assert kept.key_hash == hashlib.sha256(made["key"].encode()).hexdigest()
    events = station.manager.ok("GET", "/api/security-events?limit=2")["items"]
    assert [one["kind"] for one in events] == ["calendar-key-revoked", "calendar-key-made"]
    assert made["key"] not in re.sub(r"\s", "", str(events))


@pytest.mark.parametrize("body", [{"name": "phone"}, [], "x"])
def test_nothing_is_asked_of_a_new_key(station: Station, body: Any) -> None:
    station.technician.refused("POST", KEYS, body, 422, "invalid")
    station.technician.ok("POST", KEYS, {}, status=201)
