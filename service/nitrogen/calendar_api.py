"""Calendar keys over HTTP, and the feed that they open."""

from datetime import datetime
from urllib.parse import quote
from uuid import UUID

from fastapi import Request, Response
from pydantic import BaseModel

from service.bank.store import station_of
from service.edge.asking import OPEN_TO_ALL, Anyone
from service.edge.fields import Identifier, Input
from service.edge.listing import AskedPage, Listing, page_of
from service.edge.problems import problems
from service.edge.replay import AskedOnce
from service.edge.transaction import Reading, Router, Writing
from service.edge.wiring import wiring
from service.kernel.acts import Person
from service.nitrogen import calendar_keys, rounds_schedule
from service.nitrogen.calendar_keys import UnknownCalendarKey
from service.nitrogen.rounds_api import DaysAhead
from service.nitrogen.rounds_rules import USUAL_DAYS
from service.nitrogen.store import CalendarKey
from service.people.events import Occasion

router = Router(prefix="/api", tags=["nitrogen"])

FEED = "/nitrogen/schedule.ics"


class NewCalendarKey(Input):
    """Nothing is asked."""


class CalendarKeyOut(BaseModel):
    """One's own key to the calendar feed, without its text."""

    id: UUID
    created_at: datetime


class CalendarKeyMade(CalendarKeyOut):
    """A new key: it is shown this once, alone and in the feed's address on this service."""

    key: str
    path: str


@router.post(
    "/calendar-keys",
    operation_id="make_calendar_key",
    summary="Make a key to the calendar feed",
    status_code=201,
)
def make_calendar_key(
    who: Anyone, db: Writing, request: Request, body: NewCalendarKey | None = None
) -> CalendarKeyMade:
    """A key for one's phone; whoever has it can read the round, and nothing else."""
    key, text = calendar_keys.make_key(db, who=who, occasion=_occasion(request, who))
    path = f"{router.prefix}{FEED}?key={quote(text)}"
    return CalendarKeyMade(**_out(key).model_dump(), key=text, path=path)


@router.get("/calendar-keys", operation_id="list_calendar_keys", summary="One's own calendar keys")
def list_calendar_keys(who: Anyone, db: Reading, page: AskedPage) -> Listing[CalendarKeyOut]:
    """Those that were not revoked, oldest first, without their text."""
    rows = calendar_keys.keys_after(db, who.id, page.after_one(UUID), page.limit)
    return page_of(rows, page, key=lambda key: (key.id,), show=_out)


@router.delete(
    "/calendar-keys/{key_id}",
    operation_id="revoke_calendar_key",
    summary="Revoke a calendar key",
    status_code=204,
    responses=problems(UnknownCalendarKey),
)
def revoke_calendar_key(who: Anyone, db: Writing, key_id: Identifier, request: Request) -> None:
    """Stop one of one's own keys at once."""
    calendar_keys.revoke_key(db, key_id, who=who, occasion=_occasion(request, who))


@router.get(
    FEED,
    operation_id="read_schedule_calendar",
    summary="The round as a calendar to subscribe to",
    dependencies=[OPEN_TO_ALL],
    response_class=Response,
    responses=problems(UnknownCalendarKey) | {200: {"content": {"text/calendar": {}}}},
)
def read_calendar(
    db: Reading, asked: AskedOnce, key: str = "", days: DaysAhead = USUAL_DAYS
) -> Response:
    """The key in the address is the door; a wrong or revoked one is not found.

    An all-day event for each visit; one that is no longer needed is gone.
    """
    from service.nitrogen import calendar_feed  # its library takes a while to start

    owner_id = calendar_keys.owner_of(db, key)
    now = asked.wires.clock()
    feed = calendar_feed.calendar_of(
        rounds_schedule.schedule_of(db, now=now, days=days),
        name=station_of(db).name,
        owner_id=owner_id,
        now=now,
    )
    return Response(
        feed,
        media_type="text/calendar",
        headers={"Content-Disposition": 'inline; filename="nitrogen-round.ics"'},
    )


def _out(key: CalendarKey) -> CalendarKeyOut:
    return CalendarKeyOut(id=key.id, created_at=key.created_at)


def _occasion(request: Request, who: Person) -> Occasion:
    wires = wiring(request)
    address = request.client.host if request.client else None
    return Occasion(at=wires.clock(), new_id=wires.new_id, by=who, address=address)
