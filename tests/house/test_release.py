"""What is released: one version, a wheel that holds what a run needs, a source archive that holds all."""

from __future__ import annotations

import re
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from pathlib import Path

import pytest

from command import surroundings
from roundwright.version import __version__
from source_tree import ROOT, SOURCE

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def kept(folder: Path) -> set[str]:
    """The files of a folder that belong to the project."""
    return {
        path.relative_to(folder).as_posix()
        for path in folder.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Path:
    """A folder with the wheel and the source archive, built from this tree without network."""
    folder = tmp_path_factory.mktemp("dist")
    command = [sys.executable, "-m", "hatchling", "build", "-d", str(folder)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return folder


def test_the_version_stands_in_one_place_and_the_documents_know_it(built):
    assert PROJECT["dynamic"] == ["version"]
    assert [path.name for path in SOURCE.rglob("*.py") if __version__ in path.read_text("utf-8")] == [
        "version.py"
    ]
    assert {path.name for path in built.iterdir()} == {
        f"roundwright-{__version__}-py3-none-any.whl",
        f"roundwright-{__version__}.tar.gz",
    }
    changes = README.partition("\n## Changes\n")[2]
    assert re.findall(r"^### (.*)$", changes, re.MULTILINE)[0] == __version__
    assert f"(roundwright {__version__}: circles corrected" in README


def test_the_wheel_holds_the_package_and_its_data_and_nothing_else(built):
    (wheel,) = built.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        names = {name for name in archive.namelist() if not name.startswith("roundwright-")}
    package = {f"roundwright/{name}" for name in kept(SOURCE)}
    assert "roundwright/py.typed" in package
    assert names == package | {f"roundwright/_shared/{name}" for name in kept(ROOT / "shared")}


def test_the_wheel_runs_with_the_tree_out_of_sight(built, tmp_path):
    (wheel,) = built.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(tmp_path / "site")
    (tmp_path / "run").mkdir()
    samples = ROOT / "samples"
    job = ["-t", str(samples / "shop-router.toml"), "--target", "C9=H8", "--report", "r.html", "-o", "c.nc"]
    code = (
        "import sys, roundwright; print(roundwright.__file__)\n"
        "from roundwright.cli import main\n"
        f"main(['correct', *{job!r}, {str(samples / 'bearing-block.nc')!r}])\n"
    )
    env = surroundings(PYTHONPATH=str(tmp_path / "site"))
    command = [sys.executable, "-c", code]
    done = subprocess.run(command, cwd=tmp_path / "run", env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(str(tmp_path / "site"))
    assert b"X22.052" in (tmp_path / "run" / "c.nc").read_bytes()
    assert "<svg" in (tmp_path / "run" / "r.html").read_text(encoding="utf-8")


def test_the_source_archive_holds_what_building_and_testing_need(built):
    (archive,) = built.glob("*.tar.gz")
    with tarfile.open(archive) as tar:
        names = {name.partition("/")[2] for name in tar.getnames()}
    wanted = {f"src/roundwright/{name}" for name in kept(SOURCE)}
    wanted |= {
        f"{folder}/{name}" for folder in ("shared", "samples", "tests") for name in kept(ROOT / folder)
    }
    wanted |= {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"}
    assert wanted <= names
    assert not [name for name in names if name.startswith((".venv/", "build/", "dist/"))]
