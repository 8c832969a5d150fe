"""No alert is lost when the process is killed between raising and sending; repeats are marked.

RIMEBOOK_KILLED_ALERTS sets how many are raised (150 unless set; 10,000 is the long form, which
takes some minutes). The process is killed about every fortieth message.
"""

import os
import random
import subprocess
import sys
import time
from collections import Counter
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from sqlmodel import select

from service.alerts.store import Alert, AlertPlan, Channel, Message, MessageItem
from service.app import open_book
from service.kernel.ids import new_id
from service.settings import Settings
from tests.alerts.watched import Postbox, postbox

ALERTS = int(os.environ.get("RIMEBOOK_KILLED_ALERTS", "150"))
KILLS = max(5, ALERTS // 200)


def told_here(data: Path, port: int) -> None:
    """A book whose messages go to this server."""
    with closing(open_book(Settings(data=data, database_url=None))) as book, book.writing() as db:
        db.add(
            AlertPlan(
                id=1,
                mail_host="127.0.0.1",
                mail_port=port,
                mail_security="none",
                mail_sender="rimebook@station.example",
            )
        )
        db.add(
            Channel(
                id=new_id(),
                name="Mail",
                kind="email",
                target="manager@station.example",
                priorities=["critical", "medium"],
                created_at=datetime(2026, 3, 3, tzinfo=UTC),
            )
        )


def run_and_kill(data: Path, box: Postbox) -> int:
    """Run it until it is done, killing it again and again on the way; how often it was killed."""
    dice = random.Random(11)
    command = [sys.executable, "-m", "tests.proof.raising", str(data), str(ALERTS)]
    for kill in range(KILLS):
        process = subprocess.Popen(command, stdout=subprocess.PIPE)
        assert process.stdout is not None
        assert process.stdout.readline() == b"ready\n"
        share = (kill + 1) * ALERTS / KILLS / 5 * 0.8
        while len(box.letters) < share and process.poll() is None:
            time.sleep(0.002)
        time.sleep(dice.uniform(0, 0.02))
        process.kill()
        process.wait()
        process.stdout.close()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return KILLS


def test_killed_again_and_again_it_tells_every_alert(tmp_path: Path) -> None:
    data = tmp_path / "data"
    with postbox() as box:
        told_here(data, box.port)
        kills = run_and_kill(data, box)
        arrived = Counter(letter["Message-ID"].strip("<>").split("@")[0] for letter in box.letters)
        marked = {
            letter["Message-ID"].strip("<>").split("@")[0]
            for letter in box.letters
            if letter["Rimebook-Attempt"]
        }
    with closing(open_book(Settings(data=data, database_url=None))) as book, book.reading() as db:
        alerts = set(db.exec(select(Alert.id)))
        told = {
            item.alert_id
            for item in db.exec(select(MessageItem))
            if str(item.message_id) in arrived
        }
        assert set(db.exec(select(Message.state))) <= {"sent", "not-needed"}
    assert len(alerts) == ALERTS
    assert alerts == told, f"{len(alerts - told)} alerts were never told"
    repeated = {message for message, times in arrived.items() if times > 1}
    print(f"{ALERTS} alerts, {len(arrived)} messages, {kills} kills, {len(repeated)} repeated")
    assert repeated <= marked
    # With few messages a single one weighs more than a hundredth.
    assert len(repeated) <= max(len(arrived) / 100, kills / 2)
