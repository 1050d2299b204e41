"""Corners: moved ends that coincide in their plane, gathered so that they go on coinciding."""

from __future__ import annotations

from collections.abc import Hashable, Mapping

import numpy as np
from msgspec import Struct, field

from roundwright.plan.plan import Plan
from roundwright.rewrite.circle import Counts, PlannedArc, Point
from roundwright.rewrite.round import native_of
from roundwright.trace.moves import PLANE_AXES, Moves, State
from roundwright.units import PER_UNIT

#: an end that is planned to move by less along an axis stays there, counts of 1e-8 mm.
STAYS = 100


class Corner(Struct):
    """Moved ends of one place in the plane of `axes`.

    `aim` is the planned place, mm, and `old` the present one, counts of the block's unit; `stays` tells
    the axes that do not change. `arcs` are the planned arcs that meet here, each with 0 where it starts
    and 1 where it ends. `at` is the written place, once it is settled.
    """

    axes: tuple[int, int]
    inch: bool
    aim: Point
    old: Counts
    stays: tuple[bool, bool]
    arcs: list[tuple[PlannedArc, int]] = field(default_factory=list)
    at: Counts | None = None


def gather_corners(moves: Moves, plan: Plan, planned: Mapping[int, PlannedArc]) -> dict[int, Corner]:
    """The corner of every moved end, by row.

    Ends that coincide on one circle share theirs, and so do those of a plunge or retract on the spot.
    """
    sets = _Sets()
    rows = np.array(sorted(plan.ends), np.int64)
    behind = np.minimum(rows + 1, len(moves) - 1)
    joined = (moves.start[behind] == moves.end[rows]).all(axis=1) | (behind == rows)
    columns = (column.tolist() for column in (moves.state[rows], moves.end[rows], joined))
    ends = {
        row: _corner(moves.states[state], plan, row, planned, old, joined)
        for row, state, old, joined in zip(rows.tolist(), *columns, strict=True)
    }
    for row, corner in ends.items():
        for arc, _ in corner.arcs:
            sets.join((arc.circle, corner.old, corner.inch), row)
        before = ends.get(row - 1)
        if before is not None and _on_the_spot(before, corner):
            sets.join(row - 1, row)
    shared: dict[Hashable, Corner] = {}
    for row, corner in ends.items():
        one = shared.setdefault(sets.root(row), corner)
        if one is not corner:
            one.arcs += corner.arcs
            ends[row] = one
    return ends


def _on_the_spot(one: Corner, other: Corner) -> bool:
    """Whether two ends are and will be at the same place of their plane."""
    return (one.axes, one.inch, one.old) == (other.axes, other.inch, other.old) and max(
        abs(a - b) for a, b in zip(one.aim, other.aim, strict=True)
    ) * PER_UNIT <= STAYS


def _corner(
    state: State, plan: Plan, row: int, planned: Mapping[int, PlannedArc], old: list[int], joined: bool
) -> Corner:
    """The corner of one end, which is at `old` now. `joined` tells that the next row starts here."""
    meeting = [(planned[r], at) for r, at in ((row, 1), (row + 1, 0)) if r in planned]
    if row + 1 in planned and not joined:
        meeting.pop()
    axes = meeting[0][0].axes if meeting else PLANE_AXES[state.normal]
    aim = plan.ends[row]
    u, v = axes
    return Corner(
        axes=axes,
        inch=state.inch,
        aim=(aim[u], aim[v]),
        old=(native_of(old[u], state.inch), native_of(old[v], state.inch)),
        stays=(abs(aim[u] * PER_UNIT - old[u]) <= STAYS, abs(aim[v] * PER_UNIT - old[v]) <= STAYS),
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
