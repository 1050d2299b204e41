"""Cuts: all cutting moves of a frame, what they sweep, and which of them come near a place."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find.beside import aside, offset_arcs, offset_lines, upright_beside
from roundwright.find.ring import FULL_TURN, SAME_DEPTH
from roundwright.find.states import by_state
from roundwright.settings import Cutter
from roundwright.trace.moves import PLANE_AXES, ArcFault, Motion, Moves, State
from roundwright.units import GRAIN

_BLOCK = 64  # moves that share one bounding box
_FIRST_LOOK, _MOST_AT_ONCE = 32, 512  # cuts held against all points: where many meet, a few sweep them all
Floats = NDArray[np.float64]
Rows = NDArray[np.intp]
Cutters = Mapping[int, Cutter | None]


class Boxes(Struct, frozen=True, eq=False):
    """Bounding boxes of moves (2, k), axis by axis, and of every `_BLOCK` in a row: these lie near."""

    low: NDArray[np.float64]
    high: NDArray[np.float64]
    block_low: NDArray[np.float64]
    block_high: NDArray[np.float64]

    @classmethod
    def of(cls, low: NDArray[np.float64], high: NDArray[np.float64]) -> Boxes:
        """Join boxes (k, 2) in blocks."""
        low, high = np.ascontiguousarray(low.T), np.ascontiguousarray(high.T)
        if not low.size:
            return cls(low, high, low, high)
        edges = np.arange(0, low.shape[1], _BLOCK)
        blocks = np.minimum.reduceat(low, edges, axis=1), np.maximum.reduceat(high, edges, axis=1)
        return cls(low, high, *blocks)

    def meeting_each(self, low: Floats, high: Floats, most: int) -> Iterator[tuple[Rows, Rows]]:
        """Which of several boxes (m, 2) and which of these meet, in pairs, in order, some at a time."""
        blocks = self._blocks_meeting(low.min(axis=0), high.max(axis=0))
        near = np.ones((len(low), len(blocks)), dtype=bool)
        for k in (0, 1):
            near &= self.block_low[k].take(blocks) <= high[:, k, None]
            near &= self.block_high[k].take(blocks) >= low[:, k, None]
        box, block = np.nonzero(near)
        for first in range(0, max(1, len(box)), most // _BLOCK):
            part = slice(first, first + most // _BLOCK)
            one, other = np.repeat(box[part], _BLOCK), self._members(blocks[block[part]])
            for k in (0, 1):
                meet = self.low[k].take(other, mode="clip") <= high[:, k].take(one)
                meet &= self.high[k].take(other, mode="clip") >= low[:, k].take(one)
                if k == 0:
                    meet &= other < self.low.shape[1]
                one, other = one[meet], other[meet]
            yield one, other

    def _members(self, blocks: Rows) -> Rows:
        """The boxes of some blocks, and some past the last one where the last block is not full."""
        return np.asarray((blocks[:, None] * _BLOCK + np.arange(_BLOCK)).ravel())

    def meeting(self, low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.intp]:
        """Indices of the boxes that meet the box (low, high)."""
        members = self._members(self._blocks_meeting(low, high))
        return self._some_meeting(low, high, members[members < self.low.shape[1]])

    def _blocks_meeting(self, low: Floats, high: Floats) -> Rows:
        (x, y), (right, top) = (self.block_low <= high[:, None]), (self.block_high >= low[:, None])
        return np.flatnonzero(x & y & right & top)

    def _some_meeting(self, low: Floats, high: Floats, some: NDArray[np.intp]) -> NDArray[np.intp]:
        for k in (0, 1):
            some = some[(self.low[k].take(some) <= high[k]) & (self.high[k].take(some) >= low[k])]
        return some


class Cuts(Struct, frozen=True, eq=False):
    """All cutting moves of one frame, seen along one plane's normal (shape k, mm).

    `reach` is the cutter's radius, 0 where the cutter is not known (then only its centre line counts).
    """

    row: NDArray[np.int64]
    start: NDArray[np.float64]  # (k, 2)
    end: NDArray[np.float64]  # (k, 2)
    z: NDArray[np.float64]  # (k, 2)
    low: NDArray[np.float64]  # the lower of both
    reach: NDArray[np.float64]
    arc: NDArray[np.int64]  # index into Moves.arcs, -1 for straight
    centre: NDArray[np.float64]  # (k, 2)
    radius: NDArray[np.float64]
    begin: NDArray[np.float64]  # radians, where the arc begins counter-clockwise
    sweep: NDArray[np.float64]  # radians, always positive
    ccw: NDArray[np.bool_]  # whether the move itself runs counter-clockwise
    unknown: NDArray[np.bool_]  # the cutter's size is not known
    boxes: Boxes


def gather_cuts(moves: Moves, cutters: Cutters, row: Rows, normal: int, *, contour: bool = True) -> Cuts:
    """Cutting moves of one frame whose path in the plane is known, as the tool's centre runs them.

    `row` are those of `rows_by_frame`; `contour` tells that a compensated path is the contour itself.
    """
    begin, finish = (_in_plane(places, row, normal) for places in (moves.start, moves.end))
    drilled = np.flatnonzero(moves.motion[row] == Motion.CYCLE)
    begin[drilled] = finish[drilled]
    reach, unknown = _reach(moves, cutters, row)
    arc, centre, radius, angle, sweep = _curves(moves, row, normal)
    left, changes = aside(moves, cutters, row, contour=contour)
    if left.any() or changes.any():
        curved = arc >= 0
        on_arc = offset_arcs(begin, finish, centre, radius, sweep, left)
        on_line = offset_lines(begin, finish, left)
        begin, finish = (np.where(curved[:, None], a, b) for a, b in zip(on_arc[:2], on_line, strict=True))
        radius = np.where(curved, on_arc[2], radius)
        upright = ~curved & (begin == finish).all(axis=1) & (left != 0.0)
        (begin, finish), lost = upright_beside(row, (begin, finish), left, upright, ~changes)
        reach = np.where(changes | lost | (curved & (radius == 0.0)), 0.0, reach)
    z = np.stack([places[:, normal].take(row) for places in (moves.start, moves.end)], axis=1) * GRAIN
    ccw = sweep > 0
    return Cuts(
        row=row,
        start=begin,
        end=finish,
        z=z,
        low=z.min(axis=1),
        reach=reach,
        arc=arc,
        centre=centre,
        radius=radius,
        begin=angle,
        sweep=np.abs(sweep, out=sweep),
        ccw=ccw,
        unknown=unknown,
        boxes=_boxes(begin, finish, np.flatnonzero(arc >= 0), centre, radius, reach),
    )


def _in_plane(places: NDArray[np.int64], row: Rows, normal: int) -> Floats:
    """Places of some moves (k, 2) in the two axes of a plane, mm."""
    return np.asarray(np.stack([places[:, k].take(row) for k in PLANE_AXES[normal]], axis=1) * GRAIN)


def _boxes(start: Floats, end: Floats, curved: Rows, centre: Floats, radius: Floats, reach: Floats) -> Boxes:
    """The boxes of what cuts sweep: of those that are `curved`, of their whole circles."""
    low, high = (pick(start.T, end.T, order="C") for pick in (np.minimum, np.maximum))
    low[:, curved], high[:, curved] = (centre[curved].T + way * radius[curved] for way in (-1, 1))
    low -= reach
    high += reach
    return Boxes.of(low.T, high.T)


def rows_by_frame(moves: Moves, normal: int, near: NDArray[np.bool_]) -> Mapping[int, Rows]:
    """The cutting moves of each frame whose place in the plane is known, in order, of those `near` (n,)."""
    first, second = PLANE_AXES[normal]
    mask = (1 << first) | (1 << second)
    row = np.flatnonzero(near)
    motion, known = moves.motion[row], moves.start_known[row] & moves.end_known[row]
    row = row[(motion >= Motion.LINE) & (motion <= Motion.CYCLE) & ((known & mask) == mask)]
    frame = by_state(moves, row, lambda state: state.frame)
    order = np.argsort(frame, kind="stable")
    bounds = np.flatnonzero(np.diff(frame[order])) + 1
    found = {int(frame[part[0]]): row[part] for part in np.split(order, bounds) if len(part)}
    return defaultdict(lambda: np.empty(0, dtype=np.intp), found)


def _reach(moves: Moves, cutters: Cutters, row: Rows) -> tuple[Floats, NDArray[np.bool_]]:
    """Each move's cutter radius, 0 where it is unknown, and whether it is."""

    def radius(state: State) -> float:
        cutter = cutters.get(state.section)
        return cutter.diameter / 2 if cutter is not None and cutter.cylindrical else np.nan

    radii = by_state(moves, row, radius)
    unknown = np.isnan(radii)
    return np.where(unknown, 0.0, radii), unknown


def _curves(
    moves: Moves, row: NDArray[np.intp], normal: int
) -> tuple[
    NDArray[np.int64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]
]:
    """The arcs among the rows that lie in the plane, as curves begun counter-clockwise."""
    arcs = moves.arcs
    arc, centre = np.full(len(row), -1), np.zeros((len(row), 2))
    radius, begin, sweep = np.zeros((3, len(row)))
    if not len(arcs.row):
        return arc, centre, radius, begin, sweep
    at, is_arc = arcs.at(row)
    in_plane = by_state(moves, row, lambda state: state.normal) == normal
    some = np.flatnonzero(is_arc & in_plane & (arcs.fault[at] == ArcFault.NONE))
    arc[some] = at = at[some]
    centre[some], radius[some], sweep[some] = arcs.centre[at], arcs.radius[at], arcs.sweep[at]
    start = _in_plane(moves.start, row[some], normal) - centre[some]
    angle = np.arctan2(start[:, 1], start[:, 0])
    begin[some] = np.where(sweep[some] < 0, angle + sweep[some], angle)
    return arc, centre, radius, begin, sweep


def near(cuts: Cuts, centre: tuple[float, float], radius: float) -> NDArray[np.intp]:
    """Indices of the cuts that may reach the disc."""
    c = np.array(centre)
    return cuts.boxes.meeting(c - radius, c + radius)


def swept(
    cuts: Cuts, which: NDArray[np.intp], points: NDArray[np.float64], depth: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Which of the points (n, 2) some cut sweeps at least as deep as `depth` (n,), within 0.01 mm."""
    done = np.zeros(len(points), dtype=bool)
    if not len(which):
        return done
    which = which[cuts.low[which] <= depth.max() + SAME_DEPTH]
    at, size = 0, _FIRST_LOOK
    while at < len(which):
        open_ = np.flatnonzero(~done)
        if not len(open_):
            break
        chunk = which[at : at + size]
        at, size = at + size, min(4 * size, _MOST_AT_ONCE)
        distance, height = nearest(cuts, chunk, points[open_, 0], points[open_, 1])
        within = (distance < cuts.reach[chunk, None] - 1e-6) & (height <= depth[open_] + SAME_DEPTH)
        done[open_] = within.any(axis=0)
    return done


def length(x: Floats, y: Floats) -> Floats:
    """Lengths of ways: `np.hypot` takes seven times as long, for numbers that no way in mm comes near."""
    return np.asarray(np.sqrt(x * x + y * y))


def nearest(cuts: Cuts, which: NDArray[np.intp], x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Distance of points to paths, and the path's height there; (k, n) both.

    `x` and `y` are the points of each of the k paths (k, n), or of all of them (n,).
    """
    x, y = (np.broadcast_to(part, (len(which), part.shape[-1])) for part in (x, y))
    straight, z = cuts.arc[which] < 0, cuts.z[which]
    if straight.all():  # mostly: then nothing need be sorted out
        distance, t = _nearest_on_lines(cuts, which, x, y)
        return distance, _heights(cuts, which, straight, t)
    round_ = ~straight & (cuts.sweep[which] >= FULL_TURN) & (z[:, 0] == z[:, 1])
    distance, t = np.empty(x.shape), np.zeros(x.shape)
    for look, those in (
        (_nearest_on_lines, straight),
        (_nearest_on_arcs, ~straight & ~round_),
        (_nearest_on_turns, round_),
    ):
        some = np.flatnonzero(those)
        if len(some):
            distance[some], t[some] = look(cuts, which[some], x[some], y[some])
    return distance, _heights(cuts, which, straight, t)


def _heights(cuts: Cuts, which: Rows, straight: NDArray[np.bool_], t: Floats) -> Floats:
    """How high paths (k,) are so far along them (k, n); straight down they are where they end."""
    first, last = cuts.z[which].T
    if (first == last).all():
        return np.broadcast_to(first[:, None], t.shape)
    height = first[:, None] + t * (last - first)[:, None]
    down = np.flatnonzero(straight & (cuts.start[which] == cuts.end[which]).all(axis=1))
    height[down] = cuts.low[which[down], None]
    return np.asarray(height)


def _nearest_on_lines(cuts: Cuts, which: NDArray[np.intp], x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Distance of points (k, n) to straight paths, and how far along these the nearest place is, 0 to 1."""
    start, along = cuts.start[which], cuts.end[which] - cuts.start[which]
    length2 = along[:, 0] ** 2 + along[:, 1] ** 2
    along_x, along_y = along[:, 0, None], along[:, 1, None]
    to_x, to_y = x - start[:, 0, None], y - start[:, 1, None]
    t = (to_x * along_x + to_y * along_y) / np.where(length2 > 0, length2, 1.0)[:, None]
    np.clip(t, 0, 1, out=t)
    return length(to_x - t * along_x, to_y - t * along_y), t


def _nearest_on_turns(cuts: Cuts, which: NDArray[np.intp], x: Floats, y: Floats) -> tuple[Floats, float]:
    """As `_nearest_on_lines`, for level turns all the way round: how far along is all the same."""
    away = length(x - cuts.centre[which, 0, None], y - cuts.centre[which, 1, None])
    return np.abs(away - cuts.radius[which, None]), 0.0


def _nearest_on_arcs(cuts: Cuts, which: NDArray[np.intp], x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """As `_nearest_on_lines`, for arcs; of several turns the deepest counts."""
    away_x, away_y = x - cuts.centre[which, 0, None], y - cuts.centre[which, 1, None]
    distance = length(away_x, away_y)
    angle = (np.arctan2(away_y, away_x) - cuts.begin[which, None]) % FULL_TURN
    sweep, ccw = cuts.sweep[which, None], cuts.ccw[which, None]
    turns = np.floor((sweep - angle) / FULL_TURN)
    inside = turns >= 0
    once, last = angle / sweep, (angle + np.maximum(turns, 0) * FULL_TURN) / sweep
    early, late = np.where(ccw, once, 1 - last), np.where(ccw, last, 1 - once)
    falls = (cuts.z[which, 1] <= cuts.z[which, 0])[:, None]
    to_start, to_end = (length(x - p[which, 0, None], y - p[which, 1, None]) for p in (cuts.start, cuts.end))
    t = np.where(inside, np.where(falls, late, early), to_end < to_start)
    off = np.abs(distance - cuts.radius[which, None])
    return np.where(inside, off, np.minimum(to_start, to_end)), t
