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


def test_a_screen_is_a_terminal_that_can_show_it(monkeypatch):
    screen = terminal.screen_of(Screen())
    assert (screen.width, screen.colour) == (80, True)
    assert terminal.screen_of(io.StringIO()) is None
    assert terminal.screen_of(None) is None
    monkeypatch.setenv("NO_COLOR", "1")
    assert not terminal.screen_of(Screen()).colour
    monkeypatch.setenv("TERM", "dumb")
    assert terminal.screen_of(Screen()) is None


def test_a_terminal_without_the_letters_for_it_gets_plain_text():
    class Old(Screen):
        encoding = "cp1252"

    assert terminal.screen_of(Old()) is None


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


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        (["corect", "panel.nc"], "'correct'"),
        (["Measure", "panel.json"], "'measure'"),
        (["table", "chek"], "'check'"),
        (["correct", "--tabel", "x"], "'--table'"),
        (["table", "add", "--programed", "20"], "'--programmed'"),
        (["xyz"], "correct, table, coupon, measure, diagnose, watch"),
    ],
)
def test_what_is_misspelt_is_answered_with_what_was_meant(typed, meant):
    done = command.run(*typed)
    assert done.status == 2
    assert meant in done.err
    assert done.out == b""


HELPED = ["correct", "table", "coupon", "measure", "diagnose", "watch"]
BELOW = ["new", "check", "show", "add", "import", "export", "plot"]


@pytest.mark.parametrize("words", [[], *([name] for name in HELPED), *(["table", name] for name in BELOW)])
def test_every_help_has_an_example_that_names_the_command(words):
    done = command.run(*words, "--help")
    assert done.status == 0
    text = done.out.decode()
    example = re.search(r"Examples?:\n(( {4}.*\n)+)", text)
    assert example is not None
    assert " ".join(["roundwright", *words]) in example[1]
    assert "Caution: " in text
    assert max(len(line) for line in text.splitlines()) <= 80


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


def on_a_terminal(*words, width=100, **env):
    """What a command writes to a real terminal of that width."""
    import fcntl
    import pty
    import struct
    import termios

    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 40, width, 0, 0))
    env = {"TERM": "xterm", "PYTHONUTF8": "1", **env}
    process = command.start(*words, stdout=theirs, stderr=theirs, env=env)
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
    return told.decode().replace("\r\n", "\n")


real_terminal = pytest.mark.skipif(os.name != "posix", reason="needs a pseudo-terminal")


@real_terminal
def test_on_a_real_terminal_the_listing_is_a_table_in_colour(shop):
    text = on_a_terminal("correct", "-t", "router.toml", "-n", "-q", "panel.nc")
    assert re.search("\x1b\\[[0-9;]+m\N{BLACK CIRCLE} corrected", text)
    plain = COLOUR.sub("", text)
    assert "\N{BOX DRAWINGS LIGHT HORIZONTAL}" * 20 in plain
    assert re.search(r"C1 +hole .* \N{BLACK CIRCLE} corrected\n", plain)
    written = on_a_terminal("correct", "-t", "router.toml", "-o", "out.nc", "panel.nc")
    assert plain.split("\n\n")[1] in COLOUR.sub("", written)


@real_terminal
def test_no_color_takes_the_colour_and_leaves_the_table(shop):
    text = on_a_terminal("correct", "-t", "router.toml", "-n", "-q", "panel.nc", NO_COLOR="1")
    assert COLOUR.search(text) is None
    assert "\N{BLACK CIRCLE} corrected" in text


@real_terminal
def test_where_the_table_does_not_fit_or_may_not_be_drawn_the_text_is_that_of_a_pipe(shop):
    words = ("correct", "-t", "router.toml", "-n", "-q", "panel.nc")
    piped = command.run(*words).out.decode().replace("\r\n", "\n")
    narrow = on_a_terminal(*words, width=50)
    assert COLOUR.sub("", narrow) == piped
    assert COLOUR.search(narrow)
    assert on_a_terminal(*words, TERM="dumb") == piped


@real_terminal
def test_the_calibration_table_is_drawn_too(shop):
    text = COLOUR.sub("", on_a_terminal("table", "show", "-t", "router.toml"))
    assert "\N{BOX DRAWINGS LIGHT HORIZONTAL}" * 20 in text
    piped = command.run("table", "show", "-t", "router.toml").out.decode()
    assert "\N{BOX DRAWINGS LIGHT HORIZONTAL}" not in piped
    drawn, plain = (
        set(re.sub(r"[^\w.+-]+", " ", part).split()) for part in (text.replace("\u2500", ""), piped)
    )
    assert drawn == plain


def test_a_pipe_does_not_wait_for_the_library_that_draws(shop):
    code = (
        "import sys; from roundwright.cli import main\n"
        "try: main(['correct', '-t', 'router.toml', '-n', 'panel.nc'])\n"
        "except SystemExit: pass\n"
        "sys.exit(sorted({'rich', 'jinja2', 'matplotlib', 'watchfiles'} & set(sys.modules)) or None)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, env=command.surroundings())
    assert run.returncode == 0, run.stderr
    assert b"C1" in run.stdout
