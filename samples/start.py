"""The main job from nothing but Python 3.11: installs, lists a sample, writes its corrected program.

    python3 samples/start.py

Run inside a virtual environment it uses that one; else it makes, or uses again, the folder .venv.
"""

from __future__ import annotations

import os
import subprocess
import sys
import venv
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).resolve().parent.parent
PROGRAM = Path("samples", "bearing-block.nc")
TABLE = Path("samples", "shop-router.toml")
CORRECTED = Path("build", "bearing-block-corrected.nc")


def python() -> str:
    """The interpreter of the virtual environment, which is made where there is none."""
    if sys.prefix != sys.base_prefix:
        return sys.executable
    folder = HERE / ".venv"
    place = folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    if not place.exists():
        print("Making a virtual environment in .venv ...", flush=True)
        venv.create(folder, with_pip=True, clear=True)
    return str(place)


def install(interpreter: str, what: str) -> None:
    """Install roundwright from this folder."""
    print("Installing ...", flush=True)
    command = [interpreter, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", what]
    subprocess.run(command, cwd=HERE, check=True)


def run(interpreter: str, *command: str, shown: str) -> bool:
    """Run a command, its text shown before; whether it went well."""
    print(f"\n$ {shown}", flush=True)
    return subprocess.run([interpreter, *command], cwd=HERE, check=False).returncode == 0


def sample(interpreter: str) -> bool:
    """The main job: the listing of a program's features, then the corrected program."""
    install(interpreter, ".")
    CORRECTED.parent.mkdir(exist_ok=True)
    jobs = (
        ["correct", "-t", str(TABLE), "--dry-run", str(PROGRAM)],
        ["correct", "-t", str(TABLE), "-o", str(CORRECTED), str(PROGRAM)],
    )
    return all(
        run(interpreter, "-m", "roundwright", *job, shown=" ".join(["roundwright", *job])) for job in jobs
    )


def started(job: Callable[[str], bool]) -> int:
    """Do a job from the project's folder with its own interpreter; 0 where all went well."""
    os.chdir(HERE)
    try:
        return 0 if job(python()) else 1
    except subprocess.CalledProcessError as error:
        print(f"This failed: {error.cmd}\nIt needs Python's venv and pip, and the network.", file=sys.stderr)
        return 1


if __name__ == "__main__":
    sys.exit(started(sample))
