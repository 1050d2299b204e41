"""Walls: which edge of a ring leaves the surface, and how much of it other cuts remove."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from roundwright.find.cuts import Cuts, Floats, nearest
from roundwright.find.feature import Ring
from roundwright.find.meeting import AROUND, Circles, Meetings, cuts_of, left_of
from roundwright.find.ring import FULL_TURN, SAME_DEPTH
from roundwright.find.turn import Turns
from roundwright.units import MICROMETRE

_ON_PATH = 0.15  # mm: what is nearer belongs to the ring itself, chords included


class Edges(Struct, frozen=True, gc=False):
    """What survives of a ring's two edges: shares of the circumference that no other cut removes.

    `inner` is None where there is no inner edge (the cutter covers the centre). `blind` tells that a
    cutter of unknown size passes here, so that the shares are not sure. `across_outer` and
    `across_inner` are the rows of the moves that cut across an edge, in order.
    """

    outer: float
    inner: float | None
    blind: bool
    across_outer: tuple[int, ...] = ()
    across_inner: tuple[int, ...] = ()


def edges_of(cuts: Cuts, circles: Circles, turns: Turns) -> Iterator[Edges]:
    """Judge both edges of rings, and the strips just beyond them.

    An edge is wall where the strip beyond it is never swept as deep by any other cutting move. Where many
    rings overlap, one whole turn of the `turns` among the cuts mostly buries both strips of one: then
    nothing else is looked at.
    """
    depth = _own_depths(cuts, circles.rings)
    # the middles of its own chords stand inside the circle
    flats = np.array([ring.radius if ring.over_flats is None else ring.over_flats for ring in circles.rings])
    beyond, inside = circles.radius + circles.reach + circles.gap, flats - circles.reach - circles.gap
    outer, inner = np.ones(len(depth), np.bool_), inside > 0
    if not cuts.unknown.any():
        outer, inner = (
            edge & ~turns.bury(cuts, circles, at, depth) for edge, at in ((outer, beyond), (inner, inside))
        )
    asked = np.flatnonzero(outer | inner)
    judged: Iterator[Edges] = iter(())
    if len(asked):
        beyond, within = np.where(outer, beyond, 0.0)[asked], np.where(inner, inside, 0.0)[asked]
        judged = _edges(cuts, circles.take(asked), beyond, within, depth[asked])
    for some, open_ in zip(inside > 0, outer | inner, strict=True):
        edges = next(judged) if open_ else Edges(0.0, 0.0, blind=False)
        yield edges if some else replace(edges, inner=None)


def _edges(cuts: Cuts, circles: Circles, beyond: Floats, inside: Floats, depth: Floats) -> Iterator[Edges]:
    """Judge edges by all the cuts that meet them, and the strips at the radii `beyond` and `inside` (m,).

    Where such a radius is 0 nothing is left of that edge, and nobody asks for what meets it.
    """
    radius, reach = circles.radius, circles.reach
    low = np.where(inside > 0, inside, radius + reach - MICROMETRE)
    high = np.where(beyond > 0, beyond, radius - reach + MICROMETRE)
    met = Meetings.of(cuts, circles, low, high, np.maximum(circles.top, depth.max(axis=1)))
    outer = left_of(cuts, circles, met, beyond, depth)
    inner = left_of(cuts, circles, met, inside, depth)
    # where nothing is left of an edge nobody asks what crosses it, and of many rings that is nearly all
    across_outer = _across(cuts, circles, met.pick((outer > 0)[met.circle]), radius + reach)
    across_inner = _across(cuts, circles, met.pick((inner > 0)[met.circle]), radius - reach)
    blind = _blind(cuts, circles, met)
    for k, (out, in_) in enumerate(zip(outer.tolist(), inner.tolist(), strict=True)):
        yield Edges(out, in_, k in blind, across_outer.get(k, ()), across_inner.get(k, ()))


def _across(cuts: Cuts, circles: Circles, met: Meetings, at: Floats) -> dict[int, tuple[int, ...]]:
    """Rows of the moves that sweep across circles of radii `at` (m,), as deep as the ring's first pass."""
    high = cuts.low[met.cut] <= circles.top[met.circle] + SAME_DEPTH
    met = met.pick(high & met.touching(cuts, at - MICROMETRE) & met.touching(cuts, at + MICROMETRE))
    if not len(met.cut):
        return {}
    x, y = (circles.centre[met.circle, k, None] for k in (0, 1))
    apart = nearest(cuts, met.cut, x, y)[0][:, 0]
    met = met.pick(apart - cuts.reach[met.cut] < at[met.circle] - MICROMETRE)
    bounds = [0, *(np.flatnonzero(np.diff(met.circle)) + 1).tolist(), len(met.circle)]
    circle, rows = met.circle.tolist(), cuts.row[met.cut].tolist()  # both in order
    return {circle[first]: tuple(rows[first:past]) for first, past in pairwise(bounds) if past}


def _blind(cuts: Cuts, circles: Circles, met: Meetings) -> set[int]:
    """The circles within whose outer edge a cutter of unknown size passes as deep as they."""
    if not cuts.unknown.any():
        return set()
    deep = cuts.low[met.cut] <= circles.bottom[met.circle] + SAME_DEPTH
    met = met.pick(deep & cuts.unknown[met.cut])
    x, y = (circles.centre[met.circle, k, None] for k in (0, 1))
    apart = nearest(cuts, met.cut, x, y)[0][:, 0]
    return set(met.circle[apart <= (circles.radius + 2 * circles.reach)[met.circle]].tolist())


def _own_depths(cuts: Cuts, rings: Sequence[Ring]) -> Floats:
    """How deep rings themselves go at each sample (r, n)."""
    lowest = np.array([ring.z[1] for ring in rings])
    depth = np.repeat(lowest[:, None], AROUND.shape[1], axis=1)
    for k in np.flatnonzero(~_level(cuts, rings, lowest)).tolist():
        depth[k] = _own_depth(cuts, rings[k])
    return depth


def _level(cuts: Cuts, rings: Sequence[Ring], lowest: Floats) -> NDArray[np.bool_]:
    """Which rings (r,) run at their lowest all the way, or close with a flat turn of arcs that does."""
    size = np.array([len(ring.rows) for ring in rings])
    own = cuts_of(cuts, rings)
    z, low = cuts.z[own], np.repeat(lowest, size)
    higher = (z != low[:, None]).any(axis=1)
    closing = (np.abs(z[:, 0] - z[:, 1]) <= SAME_DEPTH) & (z[:, 0] <= low + SAME_DEPTH)
    flat = np.array([ring.flat and "chords" not in ring.forms for ring in rings])  # chords may have gaps
    first = np.cumsum(size) - size
    return np.asarray(~np.logical_or.reduceat(higher & (closing | ~np.repeat(flat, size)), first))


def _own_depth(cuts: Cuts, ring: Ring) -> Floats:
    """How deep a ring itself goes at each sample; without a flat closing turn, its shallower end."""
    own, lowest = cuts_of(cuts, [ring]), ring.z[1]
    order = own[np.argsort(cuts.low[own], kind="stable")]
    if _closes(cuts, order[0], ring):
        return np.full(AROUND.shape[1], lowest)
    centre = np.array(ring.centre)
    turns = np.cumsum(_spans(cuts, order, centre)) / FULL_TURN
    deepest = order[: int(np.searchsorted(turns, 2.0)) + 1]
    points = centre[:, None] + ring.radius * AROUND
    distance, height = nearest(cuts, deepest, points[0], points[1])
    on_path = distance < _ON_PATH
    depth = np.asarray(np.where(on_path, height, np.inf).min(axis=0))
    depth = np.where(np.isfinite(depth), depth, lowest)
    return depth if ring.flat else np.full(len(depth), depth.max())


def _closes(cuts: Cuts, cut: int, ring: Ring) -> bool:
    """Whether one cut goes round all of the ring at its lowest: then that is how deep it is, everywhere."""
    if cuts.arc[cut] < 0 or cuts.sweep[cut] < FULL_TURN or (cuts.z[cut] != ring.z[1]).any():
        return False
    off = np.hypot(*(cuts.centre[cut] - ring.centre)) + abs(cuts.radius[cut] - ring.radius)
    return bool(off < _ON_PATH / 2)


def _spans(cuts: Cuts, which: NDArray[np.intp], centre: Floats) -> Floats:
    """How far each cut goes round the centre, radians, always positive."""
    a, b = cuts.start[which] - centre, cuts.end[which] - centre
    chord = np.abs(np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1)))
    return np.asarray(np.where(cuts.arc[which] >= 0, cuts.sweep[which], chord))
