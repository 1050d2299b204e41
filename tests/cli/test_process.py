"""A process of its own: pipes that break, Ctrl-C, streams that are full or not there."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from command import start, surroundings

ON_POSIX = os.name == "posix"
T = ("correct", "-t", "router.toml")


def ended(process, given=b""):
    """What came out, what was said, and the status; never a traceback."""
    out, err = process.communicate(given, timeout=60)
    assert b"Traceback" not in err and b"Exception" not in err, err.decode()
    return process.returncode, out, err.decode()


def test_bytes_go_through_a_pipe_as_they_are(shop):
    program = (shop / "panel.nc").read_bytes().replace(b"M30", b"(\xe4\x00\xff)\nM30")
    program = program.replace(b"\n", b"\r\n")
    status, out, err = ended(start(*T, "--no-stamp"), program)
    assert status == 0, err
    assert out.count(b"\r\n") == out.count(b"\n") == program.count(b"\n")
    assert b"(\xe4\x00\xff)\r\n" in out
    assert out != program


@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_a_program_larger_than_a_pipe_comes_out_whole(shop, unbuffered):
    program = (shop / "panel.nc").read_bytes() + b"(a long program)\n" * 20_000
    status, out, err = ended(start(*T, "--no-stamp", env={"PYTHONUNBUFFERED": unbuffered}), program)
    assert status == 0, err
    assert out.count(b"\n") == program.count(b"\n")
    assert out.endswith(b"(a long program)\n")


@pytest.mark.skipif(not ON_POSIX, reason="signals of another kind")
def test_ctrl_c_ends_quietly_and_leaves_nothing(shop):
    process = start(*T, "-o", "out.nc")
    process.stdin.write(b"(waiting)\n" * 20_000)  # more than a pipe holds: it returns once the run reads
    process.stdin.flush()
    process.send_signal(signal.SIGINT)
    process.stdin = None
    status, out, err = ended(process, None)
    assert (status, out, err.strip()) == (130, b"", "")
    assert sorted(p.name for p in shop.iterdir()) == ["open.nc", "panel.nc", "router.toml"]


@pytest.mark.skipif(not ON_POSIX, reason="pipes of another kind")
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_a_reader_that_goes_away_is_no_accident(shop, unbuffered):
    (shop / "many.nc").write_bytes((shop / "panel.nc").read_bytes() + b"(a long program)\n" * 20_000)
    process = start(*T, "many.nc", env={"PYTHONUNBUFFERED": unbuffered})
    assert process.stdout.read(10)
    process.stdout.close()
    process.stdout = None
    status, _, err = ended(process, None)
    assert status == 1
    assert "roundwright:" not in err


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no such device here")
def test_a_full_output_is_said_plainly(shop):
    with open("/dev/full", "wb") as full:
        status, _, err = ended(start(*T, "panel.nc", stdout=full))
    assert status == 1
    assert "standard output: writing failed: no space left" in err


@pytest.mark.skipif(not ON_POSIX, reason="no such shell there")
def test_streams_that_are_closed_are_said_plainly(shop):
    line = f'"{sys.executable}" -m roundwright correct -t router.toml panel.nc >&-'
    run = subprocess.run(["sh", "-c", line], capture_output=True, text=True, timeout=60, env=surroundings())
    assert run.returncode == 1
    assert "Traceback" not in run.stderr
    assert "standard output" in run.stderr


def test_a_terminal_that_cannot_show_a_letter_gets_it_escaped(shop):
    narrow = {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    status, out, _ = ended(start(*T, "-n", "-m", "Nußbaum", "panel.nc", env=narrow))
    assert status == 0
    assert b"Nu\\xdfbaum" in out
