"""A folder that cannot be written to, for real: root, where it runs the tests, is bound by it, too."""

from __future__ import annotations

import ctypes
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from command import start
from file_writers import WRITERS, held

pytestmark = pytest.mark.skipif(os.name != "posix", reason="permissions of another kind")
#: prctl(2) and capabilities(7) of Linux: take a right away from what is started next, and the right to write
#: to whatever is not one's own to write to.
PR_CAPBSET_DROP, CAP_DAC_OVERRIDE = 24, 1


def bound_by_permissions() -> None:
    """What a process does first: root gives up the right that goes through any permission."""
    if os.geteuid() == 0:
        ctypes.CDLL(None).prctl(PR_CAPBSET_DROP, CAP_DAC_OVERRIDE, 0, 0, 0)


@pytest.fixture
def read_only(shop: Path) -> Iterator[Path]:
    """The shop with a folder and files that anybody may read and nobody write to."""
    (shop / "old.nc").write_bytes(b"(an older output)\n")
    for path in shop.iterdir():
        path.chmod(0o444)
    shop.chmod(0o555)
    touched = subprocess.run(
        [sys.executable, "-c", "open('new', 'w')"], preexec_fn=bound_by_permissions, capture_output=True
    )
    if touched.returncode == 0:
        pytest.skip("here root writes whatever the permissions are")
    yield shop
    shop.chmod(0o755)


@pytest.mark.parametrize("name", WRITERS)
def test_nothing_is_lost_and_the_message_says_what_to_do(read_only: Path, name: str) -> None:
    before = held(read_only)
    process = start(*WRITERS[name][0], preexec_fn=bound_by_permissions)
    out, err = process.communicate(timeout=120)
    assert process.returncode == 1, err.decode()
    assert out == b"" and b"Traceback" not in err
    assert b"ermission denied" in err or b"write-protected" in err
    assert held(read_only) == before


def test_reading_there_works(read_only: Path) -> None:
    """Where nothing is written into the folder, nothing asks for leave to."""
    process = start("correct", "-t", "router.toml", "panel.nc", preexec_fn=bound_by_permissions)
    out, err = process.communicate(timeout=120)
    assert process.returncode == 0 and b"circles corrected" in out, err.decode()
