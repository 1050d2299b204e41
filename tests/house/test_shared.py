"""The data files are found in a checkout and in an installed package."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from command import surroundings
from roundwright import shared
from source_tree import ROOT

SCHEMA = ("schemas", "roundwright.listing-1.json")


def test_a_file_is_found_and_is_the_repository_s():
    assert shared.shared_bytes(*SCHEMA) == ROOT.joinpath("shared", *SCHEMA).read_bytes()
    assert json.loads(shared.shared_text(*SCHEMA))["$id"] == "roundwright.listing/1"


@pytest.mark.parametrize("place", ["checkout", "wheel"])
def test_a_file_is_found_in_either_place(place, tmp_path):
    if place == "checkout":
        home, data = tmp_path / "src" / "roundwright", tmp_path / "shared"
    else:
        home = tmp_path / "site" / "roundwright"
        data = home / "_shared"
    home.mkdir(parents=True)
    (data / "schemas").mkdir(parents=True)
    (home / "__init__.py").write_text("")
    (home / "shared.py").write_bytes((ROOT / "src" / "roundwright" / "shared.py").read_bytes())
    (data / "schemas" / "a.json").write_text(place)
    code = "from roundwright.shared import shared_text; print(shared_text('schemas', 'a.json'))"
    env = surroundings(PYTHONPATH=str(home.parent))
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env=env)
    assert run.stdout.strip() == place


def test_a_broken_installation_is_named():
    with pytest.raises(FileNotFoundError, match=r"shared/schemas/none\.json"):
        shared.shared_file("schemas", "none.json")
