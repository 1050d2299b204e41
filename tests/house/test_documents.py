"""README and schemas know every option, every reason and the commands that work."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from typing import get_args

import click
import pytest

from command import commands_below, surroundings
from roundwright.cli.correct import STRICT_REASONS
from roundwright.cli.group import CAUTION
from roundwright.plan.plan import Reason
from roundwright.shared import shared_text
from source_tree import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")


ALL = dict(commands_below())


@pytest.mark.parametrize("path", list(ALL), ids=lambda path: " ".join(path) or "roundwright")
def test_every_help_has_an_example_and_the_caution_and_fits_the_page(path):
    context = click.Context(ALL[path], info_name="roundwright " + " ".join(path), terminal_width=80)
    text = ALL[path].get_help(context)
    assert "Example" in text
    assert " ".join(text.split()).endswith(CAUTION)
    assert all(len(line) <= 80 for line in text.splitlines()), text


@pytest.mark.parametrize("reason", get_args(Reason))
def test_every_reason_has_its_sentence_in_the_readme_and_its_place_in_the_schema(reason):
    assert re.search(rf"^\| `{reason}` \| .{{20,}} \|", README, re.MULTILINE), reason
    schema = json.loads(shared_text("schemas", "roundwright.listing-1.json"))
    assert reason in schema["$defs"]["feature"]["properties"]["reason"]["enum"]


def test_the_strict_reasons_are_reasons_and_the_readme_lists_them():
    assert set(STRICT_REASONS) <= set(get_args(Reason))
    row = next(line for line in README.splitlines() if line.startswith("| `--strict`"))
    assert set(re.findall(r"`([a-z-]+)`", row)) - {"--strict"} == set(STRICT_REASONS)


def test_ci_runs_exactly_the_readme_s_test_command():
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert "python3 tests/run.py" in script
    assert re.search(r"^ *python3 tests/run\.py$", README, re.MULTILINE)
    assert re.search(r"^ *python3 samples/start\.py$", README, re.MULTILINE)


def test_changes_are_the_last_section():
    heads = re.findall(r"^## (.*)$", README, re.MULTILINE)
    assert heads[-1] == "Changes"


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["correct", "--help"]], ids=" ".join)
def test_help_comes_without_the_heavy_libraries(arguments):
    code = (
        "import sys\n"
        "from roundwright.cli import main\n"
        f"main({arguments!r}, standalone_mode=False)\n"
        "print('heavy:', sorted({'numpy', 'pygcode', 'tomlkit'} & set(sys.modules)))\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=surroundings()
    )
    assert run.stdout.splitlines()[-1] == "heavy: []"
