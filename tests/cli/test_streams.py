"""Files are written whole or not at all, and what cannot be read is said plainly."""

from __future__ import annotations

import os
import stat
import sys

import pytest

from roundwright.cli import streams
from roundwright.errors import RoundwrightError

ON_POSIX = os.name == "posix"
AS_ROOT = ON_POSIX and os.geteuid() == 0


def test_a_file_comes_back_byte_for_byte(tmp_path):
    data = bytes(range(256)) + b"\r\n\r\n\n"
    streams.write_atomic(tmp_path / "a.nc", data)
    assert streams.read_bytes(tmp_path / "a.nc") == data
    assert streams.read_program_bytes(str(tmp_path / "a.nc")) == data


def test_a_failure_in_the_middle_leaves_the_old_file_and_no_litter(tmp_path, monkeypatch):
    target = tmp_path / "a.nc"
    target.write_bytes(b"old")

    def fail(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(RoundwrightError, match="no space left"):
        streams.write_atomic(target, b"new and longer")
    assert target.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.nc"]


def test_ctrl_c_in_the_middle_leaves_the_old_file_and_no_litter(tmp_path, monkeypatch):
    target = tmp_path / "a.nc"
    target.write_bytes(b"old")

    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "replace", interrupt)
    with pytest.raises(KeyboardInterrupt):
        streams.write_atomic(target, b"new")
    assert target.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.nc"]


@pytest.mark.skipif(not ON_POSIX, reason="permissions of another kind")
def test_permissions_are_kept_and_new_files_follow_the_umask(tmp_path):
    target = tmp_path / "a.nc"
    target.write_bytes(b"old")
    target.chmod(0o604)
    streams.write_atomic(target, b"new")
    assert stat.S_IMODE(target.stat().st_mode) == 0o604
    mask = os.umask(0o027)
    try:
        streams.write_atomic(tmp_path / "b.nc", b"new")
    finally:
        os.umask(mask)
    assert stat.S_IMODE((tmp_path / "b.nc").stat().st_mode) == 0o640


@pytest.mark.skipif(not ON_POSIX, reason="links need rights there")
def test_a_link_stays_a_link(tmp_path):
    (tmp_path / "real.nc").write_bytes(b"old")
    (tmp_path / "link.nc").symlink_to("real.nc")
    streams.write_atomic(tmp_path / "link.nc", b"new")
    assert (tmp_path / "link.nc").is_symlink()
    assert (tmp_path / "real.nc").read_bytes() == b"new"


@pytest.mark.skipif(not ON_POSIX, reason="no such device there")
def test_a_device_is_written_to_and_not_replaced():
    streams.write_atomic("/dev/null", b"gone")
    assert stat.S_ISCHR(os.stat("/dev/null").st_mode)


@pytest.mark.skipif(AS_ROOT or not ON_POSIX, reason="the superuser may write everywhere")
def test_a_write_protected_file_is_refused(tmp_path):
    target = tmp_path / "a.nc"
    target.write_bytes(b"old")
    target.chmod(0o444)
    with pytest.raises(RoundwrightError, match="write-protected"):
        streams.write_atomic(target, b"new")
    assert target.read_bytes() == b"old"


def test_backups_never_overwrite_older_ones(tmp_path):
    target = tmp_path / "program.nc"
    names = []
    for text in (b"first", b"second", b"third"):
        target.write_bytes(text)
        names.append(os.path.basename(streams.backup(target)))
    assert names == ["program.nc.bak", "program.nc.bak2", "program.nc.bak3"]
    assert (tmp_path / "program.nc.bak").read_bytes() == b"first"
    assert (tmp_path / "program.nc.bak3").read_bytes() == b"third"


@pytest.mark.parametrize("links", [True, False])
def test_nobody_ever_sees_a_part_of_a_backup(tmp_path, monkeypatch, links):
    """A run may be killed at any moment: what is not yet whole has a hidden name."""
    target = tmp_path / "program.nc"
    target.write_bytes(b"old")
    (tmp_path / "program.nc.bak").write_bytes(b"older")
    seen = []
    real = os.fsync

    def look(handle: int) -> None:
        seen.append(sorted(p.name for p in tmp_path.iterdir() if not p.name.startswith(".")))
        real(handle)

    def no_links(*_: object) -> None:
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(os, "fsync", look)
    if not links:
        monkeypatch.setattr(os, "link", no_links)
    assert streams.rewrite_in_place(target, b"new") == str(tmp_path / "program.nc.bak2")
    before = ["program.nc", "program.nc.bak"]
    assert seen == [before, [*before, "program.nc.bak2"]]
    files = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    assert files == {"program.nc": b"new", "program.nc.bak": b"older", "program.nc.bak2": b"old"}


def test_a_failure_in_place_leaves_the_file_and_no_backup(tmp_path, monkeypatch):
    target = tmp_path / "program.nc"
    target.write_bytes(b"old")

    def fail(*_: object) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(RoundwrightError, match="input/output error"):
        streams.rewrite_in_place(target, b"new")
    assert target.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["program.nc"]


@pytest.mark.parametrize("path", ["missing/x.nc", ".", "a\0b"])
def test_what_cannot_be_read_or_written_is_a_plain_error(path, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(RoundwrightError):
        streams.read_bytes(path)
    with pytest.raises(RoundwrightError):
        streams.write_atomic(path, b"x")
    assert list(tmp_path.iterdir()) == []


def test_text_loses_its_byte_order_mark_and_keeps_its_line_ends(tmp_path):
    path = tmp_path / "t.toml"
    path.write_bytes(b'\xef\xbb\xbfname = "L\xc3\xb6we"\r\n')
    assert streams.read_text(path) == 'name = "Löwe"\r\n'


@pytest.mark.parametrize(
    ("data", "what"),
    [
        ("name".encode("utf-16"), "UTF-16"),
        ("name".encode("utf-16-le"), "UTF-16"),
        (b"one\ntwo \xe4\n", "t.toml:2: a character here is not in UTF-8"),
    ],
)
def test_text_in_another_encoding_is_refused_with_the_cure(tmp_path, data, what):
    path = tmp_path / "t.toml"
    path.write_bytes(data)
    with pytest.raises(RoundwrightError, match=what) as caught:
        streams.read_text(path)
    assert "UTF-8" in caught.value.cure


def test_one_file_by_two_names_is_seen(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "a.nc").write_bytes(b"")
    assert streams.same_file("a.nc", tmp_path / "." / "a.nc")
    assert streams.same_file("not-yet.nc", tmp_path / "not-yet.nc")
    assert not streams.same_file("a.nc", "b.nc")


def test_streams_that_are_not_there_are_a_plain_error(monkeypatch):
    monkeypatch.setattr(sys, "stdin", None)
    with pytest.raises(RoundwrightError, match="no standard input"):
        streams.read_program_bytes(None)
    monkeypatch.setattr(sys, "stdout", None)
    with pytest.raises(RoundwrightError, match="no standard output"):
        streams.write_standard_output(b"x")
