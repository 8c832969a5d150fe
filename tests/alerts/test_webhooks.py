"""Webhooks are signed as the reference reader checks it, and how they fail."""

import base64
import json
import logging
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from standardwebhooks.webhooks import Webhook, WebhookVerificationError

from service.alerts import webhooks
from service.alerts.addresses import Limits
from service.alerts.letters import NotSent
from tests.alerts.receivers import Receiver, letter, receiving

OLD, NEW, OTHER = (webhooks.new_secret(lambda bits, by=by: (1 << bits) // by) for by in (3, 5, 7))


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with receiving() as receiver:
        yield receiver


def send(receiver: Receiver, *secrets: str, **other: object) -> None:
    now = datetime.now(UTC)
    url = f"{receiver.url}/hook/p4th"
    webhooks.send(letter(**other), url, secrets or (OLD,), now=now, private_allowed=True)


def test_a_secret_is_drawn_and_has_the_form_of_the_standard() -> None:
    drawn = []

    def draw(bits: int) -> int:
        drawn.append(bits)
        return 1

    secret = webhooks.new_secret(draw)
    assert drawn == [256]
    assert secret.startswith("whsec_")
    assert base64.b64decode(secret.removeprefix("whsec_")) == b"\0" * 31 + b"\1"


def test_the_reference_reader_takes_it(receiver: Receiver) -> None:
    send(receiver)
    (asked,) = receiver.asked
    assert (asked.method, asked.path) == ("POST", "/hook/p4th")
    assert Webhook(OLD).verify(asked.body, asked.headers) == {
        "type": "low-nitrogen",
        "timestamp": "2026-03-03T12:00:00Z",
        "data": {"tank": "Größe 3", "level_cm": 12.5},
    }
    assert asked.headers["webhook-id"] == str(letter().id)
    assert asked.headers["content-type"] == "application/json"
    assert "webhook-attempt" not in asked.headers


def test_while_a_secret_is_replaced_both_take_it_and_no_other(receiver: Receiver) -> None:
    send(receiver, NEW, OLD)
    (asked,) = receiver.asked
    assert len(asked.headers["webhook-signature"].split(" ")) == 2
    for secret in (NEW, OLD):
        Webhook(secret).verify(asked.body, asked.headers)
    with pytest.raises(WebhookVerificationError):
        Webhook(OTHER).verify(asked.body, asked.headers)
    with pytest.raises(WebhookVerificationError):
        Webhook(NEW).verify(asked.body.replace(b"12.5", b"99.5"), asked.headers)
    with pytest.raises(WebhookVerificationError):
        Webhook(NEW).verify(asked.body, {**asked.headers, "webhook-id": "another"})


def test_what_is_old_is_not_taken_by_the_reference_reader(receiver: Receiver) -> None:
    now = datetime.now(UTC) - timedelta(minutes=6)
    webhooks.send(letter(), receiver.url, [OLD], now=now, private_allowed=True)
    with pytest.raises(WebhookVerificationError, match="too old"):
        Webhook(OLD).verify(receiver.asked[0].body, receiver.asked[0].headers)


def test_a_repeat_is_the_same_message_and_says_so(receiver: Receiver) -> None:
    send(receiver)
    send(receiver, attempt=2)
    first, again = receiver.asked
    assert first.headers["webhook-id"] == again.headers["webhook-id"]
    assert first.body == again.body
    assert again.headers["webhook-attempt"] == "2"


@pytest.mark.parametrize("status", [200, 201, 202, 204])
def test_two_hundreds_are_taken(receiver: Receiver, status: int) -> None:
    receiver.status = status
    send(receiver)


@pytest.mark.parametrize("status", [301, 302, 307, 308, 400, 401, 403, 404, 429, 500, 502, 503])
def test_anything_else_is_not(receiver: Receiver, status: int) -> None:
    receiver.status = status
    receiver.headers = {"Location": f"{receiver.url}/elsewhere"}
    receiver.body = OLD.encode()
    with pytest.raises(NotSent, match=str(status)) as failure:
        send(receiver)
    assert len(receiver.asked) == 1
    assert (failure.value.for_good, failure.value.gone) == (False, False)
    assert OLD not in failure.value.detail
    assert "p4th" not in failure.value.detail


def test_gone_is_for_good(receiver: Receiver) -> None:
    receiver.status = 410
    with pytest.raises(NotSent) as failure:
        send(receiver)
    assert (failure.value.for_good, failure.value.gone) == (True, True)


def test_an_address_of_this_machine_is_not_sent_to(receiver: Receiver) -> None:
    for url in (receiver.url, receiver.url.replace("http", "https")):
        with pytest.raises(NotSent):
            webhooks.send(letter(), url, [OLD], now=datetime.now(UTC), private_allowed=False)
        with pytest.raises(NotSent):
            webhooks.ping(url, private_allowed=False)
    assert receiver.asked == []


def test_a_body_is_smaller_than_20_kb(receiver: Receiver) -> None:
    bare = len(webhooks.body_of(letter(data={"text": ""})))
    fits = {"text": "é" * ((webhooks.LARGEST_BODY - bare - 1) // 2)}
    send(receiver, data=fits)
    assert len(json.loads(receiver.asked[0].body)["data"]["text"]) == len(fits["text"])
    with pytest.raises(ValueError, match="20000"):
        send(receiver, data={"text": "x" * (webhooks.LARGEST_BODY - bare)})
    assert len(receiver.asked) == 1


@pytest.mark.parametrize(
    "secret",
    [
        "",
        "whsec_",
        "whsec_!" + "A" * 40,
        "A" * 44,
        "whsec_" + base64.b64encode(b"x" * 23).decode(),
        "whsec_" + base64.b64encode(b"x" * 65).decode(),
        "whsec_é" + "A" * 40,
    ],
)
def test_what_is_no_secret_signs_nothing(receiver: Receiver, secret: str) -> None:
    with pytest.raises(ValueError, match="24 to 64") as failure:
        send(receiver, secret)
    assert not secret or secret == "whsec_" or secret not in str(failure.value)
    assert receiver.asked == []


def test_the_shortest_and_the_longest_secret_sign(receiver: Receiver) -> None:
    for size in (24, 64):
        secret = "whsec_" + base64.b64encode(b"x" * size).decode()
        send(receiver, secret)
        Webhook(secret).verify(receiver.asked[-1].body, receiver.asked[-1].headers)


def test_a_letter_without_any_secret_is_not_sent(receiver: Receiver) -> None:
    with pytest.raises(ValueError, match="one secret"):
        webhooks.send(letter(), receiver.url, [], now=datetime.now(UTC), private_allowed=True)


def test_a_ping_is_a_plain_get(receiver: Receiver) -> None:
    webhooks.ping(f"{receiver.url}/alive/k3y", private_allowed=True)
    (asked,) = receiver.asked
    assert (asked.method, asked.path, asked.body) == ("GET", "/alive/k3y", b"")
    receiver.status = 404
    with pytest.raises(NotSent, match="404") as failure:
        webhooks.ping(f"{receiver.url}/alive/k3y", private_allowed=True)
    assert "k3y" not in failure.value.detail


def test_no_secret_and_no_path_in_a_log(
    receiver: Receiver, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    send(receiver)
    receiver.status = 500
    with pytest.raises(NotSent):
        send(receiver)
    with pytest.raises(NotSent):
        webhooks.ping("http://127.0.0.1:9/p4th", private_allowed=True, limits=Limits(seconds=0.5))
    assert OLD not in caplog.text
    assert "p4th" not in caplog.text
