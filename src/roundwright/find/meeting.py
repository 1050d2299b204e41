"""Meetings: which cuts come near which circles, in pairs, and what they leave of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find.cuts import Cuts, Floats, length, nearest
from roundwright.find.feature import Ring
from roundwright.find.ring import FULL_TURN, SAME_DEPTH
from roundwright.units import MICROMETRE

_SAMPLES = 180  # points along an edge
_ANGLES = np.arange(_SAMPLES) * (FULL_TURN / _SAMPLES)
#: points of the unit circle at which edges are judged (2, n).
AROUND = np.stack([np.cos(_ANGLES), np.sin(_ANGLES)])
#: circles that are judged together, and where all are round one centre, each with cuts by the thousand.
_TILE, _FEWER = 64, 24
#: cuts of each that are held against all its points at first, as where many meet a few sweep nearly all, and
#: pairs at most.
_FIRST_LOOK, _MOST_AT_ONCE = 8, 512
#: pairs of circles and cuts that are looked at together.
_MOST_PAIRS = 1 << 15
#: more circles than this round one centre are many.
_CROWD = 16

#: circles and cuts, by index (p,) each.
Pairs = tuple[NDArray[np.intp], NDArray[np.intp]]


class Circles(Struct, frozen=True, eq=False):
    """Rings of one frame and plane as the tool's centre runs them, in columns (shape m), mm."""

    rings: tuple[Ring, ...]
    centre: Floats  # (m, 2)
    radius: Floats
    reach: Floats  # the cutter's radius
    gap: Floats  # width of the strip beyond an edge that is looked at
    top: Floats  # highest and lowest
    bottom: Floats

    @classmethod
    def of(cls, rings: tuple[Ring, ...], reach: Floats, gap: Floats) -> Circles:
        """Gather the columns."""
        top, bottom = np.array([ring.z for ring in rings]).T
        radius = np.array([ring.radius for ring in rings])
        return cls(rings, np.array([ring.centre for ring in rings]), radius, reach, gap, top, bottom)

    def take(self, which: NDArray[np.intp]) -> Circles:
        """Some of the circles."""
        columns = (self.centre, self.radius, self.reach, self.gap, self.top, self.bottom)
        return Circles(tuple(self.rings[k] for k in which), *(column[which] for column in columns))


def tiles(centre: Floats) -> Iterator[NDArray[np.intp]]:
    """Circles (m, 2) in groups of neighbours, by index: in bands, and along each band."""
    size = _FEWER if _round_one(centre) else _TILE
    if len(centre) <= size:
        yield np.arange(len(centre))
        return
    y = centre[:, 1] - centre[:, 1].min()
    bands = np.floor(y / (y.max() or 1.0) * np.sqrt(len(centre) / size))
    order = np.lexsort((centre[:, 0], bands))
    yield from np.array_split(order, -(-len(order) // size))


def _round_one(centre: Floats) -> bool:
    """Whether circles (m, 2) stand round about one centre."""
    return bool((np.ptp(centre, axis=0) < 1).all())


class Meetings(Struct, frozen=True, eq=False):
    """Pairs of a circle and a cut that may reach it, in the order of the circles (shape p).

    `least` and `most` are the distances of the cut's path from the circle's centre, mm.
    """

    circle: NDArray[np.intp]
    cut: NDArray[np.intp]
    least: Floats
    most: Floats

    @classmethod
    def of(cls, cuts: Cuts, circles: Circles, inside: Floats, within: Floats, depth: Floats) -> Meetings:
        """The cuts that go as deep as `depth` (m,) and may come within some distance (m,) of each centre.

        The circle's own are left out. Where many circles stand round one centre, so are those that do not
        come out as far as `inside` (m,): of what lies nearer to the centre nobody asks.
        """
        known = not cuts.unknown.any()
        if len(circles.rings) > _CROWD and known and _round_one(circles.centre):
            pairs = _round_one_centre(cuts, circles, inside, within, depth)
        else:
            pairs = _by_boxes(cuts, circles.centre, within, depth, sure=known)
        circle, cut = (np.concatenate(column) for column in zip(*pairs, strict=True))
        owner = _owners(cuts, circles.rings)
        others = np.flatnonzero(owner[cut] != circle)
        circle, cut = circle[others], cut[others]
        return cls(circle, cut, *distances(cuts, cut, circles.centre[circle]))

    def pick(self, which: NDArray[np.bool_]) -> Meetings:
        """Some of the pairs."""
        at = np.flatnonzero(which)
        return Meetings(self.circle[at], self.cut[at], self.least[at], self.most[at])

    def touching(self, cuts: Cuts, radius: Floats) -> NDArray[np.bool_]:
        """Which pairs (p,) may touch circles of other radii (m,): a cheap look at the distances."""
        reach, at = cuts.reach[self.cut], radius[self.circle]
        return np.asarray((self.least - reach <= at) & (self.most + reach >= at))


def _by_boxes(cuts: Cuts, centre: Floats, within: Floats, depth: Floats, *, sure: bool) -> Iterator[Pairs]:
    """The cuts whose boxes come near each of some circles (m, 2), in pairs, in order.

    Where all cutters are known to be `sure` of what cuts sweep, without those that keep outside: of rings
    about a circle, which it lies within, there may be thousands.
    """
    low, high = centre - within[:, None], centre + within[:, None]
    for circle, cut in cuts.boxes.meeting_each(low, high, _MOST_PAIRS):
        meet = cuts.low[cut] <= depth[circle] + SAME_DEPTH
        if sure:
            least, _ = _distances(cuts, cut, centre[circle])
            meet &= least - cuts.reach[cut] <= within[circle]
        yield circle[meet], cut[meet]


def _round_one_centre(
    cuts: Cuts, circles: Circles, inside: Floats, within: Floats, depth: Floats
) -> Iterator[Pairs]:
    """The cuts that may come near each of many circles round about one centre, in pairs, in order.

    In the order of their least distance from there, those that may are neighbours.
    """
    centre = circles.centre.mean(axis=0)
    slack = float(length(*(circles.centre - centre).T).max()) + MICROMETRE
    some = np.arange(len(cuts.row))
    least, most = _distances(cuts, some, np.broadcast_to(centre, (len(some), 2)))
    low, high = least - cuts.reach - slack, most + cuts.reach + slack
    order = np.argsort(low, kind="stable")
    first = np.searchsorted(np.maximum.accumulate(high[order]), inside)
    last = np.searchsorted(low[order], within, "right")
    lowest = cuts.low[order]
    for k, (begin, end) in enumerate(zip(first.tolist(), last.tolist(), strict=True)):
        cut = np.sort(order[begin:end][lowest[begin:end] <= depth[k] + SAME_DEPTH])
        yield np.full(len(cut), k), cut


def distances(cuts: Cuts, cut: NDArray[np.intp], centre: Floats) -> tuple[Floats, Floats]:
    """Least and most distance of each path (p,) from a point of its own; of an arc as a whole circle's."""
    least, most = np.empty(len(cut)), np.empty(len(cut))
    for first in range(0, len(cut), _MOST_PAIRS):
        part = slice(first, first + _MOST_PAIRS)
        least[part], most[part] = _distances(cuts, cut[part], centre[part])
    return least, most


def _distances(cuts: Cuts, cut: NDArray[np.intp], centre: Floats) -> tuple[Floats, Floats]:
    """As `distances`, of not too many at once."""
    start, end = cuts.start[cut] - centre, cuts.end[cut] - centre
    along = end - start
    length2 = (along**2).sum(axis=1)
    t = np.clip(-(start * along).sum(axis=1) / np.where(length2 > 0, length2, 1.0), 0, 1)
    least = length(*(start + t[:, None] * along).T)
    most = np.maximum(length(*start.T), length(*end.T))
    curved = cuts.arc[cut] >= 0
    away = length(*(cuts.centre[cut] - centre).T)
    least = np.where(curved, np.abs(away - cuts.radius[cut]), least)
    return least, np.where(curved, away + cuts.radius[cut], most)


def cuts_of(cuts: Cuts, rings: Sequence[Ring]) -> NDArray[np.intp]:
    """Indices of the rings' own cuts, ring by ring."""
    return np.searchsorted(cuts.row, np.array([row for ring in rings for row in ring.rows], np.int64))


def _owners(cuts: Cuts, rings: Sequence[Ring]) -> NDArray[np.intp]:
    """The ring, by index, that each cut belongs to, -1 where none: one of its moves, or one on its corners.

    On a corner: straight up or down where a ring's own begin or end, which sweeps nothing that those do not.
    """
    ring = np.repeat(np.arange(len(rings)), [len(one.rows) for one in rings])
    own = cuts_of(cuts, rings)
    beside = np.clip(np.concatenate([own - 1, own + 1]), 0, len(cuts.row) - 1)
    corner = np.concatenate([cuts.start[own], cuts.end[own]])
    upright = (cuts.start[beside] == corner).all(axis=1) & (cuts.end[beside] == corner).all(axis=1)
    upright &= cuts.arc[beside] < 0
    at = np.concatenate([beside[upright], own])
    of = np.concatenate([np.tile(ring, 2)[upright], ring])
    moves_too = np.arange(len(at)) >= int(np.count_nonzero(upright))
    order = np.lexsort((moves_too, of))  # of a cut that several claim the last ring's it is
    owner = np.full(len(cuts.row), -1)
    owner[at[order]] = of[order]
    return owner


def _covered(cuts: Cuts, circles: Circles, met: Meetings, radius: Floats, depth: Floats) -> NDArray[np.intp]:
    """The circles that one whole turn beside them sweeps all round, as deep as they ask."""
    cut, circle = met.cut, met.circle
    whole = np.flatnonzero((cuts.arc[cut] >= 0) & (cuts.sweep[cut] >= FULL_TURN))
    cut, circle = cut[whole], circle[whole]
    farthest = length(*(cuts.centre[cut] - circles.centre[circle]).T)
    farthest += np.abs(cuts.radius[cut] - radius[circle])
    shallowest: Floats = np.asarray(depth.min(axis=1))
    deep = cuts.z[cut].max(axis=1) <= shallowest[circle]
    return np.asarray(circle[deep & (farthest < cuts.reach[cut] - MICROMETRE)])


def left_of(cuts: Cuts, circles: Circles, met: Meetings, radius: Floats, depth: Floats) -> Floats:
    """Share (m,) of a circle round each centre that no cut sweeps as deep as `depth` (m, n).

    Each circle has a radius of its own (m,); of one without, 0 or less, nothing is left.
    """
    deep = cuts.low[met.cut] <= depth.max(axis=1)[met.circle] + SAME_DEPTH
    met = met.pick(deep & met.touching(cuts, radius) & (radius[met.circle] > 0))
    done = np.zeros(depth.shape, dtype=bool)
    done[_covered(cuts, circles, met, radius, depth)] = True
    met = met.pick(~done[met.circle, 0])
    circle, cut = _nearest_first(cuts, met, radius)
    place = np.arange(len(circle)) - np.searchsorted(circle, circle)  # among those of its circle
    left = np.where(radius > 0, np.count_nonzero(~done, axis=1), 0)
    at, size = 0, _FIRST_LOOK
    while True:
        open_ = np.flatnonzero((place >= at) & (left[circle] > 0))
        if not len(open_):
            break
        if not at:
            x, y = (circles.centre[:, k, None] + radius[:, None] * AROUND[k] for k in (0, 1))
            bottom = depth + SAME_DEPTH
        else:  # of each circle go on with the points that are left, and with some done where others have more
            order = np.argsort(done, axis=1, kind="stable")[:, : left[circle[open_]].max()]
            x, y, bottom, done = (np.take_along_axis(of, order, 1) for of in (x, y, bottom, done))
        asked = open_[place[open_] < at + size]
        done |= _swept(cuts, (circle[asked], cut[asked]), x, y, bottom)
        left[circle[asked]] = np.count_nonzero(~done, axis=1)[circle[asked]]
        at, size = at + size, min(4 * size, _MOST_AT_ONCE)
    return np.where(radius > 0, 1.0 - (depth.shape[1] - left) / depth.shape[1], 0.0)


def _nearest_first(cuts: Cuts, met: Meetings, radius: Floats) -> Pairs:
    """Pairs in the order of the circles, of each circle first the arcs that keep nearest to all of it.

    Each circle has a radius of its own (m,): where many cuts meet it, a few of these sweep nearly all.
    """
    at = radius[met.circle]
    farthest = np.maximum(at - met.least, met.most - at)
    order = np.lexsort((farthest, cuts.arc[met.cut] < 0, met.circle))
    return met.circle[order], met.cut[order]


def _swept(cuts: Cuts, pairs: Pairs, x: Floats, y: Floats, bottom: Floats) -> NDArray[np.bool_]:
    """Which points of circles (m, k) their cuts sweep, down to the `bottom` there; pairs in order."""
    swept = np.zeros(x.shape, np.bool_)
    for first in range(0, len(pairs[0]), _MOST_AT_ONCE):
        circle, cut = (column[first : first + _MOST_AT_ONCE] for column in pairs)
        distance, height = nearest(cuts, cut, x[circle], y[circle])
        within = (distance < cuts.reach[cut, None] - 1e-6) & (height <= bottom[circle])
        begins = np.flatnonzero(np.append(True, circle[1:] != circle[:-1]))
        swept[circle[begins]] |= np.logical_or.reduceat(within, begins)
    return swept
