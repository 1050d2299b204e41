"""Rounds: what cuts that are the same all round sweep of the points round a circle, told by angles."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find.cuts import Cuts, Floats, length
from roundwright.find.ring import FULL_TURN

#: what floating point may lose of lengths and of their squares, many times over, and the least of it, mm.
_LOSS, _LEAST = 1e-12, 1e-9
#: what angles may be off, as a share of the way between two points, many times over.
_OFF = 1e-6
#: points that are looked at one by one together.
_PORTION = 1 << 15
#: what nothing is divided by less than.
_NO_LESS = 1e-200

#: circles and cuts, by index (p,) each.
Pairs = tuple[NDArray[np.intp], NDArray[np.intp]]


def are_round(cuts: Cuts, cut: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Which cuts (p,) sweep a level ring or a disc: whole turns at one height, or straight up or down."""
    z, straight = cuts.z[cut], cuts.arc[cut] < 0
    turn = ~straight & (cuts.sweep[cut] >= FULL_TURN) & (z[:, 0] == z[:, 1])
    return np.asarray(turn | (straight & (cuts.start[cut] == cuts.end[cut]).all(axis=1)))


def swept_by_rounds(
    cuts: Cuts, pairs: Pairs, centre: Floats, radius: Floats, points: Floats, less: float
) -> NDArray[np.bool_]:
    """Which points (m, n) of m circles some round cut of the pairs (p,) sweeps, its reach less so much.

    The `points` (2, m, n) stand evenly round each `centre` (m, 2), the first in the direction of X. Seen from
    there a cut sweeps what lies between two angles, both ways from where it is farthest. The distance is
    asked for only of points so near to these that rounding would tell.
    """
    count, samples = points.shape[1:]
    circle, cut = pairs
    rounds = _Rounds.of(cuts, cut, less)
    spans = _Spans.of(rounds, centre[circle], radius[circle], samples)
    covers = np.zeros((count, 2 * samples + 1), np.int64)
    for begin, size in spans.surely():
        begin = begin % samples + circle * covers.shape[1]
        covers += np.bincount(begin, minlength=covers.size).reshape(covers.shape)
        covers -= np.bincount(begin + size, minlength=covers.size).reshape(covers.shape)
    np.cumsum(covers, axis=1, out=covers)
    done: NDArray[np.bool_] = (covers[:, :samples] + covers[:, samples:-1]) > 0
    for begin, size in spans.perhaps():
        for pair, sample in _one_by_one(begin, size, samples):
            x, y = points[:, circle[pair], sample] - rounds.middle[pair].T
            within = np.abs(length(x, y) - rounds.radius[pair]) < rounds.reach[pair]
            done[circle[pair[within]], sample[within]] = True
    return done


class _Rounds(Struct, frozen=True, eq=False):
    """Round cuts (p,): what keeps within `reach` of a circle, or of a point, they sweep. mm."""

    middle: Floats  # (p, 2)
    radius: Floats  # 0 of a point
    reach: Floats

    @classmethod
    def of(cls, cuts: Cuts, cut: NDArray[np.intp], less: float) -> _Rounds:
        """Of these cuts, each reach less so much."""
        straight = cuts.arc[cut] < 0
        middle = np.where(straight[:, None], cuts.start[cut], cuts.centre[cut])
        return cls(middle, np.where(straight, 0.0, cuts.radius[cut]), cuts.reach[cut] - less)


class _Spans(Struct, frozen=True, eq=False):
    """Where points lie within the band of a round (p,), counted in points from the first one.

    `ahead` is where the circle is farthest from the round's middle. From there, both ways alike, points are
    within the outer edge from `enters` on, and within the inner one, where nothing is swept, from `leaves`
    on; (2, p) each, at least and at most.
    """

    ahead: Floats
    enters: Floats
    leaves: Floats
    half: float  # of all points
    samples: int

    @classmethod
    def of(cls, rounds: _Rounds, centre: Floats, radius: Floats, samples: int) -> _Spans:
        """On circles by their centres (p, 2) and radii (p,)."""
        off, way = centre - rounds.middle, samples / FULL_TURN
        apart = length(*off.T)
        loss = _LEAST + _LOSS * (np.abs(centre).sum(axis=1) + np.abs(rounds.middle).sum(axis=1) + radius)
        edges = rounds.radius + rounds.reach, rounds.radius - rounds.reach
        enters, leaves = (_crossing(radius, apart, edge, loss) * way for edge in edges)
        return cls(np.arctan2(off[:, 1], off[:, 0]) * way, enters, leaves, np.pi * way, samples)

    def surely(self) -> Iterator[Pairs]:
        """First points (p,) and how many are swept, both ways: none where too few to be sure."""
        # where an edge does not cross the circle, the point straight ahead or behind belongs to both ways
        first = np.where(self.enters[1] > 0, self.enters[1], -2 * _OFF)
        last = np.where(self.leaves[0] < self.half, self.leaves[0], self.half + 2 * _OFF)
        sure = last - first > 4 * _OFF
        for begin, end in ((first, last), (-last, -first)):
            begin, size = _points(self.ahead + begin + _OFF, self.ahead + end - _OFF)
            yield begin, np.where(sure, np.minimum(size, self.samples), 0)

    def perhaps(self) -> Iterator[Pairs]:
        """First points (p,) and how many stand where an edge crosses a circle, one edge and way at a time."""
        for low, high in (self.enters, self.leaves):
            crosses = (high > 0) & (low < self.half)
            for begin, end in ((low, high), (-high, -low)):
                begin, size = _points(self.ahead + begin - 3 * _OFF, self.ahead + end + 3 * _OFF)
                yield begin, np.where(crosses, np.minimum(size, self.samples), 0)


def _crossing(radius: Floats, apart: Floats, edge: Floats, loss: Floats) -> Floats:
    """The angle at which circles cross others of radius `edge` so far apart, at least and at most (2, p).

    Seen from the circle's centre, from the direction away from the other centre: 0 where the whole circle is
    within the edge, pi where all of it is outside. By the law of cosines.
    """
    twice = np.maximum(2 * apart * radius, _NO_LESS)
    squares = edge**2 + apart**2 + radius**2
    cosine = np.where(edge > -loss, (edge * np.abs(edge) - apart**2 - radius**2) / twice, -np.inf)
    open_ = (_LOSS * squares + (2 * np.abs(edge) + loss) * loss) / twice
    return np.arccos(np.clip(np.stack([cosine + open_, cosine - open_]), -1.0, 1.0))


def _points(first: Floats, last: Floats) -> Pairs:
    """The first of the points (p,) between two places, and how many there are."""
    begin = np.ceil(first).astype(np.int64)
    return begin, np.maximum(np.floor(last).astype(np.int64) - begin + 1, 0)


def _one_by_one(begin: NDArray[np.int64], size: NDArray[np.int64], samples: int) -> Iterator[Pairs]:
    """The pairs and points of some spans (p,), a portion at a time."""
    some = np.flatnonzero(size)
    begin, size = begin[some], size[some]
    ends = np.cumsum(size)
    for part in np.split(np.arange(len(some)), np.flatnonzero(np.diff(ends // _PORTION)) + 1):
        pair = np.repeat(part, size[part])
        place = np.arange(len(pair)) - np.repeat(np.cumsum(size[part]) - size[part], size[part])
        yield some[pair], (begin[pair] + place) % samples
