"""The face of the library: its examples run, its names are those of its rooms, and it is typed."""

from __future__ import annotations

import doctest
import subprocess
import sys

import pytest

import roundwright
from command import surroundings

FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE


def test_the_examples_of_the_library_page_run():
    result = doctest.testmod(roundwright, optionflags=FLAGS)
    assert result.attempted >= 12 and result.failed == 0


@pytest.mark.parametrize("name", roundwright.__all__)
def test_every_public_name_is_there_and_documented(name):
    assert getattr(roundwright, name).__doc__


def test_a_name_that_is_not_there_is_an_attribute_error():
    assert sorted(roundwright._ROOM) == roundwright.__all__
    with pytest.raises(AttributeError, match="no attribute 'corect'"):
        _ = roundwright.corect


def test_the_face_alone_imports_no_room():
    code = "import roundwright, sys; print(sorted(m for m in sys.modules if m.startswith('roundwright.')))"
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=surroundings()
    )
    assert run.stdout.strip() == "['roundwright.lazy']"


USE = """\
import roundwright
table: roundwright.Table = roundwright.open_table("")
outcome: roundwright.Outcome = roundwright.correct(b"", "a.nc", table, roundwright.Settings(material="oak"))
output: bytes | None = outcome.output
{more}
"""


@pytest.mark.parametrize(
    ("more", "wrong"), [("", False), ("roundwright.correct('text', 'a.nc', 1, 2)", True)]
)
def test_uses_of_the_face_are_typed(tmp_path, more, wrong):
    (tmp_path / "use.py").write_text(USE.format(more=more))
    command = [sys.executable, "-m", "mypy", "--strict", "--cache-dir", str(tmp_path / "cache"), "use.py"]
    run = subprocess.run(
        command, cwd=tmp_path, capture_output=True, text=True, env=surroundings(), check=False
    )
    assert (run.returncode != 0) == wrong, run.stdout
