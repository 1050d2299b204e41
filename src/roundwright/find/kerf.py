"""Kerfs: whether what was cleared beside a ring, and when, tells the wall from the edge of the scrap."""

from __future__ import annotations

import numpy as np

from roundwright.find.feature import Ring
from roundwright.find.side import QUARTER
from roundwright.find.wall import AROUND, Cuts, cuts_of, near, reaching, swept

#: how far beyond the edge material is looked for, in cutter radii.
_BEYOND = (0.25, 0.5, 0.75, 1.0)


def widened_later(cuts: Cuts, ring: Ring, reach: float, gap: float, *, outwards: bool) -> bool:
    """Whether a ring was only widened to this side a little, and afterwards.

    Then it is roughing whose finish runs on another circle, closed or not, and its other edge may well be
    that of a slug or of the waste round a disc: it tells no side. Lengths in mm.
    """
    others = near(cuts, ring.centre, ring.radius + 2 * reach + gap)
    others = np.setdiff1d(others, cuts_of(cuts, ring), assume_unique=True)
    earlier = others[cuts.row[others] < ring.rows[-1]]
    centre = np.array(ring.centre)
    depth = np.full(len(AROUND), ring.z[1])

    def left(which: np.ndarray, beyond: float) -> float:
        radius = ring.radius + (reach + beyond if outwards else -reach - beyond)
        if radius <= 0:
            return 0.0
        which = reaching(cuts, which, centre, radius)
        return 1.0 - float(swept(cuts, which, centre + radius * AROUND, depth).mean())

    if left(earlier, gap) < QUARTER:
        return False
    return any(left(others, gap + share * reach) >= QUARTER for share in _BEYOND)
