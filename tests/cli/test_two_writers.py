"""A table is changed whole or not at all, and two who write at once lose nothing."""

from __future__ import annotations

import os
import random
import re
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from command import start, surroundings
from roundwright.calibration import open_table
from roundwright.cli import streams
from roundwright.errors import RoundwrightError
from table_texts import GOOD

#: adds readings to t.toml, programmed FIRST, FIRST + 1 …, one after the other.
WRITER = """\
import sys
from roundwright.calibration import Addition, Reading, with_readings
from roundwright.cli.streams import update_text
first, count = int(sys.argv[1]), int(sys.argv[2])
for n in range(first, first + count):
    new = Addition(1, "birch ply", "hole", "climb", Reading(float(n), diameter=n - 0.1))
    update_text("t.toml", lambda text: with_readings(text, [new]))
    print(n, flush=True)
"""


def writer(folder, first, count):
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(first), str(count)],
        cwd=folder,
        env=surroundings(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def programmed(path):
    return [reading.programmed for reading in open_table(path.read_text()).conditions[0].readings]


def test_processes_that_add_at_once_lose_nothing(tmp_path):
    (tmp_path / "t.toml").write_text(GOOD)
    writers = [writer(tmp_path, first, 12) for first in (100, 200, 300)]
    assert [one.wait(120) for one in writers] == [0, 0, 0], [one.stderr.read() for one in writers]
    wanted = [10.0, *(float(first + n) for first in (100, 200, 300) for n in range(12))]
    assert sorted(programmed(tmp_path / "t.toml")) == wanted
    assert [path.name for path in tmp_path.iterdir()] == ["t.toml"], "nothing is left behind"


def test_threads_that_add_at_once_lose_nothing(tmp_path):
    path = tmp_path / "t.txt"
    path.write_text("")
    with ThreadPoolExecutor(8) as pool:
        list(
            pool.map(lambda n: streams.update_text(path, lambda text: text + f"{n}\n"), range(80), timeout=60)
        )
    assert sorted(map(int, path.read_text().split())) == list(range(80))


def test_commands_that_add_at_once_lose_nothing(tmp_path):
    (tmp_path / "t.toml").write_text(GOOD)
    how = (
        "table",
        "add",
        "-t",
        "t.toml",
        "--tool",
        "1",
        "-m",
        "birch ply",
        "--side",
        "hole",
        "--cut",
        "climb",
    )
    sizes = (20, 21, 22, 23)
    runs = [start(*how, "--programmed", d, "--x", d - 0.1, cwd=tmp_path) for d in sizes]
    assert [run.wait(120) for run in runs] == [0] * len(runs)
    assert sorted(programmed(tmp_path / "t.toml")) == [10.0, *map(float, sizes)]


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is a signal of POSIX systems")
def test_a_killed_writer_leaves_a_whole_table_and_no_lock(tmp_path):
    """Killed at random moments the table holds a whole number of readings, and all that were confirmed."""
    path = tmp_path / "t.toml"
    path.write_text(GOOD)
    chance = random.Random(7)
    added = 0
    for round_ in range(25):
        one = writer(tmp_path, 100 + 1000 * round_, 1000)
        one.stdout.readline()  # it is at work now
        time.sleep(chance.uniform(0.0, 0.05))
        one.kill()
        said = 1 + len(one.stdout.read().splitlines())
        one.wait(60)
        found = programmed(path)
        assert said <= len(found) - 1 - added <= said + 1
        added = len(found) - 1
    begun = time.monotonic()
    streams.update_text(path, lambda text: text + "# all well\n")
    assert time.monotonic() - begun < 5.0, "a dead writer's lock holds nobody up"
    assert path.read_text().endswith("# all well\n")


def test_a_change_that_fails_changes_nothing_and_frees_the_lock(tmp_path):
    path = tmp_path / "t.toml"
    path.write_text("old")

    def fail(_):
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        streams.update_text(path, fail)
    assert streams.update_text(path, lambda text: text + " and new") == "old and new"
    assert [p.name for p in tmp_path.iterdir()] == ["t.toml"]


def test_a_full_disk_changes_nothing(tmp_path, monkeypatch):
    path = tmp_path / "t.toml"
    path.write_text("old")

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(RoundwrightError, match="no space left"):
        streams.update_text(path, lambda text: text + "new")
    assert path.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["t.toml"]


def test_a_folder_that_nobody_may_write_to_changes_nothing(tmp_path, monkeypatch):
    path = tmp_path / "t.toml"
    path.write_text("old")
    plain = os.open

    def refuse(name, flags, *rest, **more):
        if flags & os.O_CREAT:
            raise PermissionError(13, "Permission denied")
        return plain(name, flags, *rest, **more)

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(RoundwrightError, match="permission denied"):
        streams.update_text(path, lambda text: text + "new")
    assert path.read_text() == "old"


def test_a_writer_that_never_ends_is_not_waited_for(tmp_path, monkeypatch):
    path = tmp_path / "t.toml"
    path.write_text("old")
    monkeypatch.setattr(streams, "_PATIENCE", 0.1)

    def change(text):
        with pytest.raises(RoundwrightError, match="another program has been writing to it all the time"):
            streams.update_text(path, lambda text: text + " lost?")
        return text + " kept"

    streams.update_text(path, change)
    assert path.read_text() == "old kept"


def test_an_editor_that_saves_in_between_loses_nothing(tmp_path):
    path = tmp_path / "t.toml"
    path.write_text("old")

    def change(text):
        path.write_text("by hand")
        return text + "new"

    with pytest.raises(RoundwrightError, match="another program wrote to it just now"):
        streams.update_text(path, change)
    assert path.read_text() == "by hand"


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_mark_and_line_ends_stay(tmp_path, mark):
    path = tmp_path / "t.toml"
    path.write_bytes(mark + b"a\r\nb\n")
    assert streams.update_text(path, lambda text: re.sub("b", "\u00e9", text)) == "a\r\n\u00e9\n"
    assert path.read_bytes() == mark + "a\r\n\u00e9\n".encode()


def test_a_link_to_the_table_has_the_table_s_lock(tmp_path):
    (tmp_path / "real").mkdir()
    table = tmp_path / "real" / "t.toml"
    table.write_text("old")
    link = tmp_path / "link.toml"
    link.symlink_to(table)

    def change(text):
        assert (tmp_path / "real" / ".t.toml.lock").exists()
        return text + "new"

    streams.update_text(link, change)
    assert link.is_symlink() and table.read_text() == "oldnew"
