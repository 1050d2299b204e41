"""Where moved ends are written: on the grid of a block's decimals, as near to their circles as it allows."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from math import hypot, inf, isqrt, sqrt

import numpy as np
from msgspec import Struct

from roundwright.errors import CannotWrite
from roundwright.plan.plan import ArcTargets, Ends, Plan
from roundwright.read.distinct import index_of
from roundwright.rewrite.alike import ByRow, Integers
from roundwright.rewrite.circle import Counts, PlannedArc, WrittenArc, write_arc
from roundwright.rewrite.corner import STAYS, Corner, gather_corners
from roundwright.rewrite.planned import PlannedArcs, planned_arcs
from roundwright.rewrite.round import Fineness, Grid, counts_of, grid_of, native_of, scale
from roundwright.trace.moves import PLANE_AXES, Moves
from roundwright.units import PER_UNIT

#: of the step: a corner between two candidates takes the outer one, so that opposite ones match.
_OUTWARD = 1e-3
#: what a step away from the planned corner costs against the same step off the circle.
_ASIDE = 0.05
#: weight of circles that are no planned wall.
_LESSER = 0.6
#: steps that a corner of a steep R form is searched in, each way; then along one axis, and the other.
_WINDOW, _LONG, _SHORT = 15, 600, 2

Place = tuple[int, int, int]


class Places(Struct, frozen=True, eq=False):
    """Written places (X, Y, Z in counts of 1e-8 mm) of moved ends: `place` (k, 3) by `row` (k,)."""

    row: Integers
    place: Integers

    def get(self, row: int) -> Place | None:
        """Where this row ends; None where it stays."""
        at = index_of(self.row, row)
        if at is None:
            return None
        x, y, z = self.place[at].tolist()
        return x, y, z


class WrittenArcs(ByRow[WrittenArc], frozen=True, eq=False):
    """How planned arcs are written: `centre` (a, 2) and `radius` (a,) of each kind, as in `WrittenArc`."""

    centre: Integers
    radius: Integers

    def one(self, number: int) -> WrittenArc:
        """How one kind of arc is written."""
        u, v = self.centre[number].tolist()
        return WrittenArc((u, v), int(self.radius[number]))


class Solution(Struct, frozen=True, eq=False):
    """The written places of all moved ends, and the planned arcs and how they are written, by row."""

    planned: PlannedArcs
    places: Places
    arcs: WrittenArcs


def solve(moves: Moves, plan: Plan, fineness: Fineness) -> Solution:
    """Settle every corner and arc of the plan with as few decimals as the promises allow.

    Raises CannotWrite with the arcs that no number of allowed decimals can write.
    """
    ends = Ends.of(plan.ends)
    planned = planned_arcs(moves, ends, ArcTargets.of(plan.arcs))
    bench = _Bench(moves, ends, fineness, planned)
    arcs, faults = bench.settle_all()
    if faults:
        each = {
            row: f"the arc in line {int(moves.line[row]) + 1} can't be written as planned: "
            f"with the control's {fineness.most_of(bool(planned.inch[kind]))} decimals {faults[kind]}"
            for row, kind in zip(planned.row.tolist(), planned.of.tolist(), strict=True)
            if kind in faults
        }
        cure = "Allow more decimals in the table if the control reads them"
        raise CannotWrite(each[min(each)], rows=tuple(each), cure=cure, each=each)
    return Solution(planned, bench.places(ends.row), arcs)


class _Bench:
    """Corners and circles while they are being settled. Arcs are numbered by kind.

    `at` (c, 2) is where each corner is written, counts of its unit, once it is `settled` (c,).
    """

    def __init__(self, moves: Moves, ends: Ends, fineness: Fineness, planned: PlannedArcs) -> None:
        self.moves = moves
        self.ends = ends
        self.fineness = fineness
        self.planned = planned
        self.corners = gather_corners(moves, ends, planned)
        self.settled = np.zeros(len(self.corners), np.bool_)
        self.at = np.zeros((len(self.corners), 2), np.int64)
        circles = zip(planned.circle.tolist(), planned.inch.tolist(), strict=True)
        self.decimals = {circle: fineness.of(inch) for circle, inch in circles}

    def settle_all(self) -> tuple[WrittenArcs, dict[int, str]]:
        """Settle corners and write arcs, with more decimals on circles where that fails; faults, by kind."""
        meeting = np.diff(self.corners.meets) > 0
        self._settle_free(np.flatnonzero(~meeting))
        self._settle(np.flatnonzero(meeting).tolist())
        count = len(self.planned)
        centre, radius = np.zeros((count, 2), np.int64), np.zeros(count, np.int64)
        faults: dict[int, str] = {}
        pending: Iterable[int] = range(count)
        while pending:
            raised: set[int] = set()
            for kind in sorted(pending):
                arc = self.planned.one(kind)
                result = self._write(arc)
                if isinstance(result, WrittenArc):
                    centre[kind], radius[kind] = result.centre, result.radius
                    faults.pop(kind, None)
                    continue
                faults[kind] = result
                if self.decimals[arc.circle] < self.fineness.most_of(arc.inch):
                    raised.add(arc.circle)
            pending = self._refine(raised)
        return WrittenArcs(self.planned.row, self.planned.of, centre, radius), faults

    def _refine(self, circles: set[int]) -> set[int]:
        """Give these circles one more decimal; the kinds of the arcs that this touches."""
        if not circles:
            return set()
        for circle in circles:
            self.decimals[circle] += 1
        of = self.planned.circle[self.planned.of]
        order = np.argsort(of, kind="stable")
        bounds = [np.searchsorted(of[order], (circle, circle + 1)).tolist() for circle in circles]
        rows = {row for first, stop in bounds for row in self.planned.row[order[first:stop]].tolist()}
        asked = np.array(list(rows), np.int64)  # as the set has them: who is settled first can matter
        at = self.corners.numbers(np.column_stack((asked - 1, asked)).ravel())
        at = at[(at >= 0) & (np.diff(self.corners.meets)[at] > 0)]
        touched = list(dict.fromkeys(at.tolist()))
        self._settle(touched)
        of_corner = np.repeat(np.arange(len(self.corners)), np.diff(self.corners.meets))
        meeting = self.corners.arc[np.isin(of_corner, touched)]
        return {*np.flatnonzero(np.isin(self.planned.circle, list(circles))).tolist(), *meeting.tolist()}

    def _settle_free(self, corners: Integers) -> None:
        """Settle corners that meet no circle: each goes to the nearest numbers."""
        inch = self.corners.inch[corners]
        for some, grid in ((inch == one, grid_of(one, self.fineness.of(one))) for one in (False, True)):
            here = corners[some]
            nearest = np.floor(self.corners.aim[here] / grid.unit + 0.5).astype(np.int64) * grid.step
            self.at[here] = np.where(self.corners.stays[here], self.corners.old[here], nearest)
        self.settled[corners] = True

    def _settle(self, corners: Sequence[int]) -> None:
        self.settled[corners] = False
        for number in corners:
            self.at[number] = self._settled(self.corners.one(number))
            self.settled[number] = True

    def _settled(self, corner: Corner) -> Counts:
        grid = grid_of(corner.inch, max(self.decimals[arc.circle] for arc, _ in corner.arcs))
        steep = next(((arc, at) for arc, at in corner.arcs if arc.steep), None)
        if steep is None:
            return _nearest(corner, grid, self._circles(corner))
        arc, at = steep
        if arc.diametral:
            opposite = self._opposite(corner, grid, arc, at)
            return opposite or _diametral(corner, grid, arc)
        return _searched(corner, grid, arc, self._centre(arc))

    def _centre(self, arc: PlannedArc) -> Counts:
        grid = grid_of(arc.inch, self.decimals[arc.circle])
        return grid.nearest(arc.target.centre[0]), grid.nearest(arc.target.centre[1])

    def _circles(self, corner: Corner) -> list[tuple[float, float, float, float]]:
        """Centre, wanted distance (mm) and weight of each circle that meets the corner."""
        circles = []
        for arc, at in {arc.circle: (arc, at) for arc, at in corner.arcs}.values():
            size = scale(arc.inch)
            u, v = self._centre(arc)
            circles.append((u * size, v * size, arc.wanted(at), 1.0 if arc.target.wall else _LESSER))
        return circles

    def _opposite(self, corner: Corner, grid: Grid, arc: PlannedArc, at: int) -> Counts | None:
        """The corner mirrored from the other end of a diametral arc, once that is settled."""
        other = self.corners.number(arc.row - 1 if at == 1 else arc.row)
        if other is None or not self.settled[other] or self.corners.inch[other] != corner.inch:
            return None
        centre, (beyond_u, beyond_v) = self._centre(arc), self.at[other].tolist()
        u, v = 2 * centre[0] - beyond_u, 2 * centre[1] - beyond_v
        kept = all(
            value == old for value, old, stays in zip((u, v), corner.old, corner.stays, strict=True) if stays
        )
        return (u, v) if kept and _aside((u, v), corner) <= _most_aside(grid, arc) else None

    def _write(self, arc: PlannedArc) -> WrittenArc | str:
        start, end = self._spot(arc.row - 1, arc.old_start, arc), self._spot(arc.row, arc.old_end, arc)
        coarse = grid_of(arc.inch, self.fineness.of(arc.inch))
        grid = grid_of(arc.inch, self.decimals[arc.circle])
        return write_arc(arc, grid, start, end, sqrt(2) * coarse.unit)

    def _spot(self, node: int, old: Counts, arc: PlannedArc) -> Counts:
        """Where an arc begins or ends, counts of its unit; `old` in counts of 1e-8 mm."""
        corner = self.corners.number(node)
        if corner is None:
            return native_of(old[0], arc.inch), native_of(old[1], arc.inch)
        if self.corners.inch[corner] == arc.inch and PLANE_AXES[self.corners.normal[corner]] == arc.axes:
            u, v = self.at[corner].tolist()
            return u, v
        place = self.places(np.array([node])).place[0].tolist()
        return native_of(place[arc.axes[0]], arc.inch), native_of(place[arc.axes[1]], arc.inch)

    def places(self, row: Integers) -> Places:
        """The written places of these moved ends (k,)."""
        corner = self.corners.numbers(row)
        aim = self.ends.place[self.ends.row.searchsorted(row)]
        place = self.moves.end[row].copy()
        moved = np.abs(aim * PER_UNIT - place) > STAYS
        inch, axes = self.corners.inch[corner].tolist(), np.array(PLANE_AXES)[self.corners.normal[corner]]
        for k, column in enumerate(self.at[corner].T):
            here = np.flatnonzero(moved[np.arange(len(row)), axes[:, k]])
            place[here, axes[here, k]] = [counts_of(int(column[end]), inch[end]) for end in here]
            moved[here, axes[here, k]] = False
        for end, axis in np.argwhere(moved).tolist():  # along the normal
            grid = grid_of(inch[end], self.fineness.of(inch[end]))
            place[end, axis] = counts_of(grid.nearest(float(aim[end, axis])), inch[end])
        return Places(row, place)


def _around(corner: Corner, grid: Grid, steps: tuple[int, int]) -> list[Counts]:
    """The number pairs so many steps around the planned corner; along an axis where it stays only there."""
    us, vs = (
        [old] if stays else [grid.nearest(aim) + k * grid.step for k in range(-reach, reach + 1)]
        for old, stays, aim, reach in zip(corner.old, corner.stays, corner.aim, steps, strict=True)
    )
    return [(u, v) for u in us for v in vs]


def _nearest(corner: Corner, grid: Grid, circles: list[tuple[float, float, float, float]]) -> Counts:
    """The number pair that lies best on its circles, and near the planned corner among equals."""
    size, outward = scale(corner.inch), _OUTWARD * grid.unit

    def cost(pair: tuple[int, int]) -> float:
        u, v = pair[0] * size, pair[1] * size
        off = max(w * abs(hypot(u - cu, v - cv) - r - outward) for cu, cv, r, w in circles)
        return off + _ASIDE * hypot(u - corner.aim[0], v - corner.aim[1])

    return min(_around(corner, grid, (1, 1)), key=cost)


def _reach(grid: Grid, arc: PlannedArc, most: int) -> int:
    """How many steps a corner of a steep arc may be off its planned place."""
    return max(1, min(most, int(arc.tolerance / grid.unit)))


def _most_aside(grid: Grid, arc: PlannedArc) -> float:
    """How far from its planned place a corner of a steep arc may be written, counts."""
    return (arc.tolerance + grid.unit) / scale(arc.inch)


def _sought(corner: Corner, grid: Grid, arc: PlannedArc, cost: Callable[[Counts], float]) -> Counts:
    """The cheapest corner around the planned one. `cost` is how far its radius is off, in counts.

    In some directions steps along an axis change the radius by whole or half steps, so that a square
    around the corner holds no good one: then each axis is searched further. Of a corner that stands farther
    off its planned place than a written circle may nothing is gained.
    """
    reach, most = _reach(grid, arc, _WINDOW), _most_aside(grid, arc)

    def order(pair: Counts) -> tuple[bool, float]:
        return _aside(pair, corner) > most, cost(pair)

    best = min(_around(corner, grid, (reach, reach)), key=order)
    enough = arc.tolerance**2 / (4 * arc.target.radius) / scale(corner.inch)
    if cost(best) > enough:
        far, near = _reach(grid, arc, _LONG), min(reach, _SHORT)
        best = min(_around(corner, grid, (near, far)) + _around(corner, grid, (far, near)), key=order)
    return best


def _diametral(corner: Corner, grid: Grid, arc: PlannedArc) -> Counts:
    """The corner whose distance from the centre falls short of a number R by as little as possible.

    Its opposite is then a diameter away, and the centre that R gives is the middle.
    """
    centre = (grid.nearest(arc.target.centre[0]), grid.nearest(arc.target.centre[1]))

    def cost(pair: Counts) -> float:
        square = (pair[0] - centre[0]) ** 2 + (pair[1] - centre[1]) ** 2
        if not square:
            return inf
        radius = -(-(isqrt(square - 1) + 1) // grid.step) * grid.step
        if abs(radius * scale(corner.inch) - arc.target.radius) > arc.tolerance:
            return inf
        short = (radius**2 - square) / (radius + sqrt(square))
        return short + 1e-6 * _aside(pair, corner)

    return _sought(corner, grid, arc, cost)


def _searched(corner: Corner, grid: Grid, arc: PlannedArc, centre: Counts) -> Counts:
    """The corner whose distance from the centre is nearest to the R that will be written."""
    radius = grid.nearest(arc.target.radius)

    def cost(pair: Counts) -> float:
        distance = hypot(pair[0] - centre[0], pair[1] - centre[1])
        return abs(distance - radius) + 1e-6 * _aside(pair, corner)

    return _sought(corner, grid, arc, cost)


def _aside(pair: tuple[int, int], corner: Corner) -> float:
    """How far from the planned place, counts."""
    size = scale(corner.inch)
    return hypot(pair[0] - corner.aim[0] / size, pair[1] - corner.aim[1] / size)
