"""The watched folder: each finished program once, whatever happens in between."""

from __future__ import annotations

import signal
import sys
import time

import pytest

import command
from roundwright.cli import watch as module
from roundwright.cli.watched import REFUSED, REPORT


@pytest.fixture
def yard(shop, monkeypatch):
    """The shop with two folders, and no time lost."""
    monkeypatch.setattr(module, "SETTLED", 0.05)
    monkeypatch.setattr(module, "_LOOK", 0.02)
    (shop / "in").mkdir()
    (shop / "out").mkdir()
    return shop


def save(yard, name="panel.nc", of="panel.nc", more=b""):
    (yard / "in" / name).write_bytes((yard / of).read_bytes() + more)


def once(*options):
    return command.run("watch", "-t", "router.toml", "--once", *options, "in", "out")


def out(yard):
    return sorted(path.name for path in (yard / "out").iterdir() if not path.name.startswith("."))


def test_a_program_is_corrected_beside_its_report(yard):
    save(yard)
    run = once()
    assert run.status == 0, run.err
    assert run.out == b""
    assert "panel.nc: 2 circular features: 2 corrected" in run.err
    assert out(yard) == ["panel.nc", "panel.nc" + REPORT]
    straight = command.run("correct", "-t", "router.toml", "panel.nc")
    assert (yard / "out" / "panel.nc").read_bytes() == straight.out
    assert "What was proven" in (yard / "out" / ("panel.nc" + REPORT)).read_text(encoding="utf-8")
    assert (yard / "in" / "panel.nc").read_bytes() == (yard / "panel.nc").read_bytes()


def test_nothing_is_done_twice_even_after_a_restart_and_when_taken_away(yard):
    save(yard)
    once()
    (yard / "out" / "panel.nc").unlink()
    assert "corrected" not in once().err
    assert out(yard) == ["panel.nc" + REPORT]
    (yard / "out" / ".panel.nc.done").unlink()
    assert "2 corrected" in once().err
    assert out(yard) == ["panel.nc", "panel.nc" + REPORT]


def test_a_changed_program_is_done_again(yard):
    save(yard)
    once()
    before = (yard / "out" / "panel.nc").read_bytes()
    save(yard, more=b"(second edition)\n")
    assert "2 corrected" in once().err
    assert (yard / "out" / "panel.nc").read_bytes() == before + b"(second edition)\n"


@pytest.mark.parametrize(
    "data", [b"", b"\xff\xfeG\x001\x00", b"(roundwright 0.1.0: circles corrected)\nG0 X0\n"]
)
def test_a_refused_program_leaves_word_and_nothing_else(yard, data):
    (yard / "in" / "bad.nc").write_bytes(data)
    run = once()
    assert run.status == 0
    assert out(yard) == ["bad.nc" + REFUSED]
    why = (yard / "out" / ("bad.nc" + REFUSED)).read_text(encoding="utf-8")
    assert why.startswith("bad.nc: ")
    assert why.strip() in run.err
    assert "refused" not in once().err


def test_a_refusal_takes_the_place_of_an_earlier_version_and_the_other_way_round(yard):
    save(yard)
    once()
    (yard / "in" / "panel.nc").write_bytes(b"")
    once()
    assert out(yard) == ["panel.nc" + REFUSED]
    save(yard)
    once()
    assert out(yard) == ["panel.nc", "panel.nc" + REPORT]


def test_strict_refuses_and_a_better_table_gives_another_chance(yard):
    save(yard, "open.nc", "open.nc")
    once("--strict")
    assert out(yard) == ["open.nc" + REFUSED]
    assert "side-unknown" in (yard / "out" / ("open.nc" + REFUSED)).read_text(encoding="utf-8")
    table = yard / "router.toml"
    table.write_text(table.read_text().replace("[defaults]", '[defaults]\nside = "hole"'), encoding="utf-8")
    once("--strict")
    assert "out-of-range" in (yard / "out" / ("open.nc" + REFUSED)).read_text(encoding="utf-8")


def test_what_somebody_else_put_there_is_not_written_over(yard):
    (yard / "out" / "panel.nc").write_bytes(b"mine")
    save(yard)
    assert "in" in once().err
    assert (yard / "out" / "panel.nc").read_bytes() == b"mine"
    assert "Move it away" in (yard / "out" / ("panel.nc" + REFUSED)).read_text(encoding="utf-8")
    (yard / "out" / "panel.nc").unlink()
    once()
    assert out(yard) == ["panel.nc", "panel.nc" + REPORT]


def test_a_run_that_was_cut_short_is_done_again_to_the_same_end(yard):
    save(yard)
    once()
    whole = (yard / "out" / "panel.nc").read_bytes()
    for gone in (".panel.nc.done", "panel.nc" + REPORT):
        (yard / "out" / gone).unlink()
    once()
    assert out(yard) == ["panel.nc", "panel.nc" + REPORT]
    assert (yard / "out" / "panel.nc").read_bytes() == whole


def test_hidden_and_unfinished_files_and_folders_are_no_programs(yard):
    save(yard, ".panel.nc")
    save(yard, "panel.nc.part")
    save(yard, "panel.nc~")
    (yard / "in" / "old").mkdir()
    assert once().status == 0
    assert out(yard) == []


def test_one_folder_or_a_bad_table_is_refused_at_once(yard):
    assert command.run("watch", "-t", "router.toml", "in", "in").status == 2
    (yard / "router.toml").write_text("schema = 3", encoding="utf-8")
    assert once().status == 1
    assert out(yard) == []


def until(true, seconds=30):
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end
        time.sleep(0.05)


def ended(process):
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=20)
    return process.returncode, err.decode()


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C is sent otherwise there")
def test_a_half_written_program_is_waited_for_and_ctrl_c_ends(yard):
    whole = (yard / "panel.nc").read_bytes()
    process = command.start("watch", "-t", "router.toml", "in", "out", cwd=yard)
    try:
        with open(yard / "in" / "slow.nc", "wb") as file:
            for k in range(8):
                file.write(whole[k * len(whole) // 8 : (k + 1) * len(whole) // 8])
                file.flush()
                time.sleep(0.4)
                assert out(yard) == []
        until(lambda: "slow.nc" + REPORT in out(yard) and (yard / "out" / ".slow.nc.done").exists())
        save(yard, "next.nc")
        until((yard / "out" / ".next.nc.done").exists)
    finally:
        status, err = ended(process)
    assert status == 130
    assert "Traceback" not in err
    assert err.count("2 corrected") == 2
    straight = command.run("correct", "-t", "router.toml", "panel.nc")
    assert (yard / "out" / "slow.nc").read_bytes() == straight.out
