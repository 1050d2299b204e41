"""Turns: whole turns of a cutter, found again by centre and radius, so that one may bury a whole edge."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find.cuts import Cuts, Floats
from roundwright.find.meeting import Circles, cuts_of
from roundwright.find.ring import FULL_TURN
from roundwright.units import MICROMETRE

Cells = NDArray[np.int64]


class Turns(Struct, frozen=True, eq=False):
    """The cuts of a whole turn or more (t,), by cells of 1 mm of their centres, then by radius.

    `place` tells where among them each cut of all stands, -1 where it is no whole turn.
    `deepest[k]` (t,) holds of every 2^k of them in a row which one's highest point is lowest.
    """

    cut: NDArray[np.intp]
    place: NDArray[np.intp]
    radius: Floats
    high: Floats
    cells: Mapping[tuple[int, int], tuple[int, int]]  # where each cell's begin and end
    deepest: tuple[NDArray[np.intp], ...]

    @classmethod
    def of(cls, cuts: Cuts) -> Turns:
        """Sort the whole turns among some cuts."""
        cut = np.flatnonzero((cuts.arc >= 0) & (cuts.sweep >= FULL_TURN))
        cell = _cell(cuts.centre[cut]).reshape(-1, 2)
        order = np.lexsort((cuts.radius[cut], cell[:, 1], cell[:, 0]))
        cut, cell = cut[order], cell[order]
        begins = np.flatnonzero(np.append(True, (cell[1:] != cell[:-1]).any(axis=1))[: len(cut)])
        ends = np.append(begins, len(cut))[1:]
        spans = zip(map(tuple, cell[begins].tolist()), begins.tolist(), ends.tolist(), strict=True)
        high = cuts.z[cut].max(axis=1)
        cells = {(x, y): (begin, end) for (x, y), begin, end in spans}
        place = np.full(len(cuts.row), -1)
        place[cut] = np.arange(len(cut))
        return cls(cut, place, cuts.radius[cut], high, cells, _levels(high))

    def bury(self, cuts: Cuts, circles: Circles, radius: Floats, depth: Floats) -> NDArray[np.bool_]:
        """Which circles of other radii (m,) one turn beside them surely sweeps all round, as deep as `depth`.

        The deepest turn near in radius is looked at, and no other: False tells nothing.
        """
        shallowest = depth.min(axis=1)
        buried = np.zeros(len(radius), np.bool_)
        for k, cell in enumerate(_cell(circles.centre).tolist()):
            begin, end = self.cells.get((cell[0], cell[1]), (0, 0))
            beside = circles.reach[k] - MICROMETRE
            near = begin + self.radius[begin:end].searchsorted((radius[k] - beside, radius[k] + beside))
            own = self.place[cuts_of(cuts, circles.rings[k])]
            own = own[(own >= near[0]) & (own < near[1])]
            first, last = (own.min(), own.max()) if len(own) else (near[1], near[1])
            for low, past in ((near[0], first), (last + 1, near[1])):
                turn = self._deepest(int(low), int(past))
                if turn is None or self.high[turn] > shallowest[k]:
                    continue
                cut = self.cut[turn]
                apart = np.hypot(*(cuts.centre[cut] - circles.centre[k])) + abs(self.radius[turn] - radius[k])
                buried[k] |= apart < cuts.reach[cut] - MICROMETRE
        return buried

    def _deepest(self, low: int, past: int) -> int | None:
        """The turn from `low` up to `past` whose highest point is lowest, None where there is none."""
        if low >= past:
            return None
        level = (past - low).bit_length() - 1
        pair = self.deepest[level][[low, past - (1 << level)]]
        return int(pair[np.argmin(self.high[pair])])


def _cell(centre: Floats) -> Cells:
    return np.floor(centre).astype(np.int64)


def _levels(high: Floats) -> tuple[NDArray[np.intp], ...]:
    """Of every 1, 2, 4, … in a row the lowest one; at the end, of those that are left."""
    levels = [np.arange(len(high))]
    step = 1
    while 2 * step <= len(high):
        before = levels[-1]
        here = before.copy()
        one, other = before[:-step], before[step:]
        here[:-step] = np.where(high[one] <= high[other], one, other)
        levels.append(here)
        step *= 2
    return tuple(levels)
