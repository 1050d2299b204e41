"""Moves as steps beside rings, found out many at once, held against each told by itself."""

from __future__ import annotations

from functools import cache
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from roundwright.find.lead import moves_in_plane
from roundwright.plan import follow as room
from roundwright.plan.follow import Anchor
from roundwright.plan.kind import Steps
from roundwright.read import read_program, words_of
from roundwright.read.program import UNREAD
from roundwright.trace import trace_moves
from roundwright.trace.moves import PLANE_AXES, ArcFault, Motion, datum_set
from roundwright.units import GRAIN, PER_UNIT
from strategies import programs


@cache
def drawn(seed):
    return trace_moves(read_program(programs(Random(seed)).data, "drawn.nc"))


def goes_home(moves, row):
    line = int(moves.line[row])
    words = () if moves.program.flags[line] & UNREAD else words_of(moves.program, line)
    return any(word.letter == ord("G") and word.value // PER_UNIT in (28, 30, 53) for word in words)


def kind_of(moves, row, normal, frame):
    """The plain way: one question after the other."""
    mask = sum(1 << axis for axis in PLANE_AXES[normal])
    motion, own = int(moves.motion[row]), moves.states[int(moves.state[row])].frame
    if own != frame:
        return "datum" if datum_set(moves.frames, frame, own) else "away"
    if motion == Motion.OTHER and not goes_home(moves, row):
        return "blocked"
    if (int(moves.end_known[row]) & mask) != mask or motion == Motion.CYCLE:
        return "away"
    if not moves_in_plane(moves, row, normal):
        return "upright"
    if motion in (Motion.OTHER, Motion.RAPID, Motion.LINE):
        return {Motion.OTHER: "blocked", Motion.RAPID: "rapid", Motion.LINE: "straight"}[motion]
    sound = moves.arcs.fault[np.searchsorted(moves.arcs.row, row)] == ArcFault.NONE
    return "arc" if sound else "blocked"


def held(moves, row, normal, frame, step):
    assert step.kind == kind_of(moves, row, normal, frame)
    first, second = PLANE_AXES[normal]
    way = (moves.end[row] - moves.start[row]).tolist()
    assert step.length == np.hypot(way[first] * GRAIN, way[second] * GRAIN)
    if step.kind == "arc":
        assert step.sweep == abs(moves.arcs.sweep[np.searchsorted(moves.arcs.row, row)])
    elif step.kind == "straight":
        assert step.sweep == 0.0


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 25), st.integers(0, 2), st.data())
def test_a_step_is_what_its_move_is_by_itself(seed, normal, data):
    moves = drawn(seed)
    frame = data.draw(st.integers(0, len(moves.frames) - 1))
    steps = Steps(moves)
    for row in data.draw(st.lists(st.integers(0, len(moves) - 1), min_size=1, max_size=40)):
        held(moves, row, normal, frame, steps(row, normal, frame))


ODD = """\
G21 G90 G17
T1 M6
X5
G0 X0 Y0 Z5
G1 Z-1 F100
G2 X10 Y0 I5 J0
G2 X20 Y0 I5.5 J0
G81 X30 Y0 Z-3 R2
G28 Z0
G53 G0 Z0
G28 X0 Y0
G38.2 Z-5
G0 X0 Y0 Z5
G0 Z4
G1 Z-1 X0 Y2
G0 X3
G55
G0 X1 Y1
G92 X0 Y0
G1 X4 Y4
G18 G3 X6 Z2 I1 K1
M30
"""


@pytest.mark.parametrize("normal", [0, 1, 2])
def test_odd_moves_are_told_as_each_by_itself(normal):
    moves = trace_moves(read_program(ODD.encode(), "odd.nc"))
    kinds = set()
    for frame in range(len(moves.frames)):
        steps = Steps(moves)
        for row in range(len(moves)):
            held(moves, row, normal, frame, steps(row, normal, frame))
            kinds.add(steps(row, normal, frame).kind)
    assert {"straight", "rapid", "away", "blocked", "datum"} <= kinds


def test_a_long_program_is_told_alike_from_end_to_end():
    text = "G21 G90 G17\n" + "".join(f"G1 X{k % 7} Y{k % 3} F100\nG0 Z{k % 2}\n" for k in range(20_000))
    moves = trace_moves(read_program(text.encode(), "long.nc"))
    steps = Steps(moves)
    asked = [*range(0, len(moves), 97), *range(len(moves) - 1, 0, -513)]
    assert [steps(row, 2, 0).kind for row in asked] == [kind_of(moves, row, 2, 0) for row in asked]


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 25), st.data())
def test_kinds_alone_tell_the_ends_that_a_walk_finds(seed, data):
    moves = drawn(seed)
    steps = Steps(moves)
    for _ in range(20):
        first = data.draw(st.integers(0, len(moves) - 1))
        rows = range(first, min(len(moves), first + data.draw(st.integers(1, 9))))
        moving = data.draw(st.sampled_from([(0.1, 0.0, 0.0), (0.0, 0.0, 0.0)]))
        anchors = [Anchor(at, moving, "C1", 2, 0, data.draw(st.sampled_from((0.0, 12.0)))) for at in (0, 1)]
        left, right = data.draw(st.sampled_from([anchors, [None, anchors[1]], [anchors[0], None]]))
        ends = room._plain_ends(steps, rows, left, right)
        assert ends is None or ends == room._ends(steps, rows, left, right)


def test_from_bore_to_bore_kinds_alone_tell_the_ends():
    text = "G21 G90 G17\nG0 X0 Y0 Z5\nG1 X3 F100\nG0 Z5\nG0 X20\nG1 Z-1\nG1 X23\nM30\n"
    moves = trace_moves(read_program(text.encode(), "bores.nc"))
    left, right = (Anchor(at, (0.1, 0.0, 0.0), "C1", 2, 0, 12.0) for at in (0, 5))
    assert room._plain_ends(Steps(moves), range(1, 6), left, right) == (0, 4)
    assert room._plain_ends(Steps(moves), range(1, 2), left, right) is None  # a link
