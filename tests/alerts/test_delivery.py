"""Messages over a real SMTP server and a real webhook: told, grouped, held, repeated, recovered."""

import json
from datetime import timedelta
from email.utils import parsedate_to_datetime
from typing import Any

import pytest
from sqlmodel import col, select
from standardwebhooks import Webhook

from service.alerts import worker
from service.alerts.rules import Finding, Subject
from service.alerts.store import Alert, Message
from tests.alerts.receivers import receiving
from tests.alerts.watched import Postbox, Watched

MANAGER = "manager@station.example"
TECHNICIAN = "technician@station.example"
VET = "vet@station.example"


def findings(number: int, **more: Any) -> list[Finding]:
    facts = {"kind": "low-stock", "priority": "medium", "words": "Few doses are left."} | more
    return [
        Finding(subject=Subject("stallion", f"{facts['kind']}-{one}", f"Horse {one}"), **facts)
        for one in range(number)
    ]


def raise_these(station: Watched, found: list[Finding]) -> None:
    """Let exactly this be the case."""
    from service.alerts.raising import raise_alerts
    from service.kernel.ids import new_id

    with station.database.writing() as db:
        raise_alerts(db, found, now=station.now, new_id=new_id)


def test_an_alert_arrives_as_a_letter_that_says_what_to_do_and_where(
    station: Watched, box: Postbox
) -> None:
    station.mail_to(box, "manager")
    stallion = station.low_stallion()
    station.look()
    assert station.deliver() == 0  # it waits for others that belong with it
    assert station.deliver(seconds=20) == 1
    [letter] = box.to(MANAGER)
    assert letter["Subject"].startswith(f"TODAY: {stallion['name']}: Few doses are left")
    assert letter["From"].addresses[0].addr_spec == "rimebook@station.example"
    assert letter["Auto-Submitted"] == "auto-generated"
    assert parsedate_to_datetime(letter["Date"]).utcoffset() == timedelta(0)
    body = letter.get_content()
    alert = station.alert("low-stock")
    assert alert["words"] in body
    assert "1. He is alive: plan a collection." in body
    assert f"http://rimebook.example/#/alerts/{alert['id']}" in body
    [delivered] = alert["delivered"]
    assert (delivered["channel"], delivered["state"]) == ("manager by e-mail", "sent")


def test_opening_the_link_acknowledges_nothing(station: Watched, box: Postbox) -> None:
    station.low_stallion()
    station.look()
    alert = station.alert("low-stock")
    for _ in range(2):
        station.manager.ok("GET", f"/api/alerts/{alert['id']}")
    assert station.alert("low-stock")["state"] == "open"


def test_a_webhook_is_signed_as_the_reference_verifier_wants(station: Watched) -> None:
    with receiving() as receiver:
        made = station.channel(name="Board", kind="webhook", target=f"{receiver.url}/board")
        station.low_stallion()
        station.look()
        assert station.deliver(seconds=20) == 1
    [asked] = receiver.asked
    # The verifier looks at the clock; the station's stands still.
    import time_machine

    with time_machine.travel(station.now, tick=False):
        said = Webhook(made["secret"]).verify(asked.body, asked.headers)
    assert said["type"] == "alerts"
    assert [one["kind"] for one in said["data"]["alerts"]] == ["low-stock"]


def test_two_hundred_alerts_at_once_reach_a_person_as_one_message(
    station: Watched, box: Postbox
) -> None:
    station.mail_to(box, "manager")
    raise_these(station, findings(200))
    for _ in range(120):
        station.deliver(seconds=5)
    [letter] = box.to(MANAGER)
    assert "and 162 more" in letter.get_content()


def test_two_hundred_alerts_within_a_minute_reach_a_person_as_three_messages_at_most(
    station: Watched, box: Postbox
) -> None:
    station.mail_to(box, "manager")
    medium = findings(180)
    critical = findings(20, kind="low-nitrogen", priority="critical", words="Low.")
    for second in range(60):
        share = (second + 1) / 60
        raise_these(station, medium[: int(180 * share)] + critical[: int(20 * share)])
        station.deliver(seconds=1)
    for _ in range(60):
        station.deliver(seconds=5)
    assert 1 <= len(box.to(MANAGER)) <= 3


def test_critical_alerts_climb_until_somebody_acknowledges(station: Watched, box: Postbox) -> None:
    station.mail_to(box, "technician", "vet", "manager")
    station.rota((0, "07:00", "technician", "vet"))
    station.read(station.tank(minimum=8), 6)
    for _ in range(9):
        station.look(minutes=4)
        station.deliver(seconds=30)
    assert [len(box.to(who)) for who in (TECHNICIAN, VET, MANAGER)] == [3, 2, 1]
    alert = station.alert("low-nitrogen")
    station.acknowledge(alert, "vet", note="On my way")
    before = len(box.letters)
    for _ in range(10):
        station.look(minutes=12)
        station.deliver()
    assert len(box.letters) == before
    assert station.one(alert)["acknowledged_by"] == "The vet"


def test_an_acknowledged_alert_that_is_still_true_is_told_again_after_its_time(
    station: Watched, box: Postbox
) -> None:
    station.mail_to(box, "manager")
    station.read(station.tank(minimum=8), 6)
    station.look()
    station.deliver(seconds=10)
    alert = station.alert("low-nitrogen")
    station.acknowledge(alert)
    for _ in range(5):
        station.look(minutes=97)
        station.deliver(seconds=30)
    assert station.history(alert) == ["opened", "acknowledged", "told-again"]
    assert len([one for one in box.to(MANAGER) if "Nitrogen below" in one["Subject"]]) == 2


def test_quiet_hours_hold_what_is_medium_and_not_what_is_critical(
    station: Watched, box: Postbox
) -> None:
    station.mail_to(box, "manager")
    station.settings(quiet_from="22:00", quiet_until="06:30")
    station.now = station.now.replace(hour=23)
    station.low_stallion()
    station.look()
    station.deliver(minutes=5)
    assert box.letters == []
    station.read(station.tank(minimum=8), 6)
    station.look()
    station.deliver(seconds=10)
    [night] = box.letters
    assert night["Subject"].startswith("CRITICAL")
    assert "Few doses" not in night.get_content()
    station.acknowledge(station.alert("low-nitrogen"))
    station.look(hours=7)
    station.deliver(minutes=31)
    assert any("Few doses are left" in one["Subject"] for one in box.letters[1:])


def test_what_was_acknowledged_before_it_left_is_not_told(station: Watched, box: Postbox) -> None:
    station.mail_to(box, "manager")
    station.low_stallion()
    station.look()
    station.acknowledge(station.alert("low-stock"))
    station.deliver(seconds=30)
    assert box.letters == []
    assert states(station) == ["not-needed"]


def states(station: Watched) -> list[str]:
    with station.database.reading() as db:
        return list(db.exec(select(Message.state).order_by(col(Message.created_at))))


def test_a_server_that_refuses_for_three_days_gets_all_of_it_the_most_pressing_first(
    station: Watched, box: Postbox
) -> None:
    station.mail_to(box, "manager")
    box.answer = "451 come back later"
    raise_these(station, findings(3))
    station.deliver(minutes=1)
    critical = findings(2, kind="low-nitrogen", priority="critical", words="Low.")
    raise_these(station, findings(3) + critical)
    for _ in range(3 * 24):
        station.deliver(hours=1)
    assert box.letters == []
    box.answer = "250 kept"
    for _ in range(8):
        station.deliver(minutes=15)
    subjects = [one["Subject"].strip() for one in box.to(MANAGER)]
    assert subjects[0].startswith("CRITICAL")
    told = "".join(one.get_content() for one in box.to(MANAGER))
    assert told.count("Few doses are left.") == 3
    assert set(states(station)) == {"sent"}
    assert all(int(one["Rimebook-Attempt"]) > 1 for one in box.to(MANAGER))


def test_a_channel_that_fails_is_told_of_by_another(station: Watched, box: Postbox) -> None:
    station.mail_to(box, "manager")
    with receiving() as receiver:
        receiver.status = 500
        station.channel(name="Board", kind="webhook", target=f"{receiver.url}/board")
        station.low_stallion()
        station.look()
        station.deliver(seconds=20)
        station.look(minutes=3)
        station.deliver(seconds=30)
        station.deliver(seconds=30)
        alert = station.alert("delivery-failing")
        assert alert["subject"] == "Board"
        assert "500" in alert["words"]
        assert any("Messages do not arrive" in one["Subject"] for one in box.to(MANAGER))
        receiver.status = 204
        station.acknowledge(alert)
        for _ in range(4):
            station.deliver(minutes=5)
        station.look()
        assert station.alerts(kind="delivery-failing") == []


def test_a_receiver_that_is_gone_is_sent_nothing_any_more(station: Watched) -> None:
    with receiving() as receiver:
        receiver.status = 410
        station.channel(name="Board", kind="webhook", target=f"{receiver.url}/board")
        station.low_stallion()
        station.look()
        station.deliver(seconds=20)
    [channel] = station.manager.ok("GET", "/api/alert-channels")["items"]
    assert (channel["enabled"], channel["state"]) == (False, "off")


def test_a_repeat_has_the_same_id_and_the_same_words_and_is_marked(
    station: Watched, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The process dies after the message was accepted and before that was written down."""
    with receiving() as receiver:
        station.channel(name="Board", kind="webhook", target=f"{receiver.url}/board")
        station.low_stallion()
        station.look()
        with monkeypatch.context() as dying:
            dying.setattr(worker.outbox, "mark_sent", died)
            with pytest.raises(Died):
                station.deliver(seconds=20)
        assert station.deliver(seconds=30) == 0  # the claim still stands
        assert station.deliver(minutes=3) == 1
    first, second = receiver.asked
    assert first.headers["webhook-id"] == second.headers["webhook-id"]
    assert json.loads(first.body) == json.loads(second.body)
    assert ("webhook-attempt" in first.headers, second.headers["webhook-attempt"]) == (False, "2")


class Died(Exception):
    pass


def died(*_: Any, **__: Any) -> None:
    raise Died


def test_a_test_is_sent_at_once_and_says_what_became_of_it(station: Watched, box: Postbox) -> None:
    made = station.channel(name="Mail", kind="email", target=MANAGER)
    path = f"/api/alert-channels/{made['id']}/test"
    told = station.manager.ok("POST", path)
    assert (told["state"], "mail server" in told["error"]) == ("refused", True)
    station.mail_to(box)
    told = station.manager.ok("POST", path)
    assert (told["state"], told["error"]) == ("sent", None)
    [letter] = box.to(MANAGER)
    assert letter["Subject"].startswith("A test from")


def test_one_condition_is_one_alert_however_often_it_is_looked_at(station: Watched) -> None:
    station.low_stallion()
    for _ in range(5):
        station.look(minutes=2)
    with station.database.reading() as db:
        assert len(list(db.exec(select(Alert)))) == 1
