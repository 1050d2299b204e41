"""A run that is killed leaves the file as it was or the whole new one: a share of what kill.py does."""

from __future__ import annotations

import os
import time
from random import Random

import pytest

from command import TABLE, start
from hostile_programs import bores
from killed_tables import prepare, run_and_kill
from killed_writer import killed, moments

OLD = b"(what was there before)\n"


@pytest.mark.skipif(os.name != "posix", reason="signals of another kind")
def test_no_half_file_at_any_of_20_moments(tmp_path):
    (tmp_path / "router.toml").write_text(TABLE, encoding="utf-8")
    (tmp_path / "panel.nc").write_bytes(bores(2_000) + b"(a long tail)\n" * 20_000)
    target = tmp_path / "out.nc"
    command = ("correct", "-t", "router.toml", "-o", "out.nc", "panel.nc")
    begin = time.monotonic()
    assert start(*command, cwd=tmp_path).wait(60) == 0
    whole, new = time.monotonic() - begin, target.read_bytes()
    for delay, writing in moments(20, whole, Random(7)):
        target.write_bytes(OLD)
        left = killed(tmp_path, target, command, delay, writing=writing)
        assert left.target in (OLD, new)
        # a draft that nobody could remove is hidden and not taken for a program
        assert all(name.startswith(".out.nc.") and name.endswith(".part") for name in left.others)


@pytest.mark.skipif(os.name != "posix", reason="signals of another kind")
def test_no_reading_is_lost_at_any_of_12_moments(tmp_path):
    prepare(tmp_path, rows=20)
    ends = run_and_kill(tmp_path, 12, 1.0, Random(11))
    assert ends.broken == () and ends.killed == 12
    assert ends.new >= 1  # some came as far as that
