"""Promise: what moves is a ring of a corrected feature, along its radii, or a path that such a ring leads.

It asks the plan for the features and their changes only: not which moves it meant to displace, nor where.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find.feature import Ring
from roundwright.prove.case import NOISE, Case, first, tolerance, unit
from roundwright.prove.circles import r_form_at
from roundwright.prove.rings import Circles, circles_of, corrected
from roundwright.read.distinct import firsts
from roundwright.trace.moves import ArcFault, Motion, Moves
from roundwright.units import GRAIN, MICROMETRE

PROMISE = "nothing else moves"
Floats = NDArray[np.float64]
#: how far apart places that the program means to be one may be written (geometry, 1), mm.
_SAME_LEAST, _SAME_MOST = MICROMETRE, 25 * MICROMETRE
#: a ring's corners in R form, and those of coarse programs, wander by so many of that.
_WANDER = 2.0


def rings_as_read(case: Case) -> None:
    """The circles that the plan corrects are those of the old program: its own arcs and corners say so."""
    circles = case.circles
    if not len(circles.row):
        return
    off = _off_their_circles(case.old, circles, unit(case.old))
    pairs = zip(*(column.tolist() for column in off), strict=True)
    for one in corrected(case.plan):
        wall = one.feature.wall
        row = wall.rows[0]
        if one.feature.fault:
            raise case.broken_at("circles as read", f"{one.feature.id} has a fault: {one.feature.fault}", row)
        if one.change is None or one.corrected is None or one.feature.diameter is None:
            raise case.broken_at("circles as read", f"{one.feature.id} is corrected by nothing", row)
        if abs(one.feature.diameter + one.change - one.corrected) > NOISE:
            what = f"{one.feature.id}: its diameter and its change are not what it is to be"
            raise case.broken_at("circles as read", what, row)
        for ring in (wall, *one.feature.clearing):
            off, most = next(pairs)
            if off > most:
                what = f"a circle of {one.feature.id}: expected within {most:.4f} mm, found {off:.4f} mm off"
                raise case.broken_at("circles as read", what, ring.rows[0])


def _off_their_circles(moves: Moves, circles: Circles, fine: Floats) -> tuple[Floats, Floats]:
    """How far each ring's moves lie off its circle (r,), mm, and how far they may; `fine` are their units."""
    ring, first, row = circles.ring, circles.first, circles.row
    size = np.diff(first, append=len(row))
    start, end = (
        np.take_along_axis(place[row], circles.axes, 1) * GRAIN for place in (moves.start, moves.end)
    )

    def away(centre: Floats) -> tuple[Floats, Floats]:
        return np.hypot(*(start - centre[ring]).T), np.hypot(*(end - centre[ring]).T)

    centre = circles.circle[:, 2:4]
    mean = np.add.reduceat(sum(away(centre)), first) / (2 * size)
    off = np.abs(mean - circles.circle[:, 4])
    wide, scatter = 2 * np.maximum.reduceat(fine[row], first), np.zeros(len(first))
    arc, weight, sure = _sure_arcs(moves, row)
    told = np.logical_or.reduceat(sure, first)
    if told.any():
        with np.errstate(invalid="ignore", divide="ignore"):
            total = np.add.reduceat(weight, first)[:, None]
            own = np.add.reduceat(moves.arcs.centre[arc] * weight[:, None], first) / total
        off = np.where(told, np.fmax(off, np.hypot(*(own - centre).T)), off)
        apart = away(own)
        most = np.maximum.reduceat(np.maximum(*apart), first)
        # shows how coarsely the ring is written
        scatter = np.where(told, most - np.minimum.reduceat(np.minimum(*apart), first), 0.0)
    wide = np.where(told, wide, np.maximum(wide, circles.circle[:, 5]))
    same = np.clip(wide, _SAME_LEAST, _SAME_MOST)
    return off, _WANDER * same + np.minimum(_WANDER * scatter, _SAME_MOST) + NOISE


def _sure_arcs(moves: Moves, row: NDArray[np.int64]) -> tuple[NDArray[np.intp], Floats, NDArray[np.bool_]]:
    """The arc of each move, how much its written centre says, and whether it says anything."""
    arc, is_arc = moves.arcs.at(row)
    sure = is_arc & ~r_form_at(moves, row)
    if not sure.any():
        return arc, np.zeros(len(row)), sure
    sure &= moves.arcs.fault[arc] == ArcFault.NONE
    weight = np.where(sure, _sureness(moves.arcs.sweep[arc]), 0.0)
    return np.where(sure, arc, arc[np.argmax(sure)]), weight, sure


def _sureness(sweep: Floats) -> Floats:
    """How much an arc's written centre says: rounded ends turn that of a short one far along its bisector."""
    return np.asarray((1 - np.cos(np.minimum(np.abs(sweep), np.pi) / 2)) ** 2)


class _Corners(Struct, frozen=True, eq=False):
    """The ends that stand on rings of corrected features (shape c), and where each belongs, mm."""

    row: NDArray[np.int64]
    place: Floats  # (c, 3)
    normal: NDArray[np.intp]


def tied_to_rings(case: Case) -> None:
    """Every displaced end stands on a corrected ring, or travels as the ring does that it is tied to.

    Tied: through moves that are all displaced. Along the ring's normal nothing moves at all.
    """
    moved = np.zeros(len(case.old), dtype=bool)
    moved[case.displaced] = (case.new.end[case.displaced] != case.old.end[case.displaced]).any(axis=1)
    corners = _corners(case)
    row = corners.row
    off = np.sqrt(((case.new.end[row] * GRAIN - corners.place) ** 2).sum(axis=1))
    depth = np.abs(case.new.end[row, corners.normal] - case.old.end[row, corners.normal]) * GRAIN
    room = _room(case.old, row)
    k = first((off > room) | (depth > NOISE))
    if k is not None:
        text = f"a corner of a circle: expected within {room[k]:.4f} mm, found {off[k]:.4f} mm off"
        raise case.broken_at(PROMISE, text, int(row[k]))
    held = np.zeros(len(moved), dtype=bool)
    held[row] = True
    loose = np.flatnonzero(moved & ~held)
    if len(loose):
        _travel_along(case, loose, corners, ~moved)
    _upright(case)


def _room(moves: Moves, row: NDArray[np.int64]) -> Floats:
    """How far off the plan each of these moves (k,) may end, mm."""
    return np.asarray(tolerance(moves)[row] + np.sqrt(2) * unit(moves)[row] + NOISE)


def _upright(case: Case) -> None:
    """A move straight up or down is one still: a plunge beside a ring travels with it, or not at all."""
    old, new = case.old, case.new
    rows = case.displaced
    normal = np.array([state.normal for state in old.states], dtype=np.intp)[old.state[rows]]
    along = np.arange(3) == normal[:, None]
    was, now = ((m.start[rows] != m.end[rows]) & ~along for m in (old, new))
    straight = ((old.start_known[rows, None] >> np.arange(3) & 1 != 0) | along).all(axis=1)
    straight &= (old.motion[rows] == Motion.RAPID) | (old.motion[rows] == Motion.LINE)
    k = first(straight & ~was.any(axis=1) & now.any(axis=1))
    if k is not None:
        raise case.broken_at(PROMISE, "a move straight up or down has become one aslant", int(rows[k]))


def _travel_along(case: Case, loose: NDArray[np.intp], corners: _Corners, still: NDArray[np.bool_]) -> None:
    """Each of these displaced ends goes the way of the ring before or behind it in its run."""
    order, room = firsts(corners.row), _room(case.old, loose)
    at = corners.row[order]
    normal = corners.normal[order]
    gap = np.concatenate(([0], np.cumsum(still)))  # how many ends stay, before each row
    fine = np.zeros(len(loose), dtype=bool)
    mine, theirs = (_by(case, rows) for rows in (loose, at))
    place = np.searchsorted(at, loose)
    for step in (-1, 0):
        k = place + step
        there = (k >= 0) & (k < len(at))
        if not there.any():
            continue
        k = np.clip(k, 0, len(at) - 1)
        low, high = np.minimum(at[k], loose), np.maximum(at[k], loose)
        tied = there & (gap[high] - gap[low] == 0)
        apart = np.sqrt(((mine - theirs[k]) ** 2).sum(axis=1))
        level = np.abs(mine[np.arange(len(loose)), normal[k]]) <= NOISE
        fine |= tied & (apart <= np.maximum(room, _room(case.old, at[k]))) & level
    stray = first(~fine)
    if stray is not None:
        found = " ".join(f"{value:+.4f}" for value in mine[stray])
        what = f"an end that no circle leads has moved by {found} mm"
        raise case.broken_at(PROMISE, what, int(loose[stray]))


def _by(case: Case, rows: NDArray[np.intp] | NDArray[np.int64]) -> Floats:
    """How far these ends (k, 3) have moved, mm."""
    return np.asarray((case.new.end[rows] - case.old.end[rows]) * GRAIN)


def _corners(case: Case) -> _Corners:
    """The corners of all rings that are to move; a clearing ring does in proportion to its wall."""
    circles = circles_of(_rings(case))
    ring, row = circles.ring, circles.row
    begins = row > 0
    start = row[begins]
    at, of = np.concatenate((start - 1, row)), np.concatenate((ring[begins], ring))
    joined = (case.old.start[start] == case.old.end[start - 1]).all(axis=1)
    order = np.argsort(of, kind="stable")
    order = order[np.concatenate((joined, np.ones(len(row), dtype=bool)))[order]]
    at, of = at[order], of[order]
    place = np.concatenate((case.old.start[start], case.old.end[row]))[order] * GRAIN
    axes, centre = circles.circle[:, :2].astype(np.intp)[of], circles.circle[:, 2:4][of]
    offset = np.take_along_axis(place, axes, 1) - centre
    offset *= (circles.circle[:, 4][of] / np.hypot(*offset.T))[:, None]
    np.put_along_axis(place, axes, centre + offset, 1)
    return _Corners(at, place, 3 - axes.sum(axis=1))


def _rings(case: Case) -> Iterator[tuple[str, Ring, float]]:
    """Every ring of the corrected features that is to move, and what radius it is to have, mm."""
    for one in corrected(case.plan):
        wall, grows = one.feature.wall, (one.change or 0.0) / 2
        yield one.feature.id, wall, wall.radius + grows
        if case.plan.spread == "rings":
            for ring in one.feature.clearing:
                yield one.feature.id, ring, ring.radius + grows * ring.path / wall.path
