"""Run everything that must pass: lint, format, types, tests. ``python -m tests [pytest arguments]``."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
CHECKS = (
    ["ruff", "check", "."],
    ["ruff", "format", "--check", "."],
    ["mypy"],
    ["pytest", "--numprocesses", "auto"],
)


def main() -> int:
    """Run each check, the tests last; the first exit status that is not zero."""
    status = 0
    for module, *arguments in CHECKS:
        extra = sys.argv[1:] if module == "pytest" else []
        print(f"== {module}", flush=True)
        status = subprocess.call([sys.executable, "-m", module, *arguments, *extra], cwd=ROOT) or status
    return status


if __name__ == "__main__":
    sys.exit(main())
