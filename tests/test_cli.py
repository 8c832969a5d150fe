"""The command line, as a person at the station meets it."""

import re
import sqlite3
import subprocess
import sys
import threading
import time
from contextlib import closing
from pathlib import Path

import httpx
import pytest

from tests.proof.banks import PASSWORD, add_vet, signed_in
from tests.serving import rimebook, running


def run(*arguments: str, given: str = "") -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "service", *arguments]
    return subprocess.run(command, input=given, capture_output=True, text=True, check=False)


def test_an_empty_folder_starts_and_its_code_makes_the_first_manager(tmp_path: Path) -> None:
    server = rimebook(tmp_path / "new" / "folder")
    (tmp_path / "new").mkdir()
    with running(server):
        said = (tmp_path / "new" / "server.log").read_text()
        found = re.search(r"user name +(\S+)\s+one-time code +(\S+)\s+good until +\d\d ", said)
        assert found, said
        with httpx.Client(base_url=server.address, headers={"Origin": server.address}) as browser:
            sign_in = {"username": found[1], "password": found[2]}
            assert browser.post("/api/session", json=sign_in).status_code == 204
            assert browser.get("/api/stock").json()["code"] == "password-needed"
            password = {"password": "a password of my own choice"}
            assert browser.post("/api/session/password", json=password).status_code == 204
            assert browser.get("/api/session").json()["role"] == "manager"
            assert browser.post("/api/session", json=sign_in).status_code == 401
        assert server.stop() == 0


def test_a_person_is_added_while_the_service_runs(tmp_path: Path) -> None:
    data = tmp_path / "data"
    with running(rimebook(data)) as server:
        add_vet(data)
        with signed_in(server.address, "vet") as vet:
            assert vet.get("/api/session").json()["role"] == "vet"


def test_a_second_server_on_the_same_folder_is_refused_in_words(tmp_path: Path) -> None:
    data = tmp_path / "data"
    with running(rimebook(data)):
        second = run("serve", "--port", "0", "--data", str(data))
    assert second.returncode == 1
    assert "Another Rimebook already serves" in second.stderr
    assert "Traceback" not in second.stderr


def test_a_weak_password_and_a_taken_name_are_refused_in_words(tmp_path: Path) -> None:
    add = ("user", "add", "vera", "--role", "vet", "--password-stdin", "--data", str(tmp_path))
    weak = run(*add, given="short\n")
    assert (weak.returncode, "Traceback" in weak.stderr) == (1, False)
    assert run(*add, given=PASSWORD).returncode == 0
    taken = run(*add, given=PASSWORD)
    assert (taken.returncode, "taken" in taken.stderr) == (1, True)


def test_without_a_password_a_one_time_code_is_shown(tmp_path: Path) -> None:
    added = run("user", "add", "tom", "--role", "technician", "--data", str(tmp_path))
    assert added.returncode == 0
    assert re.search(r"one-time code +\S{8,}", added.stdout)


def test_a_lost_password_is_reset_by_command(tmp_path: Path) -> None:
    add_vet(tmp_path)
    nobody = run("user", "reset", "nobody", "--data", str(tmp_path))
    assert (nobody.returncode, "Traceback" in nobody.stderr) == (1, False)
    done = run("user", "reset", "VET", "--data", str(tmp_path))
    assert (done.returncode, bool(re.search(r"one-time code +\S{8,}", done.stdout))) == (0, True)


def test_check_says_sound_only_of_a_sound_book(tmp_path: Path) -> None:
    nothing = run("check", "--data", str(tmp_path / "nowhere"))
    assert (nothing.returncode, (tmp_path / "nowhere").exists()) == (1, False)
    add_vet(tmp_path)
    sound = run("check", "--data", str(tmp_path))
    assert (sound.returncode, sound.stdout.strip().endswith(": sound")) == (0, True)
    with closing(sqlite3.connect(tmp_path / "rimebook.db", isolation_level=None)) as book:
        book.execute(
            "INSERT INTO entries (seq, id, kind, by_id, by_name, occurred_at, recorded_at, facts,"
            " hash) VALUES (1, 'a', 'move', 'b', 'Nobody', '2026', '2026', '{}', 'made up')"
        )
    broken = run("check", "--data", str(tmp_path))
    assert broken.returncode == 1
    assert "Entry 1 was changed" in broken.stderr


def test_a_newer_book_is_refused_without_a_trace(tmp_path: Path) -> None:
    add_vet(tmp_path)
    with closing(sqlite3.connect(tmp_path / "rimebook.db", isolation_level=None)) as book:
        book.execute("UPDATE alembic_version SET version_num = '9999'")
    refused = run("serve", "--port", "0", "--data", str(tmp_path))
    assert refused.returncode == 1
    assert "written by a newer Rimebook" in refused.stderr
    assert "Traceback" not in refused.stderr


@pytest.mark.parametrize("times", [3])
def test_a_stop_finishes_what_is_in_flight(tmp_path: Path, times: int) -> None:
    """SIGTERM while a client writes without pause: what was answered is there."""
    data = tmp_path / "data"
    add_vet(data)
    server = rimebook(data)
    acknowledged: set[str] = set()
    broken: list[str] = []

    def write(client: httpx.Client) -> None:
        while True:
            try:
                answer = client.post("/api/mares", json={"name": "Bramblewick"})
            except httpx.ConnectError:
                return  # nobody listens any more
            except httpx.TransportError as error:
                broken.append(repr(error))
                return
            if answer.status_code != 201:
                return
            acknowledged.add(answer.json()["id"])

    for _ in range(times):
        with running(server):
            client = signed_in(server.address, "vet")
            writer = threading.Thread(target=write, args=(client,))
            writer.start()
            time.sleep(0.3)
            assert server.stop() == 0
            writer.join()
            client.close()
    with closing(sqlite3.connect(data / "rimebook.db")) as book:
        kept = {id for (id,) in book.execute("SELECT id FROM mares")}
    assert acknowledged
    assert {id.replace("-", "") for id in acknowledged} <= kept
    # A kept connection may be closed between two requests, never in the middle of an answer.
    assert all("disconnected without sending" in one for one in broken), broken
