"""Promises on every other move: its end is where it was, or where the plan wants it; so are arcs."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from roundwright.plan.plan import ArcTargets, Ends
from roundwright.prove.case import NOISE, Case, first, tolerance, unit
from roundwright.prove.circles import (
    altered_arcs,
    arcs_differ,
    corners,
    ring_sweeps,
)
from roundwright.prove.rings import Circles, corrected
from roundwright.read.distinct import distinct
from roundwright.trace.moves import Moves
from roundwright.units import GRAIN, MICROMETRE

PROMISE = "every other move"
#: a planned place that differs by less from the old one is the old one (mm).
SAME_PLACE = MICROMETRE / 1000
#: arcs whose corners are further off one circle are no ring (geometry, 1), mm.
MOST_WANDER = 50 * MICROMETRE


def ends_in_place(case: Case) -> None:
    """Every end is exactly where it was, or within tolerance where the plan wants it.

    Starts follow: a move starts where the one before it ends, or where it started before.
    """
    old, new = case.old, case.new
    rows = distinct(np.concatenate((case.displaced, Ends.of(case.plan.ends).row)))
    expected = _expected_ends(case, rows)
    k = first(_misplaced(case, rows, expected))
    if k is not None:
        text = f"the end of a move: expected {_point(expected[k])}, found {_point(new.end[rows[k]])}"
        raise case.broken_at(PROMISE, text, int(rows[k]))
    rows = distinct(np.concatenate((case.displaced, case.displaced + 1)))
    rows = rows[rows < len(old)]
    before = np.maximum(rows - 1, 0)
    follows = (rows > 0) & (old.start[rows] == old.end[before]).all(axis=1)
    lost = old.end_known[before] & ~old.start_known[rows]  # these count from one place in both programs
    start = np.where(follows[:, None] & ~_axes(lost), new.end[before], old.start[rows])
    k = first((new.start[rows] != start).any(axis=1))
    if k is not None:
        text = f"the start of a move: expected {_point(start[k])}, found {_point(new.start[rows[k]])}"
        raise case.broken_at(PROMISE, text, int(rows[k]))


def _axes(bits: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Which axes (k, 3) are among the bits (k,)."""
    return np.asarray((bits[:, None] >> np.arange(3) & 1) != 0)


def _expected_ends(case: Case, rows: NDArray[np.int64]) -> NDArray[np.float64]:
    """Where each of these moves (k, 3) is to end, in counts of 1e-8 mm."""
    expected = case.old.end[rows].astype(np.float64)
    ends = Ends.of(case.plan.ends)
    expected[np.searchsorted(rows, ends.row)] = ends.place / GRAIN
    return expected


def _misplaced(case: Case, rows: NDArray[np.int64], expected: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which of these moves (k,) end elsewhere: off by more than a planned end may be, or off where it stays.

    Where no position is known (behind a home, say) both programs' numbers count from one place: the way is
    compared, then, not the place.
    """
    old, new = case.old.end[rows], case.new.end[rows]
    planned = np.isin(rows, Ends.of(case.plan.ends).row)
    moves = planned[:, None] & (np.abs(expected - old) * GRAIN >= SAME_PLACE)
    room = tolerance(case.old)[rows] + unit(case.old)[rows] / 2 + NOISE
    off = np.abs(expected - new) * GRAIN > room[:, None]
    return np.asarray(np.where(moves, off, new != old).any(axis=1))


def modest_moves(case: Case) -> None:
    """Nothing moves further than the corrections ask for, and no move grows or shrinks by more."""
    old, new = case.old, case.new
    rows = distinct(np.concatenate((case.displaced, old.arcs.row[altered_arcs(case)])))
    moved = _norm((new.end[rows] - old.end[rows]) * GRAIN)
    room = tolerance(old)[rows] + np.sqrt(2) * unit(old)[rows]
    largest = largest_shift(case)
    k = first(moved > largest + room)
    if k is not None:
        text = f"expected an end to move by {largest:.4f} mm at most, found {moved[k]:.4f} mm"
        raise case.broken_at(PROMISE, text, int(rows[k]))
    at_start = _norm((new.start[rows] - old.start[rows]) * GRAIN)
    most = (2 + turning(old, rows)) * (np.maximum(moved, at_start) + room + regrown(case, rows))
    sweep = np.where(old.arcs.r_form, ring_sweeps(case), old.arcs.sweep)
    was, now = lengths(old, rows, sweep), lengths(new, rows, new.arcs.sweep)
    k = first(np.abs(now - was) > most)
    if k is not None:
        expected = f"{was[k]:.4f} mm within {most[k]:.4f} mm"
        text = f"the length of a move: expected {expected}, found {now[k]:.4f} mm"
        raise case.broken_at(PROMISE, text, int(rows[k]))


def largest_shift(case: Case) -> float:
    """How far any corner may move, mm: the corrected radii's changes, clearing rings in proportion.

    What the corners of a ring were off its circle comes on top: they all go to one planned circle.
    """
    wander = _wander(case.old, case.circles)
    largest = 0.0
    for one in corrected(case.plan):
        wall, rings = one.feature.wall, (one.feature.wall, *one.feature.clearing)
        widest = max(ring.path for ring in rings)
        most = max(next(wander) for _ in rings)
        if one.change is not None:
            grows = abs(one.change) / 2 * max(1.0, widest / wall.path)
            largest = max(largest, grows + min(most, MOST_WANDER))
    return largest


def _wander(moves: Moves, circles: Circles) -> Iterator[float]:
    """How far the corners of each ring are off its circle, mm."""
    if not len(circles.row):
        return iter(())
    planned = circles.planned
    off = np.maximum(*(np.abs(away - planned) for away in corners(moves, circles)))
    return iter(np.maximum.reduceat(off, circles.first).tolist())


def planned_arcs(case: Case) -> None:
    """Arcs that the plan does not name keep their circles; the others lie on the planned ones."""
    old, new = case.old, case.new
    planned = ArcTargets.of(case.plan.arcs)
    rows, centre, radius = planned.row, planned.centre, planned.radius
    altered = old.arcs.row[altered_arcs(case)]
    loose = altered[~np.isin(altered, rows)]
    k = first(arcs_differ(old, new, loose))
    if k is not None:
        raise case.broken_at(PROMISE, "an arc that was to stay has changed", int(loose[k]))
    arc, is_arc = new.arcs.at(rows)
    if not is_arc.any():
        return
    rows, arc, centre, radius = rows[is_arc], arc[is_arc], centre[is_arc], radius[is_arc]
    room = tolerance(old)[rows] + unit(old)[rows] * np.sqrt(2) + NOISE
    k = first(np.abs(new.arcs.radius[arc] - radius) > room)
    if k is not None:
        text = f"radius of an arc: expected {radius[k]:.5f} mm, found {new.arcs.radius[arc[k]]:.5f} mm"
        raise case.broken_at(PROMISE, text, int(rows[k]))
    off = np.hypot(*(new.arcs.centre[arc] - centre).T)
    was_off = np.hypot(*(old.arcs.centre[arc] - centre).T)
    k = first((off > room) & ~(new.arcs.r_form[arc] & (off <= was_off)))
    if k is not None:
        expected = f"{room[k]:.5f} mm from the planned one at most"
        text = f"the centre of an arc: expected {expected}, found {off[k]:.5f} mm"
        raise case.broken_at(PROMISE, text, int(rows[k]))


def lengths(moves: Moves, rows: NDArray[np.int64], sweep: NDArray[np.float64]) -> NDArray[np.float64]:
    """Length of the path of each of these moves (k,), mm, the program's arcs with these sweeps (m,), radians.

    Along the helix where it is one (NIST IR 6556, 2.1.2.6).
    """
    along = (moves.end[rows] - moves.start[rows]) * GRAIN
    length = _norm(along)
    arcs = moves.arcs
    arc, is_arc = moves.arcs.at(rows)
    at = np.flatnonzero(is_arc)
    radius, turned = (arcs.radius[arc[at]] + arcs.radius_end[arc[at]]) / 2, sweep[arc[at]]
    sound = np.isfinite(radius + turned)
    at = at[sound]
    normal = np.array([state.normal for state in moves.states], dtype=np.intp)[moves.state[rows[at]]]
    length[at] = np.hypot(radius[sound] * turned[sound], along[at, normal])
    return length


def regrown(case: Case, rows: NDArray[np.int64]) -> NDArray[np.float64]:
    """How far the radius of each of these moves (k,) was off a planned one, mm; an R may have been coarse."""
    off = np.zeros(len(rows))
    arc, is_arc = case.old.arcs.at(rows)
    circles = ArcTargets.of(case.plan.arcs)
    planned = np.flatnonzero(is_arc & np.isin(rows, circles.row))
    target = circles.radius[circles.row.searchsorted(rows[planned])]
    off[planned] = np.abs(np.nan_to_num(case.old.arcs.radius[arc[planned]]) - target)
    return off


def turning(moves: Moves, rows: NDArray[np.int64]) -> NDArray[np.float64]:
    """How far each of these moves (k,) turns, radians; 0 where it is straight or no sound arc."""
    turn = np.zeros(len(rows))
    arc, is_arc = moves.arcs.at(rows)
    turn[is_arc] = np.nan_to_num(np.abs(moves.arcs.sweep[arc[is_arc]]))
    return turn


def _norm(vector: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.sqrt((vector**2).sum(axis=1)))


def _point(counts: NDArray[np.float64] | NDArray[np.int64]) -> str:
    return (
        " ".join(f"{axis}{value * GRAIN:.5f}" for axis, value in zip("XYZ", counts.tolist(), strict=True))
        + " mm"
    )
