"""Lengths of moves before and after, for G93, where F is a time and has to follow the length."""

from __future__ import annotations

from math import hypot, pi

import numpy as np

from roundwright.read import words_of
from roundwright.rewrite.circle import swept
from roundwright.rewrite.position import Solution
from roundwright.rewrite.round import scale
from roundwright.trace.moves import Motion, Moves
from roundwright.units import GRAIN


def moved_ratio(moves: Moves, solution: Solution, row: int, start: list[int], end: list[int]) -> float:
    """Old length over new length of a move; 1 where one is nothing.

    `start` and `end` are written places in counts of 1e-8 mm.
    """
    was = _old_length(moves, row)
    now = _new_length(solution, row, start, end)
    return was / now if was and now else 1.0


def _old_length(moves: Moves, row: int) -> float:
    along = [float(step) * GRAIN for step in moves.end[row] - moves.start[row]]
    k = moves.arcs.number(row)
    if k is None:
        return hypot(*along)
    radius = float(moves.arcs.radius[k] + moves.arcs.radius_end[k]) / 2
    normal = moves.states[int(moves.state[row])].normal
    return hypot(radius * float(moves.arcs.sweep[k]), along[normal])


def _new_length(solution: Solution, row: int, start: list[int], end: list[int]) -> float:
    """The length along the helix (NIST IR 6556, 2.1.2.6)."""
    along = [(b - a) * GRAIN for a, b in zip(start, end, strict=True)]
    arc, written = solution.planned.get(row), solution.arcs.get(row)
    if arc is None or written is None:
        return hypot(*along)
    u, v = arc.axes
    centre = arc.target.centre if arc.r_form else tuple(c * scale(arc.inch) for c in written.centre)
    ends = [(place[u] * GRAIN, place[v] * GRAIN) for place in (start, end)]
    radius = sum(hypot(a - centre[0], b - centre[1]) for a, b in ends) / 2
    turns = int((abs(arc.sweep) - 1e-9) / (2 * pi))
    sweep = 2 * pi if arc.closed else abs(swept((centre[0], centre[1]), ends[0], ends[1], arc.ccw))
    return hypot(radius * (sweep + turns * 2 * pi), along[3 - u - v])


def inherited_feed(moves: Moves, row: int) -> bool:
    """Whether a later cutting move takes over the F of this one, having none of its own."""
    later = np.flatnonzero(moves.motion[row + 1 :] != Motion.RAPID)[:1]
    if not len(later):
        return False
    lines = range(int(moves.line[row]) + 1, int(moves.line[row + 1 + int(later[0])]) + 1)
    return not any(word.letter == ord("F") for line in lines for word in words_of(moves.program, line))
