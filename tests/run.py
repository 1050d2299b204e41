"""The tests from nothing but Python 3.11: installs with the tools of development, runs every check.

    python3 tests/run.py

Run inside a virtual environment it uses that one; else it makes, or uses again, the folder .venv.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "samples"))

from start import install, run, started  # the one in samples/

CHECKS = ("ruff check .", "ruff format --check .", "mypy", "pytest -n 2")


def tests(interpreter: str) -> bool:
    """Style, types, tests; all of them, whatever fails."""
    install(interpreter, ".[dev]")
    went_well = [run(interpreter, "-m", *check.split(), shown=check) for check in CHECKS]
    return all(went_well)


if __name__ == "__main__":
    sys.exit(started(tests))
