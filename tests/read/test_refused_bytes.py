"""What is no program is refused with its cure."""

import pytest

from roundwright.errors import ProgramError
from roundwright.read import read_program, scan
from roundwright.read.plain import read_plainly

PROGRAM = "G21 G90\nG1 X1 Y2 F100\nM30\n"


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_utf_16(encoding):
    with pytest.raises(ProgramError) as caught:
        read_program(PROGRAM.encode(encoding), "shell.nc")
    assert caught.value.place is not None
    assert caught.value.place.name == "shell.nc"
    assert "-o" in caught.value.cure


@pytest.mark.parametrize("data", [b"PK\x03\x04 G1", bytes(range(256)) * 40, b"\0" * 1000])
def test_binary(data):
    with pytest.raises(ProgramError, match="not a G-code program"):
        read_program(data, "part.zip")


def test_garbage_in_comments_is_no_ground():
    program = read_program(b"(" + b"\0\x01\x02" * 400 + b")\nG1 X1\n")
    assert not program.unread
    assert len(program.letter) == 2


def test_a_stray_control_byte_makes_its_line_unread_only():
    program = read_program(b"G1 X1\n\x1a\nM30\n\0")
    assert list(program.unread) == [(1, "character"), (3, "character")]


@pytest.mark.parametrize("before", [b"", b"G21 G90\n", b"G21 G90\n" * 300_000], ids=["", "some", "chunks"])
@pytest.mark.parametrize("piece", [b"X1 ", b"9", b" ", b"("], ids=repr)
def test_a_line_without_an_end(before, piece):
    endless = piece * (2_000_000 // len(piece))
    with pytest.raises(ProgramError, match="more than 65,536 characters") as caught:
        read_program(before + endless + b"\nM30\n", "carpet.nc")
    assert str(caught.value.place) == f"carpet.nc:{before.count(10) + 1}"


def test_a_line_as_long_as_may_be_is_read():
    line = b"(" + b"a" * 60_000 + b") G1 X1\n"
    program = read_program(line * 40)
    assert len(program.letter) == 80
    assert not program.unread


def test_text_that_is_no_program(monkeypatch):
    monkeypatch.setattr(scan, "MOST_UNREAD", 20)
    rows = b"what is not a program = 5\n"
    with pytest.raises(ProgramError, match="more than half") as caught:
        read_program(b"G21\n" * 10 + rows * 40, "letter.txt")
    assert str(caught.value.place) == "letter.txt:11"
    assert len(read_program(rows * 20).unread) == 20
    assert len(read_program((b"G1 X1\n" + rows) * 40).unread) == 40


def test_many_odd_lines_that_can_be_read_are_a_program(monkeypatch):
    monkeypatch.setattr(scan, "MOST_UNREAD", 20)
    data = b"(drill (5 mm)) G1 X1\n" * 100
    program, plainly = read_program(data), read_plainly(data)
    assert not program.unread and not plainly.unread
    assert program.value.tolist() == plainly.value.tolist()
