"""How fast a wall is cut: feed and speed of its last pass, and the feed at the cutter's edge."""

from __future__ import annotations

import math

import numpy as np

from roundwright.find.feature import Feature, Ring
from roundwright.find.ring import SAME_DEPTH
from roundwright.plan.plan import WallFeed
from roundwright.settings import Side
from roundwright.trace.moves import PLANE_AXES, Moves
from roundwright.units import millimetres

_COUNT = 1e-8  # mm


def edge_feed(centre: float, diameter: float, cutter: float, side: Side) -> float | None:
    """The feed of the cutting edge along the wall, where the tool's centre feeds at `centre`.

    Inside F·D/(D − d), outside F·D/(D + d), for a wall of diameter D and a cutter of diameter d in one unit;
    None where there is no such wall, the cutter being as large as the hole, and where a groove has two.
    Source: the published rule for circular interpolation, F_centre = F_edge·(D ∓ d)/D.
    """
    path = diameter + {"hole": -cutter, "boss": cutter}.get(side, -diameter)
    return centre * diameter / path if path > 0.0 else None


def wall_feed(feature: Feature, moves: Moves) -> WallFeed:
    """Feed and speed of the last wall pass at full depth, and the feed at the edge.

    On a helix the feed is along the helix (NIST IR 6556, 2.1.2.6): only its part in the plane is changed by
    the wall's curvature.
    """
    row = last_pass(feature.wall, moves)
    state = moves.states[int(moves.state[row])]
    feed = float(moves.feed[row])
    speed = float(moves.speed[row])
    turning = None if math.isnan(speed) else speed
    if state.feed_mode != 94 or math.isnan(feed):
        return WallFeed(None, None, turning)
    programmed = millimetres(feed, inch=state.inch)
    return WallFeed(programmed, _edge(feature, programmed, moves, row), turning)


def last_pass(wall: Ring, moves: Moves) -> int:
    """The row of `moves` that ends the cutting of a wall at its full depth."""
    lowest = wall.z[1] + SAME_DEPTH
    heights = moves.start[:, wall.normal], moves.end[:, wall.normal]
    deep = (row for row in reversed(wall.rows) if min(int(z[row]) for z in heights) * _COUNT <= lowest)
    return next(deep, wall.rows[-1])


def _edge(feature: Feature, programmed: float, moves: Moves, row: int) -> float | None:
    if feature.cutter is None or feature.diameter is None:
        return None
    along, down = _way(moves, row, feature.wall.normal)
    whole = math.hypot(along, down)
    if whole == 0.0:
        return None
    plane = edge_feed(programmed * along / whole, feature.diameter, feature.cutter.diameter, feature.side)
    return None if plane is None else math.hypot(plane, programmed * down / whole)


def _way(moves: Moves, row: int, normal: int) -> tuple[float, float]:
    """How far a move goes in the plane, along its arc, and along the normal; mm."""
    travel = (moves.end[row] - moves.start[row]) * _COUNT
    place = int(np.searchsorted(moves.arcs.row, row))
    if place < len(moves.arcs.row) and moves.arcs.row[place] == row:
        along = float(moves.arcs.radius[place] * abs(moves.arcs.sweep[place]))
    else:
        along = math.hypot(*(float(travel[axis]) for axis in PLANE_AXES[normal]))
    return along, abs(float(travel[normal]))
