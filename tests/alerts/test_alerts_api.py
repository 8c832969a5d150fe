"""What people do with alerts: acknowledge, put aside, inspect; and who else is told of that."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

from tests.alerts.watched import Watched
from tests.bank.changing import change


def low(station: Watched) -> Any:
    station.low_stallion()
    station.look()
    return station.alert("low-stock")


def act(station: Watched, alert: Any, what: str, role: str = "manager", **body: Any) -> Any:
    path = f"/api/alerts/{alert['id']}/{what}"
    return station.person(role).ok("POST", path, {"id": str(uuid4()), **body})


def refused(station: Watched, alert: Any, what: str, status: int, code: str, **body: Any) -> Any:
    path = f"/api/alerts/{alert['id']}/{what}"
    return station.manager.refused("POST", path, body, status, code)


def test_it_says_who_takes_care_since_when_and_what_they_said(station: Watched) -> None:
    alert = low(station)
    act(station, alert, "acknowledge", "technician", note="Collection on Friday")
    seen = station.one(alert)
    assert (seen["state"], seen["acknowledged_by"]) == ("acknowledged", "The technician")
    told = next(one for one in seen["history"] if one["what"] == "acknowledged")
    assert (told["by"], told["note"]) == ("The technician", "Collection on Friday")


def test_two_who_acknowledge_at_once_are_both_on_record_and_the_first_keeps_it(
    station: Watched,
) -> None:
    alert = low(station)
    act(station, alert, "acknowledge", "technician")
    second = act(station, alert, "acknowledge", "vet")
    assert second["acknowledged_by"] == "The technician"
    assert [one["by"] for one in second["history"] if one["what"] == "acknowledged"] == [
        "The technician",
        "The vet",
    ]


def test_a_double_click_is_one_acknowledgement(station: Watched) -> None:
    alert = low(station)
    path, body = f"/api/alerts/{alert['id']}/acknowledge", {"id": str(uuid4())}
    first = station.technician.post(path, json=body)
    again = station.technician.post(path, json=body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.headers["replayed"] == "true"
    assert station.history(alert) == ["opened", "acknowledged"]


def test_what_came_and_went_unseen_waits_for_somebody_to_look(station: Watched) -> None:
    tank = station.tank(minimum=8)
    station.read(tank, 7)
    station.look()
    station.now += timedelta(minutes=5)
    station.fill(tank, level_after_cm=30)
    station.look(minutes=2)
    alert = station.alert("low-nitrogen")
    assert alert["state"] == "cleared-unseen"
    assert act(station, alert, "acknowledge")["state"] == "closed"
    assert station.alerts(kind="low-nitrogen") == []
    refused(station, alert, "acknowledge", 409, "alert-closed")
    [closed] = station.alerts(state="closed", kind="low-nitrogen")
    assert closed["id"] == alert["id"]


def test_it_is_put_aside_for_a_day_at_most_with_a_reason_and_comes_back_by_itself(
    station: Watched,
) -> None:
    alert = low(station)
    later = (station.now + timedelta(hours=25)).isoformat()
    problem = refused(station, alert, "shelve", 422, "bad-shelf", until=later, reason="known")
    assert problem["errors"][0]["field"] == "until"
    past = (station.now - timedelta(hours=1)).isoformat()
    refused(station, alert, "shelve", 422, "bad-shelf", until=past, reason="known")
    until = (station.now + timedelta(hours=3)).isoformat()
    shelved = act(station, alert, "shelve", until=until, reason="The mare is sold")
    assert (shelved["state"], shelved["shelf_reason"]) == ("shelved", "The mare is sold")
    station.look(hours=3)
    assert station.one(alert)["state"] == "open"
    assert station.history(alert) == ["opened", "shelved", "shelf-ended"]


def test_it_is_taken_down_before_its_time(station: Watched) -> None:
    alert = low(station)
    refused(station, alert, "take-down", 409, "not-shelved")
    until = (station.now + timedelta(hours=3)).isoformat()
    act(station, alert, "shelve", until=until, reason="known")
    assert act(station, alert, "take-down")["state"] == "open"


def test_a_critical_alert_is_never_put_aside(station: Watched) -> None:
    station.read(station.tank(minimum=8), 7)
    station.look()
    until = (station.now + timedelta(hours=1)).isoformat()
    alert = station.alert("low-nitrogen")
    refused(station, alert, "shelve", 409, "never-shelved", until=until, reason="known")


def test_a_tank_that_was_nearly_dry_is_inspected_before_its_alert_ends(station: Watched) -> None:
    tank = station.tank(minimum=8)
    station.read(tank, 3)
    station.look()
    alert = station.alert("low-nitrogen")
    assert alert["inspection_needed"]
    act(station, alert, "acknowledge")
    station.now += timedelta(minutes=5)
    station.fill(tank, level_after_cm=30)
    station.look(minutes=2)
    assert station.alert("low-nitrogen")["state"] == "acknowledged"
    done = act(station, alert, "inspection", "technician", found="Upper goblets dry; on hold")
    assert done["state"] == "closed"
    refused(station, alert, "inspection", 409, "alert-closed", found="again")
    other = low(station)
    refused(station, other, "inspection", 409, "nothing-to-inspect", found="nothing")


def test_many_are_taken_care_of_at_once(station: Watched) -> None:
    for _ in range(3):
        station.low_stallion()
    station.look()
    ids = [alert["id"] for alert in station.alerts()]
    done = station.technician.ok("POST", "/api/alerts/acknowledge", {"ids": ids})
    assert [one["state"] for one in done["items"]] == ["acknowledged"] * 3


def test_lists_go_by_state_and_kind_in_pages(station: Watched) -> None:
    for _ in range(3):
        station.low_stallion()
    station.look()
    first = station.manager.ok("GET", "/api/alerts?limit=2&kind=low-stock")
    second = station.manager.ok("GET", f"/api/alerts?limit=2&after={first['next']}")
    assert len(first["items"] + second["items"]) == 3
    assert station.manager.get("/api/alerts?state=dreaming").status_code == 422
    missing = f"/api/alerts/{uuid4()}"
    assert station.manager.get(missing).json()["code"] == "unknown-alert"


def test_secrets_are_shown_once_and_never_again(station: Watched) -> None:
    path, body = (
        "/api/alert-channels",
        {
            "id": str(uuid4()),
            "name": "Board",
            "kind": "webhook",
            "target": "http://127.0.0.1:9/board?key=hidden",
        },
    )
    made = station.manager.ok("POST", path, body)
    assert made["secret"].startswith("whsec_")
    again = station.manager.ok("POST", path, body, status=200)
    assert again["secret"] is None
    renewed = station.manager.ok("POST", f"{path}/{made['id']}/secret")
    station.settings(mail_password="s3cret-word", outside_watch_url="http://127.0.0.1:9/?k=hidden")
    shown = "".join(
        station.manager.get(one).text
        for one in (
            path,
            f"{path}/{made['id']}",
            f"{path}/{made['id']}/changes",
            "/api/alert-settings",
            "/api/alert-settings/changes",
            "/api/alerts/watch",
        )
    )
    for secret in (made["secret"], renewed["secret"], "hidden", "s3cret-word"):
        assert secret not in shown


def test_an_address_inside_is_refused_unless_a_setting_allows_it(
    station: Watched, monkeypatch: Any
) -> None:
    monkeypatch.setattr(type(station.worker), "private_allowed", False)
    hook = {"name": "Board", "kind": "webhook", "target": "https://127.0.0.1/board"}
    station.manager.refused("POST", "/api/alert-channels", hook, 422, "address-refused")
    etag = station.manager.get("/api/alert-settings").headers["etag"]
    answer = station.manager.patch(
        "/api/alert-settings",
        json={"outside_watch_url": "https://169.254.169.254/"},
        headers={"If-Match": etag},
    )
    assert (answer.status_code, answer.json()["code"]) == (422, "address-refused")
    mail = {"name": "Mail", "kind": "email", "target": "a@b.example\r\nBcc: c@d.example"}
    station.manager.refused("POST", "/api/alert-channels", mail, 422, "bad-mailbox")


def test_a_rota_names_only_people_whom_a_channel_reaches(station: Watched) -> None:
    rows = [{"weekday": 0, "at": "07:00", "person_id": str(station.id_of("vet"))}]
    etag = station.manager.get("/api/duty").headers["etag"]
    answer = station.manager.patch(
        "/api/duty", json={"handovers": rows}, headers={"If-Match": etag}
    )
    assert (answer.status_code, answer.json()["code"]) == (409, "cannot-be-told")
    assert "The vet" in answer.json()["detail"]
    station.channel(
        name="Vet", kind="email", target="vet@station.example", person_id=rows[0]["person_id"]
    )
    change(station.manager, "/api/duty", {"handovers": rows})
    shifts = station.manager.ok("GET", "/api/duty/shifts")["items"]
    assert {one["person_name"] for one in shifts} == {"The vet"}
    assert station.manager.ok("GET", "/api/alerts/watch")["on_duty"]["name"] == "The vet"


def test_changes_start_from_what_was_read(station: Watched) -> None:
    missing = station.manager.patch("/api/alert-settings", json={"digest_at": "06:00"})
    assert missing.status_code == 428
    stale = station.manager.patch(
        "/api/alert-settings", json={"digest_at": "06:00"}, headers={"If-Match": '"old"'}
    )
    assert stale.status_code == 412
    half = station.manager.patch(
        "/api/alert-settings",
        json={"quiet_from": "22:00"},
        headers={"If-Match": station.manager.get("/api/alert-settings").headers["etag"]},
    )
    assert (half.status_code, half.json()["code"]) == (422, "bad-quiet-hours")


def test_how_good_they_are_is_counted(station: Watched) -> None:
    tank = station.tank(minimum=8)
    station.read(tank, 7)
    low(station)
    station.look()
    station.now += timedelta(minutes=10)
    act(station, station.alert("low-nitrogen"), "acknowledge")
    station.fill(tank, level_after_cm=30)
    station.look(minutes=2)
    told = station.manager.ok("GET", "/api/alerts/quality?days=30")
    kinds = {one["kind"]: one for one in told["kinds"]}
    nitrogen, stock = kinds["low-nitrogen"], kinds["low-stock"]
    assert (nitrogen["alerts"], nitrogen["acknowledged"], nitrogen["led_to_an_act"]) == (1, 1, 1)
    assert 10 <= nitrogen["median_minutes_to_acknowledge"] < 12
    assert (stock["acknowledged"], stock["median_minutes_to_acknowledge"]) == (0, None)
    goals = {goal["name"]: (goal["value"], goal["met"]) for goal in told["goals"]}
    assert goals["Critical alerts that led to an act, per cent"] == (100, True)
    assert goals["Critical alerts of all, per cent"] == (50, False)
    assert goals["Messages by one channel within 12 hours, at most"] == (0, True)
