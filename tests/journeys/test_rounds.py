"""The next rounds in a real browser: seen, put into a calendar, planned; and whether to go in."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import httpx
import icalendar
import pytest
from playwright.sync_api import expect

from tests.journeys.conftest import Screen, Station

Screens = Callable[..., Screen]

CAUTION = "It is no substitute for a fixed oxygen alarm."


@pytest.fixture(scope="module")
def tanks(station: Station) -> dict[str, str]:
    """Both tanks lose 0.2 litres a day; North is at 14 litres now, South at 30."""
    listed = {one["name"]: one["id"] for one in station.manager.ok("GET", "/tanks")["items"]}
    for day in range(20, 0, -1):
        at = (datetime.now(UTC) - timedelta(days=day)).isoformat(timespec="seconds")
        for name, now in (("North", 14), ("South", 30)):
            body = {"measured_at": at, "litres": round(now + 0.2 * day, 2)}
            station.technician.ok("POST", f"/tanks/{listed[name]}/levels", body)
    return listed


def schedule(station: Station, days: int = 120) -> Any:
    return station.technician.ok("GET", f"/nitrogen/schedule?days={days}")


def in_words(day: str) -> str:
    """A day as screens show it."""
    read = date.fromisoformat(day)
    return f"{read:%a} {read.day} {read:%b %Y}"


def test_the_rounds_say_when_how_much_why_and_what_a_missed_one_does(
    screen_of: Screens, station: Station, tanks: dict[str, str]
) -> None:
    plan = schedule(station)
    visit, missed = plan["visits"][0], plan["if_missed"][0]
    items = [one for one in plan["items"] if one["date"] == visit["date"]]
    screen = screen_of("technician")
    screen.open("/round?days=120")
    shown = screen.page.locator(".visit").first
    expect(shown.get_by_role("heading", level=2)).to_have_text(in_words(visit["date"]))
    for row, item in zip(shown.get_by_role("listitem").all(), items, strict=True):
        expect(row.get_by_role("link", name=item["tank_name"])).to_be_visible()
        expect(row).to_contain_text(f"{item['litres']:.1f}".removesuffix(".0"))
        expect(row).to_contain_text(item["reason"])
    expect(shown).to_contain_text(f"If this visit is missed: {missed['words']}")
    expect(screen.page.locator(".visit")).to_have_count(len(plan["visits"]))
    screen.page.get_by_role("link", name="30 days").click()
    screen.arrived("/round?days=30")
    expect(screen.page.locator(".visit")).to_have_count(len(schedule(station, 30)["visits"]))


def test_the_list_is_printed_without_buttons_and_keys(
    screen_of: Screens, tanks: dict[str, str]
) -> None:
    screen = screen_of("technician")
    screen.open("/round")
    page = screen.page
    expect(page.get_by_role("button", name="Print this list")).to_be_visible()
    page.emulate_media(media="print")
    expect(page.locator(".visit").first).to_be_visible()
    expect(page.locator(".to-fill-tick").first).to_be_visible()
    for gone in ("Print this list", "Make an address for my calendar"):
        expect(page.get_by_role("button", name=gone, include_hidden=True)).to_be_hidden()


def test_a_key_opens_the_calendar_until_it_is_revoked(
    screen_of: Screens, station: Station, tanks: dict[str, str]
) -> None:
    screen = screen_of("technician")
    screen.page.context.grant_permissions(
        ["clipboard-read", "clipboard-write"], origin=station.address
    )
    screen.open("/round")
    page = screen.page
    page.get_by_role("button", name="Make an address for my calendar").click()
    address = page.get_by_label("Shown once.").input_value()
    assert address.startswith(f"{station.address}/api/")
    page.get_by_role("button", name="Copy the address").click()
    expect(page.get_by_text("Copied.")).to_be_visible()
    assert page.evaluate("navigator.clipboard.readText()") == address

    feed = httpx.get(address)
    assert feed.status_code == 200
    events = icalendar.Calendar.from_ical(feed.content).walk("VEVENT")
    assert [one["DTSTART"].dt.isoformat() for one in events] == [
        one["date"] for one in schedule(station, 60)["visits"]
    ]

    page.reload()
    screen.arrived("/round")
    expect(page.get_by_text("Shown once.")).to_have_count(0)
    page.get_by_role("button", name="Revoke the key").click()
    page.get_by_role("dialog").get_by_role("button", name="Yes, revoke it").click()
    expect(page.get_by_text("You have none.")).to_be_visible()
    assert httpx.get(address).status_code == 404


def test_a_manager_changes_the_plan_and_learns_which_delivery_is_needed(
    screen_of: Screens, station: Station, tanks: dict[str, str]
) -> None:
    screen = screen_of("manager")
    screen.open("/round/plan")
    page = screen.page
    for day in ("Monday", "Tuesday", "Wednesday", "Friday"):
        page.get_by_label(day).uncheck()
    page.get_by_label("How sure each tank is").fill("99")
    page.get_by_label("It holds").fill("50")
    page.get_by_label("It held when it was last read").fill("3")
    page.get_by_role("button", name="Add a delivery").click()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Each delivery needs a day and litres")).to_be_visible()
    late = (datetime.now(UTC) + timedelta(days=300)).date().isoformat()
    page.get_by_label("Arrives on").fill(late)
    page.get_by_label("Litres", exact=True).fill("120,5")
    expect(page.get_by_text(in_words(late))).to_be_visible()
    page.get_by_role("button", name="Save").click()
    screen.arrived("/round")
    plan = station.manager.ok("GET", "/nitrogen/plan")
    assert plan["fill_weekdays"] == [3]
    assert (plan["confidence_percent"], plan["supply_litres"]) == (99, 3)
    assert plan["deliveries"] == [{"on": late, "litres": 120.5}]

    needed = schedule(station, 60)["supply"]["shortages"][0]["needed_by"]
    expect(page.get_by_text(f"A delivery is needed by {in_words(needed)}")).to_be_visible()
    expect(page.get_by_role("img", name="Litres in the supply vessel")).to_be_visible()


def test_a_day_is_chosen_or_nothing_is_saved(screen_of: Screens, station: Station) -> None:
    before = station.manager.ok("GET", "/nitrogen/plan")
    screen = screen_of("manager")
    screen.open("/round/plan")
    for box in screen.page.get_by_role("checkbox", checked=True).all():
        box.uncheck()
    screen.page.get_by_role("button", name="Save").click()
    expect(screen.page.get_by_text("Choose one day or more.")).to_be_visible()
    assert station.manager.ok("GET", "/nitrogen/plan") == before


def test_others_read_the_plan(screen_of: Screens, station: Station) -> None:
    screen = screen_of("technician")
    screen.open("/round/plan")
    expect(screen.page.get_by_text("Managers change this.")).to_be_visible()
    expect(screen.page.get_by_role("button", name="Save")).to_have_count(0)


def test_a_room_says_whether_one_may_go_in_and_what_its_alarm_must_do(
    screen_of: Screens, station: Station, tanks: dict[str, str]
) -> None:
    screen = screen_of("manager")
    screen.open("/rooms")
    page = screen.page
    page.get_by_role("link", name="Enter a room").click()
    screen.arrived("/rooms/new")
    page.get_by_label("Name").fill("Cold store")
    page.get_by_label("Air in it").fill("30")
    page.get_by_label("There is none").check()
    page.get_by_label("Air changes an hour").fill("0")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Nothing can be said: no tank stands here")).to_be_visible()
    page.get_by_text("Put a tank here").first.click()
    page.get_by_label("Which tank").select_option(label="North")
    page.get_by_role("button", name="Put a tank here").click()

    expect(page.get_by_text("Not before it is aired and the oxygen is measured.")).to_be_visible()
    [room] = station.manager.ok("GET", "/rooms")["items"]
    left = station.manager.ok("GET", f"/rooms/{room['id']}/oxygen")
    for words in (*left["may_enter_words"], *left["alarm_words"], left["caution"]):
        expect(page.get_by_text(words, exact=True)).to_be_visible()
    assert CAUTION in left["caution"]
    expect(page.get_by_role("img", name="After a spill or a filling")).to_be_visible()
    page.get_by_text("The same as a table: after a spill").click()
    expect(page.get_by_role("cell", name="%").first).to_be_visible()
    page.get_by_text("How it is reckoned").click()
    for one in left["formulas"]:
        expect(page.get_by_text(one["formula"], exact=True)).to_be_visible()

    page.get_by_role("link", name="Change the room’s record").click()
    screen.arrived(f"/rooms/{room['id']}/edit")
    page.get_by_label("It draws air out").check()
    page.get_by_label("Air changes an hour").fill("4")
    page.get_by_role("button", name="Save").click()
    screen.arrived(f"/rooms/{room['id']}")
    expect(page.get_by_text("Only while the fan runs and the oxygen alarm shows")).to_be_visible()


def test_a_tank_leads_to_its_room_and_is_taken_out_of_it(
    screen_of: Screens, station: Station, tanks: dict[str, str]
) -> None:
    screen = screen_of("manager")
    screen.open(f"/bank/tank/{tanks['North']}")
    page = screen.page
    page.get_by_role("link", name="May I go into its room?").click()
    [room] = station.manager.ok("GET", "/rooms")["items"]
    screen.arrived(f"/rooms/{room['id']}")
    page.get_by_role("button", name="Take North out of this room").click()
    expect(page.get_by_text("By the book no tank stands in this room.", exact=True)).to_be_visible()
    assert station.manager.ok("GET", f"/tanks/{tanks['North']}")["room_id"] is None
    page.get_by_text("Take this room out of use").first.click()
    page.get_by_label("Reason").fill("Torn down")
    page.get_by_role("button", name="Take this room out of use").click()
    screen.arrived("/rooms")
    expect(page.get_by_text("Rooms out of use")).to_be_visible()


def test_oxygen_is_never_told_better_than_it_is(screen_of: Screens) -> None:
    page = screen_of("technician").page
    told = page.evaluate(
        """async () => {
          const { showPercent, verdict, percentAxis } = await import("/web/logic/oxygen.js");
          const left = (tanks, steady_percent) => verdict({ tanks, steady_percent }, 19.5);
          return {
            below: showPercent(19.4999), at: showPercent(19.5), none: showPercent(null),
            verdicts: [left([], 20.9), left([1], null), left([1], 19.49), left([1], 19.5)],
            axis: percentAxis([8.24, 20.9]), spilt: percentAxis([0])[0],
          };
        }"""
    )
    assert (told["below"], told["at"], told["none"]) == ("19.4 %", "19.5 %", "–")
    assert told["verdicts"] == ["nothing", "air-first", "no", "with-alarm"]
    assert told["axis"] == [6, 8, 10, 12, 14, 16, 18, 20, 22]
    assert told["spilt"] == 0


def test_others_read_rooms_and_change_nothing(screen_of: Screens, station: Station) -> None:
    screen = screen_of("technician")
    room = {"volume_m3": 60, "air_changes_per_hour": 5, "ventilation": "supply"}
    made = station.manager.ok("POST", "/rooms", {"name": "Filling bay", **room})
    screen.open(f"/rooms/{made['id']}")
    expect(screen.page.get_by_text(CAUTION)).to_be_visible()
    for name in ("Change the room’s record", "Put a tank here", "Take this room out of use"):
        expect(screen.page.get_by_text(name)).to_have_count(0)
