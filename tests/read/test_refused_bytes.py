"""What is no program is refused with its cure."""

import pytest

from roundwright.errors import ProgramError
from roundwright.read import read_program

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
    assert program.unread == ()
    assert len(program.letter) == 2


def test_a_stray_control_byte_makes_its_line_unread_only():
    program = read_program(b"G1 X1\n\x1a\nM30\n\0")
    assert [(item.line, item.reason) for item in program.unread] == [(1, "character"), (3, "character")]
