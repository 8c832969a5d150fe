"""Everything that must hold, in the order of how fast it fails. Run: python tests/all.py"""

import subprocess
import sys
import sysconfig
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SCRIPTS = Path(sysconfig.get_path("scripts"))

CHECKS: tuple[tuple[str, ...], ...] = (
    ("ruff", "check", "--quiet"),
    ("ruff", "format", "--check", "--quiet"),
    ("lint-imports", "--no-cache"),
    ("mypy",),
    ("pytest", "-q"),
)


def main() -> int:
    """Run every check; stop at the first that fails."""
    for name, *arguments in CHECKS:
        print(f"--- {name} {' '.join(arguments)}", flush=True)
        done = subprocess.run([SCRIPTS / name, *arguments], cwd=ROOT, check=False)
        if done.returncode:
            return done.returncode
    return 0


if __name__ == "__main__":
    sys.exit(main())
