"""The round as a calendar (RFC 5545, Internet Engineering Task Force, 2009; RFC 7986, 2016).

One all-day event for each visit. The feed is the whole of it each time: a visit that is no longer
needed is not in it, and so leaves the calendars that subscribe. A day keeps its UID, so that a
visit whose tanks or litres change stays the same event.
"""

from datetime import date, datetime, timedelta
from uuid import UUID, uuid5

from icalendar import Calendar, Event, Journal, vDuration, vText

from service.nitrogen import rounds_words
from service.nitrogen.rounds import Fill, Visit
from service.nitrogen.rounds_schedule import Schedule

PRODUCT = "-//Rimebook//Nitrogen round//EN"

#: How often a calendar program is asked to look again.
REFRESH = timedelta(hours=6)

#: More names than this make a title that no phone shows.
_NAMES_IN_TITLE = 3


def calendar_of(schedule: Schedule, *, name: str, owner_id: UUID, now: datetime) -> bytes:
    """The feed of one person's key; `name` is the station's."""
    calendar = Calendar()
    # The library writes names that it does not know as they stand: their type is told.
    title, refresh = vText(f"Nitrogen, {name}"), vDuration(REFRESH)
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("uid", str(uuid5(owner_id, "round")))
    calendar.add("name", title)
    calendar.add("x-wr-calname", title)
    calendar.add("last-modified", now)
    calendar.add("refresh-interval", refresh, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", vText(f"PT{REFRESH // timedelta(hours=1)}H"))
    following = [*(schedule.on(visit.day) for visit in schedule.visits[1:]), None]
    for visit, next_on in zip(schedule.visits, following, strict=False):
        calendar.add_component(_event(visit, schedule, next_on, owner_id=owner_id, now=now))
    if not schedule.visits:
        calendar.add_component(_nothing(schedule, owner_id=owner_id, now=now))
    return bytes(calendar.to_ical())


def _event(
    visit: Visit, schedule: Schedule, next_on: date | None, *, owner_id: UUID, now: datetime
) -> Event:
    on = schedule.on(visit.day)
    event = Event()
    event.add("uid", str(uuid5(owner_id, f"round {on.isoformat()}")))
    event.add("dtstamp", now)
    event.add("last-modified", now)
    event.add("dtstart", on)
    event.add("dtend", on + timedelta(days=1))  # the first day after it
    event.add("summary", _title(visit))
    event.add("description", _words(visit, schedule, next_on))
    event.add("transp", "TRANSPARENT")  # nobody is busy all day with it
    return event


def _title(visit: Visit) -> str:
    names = [fill.need.tank_name for fill in visit.fills]
    told = ", ".join(names) if len(names) <= _NAMES_IN_TITLE else f"{len(names)} tanks"
    return f"Fill nitrogen: {told} ({_litres(sum(fill.litres for fill in visit.fills))})"


def _words(visit: Visit, schedule: Schedule, next_on: date | None) -> str:
    lines = [_line(fill, visit, schedule) for fill in visit.fills]
    if not visit.fill_day:
        lines.append("This is no fill day, but not all of these tanks can wait for one.")
    missed = rounds_words.missed(visit, schedule)
    lines.append(f"If this visit is missed: {rounds_words.missed_words(missed, next_on)}")
    course = schedule.supply_course
    lines += [
        rounds_words.shortage_words(shortage)
        for shortage in (course.shortages if course else ())
        if shortage.on == schedule.on(visit.day)
    ]
    lines.append("Read each level before you fill, and enter it and the top-up.")
    return "\n".join(lines)


def _line(fill: Fill, visit: Visit, schedule: Schedule) -> str:
    return (
        f"{fill.need.tank_name}: {_litres(fill.litres)}, at most {fill.litres_most:.0f} L. "
        f"{rounds_words.reason(fill, visit, schedule)}"
    )


def _litres(litres: float) -> str:
    return f"about {litres:.0f} L"


def _nothing(schedule: Schedule, *, owner_id: UUID, now: datetime) -> Journal:
    """A calendar holds at least one component (RFC 5545, 3.6): here a note that no phone shows."""
    note = Journal()
    note.add("uid", str(uuid5(owner_id, "no round")))
    note.add("dtstamp", now)
    note.add("dtstart", schedule.today)
    last = rounds_words.day_words(schedule.on(schedule.days - 1))
    note.add("summary", f"No tank needs nitrogen until {last}.")
    return note
