"""Turns: whole turns of a cutter, found again by centre and radius, so that one may bury a whole edge."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find.cuts import Cuts, Floats, length
from roundwright.find.meeting import Circles, cell_of, cuts_of, distances
from roundwright.find.ring import FULL_TURN
from roundwright.units import MICROMETRE

Cells = NDArray[np.int64]


class Turns(Struct, frozen=True, eq=False):
    """Whole turns (t,), each of one cut or of those of one ring, by cells of their centres, then by radius.

    Of cuts in a row on one circle one stands for all, as deep as the deepest. Paths keep within `slack` of
    their circles. `place` tells which of the turns each cut of all belongs to, -1 where none.
    `deepest` (k, t) holds in row k of every 2^k in a row which one's highest point is lowest.
    """

    place: NDArray[np.intp]
    centre: Floats  # (t, 2)
    radius: Floats
    slack: Floats
    reach: Floats
    high: Floats
    loosest: float  # the most slack
    cells: Mapping[tuple[int, int], tuple[int, int]]  # where each cell's begin and end
    deepest: NDArray[np.int32]

    @classmethod
    def of(cls, cuts: Cuts, circles: Circles) -> Turns:
        """Sort the whole turns among some cuts, and those that the rings of circles are in several."""
        cut = np.flatnonzero((cuts.arc >= 0) & (cuts.sweep >= FULL_TURN))
        anew = _anew(cuts, cut)
        place = np.full(len(cuts.row), -1)
        place[cut] = np.cumsum(anew) - 1
        at = np.flatnonzero(anew)
        high = np.minimum.reduceat(cuts.z[cut].max(axis=1), at) if len(at) else np.zeros(0)
        cut = cut[at]
        slack = np.full(len(cut), MICROMETRE)
        columns = [cuts.centre[cut], cuts.radius[cut], slack, cuts.reach[cut], high]
        if len(circles.rings) > 1:  # one alone buries nothing
            both = zip(columns, _joint(cuts, circles, place), strict=True)
            columns = [np.concatenate(column) for column in both]
        cell = cell_of(columns[0]).reshape(-1, 2)
        order = np.lexsort((columns[1], cell[:, 1], cell[:, 0]))
        centre, radius, slack, reach, high = (column[order] for column in columns)
        cell = cell[order]
        begins = np.flatnonzero(np.append(True, (cell[1:] != cell[:-1]).any(axis=1))[: len(order)])
        ends = np.append(begins, len(order))[1:]
        spans = zip(map(tuple, cell[begins].tolist()), begins.tolist(), ends.tolist(), strict=True)
        cells = {(x, y): (begin, end) for (x, y), begin, end in spans}
        place = np.append(np.argsort(order), -1)[place]  # of none, none
        loosest = float(slack.max(initial=MICROMETRE))
        return cls(place, centre, radius, slack, reach, high, loosest, cells, _levels(high))

    def bury(self, cuts: Cuts, circles: Circles, radius: Floats, depth: Floats) -> NDArray[np.bool_]:
        """Which circles of other radii (m,) one turn beside them surely sweeps all round, as deep as `depth`.

        The deepest turn near in radius is looked at, and no other: False tells nothing.
        """
        beside = circles.reach - self.loosest
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
            apart = length(*(self.centre[turn] - circles.centre[at]).T)
            apart += np.abs(self.radius[turn] - radius[at])
            deep = self.high[turn] <= shallowest[at]
            buried[some[at]] |= deep & (apart < self.reach[turn] - self.slack[turn])
        return buried

    def _between(self, centre: Floats, low: Floats, high: Floats) -> Cells:
        """First and past the last turn (m, 2) in each centre's cell whose radius lies between two (m,)."""
        spans = [self.cells.get((x, y), (0, 0)) for x, y in cell_of(centre).tolist()]
        found = np.zeros((len(spans), 2), np.int64)
        for k, (begin, end) in enumerate(spans):
            if end - begin > 1:  # one alone is mostly the circle's own
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


def _anew(cuts: Cuts, cut: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Which of some turns (t,) do not run on the circle of the one before."""
    anew = np.ones(len(cut), np.bool_)
    here, before = cut[1:], cut[:-1]
    anew[1:] = (cuts.centre[here] != cuts.centre[before]).any(axis=1)
    for column in (cuts.radius, cuts.reach):
        anew[1:] |= column[here] != column[before]
    return anew


def _joint(cuts: Cuts, circles: Circles, place: NDArray[np.intp]) -> tuple[Floats, ...]:
    """The turns that rings of shorter cuts are: centre, radius, slack, reach and highest point of each.

    They are noted in the `place` of each of their cuts, behind the turns that stand there. Of a ring that has
    one of these among its cuts that one tells more.
    """
    size = np.array([len(ring.rows) for ring in circles.rings], np.intp)
    own, begins = cuts_of(cuts, circles.rings), np.cumsum(size) - size
    least, most = distances(cuts, own, np.repeat(circles.centre, size, axis=0))
    inwards = circles.radius - np.minimum.reduceat(least, begins)
    outwards = np.maximum.reduceat(most, begins) - circles.radius
    # a ring may have gaps of three tolerances
    gap = 3 * np.array([ring.tolerance for ring in circles.rings])
    slack, reach = (
        np.maximum(inwards, outwards) + gap + MICROMETRE,
        np.minimum.reduceat(cuts.reach[own], begins),
    )
    joint = np.flatnonzero((np.maximum.reduceat(place[own], begins) < 0) & (slack < reach / 4))
    number = np.full(len(size), -1)
    number[joint] = place.max(initial=-1) + 1 + np.arange(len(joint))
    place[own] = np.maximum(place[own], np.repeat(number, size))
    high = np.maximum.reduceat(cuts.z[own].max(axis=1), begins)
    return tuple(of[joint] for of in (circles.centre, circles.radius, slack, reach, high))


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
