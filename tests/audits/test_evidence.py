"""What is sent to the auditor is checked on a machine that has only Python."""

import io
import json
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest

from tests.audits.test_stock_takes_api import Take, adjustment, count_all, of
from tests.banks import Bank
from tests.conftest import Client


@pytest.fixture
def closed(auditor: Client, technician: Client, vet: Client, manager: Client, bank: Bank) -> Take:
    """Counted while work went on; two missing, explained and approved; signed and closed."""
    take = Take(auditor, {})
    vet.ok("POST", "/api/withdrawals", bank.withdrawal(picks=[bank.pick(2, 4)]))
    count_all(take, technician, bank, (18, 0, 16, 0))
    take.compare()
    made = auditor.ok("POST", f"{take.path}/adjustments", adjustment(bank, 0, -2))
    manager.ok("POST", f"{take.path}/adjustments/{made['id']}/approve", {})
    auditor.ok("POST", f"{take.path}/reviews", {"meaning": "agreed", "note": "Two lost, explained"})
    auditor.ok("POST", f"{take.path}/close", {})
    return take


def unpacked(take: Take, folder: Path) -> Path:
    answer = take.auditor.get(f"{take.path}/evidence.zip")
    assert answer.status_code == 200, answer.text
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        archive.extractall(folder)
    return folder


def verified(folder: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-I", "-S", "verify_report.py", "report.json", "ledger.jsonl"]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


def test_the_report_verifies_with_nothing_but_python(closed: Take, tmp_path: Path) -> None:
    folder = unpacked(closed, tmp_path)
    done = verified(folder)
    assert done.returncode == 0, done.stdout + done.stderr
    assert (folder / "report.pdf").read_bytes().startswith(b"%PDF")


def test_an_entry_that_was_changed_is_named(closed: Take, tmp_path: Path) -> None:
    folder = unpacked(closed, tmp_path)
    ledger = folder / "ledger.jsonl"
    lines = ledger.read_text().splitlines()
    entry = json.loads(lines[1])
    entry["by_name"] = "Somebody else"
    lines[1] = json.dumps(entry)
    ledger.write_text("\n".join(lines))
    done = verified(folder)
    assert done.returncode == 1
    assert "2" in done.stdout


def test_a_number_that_was_changed_in_the_report_is_found(closed: Take, tmp_path: Path) -> None:
    folder = unpacked(closed, tmp_path)
    report: Any = json.loads((folder / "report.json").read_text())
    report["goblets"][0]["counted"] = {of(_named(report), 20)[0]["batch_code"]: 20}
    (folder / "report.json").write_text(json.dumps(report))
    assert verified(folder).returncode == 1


def _named(report: Any) -> Any:
    class Named:
        batch_code = report["batches"][0]["code"]

    return Named
