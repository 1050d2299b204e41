"""Places of moves that are changed in some rows: linked where they can be, and told apart again."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from roundwright.read import read_program
from roundwright.trace import Moves, trace_moves
from roundwright.trace.moves import displaced_rows, with_places

step = st.integers(-3, 3)


def traced(text: str) -> Moves:
    return trace_moves(read_program(text.encode()))


def some_moves(jumps: set[int]) -> Moves:
    lines = [f"{'G92 X9' if k in jumps else ''}\nG1 X{k} Y{k % 3} Z-1" for k in range(8)]
    return traced("G21 G90\n" + "\n".join(lines) + "\n")


@given(
    st.sets(st.integers(1, 7), max_size=2),
    st.dictionaries(st.integers(0, 7), st.tuples(step, step), min_size=1),
    st.booleans(),
)
def test_changed_places_are_told_apart(
    jumps: set[int], steps: dict[int, tuple[int, int]], follow: bool
) -> None:
    moves = some_moves(jumps)
    assert moves.linked == (not jumps)
    start, end = moves.start.copy(), moves.end.copy()
    row = np.array(sorted(steps))
    for k in row.tolist():
        start[k, 0] += steps[k][0]
        end[k, 1] += steps[k][1]
        if follow and k + 1 < len(moves) and k + 1 not in steps:
            start[k + 1] = end[k]
    rows = np.flatnonzero(((start != moves.start) | (end != moves.end)).any(axis=1))
    given_rows = np.union1d(row, rows)
    starts, ends = with_places(moves, given_rows, start[given_rows], end[given_rows])
    assert np.array_equal(starts, start)
    assert np.array_equal(ends, end)
    changed = replace(moves, start=starts, end=ends)
    assert displaced_rows(moves, changed).tolist() == rows.tolist()
    if changed.linked:
        assert moves.linked
        assert (start[1:] == end[:-1]).all()


def test_one_feed_for_all_takes_the_room_of_one() -> None:
    moves = traced("G21 G90 F500\n" + "G1 X1.\nX2. F500\n" * 50)
    assert moves.feed.tolist() == [500.0] * 100
    assert moves.feed.strides == (0,)
    assert traced("G21 G90\nX1\nG1 X1. F5\nX2. F6\nX3\n").feed[1:].tolist() == [5.0, 6.0, 6.0]


def test_feeds_take_as_little_room_as_holds_them_exactly() -> None:
    for feed, size in (("600.5", 2), ("1200.5", 4), ("90000", 4), ("1200.1", 8), ("16777217", 8)):
        moves = traced(f"G21 G90\nG1 X1.\nX2. F{feed}\n")
        assert math.isnan(moves.feed[0])
        assert (moves.feed[1].tolist(), moves.feed.itemsize) == (float(feed), size)
