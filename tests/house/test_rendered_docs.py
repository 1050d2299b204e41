"""The docstrings of every module are rendered by pdoc, a general documentation tool, without a warning."""

from __future__ import annotations

import subprocess
import sys

from command import surroundings
from source_tree import modules

RENDER = """
import sys, warnings
from pathlib import Path
import pdoc, roundwright
warnings.simplefilter("error")
warnings.filterwarnings("ignore", "The module specification")  # a room's own name brings its modules along
for name in roundwright.__all__:
    getattr(roundwright, name)  # the face is lazy; pdoc sees what is there
pdoc.pdoc(*sys.argv[2:], output_directory=Path(sys.argv[1]))
"""


def test_every_module_is_rendered_without_a_warning(tmp_path):
    names = [f"roundwright.{one.name}".removesuffix(".") for one in modules() if one.name != "__main__"]
    command = [sys.executable, "-c", RENDER, str(tmp_path), *names]
    run = subprocess.run(command, capture_output=True, text=True, env=surroundings(), check=False)
    assert run.returncode == 0 and run.stderr == "", run.stderr
    pages = {path.relative_to(tmp_path).with_suffix("").as_posix() for path in tmp_path.rglob("*.html")}
    assert {name.replace(".", "/") for name in names} <= pages
    assert "list_features" in (tmp_path / "roundwright.html").read_text(encoding="utf-8")
