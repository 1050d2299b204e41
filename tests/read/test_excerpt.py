"""Words of some lines, read together: the same that the plain engine reads of each."""

from __future__ import annotations

from pathlib import Path
from unittest import mock

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from corpus import FOLDER
from program_soup import programs
from roundwright.read import read_program, words_of
from roundwright.read.excerpt import excerpt

FILES = sorted(FOLDER.glob("[0-9]*")) if FOLDER.is_dir() else []


@given(programs, st.integers(1, 3), st.sampled_from((1, 2, 8192)))
@example(b"\xef\xbb\xbfG1 X1\r\rY2\n%\nX3", 1, 1)
@example(b"\xef\xbb\xbfG1 X1\r\rY2\n%\nX3", 1, 8192)
def test_reads_what_the_plain_engine_reads(data: bytes, step: int, at_once: int) -> None:
    program = read_program(data)
    lines = list(range(0, program.lines, step))
    with mock.patch("roundwright.read.excerpt._AT_ONCE", at_once):
        read = excerpt(program, np.array(lines, np.int64))
    assert [read.words(k) for k in range(len(lines))] == [words_of(program, line) for line in lines]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_reads_real_programs(path: Path) -> None:
    program = read_program(path.read_bytes())
    lines = np.arange(0, program.lines, 3)
    read = excerpt(program, lines)
    assert [read.words(k) for k in range(len(lines))] == [words_of(program, line) for line in lines.tolist()]


def test_names_the_first_word_of_a_letter_and_tells_where_more_are() -> None:
    program = read_program(b"X1 Y2 X3\nG1\nX4\n")
    word, more = excerpt(program, np.array([0, 1, 2])).named("X")
    assert word.tolist() == [0, -1, 4]
    assert more.tolist() == [True, False, False]
