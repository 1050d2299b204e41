"""A run loads what it needs, and no more: of a small program the start is most of the time."""

from __future__ import annotations

import subprocess
import sys

import pytest

from source_tree import ROOT

_SAY = """
import sys
from roundwright.cli import main
try:
    main()
finally:
    print(*sys.modules, file=sys.stderr)
"""
#: each of them costs 2 to 20 ms, and neither help nor a small job needs any.
SPARED = {
    *("numpy.ma", "scipy", "jinja2", "matplotlib"),
    *("pathlib", "csv", "json", "roundwright.calibration.addition", "roundwright.calibration.fits"),
    *("importlib.metadata", "importlib.resources", "fractions", "hashlib", "secrets", "tempfile"),
}


def loaded(*arguments: str) -> set[str]:
    """The modules that a run has loaded when it ends."""
    done = subprocess.run(
        [sys.executable, "-c", _SAY, *arguments], capture_output=True, text=True, cwd=ROOT, timeout=120
    )
    assert done.returncode == 0, done.stderr
    return set(done.stderr.splitlines()[-1].split())


@pytest.mark.parametrize(
    "arguments",
    [
        ("--help",),
        ("correct", "samples/bearing-block.nc", "-t", "samples/shop-router.toml"),
    ],
    ids=["help", "job"],
)
def test_a_run_loads_no_more_than_it_needs(arguments: tuple[str, ...]) -> None:
    modules = loaded(*arguments)
    assert "roundwright.cli.group" in modules
    assert not SPARED & modules


def test_help_asks_for_no_room_and_no_columns() -> None:
    assert not {"numpy", "pygcode", "roundwright.pipeline", "roundwright.calibration"} & loaded("--help")
