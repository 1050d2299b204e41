"""Short ways to trace a program in a test."""

from __future__ import annotations

import numpy as np

from roundwright.read import read_program
from roundwright.settings import ArcCentres
from roundwright.trace import Moves, State, trace_moves
from roundwright.units import PER_UNIT


def traced(text: str, arc_centres: ArcCentres = "auto") -> Moves:
    """The moves of a program given as text."""
    return trace_moves(read_program(text.encode(), "test.nc"), arc_centres)


def ends(moves: Moves) -> list[tuple[float, ...]]:
    """End positions in mm."""
    return [tuple(row) for row in (moves.end / PER_UNIT).tolist()]


def degrees(moves: Moves) -> list[float]:
    """Sweeps of the arcs."""
    return np.degrees(moves.arcs.sweep).tolist()


def state_of(moves: Moves, row: int) -> State:
    """The state of a row, counted from the end where negative."""
    return moves.states[moves.state[row]]


def on_line(moves: Moves, line: int) -> int:
    """The row of a line, counted from 1."""
    (row,) = np.flatnonzero(moves.line == line - 1).tolist()
    return row
