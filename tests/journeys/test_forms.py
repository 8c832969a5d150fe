"""What a form owes a person: nothing booked twice, nothing typed lost, nothing wrong unsaid."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Route, expect

from tests import building
from tests.journeys.conftest import PASSWORD, Screen, Station

Screens = Callable[..., Screen]


@pytest.fixture
def goblets(station: Station) -> list[Any]:
    """Four empty goblets of this test's own."""
    count = len(station.manager.ok("GET", "/tanks")["items"])
    return building.goblets_of(
        station.manager.ok("POST", "/tanks", building.tank(f"Tank {count}", straws=90))
    )


@pytest.fixture
def frozen(station: Station, goblets: list[Any]) -> Any:
    """A batch of 30 straws in the first of them."""
    body = building.freeze(station.lantern["id"], [(goblets[0]["id"], 30)])
    return station.technician.ok("POST", "/freezes", body)["batch"]


def _open_move(screen: Screen, goblets: list[Any], frozen: Any) -> Any:
    screen.open(f"/bank/goblet/{goblets[0]['id']}/move?batch={frozen['id']}")
    screen.page.get_by_label("Straws to move").fill("4")
    screen.page.get_by_label("Into goblet").select_option(value=goblets[1]["id"])
    return screen.page.get_by_role("button", name="Book the move")


def _straws_in(station: Station, goblet: Any) -> int:
    read = station.vet.ok("GET", f"/goblets/{goblet['id']}")
    return int(read["capacity_straws"] - read["free_straws"])


def test_a_double_click_books_once(
    screen_of: Screens, station: Station, goblets: list[Any], frozen: Any
) -> None:
    screen = screen_of("technician")
    _open_move(screen, goblets, frozen).dblclick()
    screen.arrived(f"/bank/goblet/{goblets[1]['id']}")
    assert _straws_in(station, goblets[1]) == 4


def test_a_lost_answer_is_told_and_a_retry_books_once(
    screen_of: Screens, station: Station, goblets: list[Any], frozen: Any
) -> None:
    screen = screen_of("technician")
    button = _open_move(screen, goblets, frozen)
    sent = []

    def lose_the_answer(route: Route) -> None:
        sent.append(route.request.post_data_json["id"])
        route.fetch()
        route.abort()

    screen.page.route("**/api/moves", lose_the_answer)
    button.click()
    expect(screen.page.get_by_text("Nothing counts as booked yet")).to_be_visible()
    expect(screen.page.get_by_label("Straws to move")).to_have_value("4")
    assert _straws_in(station, goblets[1]) == 4  # it had arrived after all
    screen.page.unroute("**/api/moves")
    with screen.page.expect_request("**/api/moves") as again:
        screen.page.get_by_role("button", name="Try again").click()
    screen.arrived(f"/bank/goblet/{goblets[1]['id']}")
    assert again.value.post_data_json["id"] == sent[0]
    assert _straws_in(station, goblets[1]) == 4


def test_a_retry_with_other_content_is_never_taken_for_the_first(
    screen_of: Screens, station: Station, goblets: list[Any], frozen: Any
) -> None:
    screen = screen_of("technician")
    button = _open_move(screen, goblets, frozen)
    screen.page.route("**/api/moves", lambda route: (route.fetch(), route.abort()))
    button.click()
    expect(screen.page.get_by_text("Nothing counts as booked yet")).to_be_visible()
    screen.page.unroute("**/api/moves")
    screen.page.get_by_label("Straws to move").fill("6")
    screen.page.get_by_role("button", name="Try again").click()
    expect(screen.page.get_by_text("Your first try did arrive")).to_be_visible()
    assert _straws_in(station, goblets[1]) == 4
    screen.page.get_by_role("button", name="This is a further act").click()
    screen.page.get_by_role("button", name="Try again").or_(
        screen.page.get_by_role("button", name="Book the move")
    ).click()
    screen.arrived(f"/bank/goblet/{goblets[1]['id']}")
    assert _straws_in(station, goblets[1]) == 10


def test_an_ended_session_is_opened_again_without_losing_the_form(
    screen_of: Screens, station: Station, goblets: list[Any], frozen: Any
) -> None:
    screen = screen_of("technician")
    button = _open_move(screen, goblets, frozen)
    screen.page.context.clear_cookies()
    button.click()
    dialog = screen.page.get_by_role("dialog", name="Your sign-in has ended")
    expect(dialog.get_by_label("User name")).to_have_value("technician")
    dialog.get_by_label("Password or one-time code").fill(PASSWORD)
    dialog.get_by_role("button", name="Sign in").click()
    screen.arrived(f"/bank/goblet/{goblets[1]['id']}")
    assert _straws_in(station, goblets[1]) == 4


def test_what_was_typed_is_still_there_after_a_reload(screen_of: Screens, station: Station) -> None:
    screen = screen_of("technician")
    screen.open("/freeze/new")
    screen.page.get_by_label("Gel-free volume").fill("61,5")
    screen.page.get_by_label("Extender").fill("milk and yolk")
    screen.page.reload()
    screen.arrived("/freeze/new")
    expect(screen.page.get_by_label("Gel-free volume")).to_have_value("61,5")
    expect(screen.page.get_by_label("Extender")).to_have_value("milk and yolk")
    screen.page.get_by_role("button", name="Start empty").click()
    expect(screen.page.get_by_label("Gel-free volume")).to_have_value("")


def test_an_amount_that_can_mean_two_things_is_asked_back(screen_of: Screens) -> None:
    screen = screen_of("technician")
    screen.open("/freeze/new")
    volume = screen.page.get_by_label("Gel-free volume")
    volume.fill("1.234")
    volume.press("Tab")
    expect(screen.page.get_by_text("can be read in two ways")).to_be_visible()
    screen.page.get_by_role("button", name=re.compile("thousands")).click()
    expect(volume).to_have_value("1234")
    expect(screen.page.get_by_text("can be read in two ways")).to_be_hidden()


def test_odd_figures_are_questioned_and_impossible_ones_refused_beside_their_field(
    screen_of: Screens, station: Station
) -> None:
    screen = screen_of("technician")
    page = screen.page
    screen.open(f"/freeze/new?stallion={station.lantern['id']}")
    page.get_by_label("Gel-free volume").fill("160")
    collection = page.get_by_role("group", name="The collection")
    collection.get_by_label(re.compile("^Concentration")).fill("200")
    collection.get_by_label(re.compile("^Progressive motility")).fill("70")
    page.get_by_label(re.compile("^In the straw")).fill("200")
    warning = page.locator(".field", has=page.get_by_label("Gel-free volume")).locator(
        ".field-warning"
    )
    expect(warning).to_contain_text("usual is")
    page.get_by_label("Gel-free volume").fill("400")
    error = page.locator(".field", has=page.get_by_label("Gel-free volume")).locator(".field-error")
    expect(error).to_contain_text("at most 300 is possible")
    page.get_by_label("Gel-free volume").fill("60")
    expect(error).to_be_hidden()
    expect(warning).to_be_hidden()


def test_a_full_goblet_is_refused_and_the_form_stays(
    screen_of: Screens, station: Station, goblets: list[Any], frozen: Any
) -> None:
    screen = screen_of("technician")
    button = _open_move(screen, goblets, frozen)
    body = building.freeze(station.lantern["id"], [(goblets[1]["id"], 88)])
    station.technician.ok("POST", "/freezes", body)
    button.click()
    expect(screen.page.get_by_role("alert")).to_be_visible()
    expect(screen.page.get_by_label("Straws to move")).to_have_value("4")
    assert _straws_in(station, goblets[1]) == 88


def test_two_people_changing_one_stallion_are_told_of_each_other(
    screen_of: Screens, station: Station
) -> None:
    made = station.vet.ok("POST", "/stallions", building.stallion("Fennwick", owner="Old owner"))
    screen = screen_of("vet")
    screen.open(f"/stallions/{made['id']}/edit")
    screen.page.get_by_label("Owner").fill("My owner")
    path = f"/api/stallions/{made['id']}"
    etag = station.manager.client.get(path).headers["ETag"]
    theirs = {"owner": "Their owner", "breed": "Moorland pony"}
    answer = station.manager.client.patch(path, json=theirs, headers={"If-Match": etag})
    assert answer.status_code == 200
    screen.page.get_by_role("button", name="Save").click()
    expect(screen.page.get_by_text("theirs is “Their owner”, yours is “My owner”")).to_be_visible()
    expect(screen.page.get_by_label("Owner")).to_have_value("My owner")
    screen.page.get_by_role("button", name="Save").click()
    screen.arrived(f"/stallions/{made['id']}")
    after = station.vet.ok("GET", f"/stallions/{made['id']}")
    assert (after["owner"], after["breed"]) == ("My owner", "Moorland pony")


def test_saving_a_stallion_unchanged_adds_no_dose_rule(
    screen_of: Screens, station: Station
) -> None:
    screen = screen_of("vet")
    screen.open(f"/stallions/{station.moss['id']}/edit")
    screen.page.get_by_label("Owner").fill("The moor trust")
    screen.page.get_by_role("button", name="Save").click()
    screen.arrived(f"/stallions/{station.moss['id']}")
    rules = station.vet.ok("GET", f"/stallions/{station.moss['id']}/dose-rules")["items"]
    assert len(rules) == 1
