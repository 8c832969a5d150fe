"""Guessing is slow: for a name, for an address, at the same time, and across a restart."""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest

from service.people import guessing
from service.people.rules import TooManySignIns

START = datetime(2026, 3, 3, 14, 5, tzinfo=UTC)
WRONG = "not that one, surely"


def test_five_tries_are_free_and_then_the_wait_doubles_to_a_quarter_of_an_hour():
    waits = [guessing.wait_after(tries).total_seconds() for tries in range(1, 18)]
    assert waits == [0] * 4 + [1, 2, 4, 8, 16, 32, 64, 128, 256, 512] + [900] * 3
    assert guessing.wait_after(10**9) == timedelta(minutes=15)


def test_of_a_thousand_guesses_in_an_hour_at_most_twenty_are_looked_at():
    tries, looked_at = guessing.NO_TRIES, 0
    for number in range(1_000):
        try:
            tries = guessing.one_more(tries, START + timedelta(seconds=3.6 * number))
        except TooManySignIns:
            continue
        looked_at += 1
    assert 5 <= looked_at <= 20


def test_a_refusal_says_when_to_try_again_and_is_not_counted():
    tries = guessing.Tries(count=6, last_at=START)
    with pytest.raises(TooManySignIns) as refused:
        guessing.one_more(tries, START + timedelta(seconds=0.5))
    assert refused.value.facts["retry_after_seconds"] == 2
    assert guessing.one_more(tries, START + timedelta(seconds=2)).count == 7


def test_a_day_of_quiet_is_a_new_start():
    tries = guessing.Tries(count=50, last_at=START)
    assert guessing.one_more(tries, START + timedelta(days=1)).count == 51
    assert guessing.one_more(tries, START + timedelta(days=1, seconds=1)).count == 1


def test_a_clock_that_was_put_back_locks_nobody_out_for_longer():
    tries = guessing.Tries(count=6, last_at=START + timedelta(days=300))
    with pytest.raises(TooManySignIns) as refused:
        guessing.one_more(tries, START)
    assert refused.value.facts["retry_after_seconds"] == 2


def test_the_addresses_that_one_device_can_take_are_one():
    bucket = guessing.address_bucket
    assert bucket("2001:db8:1:2::1") == bucket("2001:db8:1:2:ffff::9")
    assert bucket("2001:db8:1:2::1") != bucket("2001:db8:1:3::1")
    assert bucket("192.0.2.1") != bucket("192.0.2.2")
    assert bucket("::ffff:192.0.2.1") == bucket("192.0.2.1")
    assert bucket(None) == bucket("") == bucket("a socket")


def test_the_sixth_try_on_a_name_waits_even_from_elsewhere_and_with_the_right_password(house):
    house.add("ilva")
    for number in range(5):
        tried = house.sign_in(house.browser(address=f"192.0.2.{number}"), "ilva", WRONG)
        assert tried.status_code == 401
    refused = house.sign_in(house.browser(address="192.0.2.9"), "ilva")
    assert refused.status_code == 429
    assert refused.json()["code"] == "too-many-tries"
    assert refused.json()["retry_after_seconds"] == 1
    assert refused.headers["retry-after"] == "1"
    house.clock.forward(seconds=1)
    assert house.sign_in(house.browser(), "ilva").status_code == 204


def test_the_sixth_try_from_an_address_waits_whatever_the_name(house):
    house.add("ilva")
    for number in range(5):
        tried = house.sign_in(house.browser(address="192.0.2.1"), f"guess{number}", WRONG)
        assert tried.status_code == 401
    assert house.sign_in(house.browser(address="192.0.2.1"), "ilva").status_code == 429
    assert house.sign_in(house.browser(address="192.0.2.2"), "ilva").status_code == 204


def test_a_name_that_nobody_has_waits_just_as_long(house):
    house.add("ilva")
    answers = {}
    for name in ("ilva", "nobody"):
        seen = []
        for number in range(8):
            answer = house.sign_in(house.browser(address=f"192.0.2.{number}"), name, WRONG)
            seen.append((answer.status_code, answer.content))
        answers[name] = seen
        house.clock.forward(days=2)
    assert answers["ilva"] == answers["nobody"]


def test_signing_in_ends_the_count(house):
    house.add("ilva")
    for _ in range(3):
        for _ in range(4):
            assert house.sign_in(house.browser(), "ilva", WRONG).status_code == 401
        assert house.sign_in(house.browser(), "ilva").status_code == 204
    assert house.rows("sign_in_tries") == []


def test_waiting_survives_a_restart(house):
    house.add("ilva")
    for _ in range(5):
        assert house.sign_in(house.browser(), "ilva", WRONG).status_code == 401
    assert house.sign_in(house.browser(), "ilva").status_code == 429
    house.restart()
    assert house.sign_in(house.browser(), "ilva").status_code == 429
    house.clock.forward(seconds=1)
    assert house.sign_in(house.browser(), "ilva").status_code == 204


def test_guesses_made_at_the_same_time_all_count(house):
    house.add("ilva")
    clients = [house.browser(address=f"192.0.2.{number}") for number in range(24)]
    with ThreadPoolExecutor(len(clients)) as pool:
        answers = list(pool.map(lambda client: house.sign_in(client, "ilva", WRONG), clients))
    statuses = sorted(answer.status_code for answer in answers)
    assert statuses == [401] * 5 + [429] * 19
    assert len([event for event in house.rows("security_events")
                if event["kind"] == "sign-in-failed"]) == 5  # fmt: skip


def test_refused_tries_need_no_write_lock(house):
    house.add("ilva")
    for _ in range(5):
        house.sign_in(house.browser(), "ilva", WRONG)
    client = house.browser()
    with house.database.writing():
        assert house.sign_in(client, "ilva").status_code == 429


def test_names_that_were_tried_are_not_kept_as_typed(house):
    """People type their password into the wrong box."""
    typed = "my secret password in the wrong box"
    assert house.sign_in(house.browser(), typed, WRONG).status_code == 401
    kept = repr(house.rows("sign_in_tries")) + repr(house.rows("security_events"))
    assert "secret password" not in kept
    assert WRONG not in kept
