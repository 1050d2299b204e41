"""Which lines differ, and what may differ in a line."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from roundwright.prove.blocks import read_block
from roundwright.prove.untouched import difference, differing

LINES = st.lists(st.binary(max_size=6).map(lambda b: b.replace(b"\n", b"") + b"\n"), min_size=1, max_size=12)
XY, XYI = frozenset("XYZ"), frozenset("XYZIJ")


def offsets(lines: list[bytes]) -> NDArray[np.int64]:
    return np.concatenate(([0], np.cumsum([len(line) for line in lines]))).astype(np.int64)


@given(LINES, st.data())
def test_finds_exactly_the_lines_that_differ(before: list[bytes], data: st.DataObject) -> None:
    changes = data.draw(st.dictionaries(st.integers(0, len(before) - 1), st.binary(min_size=1, max_size=6)))
    after = [changes.get(k, line) for k, line in enumerate(before)]
    expected = [k for k, (a, b) in enumerate(zip(before, after, strict=True)) if a != b]
    found = differing(b"".join(before), offsets(before), b"".join(after), offsets(after))
    assert found.tolist() == expected


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"G1 X57. Y40.\n", b"G1 X57.067 Y39.95\n"),
        (b"G1X57Y40\n", b"G1X57.067Y40\n"),
        (b"Y40\n", b"X57.067 Y40\n"),
        (b"G1Y40F600\n", b"G1X57.067Y40F600\n"),
        (b"G1 Y40 (out)\n", b"G1 X57.067 Y40 Z1.000 (out)\n"),
        (b"G3 I-7 (turn)\r\n", b"G3 X57.067 I-7.067 J0.001 (turn)\r\n"),
        (b"N5 G1 Y 40 ; out", b"N5 G1 X57.067 Y 40.1 ; out"),
        (b"N5 G1 Y 40 ; out", b"N5 G1 X 57.067 Y 40.1 ; out"),
        (b"G1X57 F600\n", b"G1X57.067Y44.04 F600\n"),
        (b"G1 X5 7. 1\n", b"G1 X57.167\n"),
    ],
)
def test_numbers_and_added_words_may_differ(old: bytes, new: bytes) -> None:
    before, after = read_block(old), read_block(new)
    assert before is not None and after is not None
    assert difference(before, after, XYI, XYI, 5) == ""


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        (b"G1 X57. Y40.\n", b"G1 Y40. X57.1\n", "its words are"),
        (b"G1 X57. I1\n", b"G1 X57. I1.1\n", "unchanged"),
        (b"G1 X57.\n", b"G1 X57. I1.1\n", "added"),
        (b"G1 X57.\n", b"G1 X57. F100.0\n", "added"),
        (b"G1 X57.\n", b"G1 X57. Y1.0 Y1.0\n", "added"),
        (b"G1 X57.\n", b"G1 X57. Y1\n", "not written plainly"),
        (b"G1 X57.\n", b"G1 X57. Y 1.0\n", "not written plainly"),
        (b"G1 X57.\n", b"G1 X57\n", "without need"),
        (b"G1 X57.\n", b"G1 X58\n", "not written plainly"),
        (b"G1 X57.\n", b"G1 X57.123456\n", "more than 5 decimals"),
        (b"G1 Y40 (out)\n", b"G1 X57.1   Y40 (out)\n", "blanks"),
        (b"G1 Y40 (out)\n", b"G1 X57.1(in) Y40 (out)\n", "blanks"),
        (b"G1 Y40 (out)\n", b"G1 Y40.1 (aus)\n", "blanks"),
        (b"G1 Y40\n", b"G1 Y40.1 \n", "blanks"),
        (b"G1 Y40*3\n", b"G1 Y40.1\n", "checksum"),
        (b"g1 f9\n", b"g1 X57.1 f9\n", "another case"),
        (b"G1 F9\n", b"G1 x57.1 F9\n", "another case"),
        (b"G1 F9\n", b"G1 X57.1 Y40.1F9\n", "blanks"),
        (b"G1 F9\n", b"G1X57.1 Y40.1 F9\n", "blanks"),
        (b"G1 F9\n", b"G1 X57.1Y40.1 F9\n", "blanks"),
        (b"G1 F9\n", b"G1 X57.1F9\n", "blanks"),
        (b"G1 F9\n", b"G1X57.1 F9\n", "blanks"),
        (b"G1 F9\n", b"G1 X57.1\tF9\n", "blanks"),
        (b"G1F9\n", b"G1 X57.1F9\n", "blanks"),
        (b"G1 (in) F9\n", b"G1 (in)X57.1 F9\n", "blanks"),
    ],
)
def test_nothing_else_may_differ(old: bytes, new: bytes, what: str) -> None:
    before, after = read_block(old), read_block(new)
    assert before is not None and after is not None
    assert what in difference(before, after, XY, XY, 5)


def test_an_r_word_keeps_its_sign() -> None:
    before, after = read_block(b"G2 X1. R5.\n"), read_block(b"G2 X1. R-5.\n")
    assert before is not None and after is not None
    assert "the other way round" in difference(before, after, XY | {"R"}, XY, 5)
