"""An import whose process is killed in the middle leaves nothing behind."""

import signal
import subprocess
import sys
from pathlib import Path

from tests import building
from tests.conftest import Client

ROWS = 2_000


def test_a_killed_import_has_booked_nothing(tmp_path: Path, data: Path, manager: Client) -> None:
    tank = building.tank("Large", canisters=5, goblets=4, straws=1_000)
    goblets = building.goblets_of(manager.ok("POST", "/api/tanks", tank))
    manager.ok("POST", "/api/stallions", building.stallion())
    lines = ["stallion,place,straws,mark"]
    lines += [
        f"Lanternfield,{goblets[number % len(goblets)]['address']},10,M{number}"
        for number in range(ROWS)
    ]
    file = tmp_path / "old.csv"
    file.write_text("\n".join(lines))
    command = [sys.executable, "-m", "service", "import", str(file), "--as", "vet"]
    with subprocess.Popen(
        [*command, "--data", str(data)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    ) as importing:
        assert importing.stderr is not None
        told = importing.stderr.readline()
        importing.send_signal(signal.SIGKILL)
    assert "of 2,000 rows" in told
    assert importing.returncode == -signal.SIGKILL
    assert manager.ok("GET", "/api/stock")["straws"] == 0
    assert manager.ok("GET", "/api/ledger")["items"] == []
