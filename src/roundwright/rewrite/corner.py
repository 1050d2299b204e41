"""Corners: moved ends that coincide in their plane, gathered so that they go on coinciding."""

from __future__ import annotations

from typing import Any

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.plan.plan import Ends
from roundwright.rewrite.alike import ByRow, kinds_of
from roundwright.rewrite.circle import Counts, PlannedArc, Point
from roundwright.rewrite.planned import PlannedArcs
from roundwright.rewrite.round import native_of
from roundwright.rewrite.states import of_states
from roundwright.trace.moves import PLANE_AXES, Moves
from roundwright.units import PER_UNIT

Integers = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
#: an end that is planned to move by less along an axis stays there, counts of 1e-8 mm.
STAYS = 100


class Corner(Struct, frozen=True):
    """Moved ends of one place in the plane of `axes`.

    `aim` is the planned place, mm, and `old` the present one, counts of the block's unit; `stays` tells
    the axes that do not change. `arcs` are the planned arcs that meet here, each with 0 where it starts and
    1 where it ends.
    """

    axes: tuple[int, int]
    inch: bool
    aim: Point
    old: Counts
    stays: tuple[bool, bool]
    arcs: list[tuple[PlannedArc, int]]


class Corners(ByRow[Corner], frozen=True, eq=False):
    """The corner of every moved end, by row. The columns (c,) are the fields of `Corner`, pairs (c, 2).

    `arc` and `at` (n,) are the kinds of arcs that meet in the corners, those of corner `c` from `meets[c]`
    up to `meets[c + 1]`, and which of their ends does.
    """

    planned: PlannedArcs
    normal: Integers
    inch: Flags
    aim: Floats
    old: Integers
    stays: Flags
    meets: Integers
    arc: Integers
    at: Integers

    def __len__(self) -> int:
        """How many corners there are."""
        return len(self.normal)

    def one(self, number: int) -> Corner:
        """One corner."""
        (x, y), (u, v) = self.aim[number].tolist(), self.old[number].tolist()
        stay_u, stay_v = self.stays[number].tolist()
        part = slice(int(self.meets[number]), int(self.meets[number + 1]))
        meeting = zip(self.arc[part].tolist(), self.at[part].tolist(), strict=True)
        return Corner(
            axes=PLANE_AXES[self.normal[number]],
            inch=bool(self.inch[number]),
            aim=(x, y),
            old=(u, v),
            stays=(stay_u, stay_v),
            arcs=[(self.planned.one(arc), at) for arc, at in meeting],
        )


def gather_corners(moves: Moves, ends: Ends, planned: PlannedArcs) -> Corners:
    """The corner of every moved end.

    Ends that coincide on one circle share theirs, and so do those of a plunge or retract on the spot.
    """
    first, kind, columns = _kinds(moves, ends, planned)
    normal, inch, aim, counts, *meeting = (column[first] for column in columns)
    each = zip(counts.ravel().tolist(), np.repeat(inch != 0, 2).tolist(), strict=True)
    old = np.array([native_of(*one) for one in each], np.int64).reshape(-1, 2)
    stays = np.abs(aim * PER_UNIT - counts) <= STAYS
    into, out = meeting
    out = np.where(np.append(planned.normal, -1)[out] == normal, out, -1)
    member, arc, at = _meetings(into, out)
    sets = _Sets(len(first))
    _, place = kinds_of(planned.circle[arc], *old[member].T, inch[member])
    sets.join_all(member, place)
    follows = np.flatnonzero((np.diff(ends.row) == 1) & (kind[1:] != kind[:-1]))
    one, other = kind[follows], kind[follows + 1]
    near = (normal[one] == normal[other]) & (inch[one] == inch[other]) & (old[one] == old[other]).all(axis=1)
    near &= np.abs(aim[one] - aim[other]).max(axis=1, initial=0.0) * PER_UNIT <= STAYS
    for a, b in zip(one[near].tolist(), other[near].tolist(), strict=True):
        sets.join(a, b)
    head, of = sets.numbers()
    order = np.argsort(of[member], kind="stable")
    meets = np.searchsorted(of[member][order], np.arange(len(head) + 1))
    return Corners(
        *(ends.row, of[kind], planned, normal[head], inch[head] != 0, aim[head], old[head], stays[head]),
        *(meets, arc[order], at[order]),
    )


def _meetings(into: Integers, out: Integers) -> tuple[Integers, Integers, Integers]:
    """For each kind of ends (k,) in turn the arc that comes `into` it, then the one that goes `out`.

    Gives the kind, the arc, and which of the arc's ends it is.
    """
    arc = np.column_stack((into, out)).ravel()
    there = np.flatnonzero(arc >= 0)
    return there // 2, arc[there], 1 - there % 2


def _kinds(
    moves: Moves, ends: Ends, planned: PlannedArcs
) -> tuple[Integers, Integers, tuple[NDArray[Any], ...]]:
    """The kinds of the moved ends, each one's first and each end's; and the columns that tell them apart."""
    row = ends.row
    behind = np.minimum(row + 1, len(moves) - 1)
    joined = (moves.start[behind] == moves.end[row]).all(axis=1) | (behind == row)
    into, out = planned.numbers(row), np.where(joined, planned.numbers(row + 1), -1)
    normals, own = np.append(planned.normal, -1), of_states(moves, row, lambda state: state.normal)
    normal = np.where(into >= 0, normals[into], np.where(out >= 0, normals[out], own))
    axes = np.array(PLANE_AXES)[normal]
    aim, old = (np.take_along_axis(place, axes, 1) for place in (ends.place, moves.end[row]))
    inch = of_states(moves, row, lambda state: state.inch)
    alone = np.where((into < 0) & (out < 0), row, -1)  # on no arc: joined to its neighbours alone
    first, kind = kinds_of(normal, inch, *aim.T, *old.T, into, out, alone)
    return first, kind, (normal, inch, aim, old, into, out)


class _Sets:
    """Numbers joined into sets, with those of keys besides."""

    def __init__(self, count: int) -> None:
        self._count = count
        self._parent = list(range(count))

    def _root(self, number: int) -> int:
        parent = self._parent
        while parent[number] != number:
            parent[number] = number = parent[parent[number]]
        return number

    def join(self, one: int, other: int) -> None:
        """Join the sets of two numbers."""
        a, b = self._root(one), self._root(other)
        self._parent[max(a, b)] = min(a, b)  # the first of a set is its root

    def join_all(self, numbers: Integers, keys: Integers) -> None:
        """Join all numbers (n,) that have the same key."""
        holder: dict[int, int] = {}
        for number, key in zip(numbers.tolist(), keys.tolist(), strict=True):
            self.join(holder.setdefault(key, number), number)

    def numbers(self) -> tuple[Integers, Integers]:
        """The first of each set, and which set each number is in; in the order of the first ones."""
        root = np.array([self._root(number) for number in range(self._count)], np.int64)
        head = np.flatnonzero(root == np.arange(self._count))
        return head, np.searchsorted(head, root)
