"""What a block that cannot be read may do, found in its text whatever brackets stand in it."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from roundwright.read import read_program
from roundwright.trace import trace_moves

DEEP = 10_000


def knows(block: bytes) -> tuple[int, int]:
    """Which axes are known before and behind the block, as bits."""
    moves = trace_moves(read_program(b"G21 G90\nG1 X1 Y2 Z3\n" + block + b"\nG1 X5\n"))
    return int(moves.end_known[0]), int(moves.start_known[-1])


@pytest.mark.parametrize(
    "block",
    [
        b"#1=SIN[30]",
        b"#1=" + b"SIN[" * DEEP + b"1" + b"]" * DEEP,
        b"#1=" + b"[" * DEEP + b"1" + b"]" * DEEP,
        b"#1=" + b"[1]+" * DEEP + b"2",
        b"#1=[#2+ABS[#3]]*[#4-1]",
    ],
    ids=["one", "functions in functions", "brackets in brackets", "in a row", "mixed"],
)
def test_what_only_reckons_moves_nothing(block):
    assert knows(block) == (7, 7)


@pytest.mark.parametrize(
    "block",
    [
        b"#1=SIN[30] G1 X5",
        b"#1=" + b"[" * DEEP + b"1" + b"]" * (DEEP - 1) + b" X5",
        b"#1=" + b"A" * DEEP + b" G1 X[5]",
        b"#1=5 GOTO 7",
        b"IF[#1 EQ 2]GOTO 5",
        b"WHILE[" + b"<" * DEEP + b"] X5",
    ],
    ids=["a move behind", "an open bracket", "letters", "a jump", "a condition", "signs"],
)
def test_what_may_do_more_leaves_no_axis_known(block):
    assert knows(block) == (7, 0)


PIECES = st.sampled_from([b"[", b"]", b"A", b"SIN", b"1", b"#2", b"+", b"X", b"G1"])


@given(st.lists(PIECES, max_size=25).map(b"".join))
def test_brackets_are_paired_as_by_taking_out_the_innermost_again_and_again(right):
    """A block that sets a variable does nothing else where no letter is left outside brackets."""
    bare, count = right, 1
    while count:
        bare, count = re.subn(rb"[A-Z]*\[[^\[\]]*\]", b"", bare)
    assert (knows(b"#1=" + right)[1] == 7) == (not re.search(rb"[A-Z]", bare))
