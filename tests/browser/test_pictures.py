"""The pictures of README.md: there, small, up to date, and made anew by their script."""

from __future__ import annotations

import importlib.util
import re
import subprocess
import sys

import pytest

import command
from source_tree import ROOT

FOLDER = ROOT / "samples" / "pictures"
STALE = "the pictures of README.md are out of date: python3 samples/pictures.py makes them anew"
image = pytest.importorskip("PIL.Image", reason="no Pillow here; it comes with matplotlib")


@pytest.fixture(scope="module")
def script():
    """samples/pictures.py as a module."""
    spec = importlib.util.spec_from_file_location("pictures", ROOT / "samples" / "pictures.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # its dataclasses look themselves up
    spec.loader.exec_module(module)
    return module


def test_the_readme_shows_each_picture_and_says_what_is_seen(script):
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = re.findall(r'<img src="samples/pictures/([\w.-]+)"[^>]*alt="([^"]{20,})"', text)
    assert sorted(name for name, _ in shown) == sorted(script.PICTURES)
    assert sorted(path.name for path in FOLDER.iterdir()) == sorted(script.PICTURES)


def test_they_are_small_and_up_to_date(script, monkeypatch):
    monkeypatch.setenv("PYTHONPATH", command.surroundings()["PYTHONPATH"])
    made_from = script.fingerprint()
    for name in script.PICTURES:
        path = FOLDER / name
        assert path.stat().st_size < 150_000
        assert image.open(path).text[script.KEY] == made_from, STALE


def test_the_script_makes_them_anew(driver, script, tmp_path):
    made = tmp_path / "made"
    words = [sys.executable, ROOT / "samples" / "pictures.py", made]
    done = subprocess.run(words, capture_output=True, text=True, env=command.surroundings(), check=False)
    assert done.returncode == 0, done.stderr
    for name in script.PICTURES:
        new, old = (image.open(folder / name).convert("L").resize((64, 64)) for folder in (made, FOLDER))
        pairs = zip(new.tobytes(), old.tobytes(), strict=True)
        assert sum(abs(a - b) for a, b in pairs) / 64**2 < 16, f"{name}: {STALE}"  # other fonts, same page
