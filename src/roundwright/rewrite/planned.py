"""The arcs whose circles are planned, gathered from moves and plan as columns."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from roundwright.find.arcs import sameness
from roundwright.plan.plan import ArcTarget, ArcTargets, Ends
from roundwright.read.excerpt import excerpt
from roundwright.rewrite.alike import ByRow, kinds_of
from roundwright.rewrite.circle import TOLERANCE_INCH, TOLERANCE_MM, PlannedArc
from roundwright.rewrite.states import of_states
from roundwright.trace.moves import PLANE_AXES, Motion, Moves, State
from roundwright.units import GRAIN

Integers = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
#: lines that are read together.
_TOGETHER = 1 << 13


class PlannedArcs(ByRow[PlannedArc], frozen=True, eq=False):
    """The planned arcs by row. Those of one kind (a,) go the same way, between corners that they share.

    The columns are the fields of `PlannedArc`, pairs (a, 2). `targets` are all circles' targets and `target`
    tells each kind's, `begin` and `finish` are where the plan wants start and end.
    """

    first: Integers  # the first row of each kind
    targets: Sequence[ArcTarget]
    target: Integers
    circle: Integers
    tolerance: Floats
    inch: Flags
    normal: Integers
    start: Integers
    end: Integers
    centre: Floats
    begin: Floats
    finish: Floats
    ccw: Flags
    sweep: Floats
    mismatch: Floats
    r_form: Flags
    major: Flags

    def __len__(self) -> int:
        """How many kinds there are."""
        return len(self.first)

    def one(self, number: int) -> PlannedArc:
        """One kind of arc."""
        (a, b), (c, d) = self.start[number].tolist(), self.end[number].tolist()
        (u, v), (x, y), (z, w) = (each[number].tolist() for each in (self.centre, self.begin, self.finish))
        return PlannedArc(
            row=int(self.first[number]),
            circle=int(self.circle[number]),
            tolerance=float(self.tolerance[number]),
            target=self.targets[self.target[number]],
            inch=bool(self.inch[number]),
            axes=PLANE_AXES[self.normal[number]],
            old_start=(a, b),
            old_end=(c, d),
            old_centre=(u, v),
            aims=((x, y), (z, w)),
            ccw=bool(self.ccw[number]),
            sweep=float(self.sweep[number]),
            closed=(a, b) == (c, d),
            mismatch=float(self.mismatch[number]),
            r_form=bool(self.r_form[number]),
            major=bool(self.major[number]),
        )


def planned_arcs(moves: Moves, ends: Ends, circles: ArcTargets) -> PlannedArcs:
    """The arcs whose circles are planned."""
    row, target = circles.row, circles.which
    inch, normal = (of_states(moves, row, says) for says in (_inch, _normal))
    axes = np.array(PLANE_AXES)[normal]
    k, _ = moves.arcs.at(row)
    start, end = (np.take_along_axis(place[row], axes, 1) for place in (moves.start, moves.end))
    mismatch = np.abs(moves.arcs.radius[k] - moves.arcs.radius_end[k])
    columns: tuple[NDArray[Any], ...] = (
        np.where(inch != 0, _tolerance_inch(moves), TOLERANCE_MM),
        *(inch != 0, normal, start, end, moves.arcs.centre[k]),
        *(_aims(ends, row - 1, start, axes), _aims(ends, row, end, axes), moves.motion[row] == Motion.CCW),
        *(moves.arcs.sweep[k], mismatch, moves.arcs.r_form[k], _negative_radius(moves, row)),
    )
    before = np.maximum(row - 1, 0)
    elsewhere = np.isin(before, row) & (of_states(moves, before, _normal) != normal)
    corners = (  # what besides tells whose corners they are
        *(np.isin(row - 1, ends.row), np.isin(row, ends.row), np.where(elsewhere, row, -1)),
        *((moves.start[row] == moves.end[before]).all(axis=1), of_states(moves, before, _inch)),
    )
    flat = [part for column in columns for part in (column.T if column.ndim > 1 else (column,))]
    first, kind = kinds_of(target, *flat, *corners)
    _, circle = kinds_of(target, inch, normal)
    return PlannedArcs(
        row, kind, row[first], circles.targets, target[first], circle[first], *(c[first] for c in columns)
    )


def _tolerance_inch(moves: Moves) -> float:
    """How far a circle in inches may be off, mm: not so far that chords beside an arc leave it."""
    return min(TOLERANCE_INCH, sameness(moves, inch=True))


def _inch(state: State) -> int:
    return state.inch


def _normal(state: State) -> int:
    return state.normal


def _negative_radius(moves: Moves, row: Integers) -> Flags:
    """Which of these arcs (k,) have a negative R."""
    negative = np.zeros(len(row), np.bool_)
    asked = np.flatnonzero(moves.arcs.r_form[moves.arcs.at(row)[0]])
    for begin in range(0, len(asked), _TOGETHER):
        part = asked[begin : begin + _TOGETHER]
        words = excerpt(moves.program, moves.line[row[part]].astype(np.int64))
        negative[part[words.of_line()[(words.letter == ord("R")) & (words.value < 0)]]] = True
    return negative


def _aims(ends: Ends, row: Integers, old: Integers, axes: NDArray[np.int64]) -> Floats:
    """Where the ends (k, 2) of these rows are to be in the plane, mm."""
    at = np.minimum(ends.row.searchsorted(row), max(len(ends.row) - 1, 0))
    aims = old * GRAIN
    moved = np.flatnonzero(np.isin(row, ends.row))
    aims[moved] = np.take_along_axis(ends.place[at[moved]], axes[moved], 1)
    return np.asarray(aims)
