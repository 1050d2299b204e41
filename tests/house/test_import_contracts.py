"""The contracts of `pyproject.toml` on who may import whom, judged by import-linter over whole chains."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from command import surroundings
from source_tree import ROOT, SOURCE

LINT = "from importlinter.cli import lint_imports_command; lint_imports_command()"


def judged(source: Path) -> subprocess.CompletedProcess[str]:
    """Import-linter with the project's contracts, over the package in a folder."""
    command = [sys.executable, "-c", LINT, "--no-cache", str(ROOT / "pyproject.toml")]
    env = surroundings(PYTHONPATH=str(source))
    return subprocess.run(command, cwd=source, env=env, capture_output=True, text=True, check=False)


def test_the_contracts_hold():
    run = judged(SOURCE.parent)
    assert run.returncode == 0, run.stdout + run.stderr
    assert "5 kept, 0 broken" in run.stdout


@pytest.mark.parametrize(
    ("module", "line"),
    [
        ("read/scan.py", "from roundwright.trace import Moves"),
        ("find/near.py", "from roundwright.calibration import Table"),
        ("calibration/reading.py", "from roundwright.read import Program"),
        ("report/ruler.py", "from roundwright.rewrite import rewrite_program"),
        ("plan/plan.py", "from roundwright.plan.planner import plan_corrections"),  # a circle inside a room
    ],
)
def test_a_broken_contract_is_seen(tmp_path, module, line):
    shutil.copytree(SOURCE, tmp_path / "roundwright", ignore=shutil.ignore_patterns("__pycache__"))
    with (tmp_path / "roundwright" / module).open("a", encoding="utf-8") as file:
        file.write(f"\n{line}\n")
    run = judged(tmp_path)
    assert run.returncode == 1 and re.search(r"[1-5] broken", run.stdout), run.stdout + run.stderr
