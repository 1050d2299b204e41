"""Rings round one centre that overlap: one turn that buries an edge is asked first, and changes nothing."""

from __future__ import annotations

from unittest import mock

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from roundwright.find import find_features, meeting
from roundwright.find.turn import Turns
from roundwright.read import read_program
from roundwright.settings import Cutter, Machine, Settings
from roundwright.trace import trace_moves

SIX, TWO = Cutter("six", 6.0, 1), Cutter("two", 2.0, 2)
HEAD = "G21 G90 G17\nM6 T1\nM3 S16000\nG0 Z5\n"

rings = st.tuples(
    st.integers(1, 60),  # radius, quarters of a millimetre
    st.integers(1, 4),  # depth, mm
    st.sampled_from(("turn", "halves", "helix", "R", "chords")),
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
        elif form == "chords":
            around = np.exp((1 if turn == "3" else -1) * 2j * np.pi * np.arange(1, 73) / 72)
            lines += [f"G1 X{off + radius * c.real:.4f} Y{radius * c.imag:.4f}\n" for c in around]
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


@pytest.mark.parametrize("many", ["_CROWD", "_MANY"])
@settings(max_examples=100, deadline=None)
@given(stacks, st.integers(0, 40), st.sampled_from((TWO, None)))
def test_where_there_are_many_rings_are_judged_as_where_there_are_few(many, stack, second, small):
    """In a crowd as by the boxes of all cuts, round cuts by angles as by the distance of each point."""
    text = program(stack, second)
    known = {1: SIX, 2: small}
    with mock.patch.object(meeting, many, 1):
        found = features(text, known)
    with mock.patch.object(meeting, many, 1 << 40):
        assert features(text, known) == found


@pytest.mark.parametrize("form", ["turn", "halves", "R", "chords"])
@pytest.mark.parametrize("count", [1, 5, 90])
def test_in_a_stack_of_turns_at_one_depth_all_but_the_outermost_are_buried(count, form):
    stack = [(8 + k, 2, form, 0.0, "3") for k in range(count)]
    buried = []
    bury = Turns.bury

    def noting(self, cuts, circles, radius, depth):
        found = bury(self, cuts, circles, radius, depth)
        if np.array_equal(radius, circles.radius + circles.reach + circles.gap):
            buried.append(int(found.sum()))
        return found

    with mock.patch.object(Turns, "bury", noting):
        (feature,) = features(program(stack, -1), {1: SIX})
    assert feature.wall.radius == pytest.approx((7 + count) / 4, abs=1e-5)
    assert sum(buried) == max(0, count - 1), "only the widest ring's outer strip is left"


def test_passes_on_one_circle_are_one_turn_as_deep_as_the_deepest():
    stack = [(20, 1 + k % 3, "turn", 0.0, "3") for k in range(30)] + [(30, 2, "turn", 0.0, "3")]
    turns, bury = [], Turns.bury

    def noting(self, cuts, circles, radius, depth):
        turns.append(sorted(zip(self.radius.tolist(), self.high.tolist(), strict=True)))
        return bury(self, cuts, circles, radius, depth)

    with mock.patch.object(Turns, "bury", noting):
        features(program(stack, -1), {1: SIX})
    assert turns[0] == [(5.0, -3.0), (7.5, -2.0)]


def polygon(radius, chords=30):
    """A circle of chords about the origin, down at its first corner and up at its last."""
    corners = radius * np.exp(2j * np.pi * np.arange(chords + 1) / chords)
    (x, *_), lines = corners.real, [f"G1 X{c.real:.4f} Y{c.imag:.4f}\n" for c in corners[1:]]
    return f"G0 Z5\nG0 X{x:.4f} Y0\nG1 Z-1 F300\n" + "".join(lines)


@pytest.mark.parametrize(("high", "side"), [(8.90, "unknown"), (8.95, "hole"), (8.98, "hole")])
@pytest.mark.parametrize("count", [4, 20])
def test_a_circle_of_chords_in_a_crowd_is_judged_as_it_is_among_few(count, high, side):
    """Its inner strip lies within the middles of its chords, 8.924 mm out, and a cut may end just beyond."""
    crowd = [(1 + k, 1, "halves", 0.0, "3") for k in range(count)]
    r = high - 3
    inner = f"G0 Z5\nG0 X{r} Y0\nG1 Z-1 F300\nG3 X{-r} Y0 I{-r} J0\nG3 X{r} Y0 I{r} J0\n"
    found = features(program(crowd, -1).replace("M30", f"{inner}{polygon(12)}G0 Z5\nM30"), {1: SIX})
    assert (found[-1].wall.over_flats, found[-1].side) == (pytest.approx(11.934, abs=1e-3), side)
