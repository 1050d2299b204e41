"""How near cuts of each kind come to points, held against the paths sampled finely."""

from __future__ import annotations

from math import cos, pi, sin

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from roundwright.find.cuts import gather_cuts, nearest
from roundwright.read import read_program
from roundwright.settings import Cutter
from roundwright.trace import trace_moves
from roundwright.units import GRAIN

lengths = st.integers(-40, 40).map(float)
#: radius, where the arc begins and how far it goes (degrees; 0: straight), and how deep it sinks.
paths = st.tuples(
    st.integers(2, 30), st.integers(0, 359), st.sampled_from((0, 40, 170, 300, 360)), st.sampled_from((0, 2))
)


def program(drawn):
    """The paths one after the other, each begun at height 0."""
    lines = ["G21 G90 G17\nT1 M6\nM3 S9000\nG0 Z5\n"]
    for radius, begin, sweep, sinks in drawn:
        x, y, to_x, to_y = (
            radius * of(angle * pi / 180) for angle in (begin, begin + sweep) for of in (cos, sin)
        )
        lines.append(f"G0 X{x:.5f} Y{y:.5f}\nG1 Z0 F300\n")
        if sweep == 0:
            lines.append(f"G1 X{x + 7:.5f} Y{y:.5f} Z{-sinks}\n")
        else:
            lines.append(f"G3 X{to_x:.5f} Y{to_y:.5f} Z{-sinks} I{-x:.5f} J{-y:.5f}\n")
    return "".join(lines) + "M30\n"


@settings(max_examples=60, deadline=None)
@given(st.lists(paths, min_size=1, max_size=8), st.lists(st.tuples(lengths, lengths), min_size=1, max_size=5))
def test_points_are_as_far_from_each_path_as_from_its_samples(drawn, points):
    moves = trace_moves(read_program(program(drawn).encode(), "paths.nc"), "incremental")
    row = np.flatnonzero((moves.motion > 0) & (moves.start[:, :2] != moves.end[:, :2]).any(axis=1))
    row = np.union1d(row, moves.arcs.row)
    cuts = gather_cuts(moves, {1: Cutter("six", 6.0, 1)}, row, 2)
    x, y = np.array(points).T
    distance, height = nearest(cuts, np.arange(len(row)), x, y)
    share = np.linspace(0, 1, 4001)[:, None]
    for k, at in enumerate(row.tolist()):
        path = cuts.start[k] + share * (cuts.end[k] - cuts.start[k])
        if at in moves.arcs.row:
            arc = int(np.searchsorted(moves.arcs.row, at))
            out = cuts.start[k] - moves.arcs.centre[arc]
            angle = np.arctan2(out[1], out[0]) + share * moves.arcs.sweep[arc]
            path = moves.arcs.centre[arc] + np.hypot(*out) * np.hstack([np.cos(angle), np.sin(angle)])
        away = np.hypot(path[:, 0, None] - x, path[:, 1, None] - y)
        assert np.abs(distance[k] - away.min(axis=0)).max() < 0.03
        z = moves.start[at, 2] * GRAIN, moves.end[at, 2] * GRAIN
        assert (height[k] <= max(z)).all() and (height[k] >= min(z)).all()
