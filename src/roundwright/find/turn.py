"""Turns: whole turns of a cutter, found again by centre and radius, so that one may bury a whole edge."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find.cuts import Cuts, Floats, length
from roundwright.find.meeting import Circles, cuts_of
from roundwright.find.ring import FULL_TURN
from roundwright.units import MICROMETRE

Cells = NDArray[np.int64]


class Turns(Struct, frozen=True, eq=False):
    """The cuts of a whole turn or more (t,), by cells of 1 mm of their centres, then by radius.

    `place` tells where among them each cut of all stands, -1 where it is no whole turn.
    `deepest` (k, t) holds in row k of every 2^k of them in a row which one's highest point is lowest.
    """

    cut: NDArray[np.intp]
    place: NDArray[np.intp]
    radius: Floats
    high: Floats
    cells: Mapping[tuple[int, int], tuple[int, int]]  # where each cell's begin and end
    deepest: NDArray[np.int32]

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
        beside = circles.reach - MICROMETRE
        near = self._between(circles.centre, radius - beside, radius + beside)
        buried = np.zeros(len(radius), np.bool_)
        some = np.flatnonzero(near[:, 0] < near[:, 1])
        if not len(some):
            return buried
        near, circles, radius = near[some], circles.take(some), radius[some]
        first, last = self._own(cuts, circles, near)
        shallowest = depth[some].min(axis=1)
        for low, past in ((near[:, 0], first), (last + 1, near[:, 1])):
            at = np.flatnonzero(low < past)
            turn = self._deepest(low[at], past[at])
            cut = self.cut[turn]
            apart = length(*(cuts.centre[cut] - circles.centre[at]).T)
            apart += np.abs(self.radius[turn] - radius[at])
            deep = self.high[turn] <= shallowest[at]
            buried[some[at]] |= deep & (apart < cuts.reach[cut] - MICROMETRE)
        return buried

    def _between(self, centre: Floats, low: Floats, high: Floats) -> Cells:
        """First and past the last turn (m, 2) in each centre's cell whose radius lies between two (m,)."""
        spans = [self.cells.get((x, y), (0, 0)) for x, y in _cell(centre).tolist()]
        found = np.zeros((len(spans), 2), np.int64)
        for k, (begin, end) in enumerate(spans):
            if begin < end:
                found[k] = begin + self.radius[begin:end].searchsorted((low[k], high[k]))
        return found

    def _own(self, cuts: Cuts, circles: Circles, near: Cells) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """The first and the last of each ring's own turns (m,) `near` it; past those where it has none."""
        size = np.array([len(ring.rows) for ring in circles.rings])
        own = self.place[cuts_of(cuts, circles.rings)]
        low, past = (np.repeat(bound, size) for bound in near.T)
        theirs, begins = (own >= low) & (own < past), np.cumsum(size) - size
        first = np.minimum.reduceat(np.where(theirs, own, past), begins)
        last = np.maximum.reduceat(np.where(theirs, own, -1), begins)
        return first, np.where(last < 0, near[:, 1], last)

    def _deepest(self, low: NDArray[np.intp], past: NDArray[np.intp]) -> NDArray[np.int32]:
        """The turns from each `low` up to `past` whose highest points are lowest; low < past."""
        level = np.frexp(past - low)[1] - 1
        one, other = self.deepest[level, low], self.deepest[level, past - (1 << level)]
        return np.asarray(np.where(self.high[one] <= self.high[other], one, other))


def _cell(centre: Floats) -> Cells:
    return np.floor(centre).astype(np.int64)


def _levels(high: Floats) -> NDArray[np.int32]:
    """Of every 1, 2, 4, … in a row the lowest one; at the end, of those that are left."""
    count = len(high)
    levels = np.empty((max(1, count.bit_length()), count), np.int32)
    levels[0] = np.arange(count)
    for k, (before, here) in enumerate(pairwise(levels)):
        step = 1 << k
        here[-step:] = before[-step:]
        one, other = before[:-step], before[step:]
        here[:-step] = np.where(high[one] <= high[other], one, other)
    return levels
