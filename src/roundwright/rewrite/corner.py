"""Corners: moved ends that coincide in their plane, gathered so that they go on coinciding."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import Any

import numpy as np
from msgspec import Struct, field
from numpy.typing import NDArray

from roundwright.plan.plan import Ends
from roundwright.rewrite.alike import ByRow, Integers, kinds_of
from roundwright.rewrite.circle import Counts, PlannedArc, Point
from roundwright.rewrite.round import native_of
from roundwright.rewrite.states import of_states
from roundwright.trace.moves import PLANE_AXES, Moves, State
from roundwright.units import PER_UNIT

#: an end that is planned to move by less along an axis stays there, counts of 1e-8 mm.
STAYS = 100


class Corner(Struct):
    """Moved ends of one place in the plane of `axes`.

    `aim` is the planned place, mm, and `old` the present one, counts of the block's unit; `stays` tells
    the axes that do not change. `arcs` are the kinds of planned arcs that meet here, each with 0 where it
    starts and 1 where it ends. `at` is the written place, once it is settled.
    """

    axes: tuple[int, int]
    inch: bool
    aim: Point
    old: Counts
    stays: tuple[bool, bool]
    arcs: list[tuple[PlannedArc, int]] = field(default_factory=list)
    at: Counts | None = None


def gather_corners(moves: Moves, ends: Ends, planned: ByRow[PlannedArc]) -> ByRow[Corner]:
    """The corner of every moved end, by row.

    Ends that coincide on one circle share theirs, and so do those of a plunge or retract on the spot.
    """
    row = ends.row
    first, kind, columns = _kinds(moves, ends, planned)
    one_by_one = zip(*(column[first].tolist() for column in columns), strict=True)
    each = [_corner(planned.each, *one) for one in one_by_one]
    sets = _Sets()
    for number, corner in enumerate(each):
        for arc, _ in corner.arcs:
            sets.join((arc.circle, corner.old, corner.inch), number)
    follows = np.flatnonzero((np.diff(row) == 1) & (kind[1:] != kind[:-1]))
    pairs = np.column_stack((kind[follows], kind[follows + 1]))
    for a, b in dict.fromkeys(map(tuple, pairs.tolist())):
        if _on_the_spot(each[a], each[b]):
            sets.join(a, b)
    shared: dict[Hashable, int] = {}
    corners: list[Corner] = []
    of = np.empty(len(each), np.int64)
    for number, corner in enumerate(each):
        of[number] = one = shared.setdefault(sets.root(number), len(corners))
        if one == len(corners):
            corners.append(corner)
        else:
            corners[one].arcs += corner.arcs
    return ByRow(row, of[kind], corners)


def _kinds(
    moves: Moves, ends: Ends, planned: ByRow[PlannedArc]
) -> tuple[Integers, Integers, tuple[NDArray[Any], ...]]:
    """The kinds of the moved ends, each one's first and each end's; and the columns that tell them apart."""
    row = ends.row
    behind = np.minimum(row + 1, len(moves) - 1)
    joined = (moves.start[behind] == moves.end[row]).all(axis=1) | (behind == row)
    into, out = planned.found(row), np.where(joined, planned.found(row + 1), -1)
    normals = np.array([3 - sum(arc.axes) for arc in planned.each] + [-1])
    normal = np.where(
        into >= 0, normals[into], np.where(out >= 0, normals[out], of_states(moves, row, _normal))
    )
    axes = np.array(PLANE_AXES)[normal]
    aim, old = (np.take_along_axis(place, axes, 1) for place in (ends.place, moves.end[row]))
    columns = normal, of_states(moves, row, _inch), aim, old, into, out
    alone = np.where(
        (into < 0) & (out < 0), row, -1
    )  # what stands on no arc is joined to its neighbours alone
    first, kind = kinds_of(normal, columns[1], *aim.T, *old.T, into, out, alone)
    return first, kind, columns


def _inch(state: State) -> int:
    return state.inch


def _normal(state: State) -> int:
    return state.normal


def _on_the_spot(one: Corner, other: Corner) -> bool:
    """Whether two ends are and will be at the same place of their plane."""
    return (one.axes, one.inch, one.old) == (other.axes, other.inch, other.old) and max(
        abs(a - b) for a, b in zip(one.aim, other.aim, strict=True)
    ) * PER_UNIT <= STAYS


def _corner(
    planned: Sequence[PlannedArc],
    normal: int,
    inch: int,
    aim: list[float],
    old: list[int],
    into: int,
    out: int,
) -> Corner:
    """The corner of one kind of ends; `into` and `out` number the planned arcs that meet there."""
    axes = PLANE_AXES[normal]
    meeting = [(planned[arc], at) for arc, at in ((into, 1), (out, 0)) if arc >= 0]
    return Corner(
        axes=axes,
        inch=bool(inch),
        aim=(aim[0], aim[1]),
        old=(native_of(old[0], bool(inch)), native_of(old[1], bool(inch))),
        stays=(abs(aim[0] * PER_UNIT - old[0]) <= STAYS, abs(aim[1] * PER_UNIT - old[1]) <= STAYS),
        arcs=[(arc, at) for arc, at in meeting if arc.axes == axes],
    )


class _Sets:
    """Keys joined into sets, each known by its root."""

    def __init__(self) -> None:
        self._parent: dict[Hashable, Hashable] = {}

    def root(self, key: Hashable) -> Hashable:
        while (above := self._parent.get(key, key)) != key:
            key = above
        return key

    def join(self, one: Hashable, other: Hashable) -> None:
        a, b = self.root(one), self.root(other)
        if a != b:
            self._parent[b] = a
