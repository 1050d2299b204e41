"""Meetings: which cuts come near which circles, in pairs, and what they leave of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from roundwright.find.cuts import Cuts, Floats, length, nearest
from roundwright.find.feature import Ring
from roundwright.find.ring import FULL_TURN, SAME_DEPTH
from roundwright.find.rounds import Pairs, are_round, swept_by_rounds
from roundwright.units import MICROMETRE

_SAMPLES = 180  # points along an edge
_ANGLES = np.arange(_SAMPLES) * (FULL_TURN / _SAMPLES)
#: points of the unit circle at which edges are judged (2, n).
AROUND = np.stack([np.cos(_ANGLES), np.sin(_ANGLES)])
#: circles that are judged together, at most.
_TILE = 64
#: cuts of each that are held against all its points at first, as where many meet a few sweep nearly all, and
#: pairs at most.
_FIRST_LOOK, _MOST_AT_ONCE = 8, 512
#: pairs of circles and cuts that are looked at together.
_MOST_PAIRS, _MOST_OF_ALL = 1 << 15, 1 << 18
#: round cuts that are better told by angles.
_MANY = 512
#: what only touches an edge sweeps nothing of it, mm.
_GRAZE = 1e-6
#: more circles than this in one place are a crowd.
_CROWD = 64


class Circles(Struct, frozen=True, eq=False):
    """Rings of one frame and plane as the tool's centre runs them, in columns (shape m), mm."""

    rings: tuple[Ring, ...]
    centre: Floats  # (m, 2)
    radius: Floats
    reach: Floats  # the cutter's radius
    gap: Floats  # width of the strip beyond an edge that is looked at
    top: Floats  # highest and lowest
    bottom: Floats
    crowd: Crowd | None = None  # where they are of many in one place

    @classmethod
    def of(cls, rings: tuple[Ring, ...], reach: Floats, gap: Floats) -> Circles:
        """Gather the columns."""
        top, bottom = np.array([ring.z for ring in rings]).T
        radius = np.array([ring.radius for ring in rings])
        return cls(rings, np.array([ring.centre for ring in rings]), radius, reach, gap, top, bottom)

    @property
    def beyond(self) -> Floats:
        """How far on both sides of a circle (m,) anybody may ask for cuts: `widened_later` goes farthest."""
        return 2 * self.reach + self.gap

    def take(self, which: NDArray[np.intp]) -> Circles:
        """Some of the circles."""
        return Circles(
            tuple(self.rings[k] for k in which),
            self.centre[which],
            self.radius[which],
            self.reach[which],
            self.gap[which],
            self.top[which],
            self.bottom[which],
            self.crowd,
        )


class Crowd(Struct, frozen=True, eq=False):
    """The cuts (k,) that come within `extent` of a place with many circles, nearest to it first, mm.

    From none of the circles' centres is a point that they sweep nearer than `near`, none of those up to
    here farther than `far`. Each goes as deep as `low`.
    """

    cut: NDArray[np.intp]
    near: Floats
    far: Floats
    low: Floats
    extent: float

    @classmethod
    def of(cls, cuts: Cuts, circles: Circles) -> Crowd:
        """The cuts about the middle of some circles' centres, as far as their edges may be asked for."""
        centre = circles.centre.mean(axis=0)
        slack = float(length(*(circles.centre - centre).T).max()) + MICROMETRE
        extent = float((circles.radius + circles.beyond).max())
        cut = cuts.boxes.meeting(centre - (extent + slack), centre + (extent + slack))
        least, most = distances(cuts, cut, np.broadcast_to(centre, (len(cut), 2)))
        least -= cuts.reach[cut] + slack
        most += cuts.reach[cut] + slack
        order = np.argsort(least, kind="stable")
        cut = cut[order]
        return cls(cut, least[order], np.maximum.accumulate(most[order]), cuts.low[cut], extent)

    def between(self, inside: Floats, within: Floats) -> Pairs:
        """The first, and how many, that may come between such distances (m,) of a circle's centre."""
        first = np.searchsorted(self.far, inside)
        return first, np.maximum(np.searchsorted(self.near, within, "right") - first, 0)

    def meeting(self, inside: Floats, within: Floats, depth: Floats) -> Iterator[Pairs]:
        """The cuts that may come near each of the circles, in pairs, in order: as `Meetings.of` asks."""
        deepest = (depth + SAME_DEPTH).tolist()
        for k, (first, size) in enumerate(np.stack(self.between(inside, within), axis=1).tolist()):
            some = slice(first, first + size)
            cut = np.sort(self.cut[some][self.low[some] <= deepest[k]])
            yield np.full(len(cut), k), cut


def tiles(cuts: Cuts, circles: Circles) -> Iterator[tuple[NDArray[np.intp], Circles]]:
    """Circles in groups of neighbours, with their places among all: of a crowd, or in bands and along each.

    Where a cutter is unknown there are no crowds: what lies within a circle is asked for, too.
    """
    cell = cell_of(circles.centre)
    order = np.lexsort((cell[:, 1], cell[:, 0]))
    begins = np.flatnonzero(np.append(True, (np.diff(cell[order], axis=0) != 0).any(axis=1)))
    size = np.diff(np.append(begins, len(order)))
    many = (size > _CROWD) & ~cuts.unknown.any()
    for begin, count in zip(begins[many].tolist(), size[many].tolist(), strict=True):
        here = order[begin : begin + count]
        crowd = Crowd.of(cuts, circles.take(here))
        part = replace(circles.take(here), crowd=crowd)
        yield from ((here[tile], part.take(tile)) for tile in _of_few_cuts(part, crowd))
    rest = np.sort(order[~np.repeat(many, size)])
    yield from ((rest[tile], circles.take(rest[tile])) for tile in _in_bands(circles.centre[rest]))


def _of_few_cuts(circles: Circles, crowd: Crowd) -> list[NDArray[np.intp]]:
    """The circles of a crowd, by index, in groups of as many cuts as are looked at together."""
    _, size = crowd.between(circles.radius - circles.beyond, circles.radius + circles.beyond)
    held = np.cumsum(np.maximum(size, _MOST_OF_ALL // _TILE)) // _MOST_OF_ALL
    return np.split(np.arange(len(held)), np.flatnonzero(np.diff(held)) + 1)


def _in_bands(centre: Floats) -> list[NDArray[np.intp]]:
    """Circles (m, 2) in groups of neighbours, by index: in bands, and along each band."""
    y = centre[:, 1] - centre[:, 1].min(initial=np.inf)
    bands = np.floor(y / (y.max(initial=0.0) or 1.0) * np.sqrt(len(centre) / _TILE))
    tiles_ = -(-len(centre) // _TILE)
    return np.array_split(np.lexsort((centre[:, 0], bands)), tiles_) if tiles_ else []


def cell_of(centre: Floats) -> NDArray[np.int64]:
    """The square of 1 mm that each centre (m, 2) stands in."""
    # squares end where centres seldom stand
    return np.floor(centre + 0.31).astype(np.int64)


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
        crowd = circles.crowd
        if crowd and within.max(initial=0.0) <= crowd.extent:
            pairs = crowd.meeting(inside, within, depth)
        else:
            pairs = _by_boxes(cuts, circles.centre, within, depth, sure=not cuts.unknown.any())
        circle, cut = (np.concatenate(column) for column in zip(*pairs, strict=True))
        others = np.flatnonzero(~_own(cuts, circles.rings, circle, cut))
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


def _own(
    cuts: Cuts, rings: Sequence[Ring], circle: NDArray[np.intp], cut: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Which pairs (p,) of a ring and a cut are a ring with its own: one of its moves, or one on its corners.

    On a corner: straight up or down where a ring's own begin or end, which sweeps nothing that those do not.
    """
    ring = np.repeat(np.arange(len(rings)), [len(one.rows) for one in rings])
    own, count = cuts_of(cuts, rings), len(rings)
    claims = [own * count + ring]
    for beside, ends in ((own - 1, cuts.start), (own + 1, cuts.end)):
        beside = np.clip(beside, 0, len(cuts.row) - 1)
        some = np.flatnonzero(cuts.arc[beside] < 0)
        beside, corner = beside[some], ends[own[some]]
        upright = (cuts.start[beside] == corner).all(axis=1) & (cuts.end[beside] == corner).all(axis=1)
        claims.append(beside[upright] * count + ring[some[upright]])
    claimed, asked = np.sort(np.concatenate(claims)), cut * count + circle
    return np.asarray(claimed.take(np.searchsorted(claimed, asked), mode="clip") == asked)


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
    points = circles.centre.T[:, :, None] + radius[:, None] * AROUND[:, None]
    bottom = depth + SAME_DEPTH
    round_ = are_round(cuts, met.cut) & (cuts.low[met.cut] <= bottom.min(axis=1)[met.circle])
    if np.count_nonzero(round_) > _MANY:
        pairs = met.circle[round_], met.cut[round_]
        done |= swept_by_rounds(cuts, pairs, circles.centre, radius, points, _GRAZE)
        met = met.pick(~round_)
    left = _still_left(cuts, _nearest_first(cuts, met, radius), points, bottom, done)
    left[radius <= 0] = 0
    return np.where(radius > 0, 1.0 - (depth.shape[1] - left) / depth.shape[1], 0.0)


def _still_left(
    cuts: Cuts, pairs: Pairs, points: Floats, bottom: Floats, done: NDArray[np.bool_]
) -> NDArray[np.int64]:
    """How many of the points (2, m, n) round circles no cut sweeps, of those not `done` (m, n) already."""
    circle, cut = pairs
    x, y = points
    place = np.arange(len(circle)) - np.searchsorted(circle, circle)  # among those of its circle
    left: NDArray[np.int64] = np.count_nonzero(~done, axis=1)
    at, size = 0, _FIRST_LOOK
    while True:
        open_ = np.flatnonzero((place >= at) & (left[circle] > 0))
        if not len(open_):
            return left
        if at:
            # of each circle go on with the points that are left, and with some done where others have more
            order = np.argsort(done, axis=1, kind="stable")[:, : left[circle[open_]].max()]
            x, y, bottom, done = (np.take_along_axis(of, order, 1) for of in (x, y, bottom, done))
        asked = open_[place[open_] < at + size]
        done |= _swept(cuts, (circle[asked], cut[asked]), x, y, bottom)
        left[circle[asked]] = np.count_nonzero(~done, axis=1)[circle[asked]]
        at, size = at + size, min(4 * size, _MOST_AT_ONCE)


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
        within = (distance < cuts.reach[cut, None] - _GRAZE) & (height <= bottom[circle])
        begins = np.flatnonzero(np.append(True, circle[1:] != circle[:-1]))
        swept[circle[begins]] |= np.logical_or.reduceat(within, begins)
    return swept
