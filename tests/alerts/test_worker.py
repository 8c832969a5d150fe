"""The worker: exactly one watches, the summary comes every day, and all of it is seen."""

from datetime import timedelta
from typing import Any

from prometheus_client.parser import text_string_to_metric_families

from service.alerts.service_conditions import Machine
from service.alerts.worker import Surroundings, Worker
from service.kernel.ids import new_id
from tests.alerts.receivers import receiving
from tests.alerts.watched import Postbox, Watched

MANAGER = "manager@station.example"


def another(station: Watched) -> Worker:
    """A second process on the same book."""
    standing = station.worker.machine.backups
    return Worker(
        Surroundings(
            database=station.database,
            clock=lambda: station.now,
            new_id=new_id,
            machine=lambda: Machine(standing, None, None),
            check=lambda: None,
            address=None,
            private_allowed=True,
        )
    )


def test_of_two_processes_one_watches_and_the_other_takes_over_when_it_is_gone(
    station: Watched,
) -> None:
    first, second = station.worker, another(station)
    assert first.look()
    assert not second.look()
    station.now += timedelta(seconds=10)
    assert first.look()
    station.now += timedelta(seconds=15)
    assert not second.look()  # renewed meanwhile
    station.now += timedelta(seconds=30)
    assert second.look()  # the first did not come back
    assert not first.look()


def test_after_an_orderly_stop_the_next_one_need_not_wait(station: Watched) -> None:
    assert station.worker.look()
    station.worker.stop()
    assert another(station).look()


def test_who_watches_is_seen_and_that_nobody_does_is_seen_too(station: Watched) -> None:
    shown = station.manager.ok("GET", "/api/alerts/watch")
    assert (shown["running"], shown["last_run_at"]) == (False, None)
    station.look()
    shown = station.manager.ok("GET", "/api/alerts/watch")
    assert shown["running"]
    assert "process" in shown["holder"]
    assert shown["nobody_to_tell"]
    station.now += timedelta(minutes=2)
    assert not station.manager.ok("GET", "/api/alerts/watch")["running"]


def test_the_summary_comes_every_day_also_when_all_is_well_with_the_head(
    station: Watched, box: Postbox
) -> None:
    station.mail_to(box, "manager", digest=True)
    station.look()
    station.deliver()
    assert "all is well" in box.to(MANAGER)[0]["Subject"]  # the first comes at once
    for _ in range(2 * 3):
        station.look(hours=8)
        station.deliver()
    days = [one["Subject"][:23] for one in box.to(MANAGER) if "Our station" in one["Subject"]]
    assert days == [f"Our station, {day} Mar 2026" for day in (3, 4, 5)]
    head = station.manager.ok("GET", "/api/ledger/check")["head"]
    assert head in box.to(MANAGER)[0].get_content()


def test_the_summary_says_what_is_open_and_who_takes_care(station: Watched, box: Postbox) -> None:
    station.low_stallion()
    station.read(station.tank(minimum=8), 7)
    station.look()
    station.acknowledge(station.alert("low-nitrogen"))
    text = station.manager.ok("GET", "/api/alert-digest")["text"]
    assert "Few doses are left" in text.split("Somebody takes care of it")[0]
    assert "The technician" in text
    assert "7 L" in text
    station.mail_to(box, "manager", digest=True)
    station.manager.ok("POST", "/api/alert-digest", {})
    station.deliver()
    assert any("1 to look at, 1 known" in one["Subject"] for one in box.to(MANAGER))


def test_an_outside_watch_hears_every_five_minutes_and_its_silence_is_told(
    station: Watched, monkeypatch: Any
) -> None:
    with receiving() as receiver:
        station.settings(outside_watch_url=f"{receiver.url}/alive")
        path = "/api/alert-settings/outside-watch/test"
        assert station.manager.ok("POST", path) == {"reached": True, "error": None}
        for _ in range(11):
            station.look(minutes=1)
            station.worker.round()
        assert [one.path for one in receiver.asked] == ["/alive"] * 4
        receiver.status = 500
        for _ in range(15):
            station.look(minutes=1)
            station.worker.round()
    alert = station.alert("delivery-failing")
    assert alert["subject"] == "The outside watch"


def test_the_figures_for_prometheus_can_be_read_and_need_a_token(station: Watched) -> None:
    station.read(station.tank(minimum=8), 7)
    station.look()
    assert station.stranger().get("/metrics").status_code == 401
    answer = station.person("auditor").get("/metrics")
    assert answer.headers["content-type"].startswith("text/plain")
    found = {
        (sample.name, *sample.labels.values()): sample.value
        for family in text_string_to_metric_families(answer.text)
        for sample in family.samples
    }
    assert found["rimebook_alerts", "critical", "open"] == 1
    assert found["rimebook_tank_litres", "North"] == 7
    assert found["rimebook_last_watch_timestamp_seconds",] == station.now.timestamp()
    assert len(found) < 100
