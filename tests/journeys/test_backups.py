"""What a manager sees of the backups, and where everybody finds them."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.journeys.conftest import PHONE, Screen, station_in


@pytest.fixture
def screen(browser: Browser) -> Iterator[Screen]:
    """A tab that has not signed in anywhere yet."""
    context = browser.new_context(viewport=PHONE)
    yield Screen(context, "")
    context.close()


def test_a_manager_is_told_that_nothing_is_backed_up_and_a_vet_is_not(
    screen: Screen, tmp_path: Path
) -> None:
    with station_in(tmp_path) as station:
        screen.address = station.address
        screen.sign_in("manager")
        screen.open("/")
        notice = screen.page.get_by_role("status").filter(has_text="No automatic backup")
        notice.get_by_role("link", name="The backups").click()
        screen.arrived("/backups")
        assert screen.page.get_by_text("There is no backup that counts.").is_visible()
        screen.page.context.clear_cookies()
        screen.sign_in("vet")
        screen.open("/")
        assert screen.page.get_by_text("No automatic backup").count() == 0
        screen.open("/station")
        screen.page.get_by_role("link", name="Backups of the book").click()
        screen.arrived("/backups")
    assert screen.complaints == []


def test_with_a_folder_the_backups_are_listed_and_nothing_is_said_on_the_first_page(
    screen: Screen, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "elsewhere"
    folder.mkdir()
    monkeypatch.setenv("RIMEBOOK_BACKUP_FOLDER", str(folder))
    with station_in(tmp_path) as station:
        screen.address = station.address
        while not station.vet.ok("GET", "/backups")["newest"]:
            pass
        screen.sign_in("manager")
        screen.open("/")
        assert screen.page.get_by_role("link", name="The backups").count() == 0
        screen.open("/backups")
        [file] = [path.name for path in folder.glob("*.db")]
        assert screen.page.get_by_text(file).is_visible()
        assert screen.page.get_by_text("every hour").is_visible()
        folder.rename(tmp_path / "unplugged")
        screen.open("/")
        screen.open("/backups")
        assert screen.page.get_by_text("is not there").first.is_visible()
        assert str(tmp_path) not in screen.page.content()
    assert screen.complaints == []
