"""The commands, as a person types them who has only the README."""

import re
import subprocess
import sys
from pathlib import Path

import httpx
import pytest

from tests.backups.test_backups import replayed
from tests.migrations import golden_books
from tests.proof.banks import add_vet, signed_in
from tests.serving import rimebook, running


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "service", *arguments]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert "Traceback" not in done.stderr, done.stderr
    return done


@pytest.fixture
def data(tmp_path: Path) -> str:
    """A folder with the golden book."""
    golden_books.first_shape(tmp_path / "data")
    return str(tmp_path / "data")


def test_from_last_nights_backup_to_a_bank_that_is_served(data: str, tmp_path: Path) -> None:
    (tmp_path / "disk").mkdir()
    backup = run("backup", "--data", data, "--to", str(tmp_path / "disk"))
    assert (backup.returncode, golden_books.HEAD in backup.stdout) == (0, True), backup.stderr
    drill = run("restore", "--drill", str(tmp_path / "disk"))
    assert (drill.returncode, "Nothing was restored" in drill.stdout) == (0, True), drill.stderr
    new = tmp_path / "new"
    restored = run("restore", str(tmp_path / "disk"), "--data", str(new))
    assert restored.returncode == 0, restored.stderr
    for said in (golden_books.HEAD, "45 stored", "signed in", "It took", "What to do next"):
        assert said in restored.stdout
    with running(rimebook(new)) as server, httpx.Client(base_url=server.address) as person:
        person.headers["Origin"] = server.address
        body = {"username": golden_books.USERNAME, "password": golden_books.PASSWORD}
        assert person.post("/api/session", json=body).status_code == 204
        assert person.get("/api/stock").json()["straws"] == 45
    again = run("restore", str(tmp_path / "disk"), "--data", str(new))
    assert (again.returncode, "NEWER than the backup: 0 entries and 1 account" in again.stderr) == (
        1,
        True,
    ), again.stderr


def test_a_backup_while_the_service_runs(tmp_path: Path) -> None:
    add_vet(tmp_path / "data")
    with running(rimebook(tmp_path / "data")) as server, signed_in(server.address, "vet") as vet:
        done = run("backup", "--data", str(tmp_path / "data"))
        assert done.returncode == 0, done.stderr
        assert "same disk as the book" in done.stdout
        assert len(vet.get("/api/backups").json()["items"]) == 1


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["backup", "--data", "{data}", "--to", "{tmp}/gone"], "is not there"),
        (["backup", "--data", "{tmp}/nowhere"], "There is no book in"),
        (["restore", "{tmp}/gone", "--data", "{tmp}/new"], "no file or folder"),
        (["restore", "{tmp}", "--data", "{tmp}/new"], "No backup is in"),
        (["restore", "{data}/rimebook.db", "--data", "{tmp}/new"], "Copy both files"),
        (["restore", "{tmp}"], "Name a new folder"),
        (["copy", "--from", "{tmp}/gone", "--to", "{tmp}/new"], "no book in the folder"),
        (["copy", "--from", "{data}", "--to", "mysql://host/book"], "not supported"),
        (["copy", "--from", "{data}", "--to", "postgresql://127.0.0.1:1/x"], "cannot be opened"),
    ],
)
def test_what_cannot_be_done_is_said_in_words(
    data: str, tmp_path: Path, arguments: list[str], said: str
) -> None:
    done = run(*(word.format(data=data, tmp=tmp_path) for word in arguments))
    assert done.returncode == 1
    assert said in done.stderr
    assert not (tmp_path / "new").exists()
    assert not (tmp_path / "gone").exists()


def test_a_backup_that_cannot_be_written_leaves_nothing(data: str, tmp_path: Path) -> None:
    """No file may grow beyond a hundred kilobytes, as on a disk that fails."""
    limited = (
        "import resource, runpy, sys; resource.setrlimit(resource.RLIMIT_FSIZE, (100_000,) * 2);"
        "sys.argv[0] = 'rimebook'; runpy.run_module('service', run_name='__main__')"
    )
    assert run("check", "--data", data).returncode == 0
    (tmp_path / "disk").mkdir()
    words = ["backup", "--data", data, "--to", str(tmp_path / "disk")]
    command = [sys.executable, "-c", limited, *words]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, "The backup was not made" in done.stderr) == (1, True), done.stderr
    assert "Traceback" not in done.stderr
    assert [path.name for path in (tmp_path / "disk").iterdir()] == [".rimebook-backups.lock"]


def test_a_copy_on_another_folder_says_the_same(data: str, tmp_path: Path) -> None:
    done = run("copy", "--from", data, "--to", str(tmp_path / "new"))
    assert (done.returncode, golden_books.HEAD in done.stdout) == (0, True), done.stderr
    there, here = (Path(folder) / "rimebook.db" for folder in (data, tmp_path / "new"))
    assert replayed(there) == replayed(here)


def test_the_start_after_an_upgrade_tells_of_the_backup(data: str) -> None:
    with running(rimebook(Path(data))):
        pass
    log = (Path(data).parent / "server.log").read_text()
    assert re.search(r"the backup is before-0001-\d{8}T\d{6}\.db, verified", log), log
