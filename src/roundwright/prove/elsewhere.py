"""Promises on every other move: its end is where it was, or where the plan wants it; so are arcs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from roundwright.find.feature import Ring
from roundwright.prove.case import NOISE, Case, displacement, first, tolerance, unit
from roundwright.prove.circles import arcs_at, arcs_differ, ring_sweeps
from roundwright.trace.moves import PLANE_AXES, Moves
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
    expected = _expected_ends(case)
    row = first(_misplaced(case, expected))
    if row is not None:
        text = f"the end of a move: expected {_point(expected[row])}, found {_point(new.end[row])}"
        raise case.broken_at(PROMISE, text, row)
    follows = np.zeros(old.start.shape, dtype=bool)
    follows[1:] = (old.start[1:] == old.end[:-1]).all(axis=1)[:, None]
    lost = old.end_known[:-1] & ~old.start_known[1:]  # these count from one place in both programs
    follows[1:] &= (lost[:, None] >> np.arange(3) & 1) == 0
    start = np.where(follows, np.roll(new.end, 1, axis=0), old.start)
    row = first((new.start != start).any(axis=1))
    if row is not None:
        text = f"the start of a move: expected {_point(start[row])}, found {_point(new.start[row])}"
        raise case.broken_at(PROMISE, text, row)


def _expected_ends(case: Case) -> NDArray[np.float64]:
    """Where each move (n, 3) is to end, in counts of 1e-8 mm."""
    expected = case.old.end.astype(np.float64)
    for row, place in case.plan.ends.items():
        expected[row] = np.array(place) / GRAIN
    return expected


def _misplaced(case: Case, expected: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which moves (n,) end elsewhere: off by more than a planned end may be, or at all where it stays.

    Where no position is known (behind a home, say) both programs' numbers count from one place: the way is
    compared, then, not the place.
    """
    old, new = case.old, case.new
    planned = np.zeros(len(old), dtype=bool)
    planned[list(case.plan.ends)] = True
    moves = planned[:, None] & (np.abs(expected - old.end) * GRAIN >= SAME_PLACE)
    room = tolerance(old) + unit(old) / 2 + NOISE
    off = np.abs(expected - new.end) * GRAIN > room[:, None]
    return np.asarray(np.where(moves, off, new.end != old.end).any(axis=1))


def modest_moves(case: Case) -> None:
    """Nothing moves further than the corrections ask for, and no move grows or shrinks by more."""
    old, new = case.old, case.new
    moved = _norm(displacement(case))
    room = tolerance(old) + np.sqrt(2) * unit(old)
    row = first(moved > largest_shift(case) + room)
    if row is not None:
        text = f"expected an end to move by {largest_shift(case):.4f} mm at most, found {moved[row]:.4f} mm"
        raise case.broken_at(PROMISE, text, row)
    at_start = _norm((new.start - old.start) * GRAIN)
    most = (2 + turning(old)) * (np.maximum(moved, at_start) + room + regrown(case))
    was, now = lengths(old, ring_sweeps(case)), lengths(new, new.arcs.sweep)
    row = first(np.abs(now - was) > most)
    if row is not None:
        expected = f"{was[row]:.4f} mm within {most[row]:.4f} mm"
        text = f"the length of a move: expected {expected}, found {now[row]:.4f} mm"
        raise case.broken_at(PROMISE, text, row)


def largest_shift(case: Case) -> float:
    """How far any corner may move, mm: the corrected radii's changes, clearing rings in proportion.

    What the corners of a ring were off its circle comes on top: they all go to one planned circle.
    """
    shifts = [0.0]
    for one in case.plan.corrections:
        if one.status == "corrected" and one.change is not None:
            wall = one.feature.wall
            rings = (wall, *one.feature.clearing)
            widest = max(ring.radius for ring in rings)
            wander = max(_wander(case.old, ring) for ring in rings)
            shifts.append(abs(one.change) / 2 * max(1.0, widest / wall.radius) + min(wander, MOST_WANDER))
    return max(shifts)


def _wander(moves: Moves, ring: Ring) -> float:
    """How far the corners of a ring are off its circle, mm."""
    rows, axes = np.array(ring.rows), list(PLANE_AXES[ring.normal])
    ends = np.concatenate([place[rows][:, axes] for place in (moves.start, moves.end)]) * GRAIN
    return float(np.abs(np.hypot(*(ends - ring.centre).T) - ring.radius).max())


def planned_arcs(case: Case) -> None:
    """Arcs that the plan does not name keep their circles; the others lie on the planned ones."""
    old, new = case.old, case.new
    rows = np.array(sorted(case.plan.arcs), dtype=np.int64)
    unplanned = np.ones(len(old), dtype=bool)
    unplanned[rows] = False
    loose = old.arcs.row[unplanned[old.arcs.row]]
    k = first(arcs_differ(old, new, loose))
    if k is not None:
        raise case.broken_at(PROMISE, "an arc that was to stay has changed", int(loose[k]))
    arc, is_arc = arcs_at(new, rows)
    if not is_arc.any():
        return
    rows, arc = rows[is_arc], arc[is_arc]
    target = np.array([(*case.plan.arcs[int(r)].centre, case.plan.arcs[int(r)].radius) for r in rows])
    room = tolerance(old)[rows] + unit(old)[rows] * np.sqrt(2) + NOISE
    k = first(np.abs(new.arcs.radius[arc] - target[:, 2]) > room)
    if k is not None:
        text = f"radius of an arc: expected {target[k, 2]:.5f} mm, found {new.arcs.radius[arc[k]]:.5f} mm"
        raise case.broken_at(PROMISE, text, int(rows[k]))
    off = np.hypot(*(new.arcs.centre[arc] - target[:, :2]).T)
    was_off = np.hypot(*(old.arcs.centre[arc] - target[:, :2]).T)
    k = first((off > room) & ~(new.arcs.r_form[arc] & (off <= was_off)))
    if k is not None:
        expected = f"{room[k]:.5f} mm from the planned one at most"
        text = f"the centre of an arc: expected {expected}, found {off[k]:.5f} mm"
        raise case.broken_at(PROMISE, text, int(rows[k]))


def lengths(moves: Moves, sweep: NDArray[np.float64]) -> NDArray[np.float64]:
    """Length of each move's path (n,), mm, its arcs with these sweeps (m,), radians.

    Along the helix where it is one (NIST IR 6556, 2.1.2.6).
    """
    along = (moves.end - moves.start) * GRAIN
    length = _norm(along)
    arcs = moves.arcs
    sound = np.isfinite(arcs.radius + arcs.radius_end + sweep)
    rows = arcs.row[sound]
    normal = np.array([state.normal for state in moves.states], dtype=np.intp)[moves.state[rows]]
    rise = along[rows, normal]
    length[rows] = np.hypot((arcs.radius[sound] + arcs.radius_end[sound]) / 2 * sweep[sound], rise)
    return length


def regrown(case: Case) -> NDArray[np.float64]:
    """How far the radius (n,) of each planned arc was off the planned one, mm; an R may have been coarse."""
    off = np.zeros(len(case.old))
    rows = np.array(sorted(case.plan.arcs), dtype=np.int64)
    arc, is_arc = arcs_at(case.old, rows)
    rows, arc = rows[is_arc], arc[is_arc]
    target = np.array([case.plan.arcs[int(row)].radius for row in rows])
    off[rows] = np.abs(np.nan_to_num(case.old.arcs.radius[arc]) - target)
    return off


def turning(moves: Moves) -> NDArray[np.float64]:
    """How far each move (n,) turns, radians; 0 where it is straight or no sound arc."""
    turn = np.zeros(len(moves))
    turn[moves.arcs.row] = np.nan_to_num(np.abs(moves.arcs.sweep))
    return turn


def _norm(vector: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.sqrt((vector**2).sum(axis=1)))


def _point(counts: NDArray[np.float64] | NDArray[np.int64]) -> str:
    return (
        " ".join(f"{axis}{value * GRAIN:.5f}" for axis, value in zip("XYZ", counts.tolist(), strict=True))
        + " mm"
    )
