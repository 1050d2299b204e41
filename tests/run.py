"""The tests from nothing but Python 3.11: installs with the tools of development, runs every check.

    python3 tests/run.py

Run inside a virtual environment it uses that one; else it makes, or uses again, the folder .venv.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "samples"))

from start import install, run, started  # the one in samples/

#: the rooms' own tests: quick, and together they reach nearly every branch, so that coverage costs little.
ROOMS = (
    "calibration cli coupon find house pipeline plan prove published read report rewrite trace "
    "whole/test_cases.py"
)
#: long runs, which no coverage shall slow down.
LONG = "browser fuzz mutants shop whole"


def _folders(names: str) -> str:
    return " ".join(f"tests/{name}" for name in names.split())


CHECKS = (
    "ruff check .",
    "ruff format --check .",
    "mypy",
    f"pytest -n 2 --cov --cov-report=term:skip-covered {_folders(ROOMS)}",
    f"pytest -n 2 {_folders(LONG)} --ignore=tests/whole/test_cases.py",
)


def tests(interpreter: str) -> bool:
    """Style, types, tests; all of them, whatever fails."""
    install(interpreter, ".[dev]")
    went_well = [run(interpreter, "-m", *check.split(), shown=check) for check in CHECKS]
    return all(went_well)


if __name__ == "__main__":
    sys.exit(started(tests))
