"""Where moved ends are written: on the grid of a block's decimals, as near to their circles as it allows."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from math import hypot, inf, isqrt, sqrt

from msgspec import Struct

from roundwright.errors import CannotWrite
from roundwright.plan.plan import Plan
from roundwright.rewrite.circle import Counts, PlannedArc, WrittenArc, planned_arcs, write_arc
from roundwright.rewrite.corner import STAYS, Corner, gather_corners
from roundwright.rewrite.round import Fineness, Grid, counts_of, grid_of, native_of, scale
from roundwright.trace.moves import Moves
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


class Solution(Struct, frozen=True):
    """Written places (X, Y, Z in counts of 1e-8 mm) of all moved ends, and written arcs, by row."""

    planned: Mapping[int, PlannedArc]
    places: Mapping[int, Place]
    arcs: Mapping[int, WrittenArc]


def solve(moves: Moves, plan: Plan, fineness: Fineness) -> Solution:
    """Settle every corner and arc of the plan with as few decimals as the promises allow.

    Raises CannotWrite with the arcs that no number of allowed decimals can write.
    """
    planned = planned_arcs(moves, plan)
    bench = _Bench(moves, plan, fineness, planned)
    arcs, faults = bench.settle_all()
    if faults:
        each = {
            row: f"the arc in line {int(moves.line[row]) + 1} can't be written as planned: "
            f"with the control's {fineness.most_of(planned[row].inch)} decimals {fault}"
            for row, fault in sorted(faults.items())
        }
        cure = "Allow more decimals in the table if the control reads them"
        raise CannotWrite(each[min(each)], rows=tuple(each), cure=cure, each=each)
    places: dict[Place, Place] = {}  # passes at many depths come to the same ones
    ends = {row: places.setdefault(at, at) for row in plan.ends for at in (bench.place(row),)}
    return Solution(planned, ends, arcs)


class _Bench:
    """Corners and circles while they are being settled."""

    def __init__(
        self, moves: Moves, plan: Plan, fineness: Fineness, planned: Mapping[int, PlannedArc]
    ) -> None:
        self.moves = moves
        self.plan = plan
        self.fineness = fineness
        self.planned = planned
        self.corners = gather_corners(moves, plan, planned)
        self.decimals: dict[int, int] = {}  # by circle
        self._written: dict[Hashable, WrittenArc | str] = {}
        self.on_circle: dict[int, list[PlannedArc]] = {}
        for arc in planned.values():
            self.decimals[arc.circle] = fineness.of(arc.inch)
            self.on_circle.setdefault(arc.circle, []).append(arc)

    def settle_all(self) -> tuple[dict[int, WrittenArc], dict[int, str]]:
        """Settle corners and write arcs, with more decimals on circles where that fails; faults, by row."""
        self._settle(self.corners.values())
        written: dict[int, WrittenArc] = {}
        faults: dict[int, str] = {}
        pending = set(self.planned)
        while pending:
            raised: set[int] = set()
            for row in sorted(pending):
                arc = self.planned[row]
                result = self._write(arc)
                if isinstance(result, WrittenArc):
                    written[row] = result
                    faults.pop(row, None)
                    continue
                faults[row] = result
                if self.decimals[arc.circle] < self.fineness.most_of(arc.inch):
                    raised.add(arc.circle)
            pending = self._refine(raised)
        return written, faults

    def _refine(self, circles: set[int]) -> set[int]:
        """Give these circles one more decimal; the rows of the arcs that this touches."""
        rows = {arc.row for circle in circles for arc in self.on_circle[circle]}
        for circle in circles:
            self.decimals[circle] += 1
        touched = [self.corners[node] for row in rows for node in (row - 1, row) if node in self.corners]
        self._settle(touched)
        return rows | {arc.row for corner in touched for arc, _ in corner.arcs}

    def _settle(self, corners: Iterable[Corner]) -> None:
        distinct = {id(corner): corner for corner in corners}
        for corner in distinct.values():
            corner.at = None
        for corner in distinct.values():
            corner.at = self._settled(corner)

    def _settled(self, corner: Corner) -> Counts:
        decimals = max(
            (self.decimals[arc.circle] for arc, _ in corner.arcs), default=self.fineness.of(corner.inch)
        )
        grid = grid_of(corner.inch, decimals)
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
        other = self.corners.get(arc.row - 1 if at == 1 else arc.row)
        if other is None or other.at is None or other.inch != corner.inch:
            return None
        centre = self._centre(arc)
        u, v = 2 * centre[0] - other.at[0], 2 * centre[1] - other.at[1]
        kept = all(
            value == old for value, old, stays in zip((u, v), corner.old, corner.stays, strict=True) if stays
        )
        return (u, v) if kept and _aside((u, v), corner) <= _most_aside(grid, arc) else None

    def _write(self, arc: PlannedArc) -> WrittenArc | str:
        start, end = self._spot(arc.row - 1, arc.old_start, arc), self._spot(arc.row, arc.old_end, arc)
        decimals = self.decimals[arc.circle]
        way = (arc.aims, arc.ccw, arc.sweep, arc.closed, arc.mismatch, arc.r_form, arc.major)
        asked = arc.circle, decimals, start, end, way
        if asked not in self._written:  # passes at many depths ask the same
            coarse = grid_of(arc.inch, self.fineness.of(arc.inch))
            self._written[asked] = write_arc(
                arc, grid_of(arc.inch, decimals), start, end, sqrt(2) * coarse.unit
            )
        return self._written[asked]

    def _spot(self, node: int, old: Counts, arc: PlannedArc) -> Counts:
        """Where an arc begins or ends, counts of its unit; `old` in counts of 1e-8 mm."""
        corner = self.corners.get(node)
        if corner is None:
            return native_of(old[0], arc.inch), native_of(old[1], arc.inch)
        if corner.at is not None and (corner.axes, corner.inch) == (arc.axes, arc.inch):
            return corner.at
        place = self.place(node)
        return native_of(place[arc.axes[0]], arc.inch), native_of(place[arc.axes[1]], arc.inch)

    def place(self, row: int) -> Place:
        """The written place of a moved end, counts of 1e-8 mm."""
        corner = self.corners[row]
        assert corner.at is not None
        grid = grid_of(corner.inch, self.fineness.of(corner.inch))
        place = self.moves.end[row].tolist()
        for axis, aim in enumerate(self.plan.ends[row]):
            if abs(aim * PER_UNIT - place[axis]) <= STAYS:
                continue
            if axis in corner.axes:
                place[axis] = counts_of(corner.at[corner.axes.index(axis)], corner.inch)
            else:
                place[axis] = counts_of(grid.nearest(aim), corner.inch)
        return place[0], place[1], place[2]


def _around(corner: Corner, grid: Grid, steps: tuple[int, int]) -> list[Counts]:
    """The number pairs so many steps around the planned corner; along an axis where it stays only there."""
    us, vs = (
        [old] if stays else [grid.nearest(aim) + k * grid.step for k in range(-reach, reach + 1)]
        for old, stays, aim, reach in zip(corner.old, corner.stays, corner.aim, steps, strict=True)
    )
    return [(u, v) for u in us for v in vs]


def _nearest(corner: Corner, grid: Grid, circles: list[tuple[float, float, float, float]]) -> Counts:
    """The number pair that lies best on its circles, and near the planned corner among equals."""
    if not circles:
        (u, v), (stay_u, stay_v), (to_u, to_v) = corner.old, corner.stays, corner.aim
        return u if stay_u else grid.nearest(to_u), v if stay_v else grid.nearest(to_v)
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
