"""Kerfs: whether what was cleared beside a ring, and when, tells the wall from the edge of the scrap."""

from __future__ import annotations

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from roundwright.find.cuts import Cuts, Floats, near, swept
from roundwright.find.feature import Ring
from roundwright.find.meeting import AROUND, Circles, Meetings, left_of
from roundwright.find.side import QUARTER
from roundwright.find.turn import Turns
from roundwright.trace.moves import Motion, Moves
from roundwright.units import MICROMETRE

#: how far beyond the edge material is looked for, in cutter radii.
_BEYOND = (0.25, 0.5, 0.75, 1.0)


def widened_later(
    cuts: Cuts, circles: Circles, outwards: NDArray[np.bool_], turns: Turns
) -> NDArray[np.bool_]:
    """Which rings (m,) were only widened to one side, `outwards` or inwards, a little, and afterwards.

    Then it is roughing whose finish runs on another circle, closed or not, and its other edge may well be
    that of a slug or of the waste round a disc: it tells no side. One whole turn of the `turns` among the
    cuts may have taken all that lies beyond: then nothing else is looked at.
    """
    depth = np.repeat(circles.bottom[:, None], AROUND.shape[1], axis=1)
    taken = np.ones(len(depth), np.bool_)
    for share in _BEYOND:
        at = _beside(circles, outwards, circles.gap + share * circles.reach)
        taken &= turns.bury(cuts, circles, at, depth)
    later, asked = ~taken, np.flatnonzero(~taken)
    if len(asked):
        later[asked] = _widened(cuts, circles.take(asked), outwards[asked], depth[asked])
    return later


def _beside(circles: Circles, outwards: NDArray[np.bool_], beyond: Floats) -> Floats:
    """The radii (m,) so far (m,) beyond an edge, the outer one or the inner."""
    return np.asarray(circles.radius + np.where(outwards, circles.reach + beyond, -circles.reach - beyond))


def _widened(cuts: Cuts, circles: Circles, outwards: NDArray[np.bool_], depth: Floats) -> NDArray[np.bool_]:
    """As `widened_later`, by all the cuts that come near."""
    gap, reach = circles.gap, circles.reach
    near_by, far = (_beside(circles, outwards, beyond) for beyond in (gap, gap + max(_BEYOND) * reach))
    met = Meetings.of(cuts, circles, np.minimum(near_by, far), np.maximum(near_by, far), circles.bottom)
    last = np.array([ring.rows[-1] for ring in circles.rings])
    earlier = met.pick(cuts.row[met.cut] < last[met.circle])

    def left(which: Meetings, beyond: Floats) -> NDArray[np.bool_]:
        return left_of(cuts, circles, which, _beside(circles, outwards, beyond), depth) >= QUARTER

    stood = left(earlier, gap)
    met = met.pick(stood[met.circle])  # of the others nobody asks what is left
    return np.asarray(stood & np.logical_or.reduce([left(met, gap + share * reach) for share in _BEYOND]))


def bored_before(cuts: Cuts, moves: Moves, ring: Ring, reach: float) -> bool:
    """Whether other tools, earlier, have cut all that lies just inside the ring, down to its bottom.

    How deep a drilling cycle goes is not followed; a drill is taken to go through. `reach` is the cutter's
    radius, mm.
    """
    radius = ring.radius - reach - 10 * MICROMETRE
    if radius <= 0:
        return False
    others = near(cuts, ring.centre, ring.radius)
    section = np.array([state.section for state in moves.states])[moves.state[cuts.row[others]]]
    others = others[(cuts.row[others] < ring.rows[0]) & (section != ring.section)]
    drilled = moves.motion[cuts.row] == Motion.CYCLE
    z = np.where(drilled[:, None], ring.z[1], cuts.z)
    cuts = replace(cuts, z=z, low=z.min(axis=1))
    edge = np.array(ring.centre) + radius * AROUND.T
    return bool(swept(cuts, others, edge, np.full(len(edge), ring.z[1])).all())
