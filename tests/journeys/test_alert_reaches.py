"""The demo's dying tank and low stallion reach mailbox and webhook, and somebody by phone."""

import json
import re
import sys
import time
from collections.abc import Callable, Iterator
from email import message_from_bytes, policy
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from tests.journeys.conftest import PHONE, Screen
from tests.serving import Server, free_port, http_client, running

#: What the demo has to manage.
WITHIN_SECONDS = 60


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Server, Path]]:
    """The demo as its command starts it, and where its letters arrive."""
    data, port = tmp_path_factory.mktemp("demo") / "data", free_port()
    command = [sys.executable, "-m", "service", "demo", "--port", str(port), "--data", str(data)]
    with running(Server(command, port, log=data.parent / "demo.log")) as server:
        yield server, data / "letters"


def letters(folder: Path) -> list[Any]:
    """What arrived by mail."""
    return [
        message_from_bytes(path.read_bytes(), policy=policy.default)
        for path in sorted(folder.glob("*.eml"))
    ]


def told_by_letter(folder: Path) -> Any:
    """The letter that tells of the dying tank."""
    return next((one for one in letters(folder) if "Kestrel" in one["Subject"]), None)


def told_on_the_board(folder: Path) -> Any:
    """What the webhook's other end was told."""
    return [json.loads(path.read_bytes()) for path in folder.glob("*.json")]


def arrived(look: Callable[[Path], Any], folder: Path) -> Any:
    """What is there within a minute."""
    ends = time.monotonic() + WITHIN_SECONDS
    while time.monotonic() < ends:
        if found := look(folder):
            return found
        time.sleep(0.2)
    raise AssertionError("nothing arrived within a minute")


def test_from_the_letter_to_somebody_who_takes_care(
    demo: tuple[Server, Path], browser: Browser
) -> None:
    server, folder = demo
    text = arrived(told_by_letter, folder).get_content()
    assert "Umber Halyard has 3 doses left" in text
    link = re.search(r"http://localhost:\d+(/#/alerts/\S+)", text)
    assert link
    board = arrived(told_on_the_board, folder)
    kinds = {alert["kind"] for said in board for alert in said["data"]["alerts"]}
    assert {"nitrogen-loss-rising", "low-stock"} <= kinds

    context = browser.new_context(viewport=PHONE)
    screen = Screen(context, server.address)
    screen.page.goto(server.address + link[1])
    screen.page.get_by_label("User name").fill("magnus")
    screen.page.get_by_label("Password or one-time code").fill("magnus-quillhaven-demo")
    screen.page.get_by_role("button", name="Sign in").click()
    screen.arrived(link[1].removeprefix("/#"))
    with http_client(server.address) as vet:
        sign_in = {"username": "vera", "password": "vera-quillhaven-demo"}
        vet.post("/api/session", json=sign_in)
        alert = f"/api{link[1].removeprefix('/#')}"
        assert vet.get(alert).json()["state"] == "open"  # opened and not acknowledged
        screen.page.get_by_role("button", name="I take care of it").first.click()
        screen.page.locator("main").get_by_text("Magnus Thornquill").first.wait_for()
        assert vet.get(alert).json()["acknowledged_by"] == "Magnus Thornquill"
        said = vet.get("/api/alert-digest").json()["text"]
    assert "Somebody takes care of it" in said
    assert "Magnus Thornquill" in said
    assert any("to look at" in letter["Subject"] for letter in letters(folder))
    assert not screen.complaints
    context.close()
