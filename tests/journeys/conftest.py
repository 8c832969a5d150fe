"""A real browser against a real server: what every journey starts from."""

import atexit
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from tests import building
from tests.serving import http_client, rimebook, running

PASSWORD = "grey geese over the winter fjord"
ROLES = ("technician", "vet", "manager", "auditor")
PHONE = {"width": 390, "height": 844}

CHROMIUM_SWITCHES = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def _chromium() -> str:
    """The system's Chromium; the tests of the screens need one."""
    named = os.environ.get("RIMEBOOK_CHROMIUM")
    found = named or shutil.which("chromium") or shutil.which("chromium-browser")
    if not found:
        pytest.skip("no Chromium here: install one, or name it in RIMEBOOK_CHROMIUM")
    return found


@pytest.fixture(scope="package")
def launch() -> Iterator[Callable[..., Browser]]:
    """`launch(*switches)`: a browser of its own, until the end of all journeys."""
    path = _chromium()
    started: list[Browser] = []
    with sync_playwright() as playwright:

        def start(*switches: str) -> Browser:
            args = [*CHROMIUM_SWITCHES, *switches]
            started.append(playwright.chromium.launch(executable_path=path, args=args))
            return started[-1]

        yield start
        for one in started:
            one.close()


@pytest.fixture(scope="package")
def browser(launch: Callable[..., Browser]) -> Browser:
    """One browser for all journeys; every test has contexts of its own."""
    return launch()


class Api:
    """A person at the API, by a session of their own."""

    def __init__(self, address: str, username: str) -> None:
        self.client = http_client(address, headers={"Origin": address}, timeout=30)
        answer = self.client.post("/api/session", json={"username": username, "password": PASSWORD})
        assert answer.status_code == 204, answer.text

    def ok(self, method: str, path: str, body: Any = None) -> Any:
        """The JSON of an answer that must succeed."""
        answer = self.client.request(method, f"/api{path}", json=body)
        assert answer.status_code in (200, 201, 204), (path, answer.status_code, answer.text)
        return answer.json() if answer.content else None


class Station:
    """A running service with a small bank in it, and sign-ins for the four people."""

    def __init__(self, address: str, data: Path) -> None:
        self.address = address
        self.data = data
        self.manager = Api(address, "manager")
        self.vet = Api(address, "vet")
        self.technician = Api(address, "technician")

    def fill(self) -> None:
        """Two tanks, two stallions, a frozen batch each, a mare."""
        etag = self.manager.client.get("/api/station").headers["ETag"]
        answer = self.manager.client.patch(
            "/api/station",
            json={"name": "Fellgate Stud", "time_zone": "Europe/Dublin"},
            headers={"If-Match": etag},
        )
        assert answer.status_code == 200, answer.text
        self.tank = self.manager.ok(
            "POST", "/tanks", building.tank("North", canisters=2, goblets=6, straws=60)
        )
        self.manager.ok("POST", "/tanks", building.tank("South", canisters=1, goblets=2))
        self.lantern = self.vet.ok(
            "POST",
            "/stallions",
            building.stallion("Lanternfield", straws=8, straw_colour="yellow", low_stock_doses=9),
        )
        sperm = {"kind": "sperm", "progressive_million": 250, "minimum_post_thaw_percent": 35}
        self.moss = self.vet.ok(
            "POST", "/stallions", {"name": "Mossgrave", "dose_rule": sperm, "straw_colour": "blue"}
        )
        goblets = building.goblets_of(self.tank)
        self.technician.ok(
            "POST",
            "/freezes",
            building.freeze(self.lantern["id"], [(goblets[0]["id"], 20), (goblets[1]["id"], 10)]),
        )
        self.technician.ok(
            "POST", "/freezes", building.freeze(self.moss["id"], [(goblets[2]["id"], 30)])
        )
        self.mare = self.technician.ok("POST", "/mares", {"name": "Brindlewick"})

    def standing(self, kind: str) -> Any:
        """The alert of this kind, as soon as the service has raised it."""
        for _ in range(150):
            found = self.vet.ok("GET", f"/alerts?kind={kind}")["items"]
            if found:
                return found[0]
            time.sleep(0.1)
        raise AssertionError(f"no alert of the kind {kind}")


def _add_people(data: Path) -> None:
    for role in ROLES:
        command = [sys.executable, "-m", "service", "user", "add", role, "--role", role]
        done = subprocess.run(
            [*command, "--password-stdin", "--data", str(data)],
            input=PASSWORD,
            text=True,
            capture_output=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr


@cache
def _peopled() -> Path:
    """A book with the four people, made once for all stations."""
    folder = Path(tempfile.mkdtemp())
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    _add_people(folder / "data")
    return folder / "data"


@contextmanager
def station_in(folder: Path) -> Iterator[Station]:
    """A new station in this folder, until the end."""
    data = folder / "data"
    shutil.copytree(_peopled(), data)
    with running(rimebook(data)) as server:
        station = Station(server.address, data)
        station.fill()
        yield station
        for api in (station.manager, station.vet, station.technician):
            api.client.close()


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Station]:
    """A station shared by the tests of one module."""
    with station_in(tmp_path_factory.mktemp("station")) as made:
        yield made


class Screen:
    """A signed-in person's browser tab; it remembers what the browser complained about."""

    def __init__(self, context: BrowserContext, address: str) -> None:
        self.address = address
        self.complaints: list[str] = []
        self.page: Page = context.new_page()
        self.page.set_default_timeout(10_000)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("console", self._heard)

    def _heard(self, message: Any) -> None:
        # Refused requests are the service's answers, told on the screen; the rest is our fault.
        if message.type == "error" and "Failed to load resource" not in message.text:
            self.complaints.append(message.text)

    def sign_in(self, username: str, password: str = PASSWORD) -> None:
        """Through the page, as a person does."""
        self.page.goto(f"{self.address}/#/sign-in")
        self.page.get_by_label("User name").fill(username)
        self.page.get_by_label("Password or one-time code").fill(password)
        self.page.get_by_role("button", name="Sign in").click()
        self.page.get_by_role("button", name="Menu").wait_for()

    def open(self, route: str) -> None:
        """A screen by its address; waits until it stands."""
        self.page.goto(f"{self.address}/#{route}")
        self.arrived(route)

    def arrived(self, route: str) -> None:
        """Wait until this screen stands, whoever opened it."""
        self.page.locator(f'main[data-shown="#{route}"]:not([aria-busy]) h1').wait_for()

    @property
    def title(self) -> str:
        """The heading of the screen."""
        return self.page.locator("main h1").inner_text()


@pytest.fixture
def screen_of(browser: Browser, station: Station) -> Iterator[Callable[..., Screen]]:
    """`screen_of("vet")`: a tab of that person's own; complaints of the browser fail the test."""
    opened: list[tuple[BrowserContext, Screen]] = []

    def make(username: str | None, *, viewport: Any = None, **options: Any) -> Screen:
        context = browser.new_context(viewport=viewport or PHONE, **options)
        screen = Screen(context, station.address)
        opened.append((context, screen))
        if username:
            screen.sign_in(username)
        return screen

    yield make
    for context, screen in opened:
        context.close()
        assert not screen.complaints, json.dumps(screen.complaints, indent=1)
