"""How fast a wall is cut: feed and speed of its last pass, and the feed at the cutter's edge."""

from __future__ import annotations

import math
from array import array
from collections.abc import Iterable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from roundwright.find.feature import Feature, Ring
from roundwright.find.ring import SAME_DEPTH
from roundwright.plan.plan import WallFeed, WallFeeds
from roundwright.settings import Side
from roundwright.trace.moves import PLANE_AXES, Moves, State
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


def wall_feeds(features: Sequence[Feature], moves: Moves) -> WallFeeds:
    """Feed and speed of each feature's last wall pass at full depth, and the feed at the edge, by its id.

    On a helix the feed is along the helix (NIST IR 6556, 2.1.2.6): only its part in the plane is changed by
    the wall's curvature.
    """
    names, normals = [feature.id for feature in features], [feature.wall.normal for feature in features]
    if not names:
        return WallFeeds((), ())
    row = last_passes((feature.wall for feature in features), moves)
    columns = (moves.state[row], moves.feed[row], moves.speed[row])
    feeds = (
        _wall_feed(feature, moves.states[state], feed, speed, way)
        for feature, way, state, feed, speed in zip(
            features, _ways(moves, row, normals), *(column.tolist() for column in columns), strict=True
        )
    )
    return WallFeeds(names, feeds)


def _wall_feed(
    feature: Feature, state: State, feed: float, speed: float, way: tuple[float, float]
) -> WallFeed:
    turning = None if math.isnan(speed) else speed
    if state.feed_mode != 94 or math.isnan(feed):
        return WallFeed(None, None, turning)
    programmed = millimetres(feed, inch=state.inch)
    return WallFeed(programmed, _edge(feature, programmed, way), turning)


def last_passes(walls: Iterable[Ring], moves: Moves) -> NDArray[np.intp]:
    """The rows of `moves` that end the cutting of each wall at its full depth."""
    size, rows, normals, depths = array("q"), array("q"), array("q"), array("d")
    for wall in walls:
        size.append(len(wall.rows))
        rows.extend(wall.rows)
        normals.append(wall.normal)
        depths.append(wall.z[1] + SAME_DEPTH)
    row, sizes = np.array(rows, np.intp), np.array(size, np.intp)
    normal, lowest = np.repeat(normals, sizes), np.repeat(depths, sizes)
    deep = np.minimum(moves.start[row, normal], moves.end[row, normal]) * _COUNT <= lowest
    behind = np.cumsum(sizes)
    last = np.maximum.reduceat(np.where(deep, np.arange(len(row)), -1), behind - sizes)
    return row[np.where(last < 0, behind - 1, last)]


def _edge(feature: Feature, programmed: float, way: tuple[float, float]) -> float | None:
    if feature.cutter is None or feature.diameter is None:
        return None
    along, down = way
    whole = math.hypot(along, down)
    if whole == 0.0:
        return None
    plane = edge_feed(programmed * along / whole, feature.diameter, feature.cutter.diameter, feature.side)
    return None if plane is None else math.hypot(plane, programmed * down / whole)


def _ways(moves: Moves, row: NDArray[np.intp], normals: Sequence[int]) -> Iterator[tuple[float, float]]:
    """How far moves go in their planes, along their arcs, and along their normals; mm."""
    travel = ((moves.end[row] - moves.start[row]) * _COUNT).tolist()
    arcs = moves.arcs
    place, is_arc = arcs.at(row)
    curved = np.flatnonzero(is_arc)
    round_ = np.full(len(row), np.nan)
    round_[curved] = arcs.radius[place[curved]] * np.abs(arcs.sweep[place[curved]])
    for way, normal, along in zip(travel, normals, round_.tolist(), strict=True):
        first, second = PLANE_AXES[normal]
        straight = math.isnan(along)
        yield math.hypot(way[first], way[second]) if straight else along, abs(way[normal])
