"""From an entry to an open alert, and to a message that a real mail server accepted.

    python -m tests.bench.alert_bench [ENTRIES]

A real server at its default settings, a real SMTP server; each entry is a level below the minimum
of a tank of its own, at a random moment. Goals: an open alert within 10 s, an accepted message
within 60 s in 99 of 100 cases. The floor is what the settings themselves make a message wait.
"""

import random
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from service.alerts.telling import GROUP_INTERVAL, GROUP_WAIT
from service.alerts.worker import SECONDS_BETWEEN_LOOKS, SECONDS_BETWEEN_ROUNDS
from tests import building
from tests.alerts.watched import Postbox, postbox
from tests.proof import banks
from tests.serving import rimebook, running

ENTRIES = int(sys.argv[1]) if len(sys.argv) > 1 else 40

#: Entries come at random, this far apart on average; a person's twelve hours in some minutes.
SECONDS_APART = 4.0


def quantile(values: list[float], share: float) -> float:
    """The value that so many of them do not exceed."""
    return sorted(values)[min(int(share * len(values)), len(values) - 1)]


def letter_times(box: Postbox, arrived: dict[str, float]) -> None:
    """Note when each tank was first told of."""
    now = time.monotonic()
    text = "".join(letter.get_content() for letter in list(box.letters))
    for number in range(ENTRIES):
        name = f"Tank {number:03d} stands"
        if name in text:
            arrived.setdefault(name, now)


def main() -> None:
    """Enter, watch, print."""
    dice = random.Random(5)
    with tempfile.TemporaryDirectory() as folder, postbox() as box:
        data = Path(folder) / "data"
        banks.add_vet(data)
        with running(rimebook(data)) as server, banks.signed_in(server.address, "manager") as who:
            tanks = set_up(who, box)
            entered: dict[str, float] = {}
            opened: dict[str, float] = {}
            arrived: dict[str, float] = {}
            due = time.monotonic()
            end = None
            while end is None or time.monotonic() < end:
                if tanks and time.monotonic() >= due:
                    tank = tanks.pop()
                    path = f"/api/tanks/{tank['id']}/levels"
                    assert who.post(path, json={"level_cm": 6}).status_code == 201
                    entered[f"{tank['name']} stands"] = time.monotonic()
                    due += dice.expovariate(1 / SECONDS_APART)
                for alert in who.get("/api/alerts?kind=low-nitrogen&limit=1000").json()["items"]:
                    opened.setdefault(f"{alert['subject']} stands", time.monotonic())
                letter_times(box, arrived)
                if len(arrived) == ENTRIES:
                    break
                if not tanks and end is None:
                    end = time.monotonic() + 90
                time.sleep(0.1)
    to_open = [opened[name] - at for name, at in entered.items() if name in opened]
    to_letter = [arrived[name] - at for name, at in entered.items() if name in arrived]
    wait = GROUP_WAIT["critical"].total_seconds() + SECONDS_BETWEEN_LOOKS + SECONDS_BETWEEN_ROUNDS
    longest = GROUP_INTERVAL.total_seconds() + SECONDS_BETWEEN_LOOKS + SECONDS_BETWEEN_ROUNDS
    print(f"{len(to_open)} of {ENTRIES} alerts open, {len(to_letter)} told")
    print(f"entry to open alert: p50 {quantile(to_open, 0.5):.1f} s, most {max(to_open):.1f} s")
    print(
        f"entry to accepted message: p50 {quantile(to_letter, 0.5):.1f} s, "
        f"p99 {quantile(to_letter, 0.99):.1f} s, most {max(to_letter):.1f} s "
        f"(by the settings {wait:.0f} s, after another message up to {longest:.0f} s)"
    )
    print(f"{len(box.letters)} messages for {ENTRIES} alerts")


def set_up(who: Any, box: Postbox) -> list[Any]:
    """A mail server, a channel, and the tanks."""
    etag = who.get("/api/alert-settings").headers["etag"]
    mail = {
        "mail_host": "127.0.0.1",
        "mail_port": box.port,
        "mail_security": "none",
        "mail_sender": "rimebook@station.example",
    }
    assert who.patch("/api/alert-settings", json=mail, headers={"If-Match": etag}).is_success
    channel = {"name": "Mail", "kind": "email", "target": "manager@station.example"}
    assert who.post("/api/alert-channels", json=channel).is_success
    return [
        who.post("/api/tanks", json=building.tank(f"Tank {number:03d}")).json()
        for number in range(ENTRIES)
    ]


if __name__ == "__main__":
    main()
