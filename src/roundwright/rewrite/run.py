"""Runs of the displaced path as columns: where each of their blocks begins and ends, before and after.

A run is planned moves and those that begin where they end. It is steady where all of them are plain moves to
absolute places: then where each begins is known before any of them is written.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.read.distinct import distinct
from roundwright.rewrite.block import CIRCULAR, PLAIN
from roundwright.rewrite.position import Solution
from roundwright.rewrite.states import of_states
from roundwright.trace.moves import Moves

Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]
#: places farther out would not fit 64 bits on their way into inches, counts of 1e-8 mm.
_FAR = 1 << 59


class Blocks(Struct, frozen=True, eq=False):
    """Some blocks (s,) of runs. Places are counts of 1e-8 mm; starts hold in steady runs only."""

    row: Integers  # (s,) ascending
    was_start: Integers  # (s, 3)
    was_end: Integers
    start: Integers
    end: Integers


class Runs(Blocks, frozen=True, eq=False):
    """The blocks of all runs.

    `begins` (r + 1,) are the first blocks of the runs, `steady` (r,) tells which are.
    """

    begins: Integers
    steady: Flags

    @property
    def of_steady(self) -> Flags:
        """Which blocks (s,) are in steady runs."""
        return np.repeat(self.steady, np.diff(self.begins))

    def blocks(self, part: slice) -> Blocks:
        """Some of the blocks."""
        columns = (self.row, self.was_start, self.was_end, self.start, self.end)
        return Blocks(*(column[part] for column in columns))


def runs_of(moves: Moves, solution: Solution) -> Runs:
    """The runs that hold every planned row, and those behind moved ends."""
    places = solution.places
    row = distinct(np.concatenate((places.row, solution.planned.row, places.row + 1)))
    row = row[row < len(moves)]
    was_start, was_end = moves.start[row], moves.end[row]
    end = was_end.copy()
    end[np.searchsorted(row, places.row)] = places.place
    start = was_start.copy()
    follows = np.flatnonzero(np.diff(row) == 1)
    start[follows + 1] += (end - was_end)[follows]
    begins = np.concatenate(([0], np.flatnonzero(np.diff(row) != 1) + 1, [len(row)]))
    runs = Runs(row, was_start, was_end, start, end, begins, np.zeros(0, np.bool_))
    steady = np.logical_and.reduceat(_steady(moves, solution, runs), begins[:-1])
    return Runs(row, was_start, was_end, start, end, begins, steady)


def _steady(moves: Moves, solution: Solution, runs: Runs) -> Flags:
    """Which blocks are plain moves to absolute places, and displaced only where they begin at an end."""
    row, before = runs.row, np.maximum(runs.row - 1, 0)
    displaced = (runs.start != runs.was_start).any(axis=1)
    joined = (moves.end[before] == runs.was_start).all(axis=1)
    joined &= (moves.end_known[before] & ~moves.start_known[row]) == 0
    frame = np.array([state.frame for state in moves.states])
    joined &= frame[moves.state[before]] == frame[moves.state[row]]
    odd = of_states(moves, row, lambda s: s.incremental or bool(s.unsupported) or s.feed_mode == 93) != 0
    odd |= ~np.isin(moves.motion[row], PLAIN) | (displaced & ~joined)
    changes = displaced | (runs.end != runs.was_end).any(axis=1)
    planned = np.isin(row, solution.planned.row)
    odd |= changes & ~planned & np.isin(moves.motion[row], CIRCULAR)
    for place in (runs.was_start, runs.was_end):
        odd |= (np.abs(place) > _FAR).any(axis=1)
    line = np.concatenate(([-1], moves.line, [-1]))
    odd |= (line[row] == line[row + 1]) | (line[row + 2] == line[row + 1])
    return np.asarray(~odd)
