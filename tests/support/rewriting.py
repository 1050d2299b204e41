"""Hand-made plans for small programs: one circle grows, and what stands on it travels along."""

from __future__ import annotations

from math import dist

import numpy as np

from roundwright.plan import ArcTarget, Decimals, Plan
from roundwright.read import read_program
from roundwright.rewrite import rewrite_program
from roundwright.trace import PLANE_AXES, Moves, trace_moves
from roundwright.units import PER_UNIT


def moves_of(text: str | bytes) -> Moves:
    data = text if isinstance(text, bytes) else text.encode("latin-1")
    return trace_moves(read_program(data, "test.nc"))


def plan_of(ends=None, arcs=None, *, most=8, least=(3, 4), stamp=None) -> Plan:
    return Plan((), ends or {}, arcs or {}, Decimals(*least, most), stamp)


def arcs_on(moves: Moves, centre, radius, near=0.05) -> list[int]:
    """Indices of the arcs on this circle (mm)."""
    return [
        k
        for k in range(len(moves.arcs.row))
        if dist(moves.arcs.centre[k], centre) < near and abs(moves.arcs.radius[k] - radius) < near
    ]


def grown(moves: Moves, centre, radius, delta, *, travel=True, near=0.05, **how) -> Plan:
    """The plan that moves a circle's corners outwards by `delta` mm.

    With `travel`, moves on the spot (plunge, retract) go along; else the next move takes it up.
    """
    ends: dict[int, tuple[float, ...]] = {}
    arcs = {}
    for k in arcs_on(moves, centre, radius, near):
        row = int(moves.arcs.row[k])
        axes = PLANE_AXES[moves.states[moves.state[row]].normal]
        arcs[row] = ArcTarget(tuple(map(float, centre)), radius + delta, "C1")
        for node, place in ((row - 1, moves.start[row]), (row, moves.end[row])):
            new = (place / PER_UNIT).tolist()
            off = [new[axis] - c for axis, c in zip(axes, centre, strict=True)]
            for axis, c, way in zip(axes, centre, off, strict=True):
                new[axis] = c + way * (radius + delta) / np.hypot(*off)
            ends[node] = tuple(new)
    if travel:
        _travel(moves, ends, set(arcs))
    return plan_of(ends, arcs, **how)


def _travel(moves: Moves, ends, ring: set[int]) -> None:
    for order in (range(len(moves)), range(len(moves) - 1, -1, -1)):
        for row in order:
            if row in ring or (moves.start[row, :2] != moves.end[row, :2]).any():
                continue
            known, free = (row - 1, row) if order.step > 0 else (row, row - 1)
            if known in ends and free not in ends and free >= 0:
                ends[free] = (*ends[known][:2], float(moves.end[free, 2]) / PER_UNIT)


def corrected(text: str, centre, radius, delta, **how) -> str:
    """The program with one circle grown, as text."""
    moves = moves_of(text)
    return rewrite_program(moves, grown(moves, centre, radius, delta, **how)).decode("latin-1")


def changed_lines(before: str, after: str) -> list[str]:
    """The lines of `after` that differ from those of `before`, which has equally many."""
    old, new = before.splitlines(), after.splitlines()
    return [b for a, b in zip(old, new, strict=True) if a != b]
