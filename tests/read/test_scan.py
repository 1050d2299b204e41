"""The columns against the plain engine, and against the source bytes themselves."""

from __future__ import annotations

import re
from unittest import mock

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from corpus import FOLDER
from program_soup import programs
from roundwright.errors import ProgramError
from roundwright.read import parse_number, read_program, scan, words_of
from roundwright.read.plain import read_plainly
from roundwright.read.program import (
    BLOCK_DELETE,
    CHECKSUM,
    COMMENT,
    NO_VALUE,
    PROGRAM_NUMBER,
    TAPE_MARK,
    UNREAD,
    Manner,
    Program,
)

FILES = sorted(FOLDER.glob("[0-9]*")) if FOLDER.is_dir() else []
COLUMNS = (
    "letter",
    "value",
    "decimals",
    "line",
    "line_start",
    "flags",
)


def assert_same(one: Program, other: Program) -> None:
    for name in COLUMNS:
        a, b = getattr(one, name), getattr(other, name)
        assert a.dtype == b.dtype, name
        assert np.array_equal(a, b), (name, a, b)
    assert list(one.unread) == list(other.unread)
    for name in ("data", "name", "newline", "end_line", "manner"):
        assert getattr(one, name) == getattr(other, name), name


def assert_lossless(program: Program) -> None:
    """Every word is its own span; what is between the words of a read block are no words."""
    assert program.line_start[0] == 0
    assert program.line_start[-1] == len(program.data)
    assert b"".join(map(program.line_text, range(program.lines))) == program.data
    unread = {line for line, _ in program.unread}
    assert unread == set(np.flatnonzero(program.flags & UNREAD).tolist())
    seen = 0
    for line in range(program.lines):
        words = words_of(program, line)
        behind = int(program.line_start[line])
        between = []
        for word in words:
            assert program.line[seen] == line
            assert (program.letter[seen], program.value[seen]) == (word.letter, word.value)
            assert program.decimals[seen] == word.decimals
            seen += 1
            start, number, stop = word.start, word.number, word.stop
            assert behind <= start < number <= stop <= program.line_start[line + 1]
            assert word.letter == program.data[start : start + 1].upper()[0]
            parsed = parse_number(program.data[number:stop])
            if word.decimals == NO_VALUE:
                assert word.value == 0
                assert line in unread
            else:
                assert parsed == (word.value, word.decimals)
            between.append(program.data[behind:start])
            behind = stop
        between.append(program.data[behind : int(program.line_start[line + 1])])
        if line not in unread and line < program.end_line:
            assert_bare(b"\n".join(between), int(program.flags[line]), first=line == 0)


def assert_bare(between: bytes, flags: int, first: bool) -> None:
    """Only comments, blanks and the marks that the flags tell of stand between the words."""
    between = between.removeprefix(b"\xef\xbb\xbf") if first else between
    if flags & TAPE_MARK:
        assert b"%" in between
        return
    bare = re.sub(rb"\([^)\n]*\)?|;[^\n]*", b"", between)
    assert bool(flags & COMMENT) == (bare != between)
    bare = bare.translate(None, b" \t\r\n)")
    marks = re.fullmatch(rb"(/[1-9]?)?([Oo:][0-9]+)?(\*[0-9]{1,3})?", bare)
    assert marks, bare
    assert bool(marks[1]) == bool(flags & BLOCK_DELETE)
    assert bool(marks[2]) == bool(flags & PROGRAM_NUMBER)
    assert bool(marks[3]) == bool(flags & CHECKSUM)


@settings(max_examples=600, deadline=None)
@given(programs, st.integers(2, 60))
@example(b"X1\r\r\nY2\rZ3\n", 4)
@example(b"G1 X5(a)(b))Y2", 50)
@example(b"X1 E5\nX1E5\nX1.E5\nX1.E.5", 50)
@example(b";(\n(;\n)X1\n", 3)
def test_columns_agree_with_the_plain_engine(data, chunk):
    try:
        with mock.patch.object(scan, "CHUNK", chunk):
            program = read_program(data, "soup.nc")
    except ProgramError:
        controls = len(data) - len(data.translate(None, bytes(range(9))))
        assert controls >= 2 or data.startswith((b"PK", b"\xff\xfe", b"\xfe\xff"))
        return
    assert_same(program, read_plainly(data, "soup.nc"))
    assert_lossless(program)


@settings(max_examples=60, deadline=None)
@given(programs, st.integers(2, 60))
def test_the_size_of_a_chunk_changes_nothing(data, chunk):
    try:
        whole = read_program(data)
    except ProgramError:
        return
    with mock.patch.object(scan, "CHUNK", chunk):
        assert_same(read_program(data), whole)


@settings(max_examples=60, deadline=None)
@given(programs, st.integers(0, 60))
def test_dense_lines_are_read_in_smaller_chunks_all_the_same(data, more):
    try:
        whole = read_program(data)
    except ProgramError:
        return
    longest = 1 + max(map(len, data.splitlines()), default=0)  # with its end
    with mock.patch.object(scan, "MOST_TOKENS", longest + more):
        assert_same(read_program(data), whole)


@settings(max_examples=300, deadline=None)
@given(
    st.lists(
        st.one_of(
            st.from_regex(rb"[+-]?[0-9. ]{0,26}", fullmatch=True),
            st.from_regex(rb"-?[0-9]{1,9}\.[0-9]{8}[05][05]{0,14}[01]?", fullmatch=True),
            st.floats(-1e6, 1e6).map(lambda number: repr(number).encode()),
        ),
        min_size=1,
        max_size=30,
    )
)
def test_numbers_in_columns_are_exact(texts):
    data = b"\n".join(b"X" + text for text in texts)
    program = read_program(data)
    assert bytes(program.letter) == b"X" * len(texts)
    expected = [parse_number(text) or (0, NO_VALUE) for text in texts]
    assert list(zip(program.value.tolist(), program.decimals.tolist(), strict=True)) == expected


def test_an_empty_program_has_no_lines():
    program = read_program(b"", "empty.nc")
    assert (program.lines, len(program.letter), program.end_line) == (0, 0, 0)
    assert program.line_start.tolist() == [0]
    assert program.line.tolist() == []
    assert program.newline == b"\n"


@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"])
def test_line_ends(end):
    data = end.join([b"G1 X1", b"", b"Y2", b"M30"])
    program = read_program(data)
    assert program.newline == end
    assert program.lines == 4
    assert program.line.tolist() == [0, 0, 2, 3]
    assert program.line_text(0) == b"G1 X1" + end
    assert program.line_text(3) == b"M30"


def test_the_commonest_line_end_is_the_programs_own():
    assert read_program(b"G1\r\nG2\r\nG3\nG4\r").newline == b"\r\n"
    assert read_program(b"G1\nG2\nG3\r\n").newline == b"\n"
    assert read_program(b"G1\rG2\rG3\r\n").newline == b"\r"


def test_a_byte_order_mark_is_kept_and_passed_over():
    program = read_program(b"\xef\xbb\xbfG21\nX1")
    assert not program.unread
    assert [word.start for line in (0, 1) for word in words_of(program, line)] == [3, 7]
    assert program.line_text(0) == b"\xef\xbb\xbfG21\n"


def test_ends_at_the_second_percent_where_the_first_opens_the_program():
    program = read_program(b"\n%\nG1 X1\n%\nG1 X2 (c)\nX[1]\n%\n")
    assert program.end_line == 3
    assert program.flags.tolist() == [0, TAPE_MARK, 0, TAPE_MARK, 0, 0, 0]
    assert len(program.letter) == 2
    assert program.line.tolist() == [2, 2]
    assert not program.unread


def test_ends_at_the_first_percent_behind_a_motion_where_none_opens_it():
    assert read_program(b"(a)\n% text X1\nG90\n%\nG1 X1\n%\nG1 X2\n").end_line == 5
    assert read_program(b"(a)\n%\nG90\n%").end_line == 4
    assert read_program(b"%\nG1 X1\nM30\n").end_line == 3
    assert read_program(b"%\nN1 G1 X1\nN2 %\nX2").end_line == 2


@pytest.mark.skipif(not FILES, reason="no corpus of real programs here")
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name[:3])
def test_real_programs(path):
    data = path.read_bytes()
    program = read_program(data, path.name)
    if len(data) > 200_000:  # the plain engine takes seconds for more; a part is as good
        data = data[:200_000]
        program = read_program(data, path.name)
    assert_same(program, read_plainly(data, path.name))
    assert_lossless(program)


def test_how_lengths_are_written_is_counted_up_to_the_end_mark():
    program = read_program(b"%\nG1X.5 Y-0.25Z1\nN7 G1 X2.000\n%\nX.1 Y.2 Z.3 X.4\n")
    assert program.manner == Manner(least=-1, fewest=1, bare=False, blanks=True)
    assert program.manner == read_plainly(program.data).manner
