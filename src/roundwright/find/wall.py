"""Walls: which edge of a ring leaves the surface, and how much of it other cuts remove."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from roundwright.find.beside import aside, offset_arcs, offset_lines
from roundwright.find.feature import Ring
from roundwright.find.ring import FULL_TURN, SAME_DEPTH
from roundwright.settings import Cutter
from roundwright.trace.moves import PLANE_AXES, ArcFault, Motion, Moves
from roundwright.units import GRAIN, MICROMETRE
from roundwright.values import dataclass

_SAMPLES = 180  # points along an edge
_ON_PATH = 0.15  # mm: what is nearer belongs to the ring itself, chords included
_BLOCK = 64  # moves that share one bounding box
_FIRST_LOOK, _MOST_AT_ONCE = 32, 512  # cuts held against all points: where many meet, a few sweep them all
_ANGLES = np.arange(_SAMPLES) * (FULL_TURN / _SAMPLES)
#: points of the unit circle at which edges are judged.
AROUND = np.column_stack([np.cos(_ANGLES), np.sin(_ANGLES)])


@dataclass(frozen=True, slots=True, eq=False)
class Boxes:
    """Bounding boxes of moves (k, 2), and of every `_BLOCK` in a row: what follows lies near."""

    low: NDArray[np.float64]
    high: NDArray[np.float64]
    block_low: NDArray[np.float64]
    block_high: NDArray[np.float64]

    @classmethod
    def of(cls, low: NDArray[np.float64], high: NDArray[np.float64]) -> Boxes:
        """Join boxes in blocks."""
        if not len(low):
            return cls(low, high, low, high)
        edges = np.arange(0, len(low), _BLOCK)
        return cls(low, high, np.minimum.reduceat(low, edges), np.maximum.reduceat(high, edges))

    def meeting(self, low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.intp]:
        """Indices of the boxes that meet the box (low, high)."""
        blocks = np.flatnonzero(((self.block_low <= high) & (self.block_high >= low)).all(axis=1))
        members = (blocks[:, None] * _BLOCK + np.arange(_BLOCK)).ravel()
        members = members[members < len(self.low)]
        return np.asarray(members[((self.low[members] <= high) & (self.high[members] >= low)).all(axis=1)])


@dataclass(frozen=True, slots=True, eq=False)
class Cuts:
    """All cutting moves of one frame, seen along one plane's normal (shape k, mm).

    `reach` is the cutter's radius, 0 where the cutter is not known (then only its centre line counts).
    """

    row: NDArray[np.int64]
    start: NDArray[np.float64]  # (k, 2)
    end: NDArray[np.float64]  # (k, 2)
    z: NDArray[np.float64]  # (k, 2)
    reach: NDArray[np.float64]
    arc: NDArray[np.int64]  # index into Moves.arcs, -1 for straight
    centre: NDArray[np.float64]  # (k, 2)
    radius: NDArray[np.float64]
    begin: NDArray[np.float64]  # radians, where the arc begins counter-clockwise
    sweep: NDArray[np.float64]  # radians, always positive
    ccw: NDArray[np.bool_]  # whether the move itself runs counter-clockwise
    unknown: NDArray[np.bool_]  # the cutter's size is not known
    boxes: Boxes


def gather_cuts(
    moves: Moves, cutters: Mapping[int, Cutter | None], frame: int, normal: int, *, contour: bool = True
) -> Cuts:
    """The cutting moves of one frame whose path in the plane is known, as the tool's centre runs them.

    `contour` tells that a compensated path is the contour itself.
    """
    first, second = PLANE_AXES[normal]
    row = _rows(moves, frame, (1 << first) | (1 << second))
    start, end = moves.start[row] * GRAIN, moves.end[row] * GRAIN
    begin, finish = start[:, [first, second]], end[:, [first, second]]
    begin = np.where((moves.motion[row] == Motion.CYCLE)[:, None], finish, begin)
    reach, unknown = _reach(moves, cutters, row)
    arc, centre, radius, angle, sweep = _curves(moves, row, normal)
    curved = arc >= 0
    left, changes = aside(moves, cutters, row, contour=contour)
    if left.any() or changes.any():
        on_arc = offset_arcs(begin, finish, centre, radius, sweep, left)
        on_line = offset_lines(begin, finish, left)
        begin, finish = (np.where(curved[:, None], a, b) for a, b in zip(on_arc[:2], on_line, strict=True))
        radius = np.where(curved, on_arc[2], radius)
        reach = np.where(changes | (curved & (radius == 0.0)), 0.0, reach)
    box_low = np.where(curved[:, None], centre - radius[:, None], np.minimum(begin, finish))
    box_high = np.where(curved[:, None], centre + radius[:, None], np.maximum(begin, finish))
    return Cuts(
        row=row,
        start=begin,
        end=finish,
        z=np.column_stack([start[:, normal], end[:, normal]]),
        reach=reach,
        arc=arc,
        centre=centre,
        radius=radius,
        begin=angle,
        sweep=np.abs(sweep),
        ccw=sweep > 0,
        unknown=unknown,
        boxes=Boxes.of(box_low - reach[:, None], box_high + reach[:, None]),
    )


def _rows(moves: Moves, frame: int, mask: int) -> NDArray[np.intp]:
    """The cutting moves of a frame whose place in the plane is known."""
    in_frame = np.array([state.frame == frame for state in moves.states])[moves.state]
    cutting = np.isin(moves.motion, [Motion.LINE, Motion.CW, Motion.CCW, Motion.CYCLE])
    placed = (moves.start_known & moves.end_known & mask) == mask
    return np.flatnonzero(in_frame & cutting & placed)


def _reach(
    moves: Moves, cutters: Mapping[int, Cutter | None], row: NDArray[np.intp]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Each move's cutter radius, 0 where it is unknown, and whether it is."""
    cutter_of = [cutters.get(state.section) for state in moves.states]
    sound = [cutter is not None and cutter.cylindrical for cutter in cutter_of]
    radii = [c.diameter / 2 if c and good else 0.0 for c, good in zip(cutter_of, sound, strict=True)]
    state_of = moves.state[row]
    return np.array(radii)[state_of], ~np.array(sound, dtype=bool)[state_of]


def _curves(
    moves: Moves, row: NDArray[np.intp], normal: int
) -> tuple[
    NDArray[np.int64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]
]:
    """The arcs among the rows that lie in the plane, as curves begun counter-clockwise."""
    arcs = moves.arcs
    of_row = np.full(len(moves), -1, dtype=np.int64)
    of_row[arcs.row] = np.arange(len(arcs.row))
    arc = of_row[row]
    in_plane = np.array([state.normal == normal for state in moves.states])[moves.state[row]]
    sound = (arc >= 0) & in_plane
    sound[sound] = arcs.fault[arc[sound]] == ArcFault.NONE
    arc = np.where(sound, arc, -1)
    centre = np.where(sound[:, None], arcs.centre[arc] if len(arcs.row) else 0.0, 0.0)
    radius = np.where(sound, arcs.radius[arc] if len(arcs.row) else 0.0, 0.0)
    sweep = np.where(sound, arcs.sweep[arc] if len(arcs.row) else 0.0, 0.0)
    first, second = PLANE_AXES[normal]
    start = moves.start[row][:, [first, second]] * GRAIN - centre
    begin = np.arctan2(start[:, 1], start[:, 0])
    begin = np.where(sweep < 0, begin + sweep, begin)
    return arc, centre, radius, begin, sweep


def near(cuts: Cuts, centre: tuple[float, float], radius: float) -> NDArray[np.intp]:
    """Indices of the cuts that may reach the disc."""
    c = np.array(centre)
    return cuts.boxes.meeting(c - radius, c + radius)


def reaching(
    cuts: Cuts, which: NDArray[np.intp], centre: NDArray[np.float64], radius: float
) -> NDArray[np.intp]:
    """Those of the cuts whose sweep may touch the circle: a cheap look at their least and most distance."""
    start, end = cuts.start[which] - centre, cuts.end[which] - centre
    along = end - start
    length2 = (along**2).sum(axis=1)
    t = np.clip(-(start * along).sum(axis=1) / np.where(length2 > 0, length2, 1.0), 0, 1)
    least = np.hypot(*(start + t[:, None] * along).T)
    most = np.maximum(np.hypot(*start.T), np.hypot(*end.T))
    curved = cuts.arc[which] >= 0
    away = np.hypot(*(cuts.centre[which] - centre).T)
    least = np.where(curved, np.abs(away - cuts.radius[which]), least)
    most = np.where(curved, away + cuts.radius[which], most)
    reach = cuts.reach[which]
    return np.asarray(which[(least - reach <= radius) & (most + reach >= radius)])


def swept(
    cuts: Cuts, which: NDArray[np.intp], points: NDArray[np.float64], depth: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Which of the points (n, 2) some cut sweeps at least as deep as `depth` (n,), within 0.01 mm."""
    done = np.zeros(len(points), dtype=bool)
    if not len(which):
        return done
    which = which[cuts.z[which].min(axis=1) <= depth.max() + SAME_DEPTH]
    at, size = 0, _FIRST_LOOK
    while at < len(which):
        open_ = np.flatnonzero(~done)
        if not len(open_):
            break
        chunk = which[at : at + size]
        at, size = at + size, min(4 * size, _MOST_AT_ONCE)
        distance, height = _nearest(cuts, chunk, points[open_])
        within = (distance < cuts.reach[chunk] - 1e-6) & (height <= depth[open_, None] + SAME_DEPTH)
        done[open_] = within.any(axis=1)
    return done


def _nearest(
    cuts: Cuts, which: NDArray[np.intp], points: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Distance of each point to each path, and the path's height there; both (n, k)."""
    start, end, z = cuts.start[which], cuts.end[which], cuts.z[which]
    along_x, along_y = (end - start).T
    length2 = along_x**2 + along_y**2
    to_x, to_y = (points[:, k, None] - start[:, k] for k in (0, 1))
    t = np.clip((to_x * along_x + to_y * along_y) / np.where(length2 > 0, length2, 1.0), 0, 1)
    distance = np.hypot(to_x - t * along_x, to_y - t * along_y)
    curved = np.flatnonzero(cuts.arc[which] >= 0)
    if len(curved):
        distance[:, curved], t[:, curved] = _nearest_on_arcs(cuts, which[curved], points)
    plunge = length2 == 0
    height = z[:, 0] + t * (z[:, 1] - z[:, 0])
    straight_down = plunge & (cuts.arc[which] < 0)
    return distance, np.where(straight_down, z.min(axis=1), height)


def _nearest_on_arcs(
    cuts: Cuts, which: NDArray[np.intp], points: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """As `_nearest`, for arcs; of several turns the deepest counts."""
    away_x, away_y = (points[:, k, None] - cuts.centre[which, k] for k in (0, 1))
    distance = np.hypot(away_x, away_y)
    angle = (np.arctan2(away_y, away_x) - cuts.begin[which]) % FULL_TURN
    sweep = cuts.sweep[which]
    turns = np.floor((sweep - angle) / FULL_TURN)
    inside = turns >= 0
    once, last = angle / sweep, (angle + np.maximum(turns, 0) * FULL_TURN) / sweep
    early, late = np.where(cuts.ccw[which], once, 1 - last), np.where(cuts.ccw[which], last, 1 - once)
    falls = cuts.z[which, 1] <= cuts.z[which, 0]
    to_ends = [
        np.hypot(points[:, 0, None] - p[which, 0], points[:, 1, None] - p[which, 1])
        for p in (cuts.start, cuts.end)
    ]
    t = np.where(inside, np.where(falls, late, early), to_ends[1] < to_ends[0])
    return np.where(inside, np.abs(distance - cuts.radius[which]), np.minimum(*to_ends)), t


@dataclass(frozen=True, slots=True)
class Edges:
    """What survives of a ring's two edges: shares of the circumference that no other cut removes.

    `inner` is None where there is no inner edge (the cutter covers the centre). `blind` tells that a
    cutter of unknown size passes here, so that the shares are not sure. `across_outer` and
    `across_inner` are the rows of the moves that cut across an edge.
    """

    outer: float
    inner: float | None
    blind: bool
    across_outer: frozenset[int] = frozenset()
    across_inner: frozenset[int] = frozenset()


def edges_of(cuts: Cuts, ring: Ring, radius: float, gap: float) -> Edges:
    """Judge both edges of a ring cut with a cutter of the given radius; the strip beyond is `gap` wide.

    An edge is wall where the strip just beyond it is never swept as deep by any other cutting move.
    """
    own = cuts_of(cuts, ring)
    others = np.setdiff1d(near(cuts, ring.centre, ring.radius + radius + gap), own, assume_unique=True)
    centre = np.array(ring.centre)
    depth = _own_depth(cuts, own, ring, centre)

    def share(at: float) -> float:
        which = reaching(cuts, others, centre, at)
        return 1.0 - float(swept(cuts, which, centre + at * AROUND, depth).mean())

    outside, inside = ring.radius + radius + gap, ring.radius - radius - gap
    outer, inner = share(outside), share(inside) if inside > 0 else None
    blind = bool(cuts.unknown[others].any()) and _passes(cuts, others[cuts.unknown[others]], ring, radius)
    return Edges(
        outer=outer,
        inner=inner,
        blind=blind,
        # where nothing is left of an edge nobody asks what crosses it, and of many rings that is nearly all
        across_outer=_across(cuts, others, ring, ring.radius + radius) if outer else frozenset(),
        across_inner=_across(cuts, others, ring, ring.radius - radius) if inner else frozenset(),
    )


def _across(cuts: Cuts, which: NDArray[np.intp], ring: Ring, at: float) -> frozenset[int]:
    """Rows of the moves that sweep across a circle of radius `at`, as deep as the ring's first pass."""
    centre = np.array(ring.centre)
    which = which[cuts.z[which].min(axis=1) <= ring.z[0] + SAME_DEPTH]
    which = reaching(cuts, reaching(cuts, which, centre, at - MICROMETRE), centre, at + MICROMETRE)
    if not len(which):
        return frozenset()
    nearest = _nearest(cuts, which, centre[None])[0][0]
    which = which[nearest - cuts.reach[which] < at - MICROMETRE]
    return frozenset(cuts.row[which].tolist())


def cuts_of(cuts: Cuts, ring: Ring) -> NDArray[np.intp]:
    """Indices of a ring's own cuts."""
    return np.searchsorted(cuts.row, np.array(ring.rows))


def _own_depth(
    cuts: Cuts, own: NDArray[np.intp], ring: Ring, centre: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How deep the ring itself goes at each sample; without a flat closing turn, its shallower end."""
    order = own[np.argsort(cuts.z[own].min(axis=1), kind="stable")]
    turns = np.cumsum(_spans(cuts, order, centre)) / FULL_TURN
    deepest = order[: int(np.searchsorted(turns, 2.0)) + 1]
    points = centre + ring.radius * AROUND
    distance, height = _nearest(cuts, deepest, points)
    on_path = distance < _ON_PATH
    depth = np.asarray(np.where(on_path, height, np.inf).min(axis=1))
    depth = np.where(np.isfinite(depth), depth, ring.z[1])
    return depth if ring.flat else np.full(len(depth), depth.max())


def _spans(cuts: Cuts, which: NDArray[np.intp], centre: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far each cut goes round the centre, radians, always positive."""
    a, b = cuts.start[which] - centre, cuts.end[which] - centre
    chord = np.abs(np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1)))
    return np.asarray(np.where(cuts.arc[which] >= 0, cuts.sweep[which], chord))


def _passes(cuts: Cuts, which: NDArray[np.intp], ring: Ring, radius: float) -> bool:
    """Whether a path of a cutter of unknown size comes within the ring's outer edge as deep as it."""
    deep = which[cuts.z[which].min(axis=1) <= ring.z[1] + SAME_DEPTH]
    if not len(deep):
        return False
    distance, _ = _nearest(cuts, deep, np.array([ring.centre]))
    return bool((distance <= ring.radius + 2 * radius).any())
