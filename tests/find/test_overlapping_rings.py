"""Rings round one centre that overlap: one turn that buries an edge is asked first, and changes nothing."""

from __future__ import annotations

from unittest import mock

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from roundwright.find import find_features
from roundwright.find.turn import Turns
from roundwright.read import read_program
from roundwright.settings import Cutter, Machine, Settings
from roundwright.trace import trace_moves

SIX, TWO = Cutter("six", 6.0, 1), Cutter("two", 2.0, 2)
HEAD = "G21 G90 G17\nM6 T1\nM3 S16000\nG0 Z5\n"

rings = st.tuples(
    st.integers(1, 60),  # radius, quarters of a millimetre
    st.integers(1, 4),  # depth, mm
    st.sampled_from(("turn", "halves", "helix", "R")),
    st.sampled_from((0.0, 0.0, 0.0, 0.02, 0.3, 9.75)),  # how far its centre stands off
    st.sampled_from("23"),
)
stacks = st.lists(rings, min_size=1, max_size=40)


def program(stack, second):
    """The rings of a stack one after the other, those from `second` on with the small cutter."""
    lines = [HEAD]
    for k, (quarters, depth, form, off, turn) in enumerate(stack):
        radius = quarters / 4
        x = off + radius
        lines += ["M6 T2\nM3\n"] if k == second else []
        lines.append(f"G0 Z5\nG0 X{x} Y0\nG1 Z-{depth} F300\n")
        if form == "turn":
            lines.append(f"G{turn} X{x} Y0 I-{radius} J0 F900\n")
        elif form == "helix":
            lines.append(f"G{turn} X{x} Y0 Z-{depth + 1} I-{radius} J0 F900\n")
        elif form == "halves":
            lines.append(f"G{turn} X{off - radius} Y0 I-{radius} J0\nG{turn} X{x} Y0 I{radius} J0\n")
        else:
            lines.append(f"G{turn} X{off - radius} Y0 R{radius}\nG{turn} X{x} Y0 R{radius}\n")
    return "".join(lines) + "G0 Z5\nM30\n"


def features(text, known):
    moves = trace_moves(read_program(text.encode(), "stack.nc"), "incremental")
    cutters = {k: known[section.tool] for k, section in enumerate(moves.sections)}
    return find_features(moves, cutters, Machine(), Settings())


def asking_none(self, cuts, circles, radius, depth):
    """The plain way: no turn is asked first, so that each edge is held against all cuts."""
    return np.zeros(len(radius), np.bool_)


@settings(max_examples=150, deadline=None)
@given(stacks, st.integers(0, 40), st.sampled_from((TWO, None)))
def test_asking_one_turn_first_changes_no_feature(stack, second, small):
    text = program(stack, second)
    known = {1: SIX, 2: small}
    found = features(text, known)
    with mock.patch.object(Turns, "bury", asking_none):
        assert features(text, known) == found


@pytest.mark.parametrize("count", [1, 5, 90])
def test_in_a_stack_of_turns_at_one_depth_all_but_the_outermost_are_buried(count):
    stack = [(8 + k, 2, "turn", 0.0, "3") for k in range(count)]
    buried = []
    bury = Turns.bury

    def noting(self, cuts, circles, radius, depth):
        buried.append(int(bury(self, cuts, circles, radius, depth).sum()))
        return bury(self, cuts, circles, radius, depth)

    with mock.patch.object(Turns, "bury", noting):
        (feature,) = features(program(stack, -1), {1: SIX})
    assert feature.wall.radius == (7 + count) / 4
    outer = sum(buried[::2])
    assert outer == max(0, count - 1), "only the widest ring's outer strip is left"
