"""Stacks: the rings round one centre, sorted into walls and the rings that clear for them."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, inf

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from roundwright.find.arcs import COARSEST
from roundwright.find.cuts import Floats
from roundwright.find.feature import Ring
from roundwright.find.near import Near, crowded
from roundwright.find.ring import SAME_DEPTH
from roundwright.find.side import Witness, cleared, left_over
from roundwright.find.surroundings import Surroundings
from roundwright.find.wall import Edges
from roundwright.settings import Cutter

#: circles whose centres are no farther apart than this are round one centre, mm: coarse numbers and R form
#: leave it open. The same for all: what a correction writes more finely stands where coarse numbers put it.
_ONE_CENTRE = 3 * COARSEST


class Judged(Struct, frozen=True, gc=False):
    """A ring with what its edges say. `edges` is None where they could not be judged.

    `path` is the ring as the tool's centre runs it: beside the ring where that is a compensated contour.
    """

    ring: Ring
    path: Ring
    cutter: Cutter | None
    edges: Edges | None = None
    witness: Witness | None = None
    contour: bool = False
    surroundings: Surroundings | None = None  # of all rings of its frame, where the edges are judged
    bored: bool = False  # a helix without a flat turn in a hole that other tools made

    @property
    def reach(self) -> float:
        """From the tool's centre to the surface, mm; 0 where the cutter is not known."""
        return self.cutter.diameter / 2 if self.cutter and self.cutter.cylindrical else 0.0

    @property
    def short(self) -> float:
        """How long a chain of many moves beside the ring may be to be a lead, mm."""
        return 2 * self.cutter.diameter if self.cutter else 0.0

    @property
    def wall(self) -> bool:
        """Whether the ring leaves a surface; one that could not be judged may."""
        return self.edges is None or any(left_over(self.edges, self.path, self.reach))

    @property
    def band(self) -> tuple[float, float]:
        """Inner and outer radius of what the ring sweeps."""
        return self.path.radius - self.reach, self.path.radius + self.reach


def merge_circles(rings: Sequence[Ring]) -> list[Ring]:
    """Bring together what one cutter runs on one circle: both turns, arcs and chords.

    Where rings share moves and yet are not one circle, the first one, of whole arcs, is the surer.
    """
    merged: list[Ring] = []
    near = Near()
    owner: dict[int, int] = {}
    shared = _shared(rings)
    kinds = np.array([(ring.frame, ring.normal, ring.section) for ring in rings], np.int64).reshape(-1, 3)
    for ring, may_meet in zip(rings, _may_meet(rings, kinds), strict=True):
        if not may_meet and shared.isdisjoint(ring.rows):
            merged.append(ring)
            continue
        kind = (ring.frame, ring.normal, ring.section)
        rivals = {owner[row] for row in ring.rows if row in owner}
        places = near(kind, (*ring.centre, ring.radius)) if ring.known else ()
        twin = next((k for k in places if _same_circle(merged[k], ring)), None)
        if rivals - {twin}:
            continue
        if twin is None:
            twin = len(merged)
            near.add(kind, (*ring.centre, ring.radius), twin)
            merged.append(ring)
        else:
            merged[twin] = _joined(merged[twin], ring)
        owner.update(dict.fromkeys(ring.rows, twin))
    return merged


def _may_meet(rings: Sequence[Ring], kinds: NDArray[np.int64]) -> list[bool]:
    """Which rings in known positions may have another of their kind (n, k) round their centre."""
    known = np.array([ring.known for ring in rings], np.bool_)
    met: list[bool] = (crowded(kinds, np.array([r.centre for r in rings]).reshape(-1, 2)) & known).tolist()
    return met


def _shared(rings: Sequence[Ring]) -> set[int]:
    """The rows that are in several rings."""
    rows = np.sort(np.array([row for ring in rings for row in ring.rows], np.int64))
    return set(rows[1:][rows[1:] == rows[:-1]].tolist())


def _same_circle(a: Ring, b: Ring) -> bool:
    tolerance = max(a.tolerance, b.tolerance)
    return a.known and _apart(a, b) <= 2 * tolerance and abs(a.radius - b.radius) <= 2 * tolerance


def _apart(a: Ring, b: Ring) -> float:
    return hypot(a.centre[0] - b.centre[0], a.centre[1] - b.centre[1])


def _joined(a: Ring, b: Ring) -> Ring:
    rows = tuple(sorted({*a.rows, *b.rows}))
    shared = len(rows) < len(a.rows) + len(b.rows)
    deeper = a if a.z[1] <= b.z[1] + SAME_DEPTH else b
    return replace(
        a,
        rows=rows,
        centre=deeper.centre,
        radius=deeper.radius,
        turn=a.turn if a.turn == b.turn else "both",
        z=(max(a.z[0], b.z[0]), min(a.z[1], b.z[1])),
        passes=max(a.passes, b.passes) if shared else a.passes + b.passes,
        forms=tuple(dict.fromkeys((*a.forms, *b.forms))),
        tolerance=max(a.tolerance, b.tolerance),
        flat=deeper.flat,
        over_flats=min((r for r in (a.over_flats, b.over_flats) if r is not None), default=None),
    )


def stacks_of(rings: Sequence[Ring]) -> list[list[int]]:
    """Rings by centre, within a frame and plane, by place; one in an unknown position stands alone."""
    stacks: list[list[int]] = []
    near = Near()
    kinds = np.array([(ring.frame, ring.normal) for ring in rings], np.int64).reshape(-1, 2)
    for place, (ring, may_meet) in enumerate(zip(rings, _may_meet(rings, kinds), strict=True)):
        if not may_meet:
            stacks.append([place])
            continue
        kind = (ring.frame, ring.normal)
        places = near(kind, ring.centre)
        home = next((k for k in places if _apart(rings[stacks[k][0]], ring) <= _ONE_CENTRE), None)
        if home is not None:
            stacks[home].append(place)
            continue
        near.add(kind, ring.centre, len(stacks))
        stacks.append([place])
    return stacks


class _Bands(Struct, frozen=True, eq=False):
    """What flat rings round one centre sweep (shape n), sorted by the inner radius, mm."""

    low: Floats
    high: Floats
    widest: Floats  # the largest outer radius so far
    bottom: Floats
    tolerance: Floats
    last: Floats  # row

    @classmethod
    def of(cls, stack: Sequence[Judged]) -> _Bands:
        """The bands of those that could be judged."""
        rows = [
            (*one.band, one.ring.z[1], one.ring.tolerance, one.ring.rows[-1])
            for one in stack
            if one.edges is not None and one.ring.flat
        ]
        columns = np.array(sorted(rows)).reshape(-1, 5).T
        return cls(columns[0], columns[1], np.maximum.accumulate(columns[1]), *columns[2:])

    def sweeping(self, radius: float, one: Judged, *, outer: bool) -> Floats:
        """The last rows of those that go as deep and sweep well beyond a ring's outer edge, or its inner."""
        some = slice(np.searchsorted(self.widest, radius, "right"), np.searchsorted(self.low, radius))
        deep = self.bottom[some] <= one.ring.z[1] + SAME_DEPTH
        apart = 2 * np.maximum(one.ring.tolerance, self.tolerance[some])
        low, high = self.low[some], self.high[some]
        beyond = radius < high - apart if outer else (low + apart < radius) & (radius < high)
        return np.asarray(self.last[some][deep & beyond])


def finished(stack: Sequence[Judged]) -> list[Judged]:
    """The rings round one centre, without the edges that one a little beyond them sweeps off all round.

    Where a finish takes less than the strip that is looked at beyond an edge, or less than its chords stand
    off their circle, the radii alone tell. What it finishes is roughing, and tells no side; what it has been
    roughed by tells its own.
    """
    if len(stack) < 2:
        return list(stack)
    bands = _Bands.of(stack)
    return [_without_finished(one, bands) for one in stack]


def _without_finished(one: Judged, bands: _Bands) -> Judged:
    edges, (low, high) = one.edges, one.band
    if edges is None or not (edges.outer or edges.inner):
        return one
    outwards, inwards = bands.sweeping(high, one, outer=True), bands.sweeping(low, one, outer=False)
    outer = 0.0 if edges.outer and len(outwards) else edges.outer
    inner = 0.0 if edges.inner and len(inwards) else edges.inner
    if (outer, inner) == (edges.outer, edges.inner):
        return one
    edges = replace(edges, outer=outer, inner=inner)
    roughing = (np.concatenate([outwards, inwards]) > one.ring.rows[-1]).any()
    return replace(one, edges=edges, witness=None if roughing else cleared(edges, one.path, one.reach))


def surfaces(group: Sequence[Judged]) -> list[Judged]:
    """The walls of a group, one of each surface: one that is written anew with compensation is the last."""
    walls = [one for one in group if one.wall]
    if len({one.contour for one in walls}) < 2:
        return walls
    return [one for one in walls if not any(_written_anew(one, other) for other in walls)]


def _written_anew(one: Judged, other: Judged) -> bool:
    """Whether a wall leaves the surface again that another has left, as a contour or as the centre's path."""
    a, b = one.ring, other.ring
    if one.contour == other.contour or a.section != b.section or a.rows[-1] > b.rows[-1]:
        return False
    apart = 2 * max(a.tolerance, b.tolerance)
    return b.z[1] <= a.z[1] + SAME_DEPTH and abs(one.path.radius - other.path.radius) <= apart


def clearing_homes(rings: Sequence[Judged], walls: Sequence[Judged]) -> list[int | None]:
    """Which wall each ring without a wall of its own clears for: one in whose cut it vanishes.

    Outwards for a hole, inwards for a boss, through bands that overlap; of several the one that goes least
    deeper (a seat, not the bore through it), then the nearest. None where there is none.
    """
    if not walls or not rings:
        return [None] * len(rings)
    low, high = np.array([wall.band for wall in walls]).T
    bottom = np.array([wall.ring.z[1] for wall in walls])
    boss = np.array([wall.witness is not None and wall.witness.side == "boss" for wall in walls])
    kinds = {
        is_one: [k for k, wall in enumerate(walls) if wall.contour == is_one] for is_one in (True, False)
    }
    homes: list[int | None] = []
    for ring in rings:
        outwards = np.where(boss, ring.band[0] - low, high - ring.band[1])
        deeper = ring.ring.z[1] - bottom
        fits = np.flatnonzero((outwards > 0) & (deeper >= -SAME_DEPTH))
        order = np.lexsort((outwards[fits], np.maximum(deeper[fits], SAME_DEPTH)))
        nearest = int(fits[order[0]]) if len(fits) else None
        homes.append(next((k for k in kinds[not ring.contour] if _written_anew(ring, walls[k])), nearest))
    return homes


def connected(judged: Sequence[Judged]) -> list[list[Judged]]:
    """Rings of one stack whose swept bands overlap, chained together."""
    groups: list[list[Judged]] = []
    top = -inf
    for one in sorted(judged, key=lambda j: j.band):
        if groups and one.band[0] <= top:
            groups[-1].append(one)
        else:
            groups.append([one])
            top = -inf
        top = max(top, one.band[1])
    return groups
