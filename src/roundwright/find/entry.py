"""Entries: why what looks like a lead from a side may be none: a slot, an edge, another hole's inside."""

from __future__ import annotations

from math import hypot

import numpy as np
from numpy.typing import NDArray

from roundwright.find.cuts import Cuts, near, nearest
from roundwright.find.feature import Ring
from roundwright.find.lead import CUTTING, Lead, is_lead
from roundwright.find.ring import FULL_TURN, SAME_DEPTH
from roundwright.find.side import NO_LEAD, QUARTER, WHOLE
from roundwright.find.stack import Judged
from roundwright.settings import Side
from roundwright.trace.moves import PLANE_AXES, Motion, Moves
from roundwright.units import GRAIN

SLOT = "the cut that comes from outside may be a lead, a slot or a notch"
EDGE = "the cutter comes down in rapid outside, where nothing was cut: beside a blank, or an edge to notch"
MEETS = "the cut begins in a hole that meets this circle, and may do so on either side of it"
#: a chain that begins farther outside than so many cutter diameters is a slot; one straight towards the
#: centre may be one where walls of its own stand between its beginning and the circle.
_SLOT, _SLOT_STRAIGHT_IN = 3.0, 1.0
_TOWARDS = np.cos(np.radians(20))
#: radians: what a written half turn may lack.
_HALF = 0.01


def doubt_of_lead(moves: Moves, one: Judged, chain: Lead, side: Side, *, climb: bool) -> str:
    """Why the chain, as `leads_of` gives it, may be no lead from that side; empty where nothing says so.

    `climb` tells that the circle would be climb cut as a boss: then a chain that may be a slot is a lead.
    Whether a short one leads to a disc, or opens a mouth into a hole, the same blocks may mean both.
    """
    if _begins_in_another(moves, one, chain, side):
        return MEETS
    if side == "hole":
        return ""
    inner = one.edges.inner if one.edges else None
    through = inner is not None and QUARTER <= inner < WHOLE
    if through or _is_slot(moves, one, chain, climb=climb):
        return SLOT
    return EDGE if chain.step < 0 and _from_air(moves, one, chain) else ""


def _is_slot(moves: Moves, one: Judged, chain: Lead, *, climb: bool) -> bool:
    """Whether the chain comes from so far outside that a slot may open into a hole at its end."""
    ring = one.ring
    if chain.far is None or not one.reach:
        return False
    beyond = hypot(chain.far[0] - ring.centre[0], chain.far[1] - ring.centre[1]) - ring.radius
    share = _SLOT if climb or not _is_straight_in(moves, ring, chain) else _SLOT_STRAIGHT_IN
    return beyond > share * 2 * one.reach + NO_LEAD


def _is_straight_in(moves: Moves, ring: Ring, chain: Lead) -> bool:
    """Whether the stretch at the circle and the way to the far end both point away from its centre."""
    row, axes = chain.rows[0], list(PLANE_AXES[ring.normal])
    if int(moves.motion[row]) != Motion.LINE or chain.far is None:
        return False
    contact, other = (p[row][axes] * GRAIN for p in (moves.end, moves.start)[:: -chain.step])
    out = contact - ring.centre
    ways = (other - contact, np.array(chain.far) - contact)
    return all(float(way @ out) > _TOWARDS * float(np.hypot(*way) * np.hypot(*out)) for way in ways)


def _from_air(moves: Moves, one: Judged, chain: Lead) -> bool:
    """Whether a rapid goes down to the depth of a lead-in and its flat lap, where nothing was cut before."""
    first, lap, n = chain.rows[-1], chain.rows[0] + 1, one.ring.normal
    down = first - 1
    if down < 0 or int(moves.motion[down]) != Motion.RAPID:
        return False
    z = float(moves.start[first, n] * GRAIN)
    known = int(moves.start_known[down]) >> n & 1
    fell = not known or moves.start[down, n] > moves.end[down, n]
    flat = z <= min(moves.start[lap, n], moves.end[lap, n]) * GRAIN + SAME_DEPTH
    return bool(fell and flat and not _sweeping(one, chain, first, z))


def _sweeping(one: Judged, chain: Lead, row: int, depth: float) -> list[int]:
    """The rows before `row` that have swept the far end of a chain as deep as `depth` (mm), or cut round it.

    What an arc of more than half a turn runs round falls out of it.
    """
    if one.surroundings is None or chain.far is None:
        return []
    cuts = one.surroundings.cuts
    which = near(cuts, chain.far, 0.0)
    which = which[cuts.row[which] < row]
    distance, height = (of[:, 0] for of in nearest(cuts, which, *np.array(chain.far)[:, None]))
    around = (cuts.arc[which] >= 0) & (cuts.sweep[which] >= FULL_TURN / 2 - _HALF)
    around &= np.hypot(*(cuts.centre[which] - chain.far).T) < cuts.radius[which]
    deep = np.where(around, cuts.low[which], height) <= depth + SAME_DEPTH
    return [int(r) for r in cuts.row[which[deep & (around | (distance < cuts.reach[which]))]]]


def _begins_in_another(moves: Moves, one: Judged, chain: Lead, side: Side) -> bool:
    """Whether the far end lies in what was cut before, as deep, and takes part of the circle's own cut.

    One who plunges there does it to find room, on whichever side of the circle that is; but who goes to
    the circle's centre means its inside, and a hole drilled clear of the wall may be there for the plunge.
    """
    ring, edges = one.ring, one.edges
    if edges is None or chain.far is None:
        return False
    if hypot(chain.far[0] - ring.centre[0], chain.far[1] - ring.centre[1]) <= NO_LEAD:
        return False
    wall, other = edges.across_outer, edges.across_inner
    if side == "boss":
        wall, other = other, wall
    begin = _beginning(moves, ring)
    across = [row for row in wall if row < begin]
    across += [row for row in other if row < begin and is_lead(moves, row, ring.normal)]
    if not across or one.surroundings is None:
        return False
    cuts = one.surroundings.cuts
    rapids = np.flatnonzero(moves.motion == Motion.RAPID)
    sweeping = np.searchsorted(rapids, _sweeping(one, chain, begin, ring.z[1]))
    runs = set(sweeping.tolist()) & set(np.searchsorted(rapids, across).tolist())
    return any(not _goes_round(cuts, np.searchsorted(rapids, cuts.row) == k, ring) for k in runs)


def _goes_round(cuts: Cuts, which: NDArray[np.bool_], ring: Ring) -> bool:
    """Whether cuts go round the circle's centre, as its roughing does: half a turn or more."""
    a, b = cuts.start[which] - ring.centre, cuts.end[which] - ring.centre
    turned = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    round_it = np.hypot(*(cuts.centre[which] - ring.centre).T) < cuts.radius[which]
    swept = np.where(cuts.ccw[which], cuts.sweep[which], -cuts.sweep[which])
    return bool(abs(np.where(round_it, swept, turned).sum()) >= FULL_TURN / 2 - _HALF)


def _beginning(moves: Moves, ring: Ring) -> int:
    """The first row of the run of cuts, plunge and lead included, that a ring begins in."""
    row, n = ring.rows[0], ring.normal
    while row > 0 and int(moves.motion[row - 1]) in CUTTING:
        if min(moves.start[row - 1, n], moves.end[row - 1, n]) * GRAIN > ring.z[0] + SAME_DEPTH:
            break
        row -= 1
    return row
