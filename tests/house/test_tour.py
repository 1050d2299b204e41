"""The tour in the README shows what the product prints and writes, to the letter."""

from __future__ import annotations

import re
import shlex
import shutil

import pytest

from command import run
from source_tree import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
CONSOLE = re.findall(r"^```console\n\$ roundwright (.*)\n((?:.|\n)*?)^```$", README, re.MULTILINE)
DIFFS = re.findall(r"^```diff\n((?:.|\n)*?)^```$", README, re.MULTILINE)


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """A copy of the samples, seen as the README sees them."""
    shutil.copytree(ROOT / "samples", tmp_path / "samples")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize(("command", "shown"), CONSOLE, ids=[command for command, _ in CONSOLE])
def test_the_tour_prints_what_is_printed(shop, command, shown):
    result = run(*shlex.split(command))
    assert result.status == 0, result.err
    printed = result.out.decode() + result.err
    head, ellipsis, tail = shown.partition("...\n")
    if ellipsis:
        assert printed.startswith(head) and printed.endswith(tail)
    else:
        assert printed == shown


def test_the_tour_shows_lines_of_the_corrected_program(shop):
    command = next(command for command, _ in CONSOLE if " -o " in command)
    assert run(*shlex.split(command)).status == 0
    before = (shop / "samples" / "bearing-block.nc").read_text().splitlines()
    after = (shop / "bearing-block-c.nc").read_text().splitlines()
    for line in DIFFS[0].splitlines():
        old, new = line[1:] in before, line[1:] in after
        if not line.startswith("+(roundwright "):  # the stamp names the version
            assert (old, new) == ((False, True) if line[0] == "+" else (True, False)), line
