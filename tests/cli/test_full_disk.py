"""A disk that takes no more, and Ctrl-C at any moment: the old file or the new one, nothing half done."""

from __future__ import annotations

import os
import signal
import time
from random import Random

import pytest

from command import start
from file_writers import WRITERS, held

pytestmark = pytest.mark.skipif(os.name != "posix", reason="limits and signals of another kind")


def full_at(size):
    """What a process does first: no file that it writes may become larger, as on a full disk."""

    def limit():
        import resource

        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)

    return limit


@pytest.mark.parametrize("name", WRITERS)
def test_a_disk_that_takes_no_more_changes_nothing(shop, name):
    (shop / "old.nc").write_bytes(b"(an older output)\n")
    arguments, size = WRITERS[name]
    before = held(shop)
    process = start(*arguments, preexec_fn=full_at(size), env={"PYTHONDONTWRITEBYTECODE": "1"})
    out, err = process.communicate(timeout=120)
    assert process.returncode == 1, err.decode()
    assert out == b"" and b"Traceback" not in err
    assert b"failed: file too large" in err and b"free space" in err
    assert held(shop) == before


def test_ctrl_c_at_any_moment_leaves_the_old_file_or_the_new_one(shop):
    program = (shop / "panel.nc").read_bytes() + b"(a long tail)\n" * 10_000
    (shop / "long.nc").write_bytes(program)
    (shop / "old.nc").write_bytes(b"(an older output)\n")
    arguments = ("correct", "-t", "router.toml", "-o", "old.nc", "long.nc")
    begin = time.monotonic()
    assert start(*arguments).wait(120) == 0
    whole, new = time.monotonic() - begin, (shop / "old.nc").read_bytes()
    chance, names = Random(3), sorted(held(shop))
    for _ in range(10):
        (shop / "old.nc").write_bytes(b"(an older output)\n")
        process = start(*arguments)
        time.sleep(chance.uniform(0.3, 1.05) * whole)
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=120)
        assert out == b"" and process.returncode in (0, 130, -signal.SIGINT), err.decode()
        found = (shop / "old.nc").read_bytes()
        # Ctrl-C may come when all is written and only the good-bye is left
        assert found == new or (found == b"(an older output)\n" and process.returncode != 0)
        assert sorted(held(shop)) == names


def test_the_other_name_of_a_hard_link_keeps_what_it_had(shop):
    """A file is replaced, never written into: whoever linked to it has the old program still."""
    program = (shop / "panel.nc").read_bytes()
    os.link(shop / "panel.nc", shop / "kept.nc")
    assert start("correct", "-t", "router.toml", "--in-place", "panel.nc").wait(120) == 0
    assert (shop / "kept.nc").read_bytes() == program == (shop / "panel.nc.bak").read_bytes()
    assert (shop / "panel.nc").read_bytes() != program
