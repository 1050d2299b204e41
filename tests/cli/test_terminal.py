"""What a terminal gets and a pipe does not: colour, word of long work, completion."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys

import pytest

import command
from roundwright.cli import terminal

COLOUR = re.compile("\x1b\\[[0-9;]*m")


class Screen(io.StringIO):
    def isatty(self):
        return True


@pytest.fixture(autouse=True)
def plain(monkeypatch):
    for name in ("NO_COLOR", "TERM"):
        monkeypatch.delenv(name, raising=False)


LISTING = "C1  hole 20 +0.134 corrected\nC2  hole 20 - left alone\n     left alone\n"


def test_a_terminal_has_its_statuses_in_colour_and_nothing_else_changes():
    shown = terminal.tinted(LISTING, Screen())
    assert len(COLOUR.findall(shown)) >= 4
    assert COLOUR.sub("", shown) == LISTING
    assert shown.splitlines()[2] == "     left alone"


@pytest.mark.parametrize(("name", "value"), [("NO_COLOR", "1"), ("TERM", "dumb")])
def test_no_colour_where_it_is_not_wanted(monkeypatch, name, value):
    monkeypatch.setenv(name, value)
    assert terminal.tinted(LISTING, Screen()) == LISTING


def test_no_colour_in_a_pipe():
    assert terminal.tinted(LISTING, io.StringIO()) == LISTING
    assert terminal.tinted(LISTING, None) == LISTING


def test_long_work_says_so_on_a_terminal_and_leaves_the_line_empty(monkeypatch):
    screen = Screen()
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setattr(terminal, "PATIENCE", 0.01)
    with terminal.working("working on panel.nc", quiet=False):
        while "working on panel.nc" not in screen.getvalue():
            pass
    assert screen.getvalue().rsplit("\r", 2)[-2].strip() == ""
    assert screen.getvalue().endswith("\r")


@pytest.mark.parametrize(("stream", "quiet"), [(io.StringIO, False), (Screen, True)])
def test_nothing_is_said_of_long_work_elsewhere(monkeypatch, stream, quiet):
    screen = stream()
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setattr(terminal, "PATIENCE", 0.0)
    with terminal.working("working", quiet=quiet):
        pass
    assert screen.getvalue() == ""


def test_quiet_says_warnings_alone_and_verbose_how_much_there_was(shop):
    loud = command.run("correct", "-t", "router.toml", "panel.nc")
    quiet = command.run("correct", "-t", "router.toml", "--quiet", "panel.nc")
    assert quiet.out == loud.out
    assert [line for line in quiet.err.splitlines() if "warning" not in line] == []
    verbose = command.run("correct", "-t", "router.toml", "--verbose", "panel.nc")
    assert verbose.out == loud.out
    assert re.search(r"\d+ lines, \d+ moves, \d+ of them changed for 2 circles", verbose.err)
    assert loud.err.strip() in verbose.err
    assert command.run("correct", "-t", "router.toml", "-q", "-v", "panel.nc").status == 2
    assert b"C1" in command.run("correct", "-t", "router.toml", "-q", "-n", "panel.nc").out


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_shells_are_given_their_completion(shell):
    env = command.surroundings(_ROUNDWRIGHT_COMPLETE=f"{shell}_source")
    code = "from roundwright.cli import main; main(prog_name='roundwright')"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=env)
    if shell == "bash" and "Shell completion is not supported" in run.stderr:
        pytest.skip("this bash is too old for completion")
    assert "_ROUNDWRIGHT_COMPLETE" in run.stdout
    env |= {"_ROUNDWRIGHT_COMPLETE": "fish_complete", "COMP_WORDS": "roundwright wa", "COMP_CWORD": "wa"}
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=env)
    assert "watch" in told.stdout


@pytest.mark.skipif(os.name != "posix", reason="needs a pseudo-terminal")
def test_on_a_real_terminal(shop):
    import pty

    ours, theirs = pty.openpty()
    process = command.start(
        "correct", "-t", "router.toml", "-n", "panel.nc", stdout=theirs, stderr=theirs, env={"TERM": "xterm"}
    )
    os.close(theirs)
    told = b""
    while True:
        try:
            part = os.read(ours, 4096)
        except OSError:  # the other end is closed
            break
        if not part:
            break
        told += part
    assert process.wait(timeout=30) == 0
    os.close(ours)
    text = told.decode()
    assert "corrected\x1b[0m" in text
    assert "C1" in COLOUR.sub("", text)
