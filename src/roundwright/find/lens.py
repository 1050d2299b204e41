"""Lenses: closed turns of R-form arcs whose R makes them meet at angles, where a circle was meant."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from roundwright.find.arcs import ArcColumns, Index, arc_columns, strays
from roundwright.find.decoy import Doubt
from roundwright.find.feature import Ring
from roundwright.find.fit import geometric_circle
from roundwright.find.ring import FULL_TURN, SAME_DEPTH
from roundwright.find.stack import merge_circles
from roundwright.trace.moves import ArcFault, Arcs, Moves
from roundwright.units import native

#: a turn of so many arcs: halves, thirds, quarters.
_FEWEST, _MOST = 2, 4
#: radians that the arcs together may turn less or more than a circle; what lacks more is a shape of its own.
_ANGLES = np.radians(20)


def find_lenses(moves: Moves, taken: NDArray[np.bool_]) -> list[Ring]:
    """The circles that lenses were meant to be, of arcs that are of no ring; moves `taken` (n,) are."""
    if not _two_free(moves.arcs, taken):
        return []
    arcs, rings = arc_columns(moves), []
    free = arcs.r_form & arcs.known & ~taken[arcs.row]
    for count in range(_FEWEST, _MOST + 1):
        for first in _turns(arcs, free, count).tolist():
            members = np.arange(first, first + count)
            if free[members].all():
                ring = _ring(moves, arcs, members)
                rings += [ring] if ring else []
                free[members] = False
    return merge_circles(sorted(rings, key=lambda ring: ring.rows[0]))


def _two_free(arcs: Arcs, taken: NDArray[np.bool_]) -> bool:
    """Whether two R-form arcs of no ring follow each other: without such there is no turn of them."""
    row = arcs.row[np.flatnonzero(arcs.r_form & (arcs.fault == ArcFault.NONE) & ~taken[arcs.row])]
    return bool((row[1:] == row[:-1] + 1).any())


def doubt_of_lens(moves: Moves, ring: Ring) -> Doubt:
    """What is wrong with it, and what would settle it."""
    arcs = arc_columns(moves)
    members = np.searchsorted(arcs.row, ring.rows)
    off = strays(arcs, members[None], np.array([[ring.radius]]))[0]
    more = float(arcs.radius[members[off.argmax()]] - ring.radius)
    inch = moves.states[int(moves.state[ring.rows[0]])].inch
    digits = 4 if inch else 3
    wrong, most, right = (native(v, inch=inch) for v in (abs(more), float(off.max()), ring.radius))
    way = "longer" if more > 0 else "shorter"
    return Doubt(
        "not-clean",
        f"its R is {wrong:.{digits}f} {way} than it is from its middle to its ends: a control cuts arcs that "
        f"meet at an angle, up to {most:.{digits}f} off a circle; write R{right:.{digits}f}, or I and J",
    )


def _turns(arcs: ArcColumns, free: NDArray[np.bool_], count: int) -> Index:
    """Where `count` arcs begin that go on into each other, come back to where they began, and go round."""
    last = len(arcs.row) - count + 1
    if last <= 0:
        return np.zeros(0, np.intp)
    spans = [slice(k, last + k) for k in range(count)]
    good = np.ones(last, np.bool_)
    for before, span in pairwise(spans):
        good &= (arcs.row[span] == arcs.row[before] + 1) & (arcs.kind[span] == arcs.kind[before])
    for span in spans:
        good &= free[span]
    apart = np.hypot(*(arcs.end[spans[-1]] - arcs.start[spans[0]]).T)
    turned = np.abs(sum(arcs.sweep[span] for span in spans))
    good &= (apart <= arcs.tolerance[spans[0]]) & (np.abs(turned - FULL_TURN) <= _ANGLES)
    return np.flatnonzero(good)


def _ring(moves: Moves, arcs: ArcColumns, members: Index) -> Ring | None:
    """The circle through the ends of a turn of arcs; None where there is none, or where they lie on it."""
    corners, tolerance = arcs.start[members], float(arcs.tolerance[members].max())
    try:
        x, y = corners.mean(axis=0) if len(members) == _FEWEST else geometric_circle(corners)[:2]
    except np.linalg.LinAlgError:
        return None
    away = np.hypot(*(corners - (x, y)).T)
    radius = float(away.mean())
    off = strays(arcs, members[None], np.array([[radius]]))
    if np.abs(away - radius).max() > 1.5 * tolerance or off.max() <= tolerance:
        return None
    z, state = arcs.z[members], moves.states[int(moves.state[arcs.row[members[0]]])]
    level = bool(np.ptp(z) <= SAME_DEPTH)
    return Ring(
        rows=tuple(arcs.row[members].tolist()),
        centre=(float(x), float(y)),
        radius=radius,
        turn="ccw" if arcs.sweep[members[0]] > 0 else "cw",
        z=(float(z.max()), float(z.min())),
        normal=state.normal,
        frame=state.frame,
        section=state.section,
        passes=1,
        forms=("arc",) if level else ("helix",),
        flat=level,
        known=True,
        tolerance=tolerance,
    )
