"""Stacks: the rings round one centre, sorted into walls and the rings that clear for them."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, inf

from msgspec import Struct
from msgspec.structs import replace

from roundwright.find.cuts import Cuts
from roundwright.find.feature import Ring
from roundwright.find.near import Near
from roundwright.find.ring import SAME_DEPTH
from roundwright.find.side import Witness, left_over
from roundwright.find.wall import Edges
from roundwright.settings import Cutter
from roundwright.units import MICROMETRE

#: circles whose centres are no farther apart than this are round one centre, mm: R form leaves it open.
_ONE_CENTRE = 50 * MICROMETRE


class Judged(Struct, frozen=True):
    """A ring with what its edges say. `edges` is None where they could not be judged.

    `path` is the ring as the tool's centre runs it: beside the ring where that is a compensated contour.
    """

    ring: Ring
    path: Ring
    cutter: Cutter | None
    edges: Edges | None = None
    witness: Witness | None = None
    contour: bool = False
    cuts: Cuts | None = None  # all of its frame, where the edges are judged
    bored: bool = False  # a helix without a flat turn in a hole that other tools made

    @property
    def reach(self) -> float:
        """From the tool's centre to the surface, mm; 0 where the cutter is not known."""
        return self.cutter.diameter / 2 if self.cutter and self.cutter.cylindrical else 0.0

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
    for ring in rings:
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


def _same_circle(a: Ring, b: Ring) -> bool:
    tolerance = max(a.tolerance, b.tolerance)
    return a.known and _apart(a, b) <= 2 * tolerance and abs(a.radius - b.radius) <= 2 * tolerance


def _apart(a: Ring, b: Ring) -> float:
    return hypot(a.centre[0] - b.centre[0], a.centre[1] - b.centre[1])


def _joined(a: Ring, b: Ring) -> Ring:
    rows = tuple(sorted({*a.rows, *b.rows}))
    shared = len(rows) < len(a.rows) + len(b.rows)
    return replace(
        a,
        rows=rows,
        turn=a.turn if a.turn == b.turn else "both",
        z=(max(a.z[0], b.z[0]), min(a.z[1], b.z[1])),
        passes=max(a.passes, b.passes) if shared else a.passes + b.passes,
        forms=tuple(dict.fromkeys((*a.forms, *b.forms))),
        tolerance=max(a.tolerance, b.tolerance),
        flat=(a if a.z[1] <= b.z[1] + SAME_DEPTH else b).flat,
        over_flats=min((r for r in (a.over_flats, b.over_flats) if r is not None), default=None),
    )


def stacks_of(rings: Sequence[Ring]) -> list[list[Ring]]:
    """Rings by centre, within a frame and plane; a ring in an unknown position stands alone."""
    stacks: list[list[Ring]] = []
    near = Near()
    for ring in rings:
        kind = (ring.frame, ring.normal)
        places = near(kind, ring.centre) if ring.known else ()
        slack = max(3 * ring.tolerance, _ONE_CENTRE)
        home = next((k for k in places if _apart(stacks[k][0], ring) <= slack), None)
        if home is not None:
            stacks[home].append(ring)
            continue
        if ring.known:
            near.add(kind, ring.centre, len(stacks))
        stacks.append([ring])
    return stacks


def finished(stack: Sequence[Judged]) -> list[Judged]:
    """The rings round one centre, without the edges that one a little beyond them sweeps off all round.

    Where a finish takes less than the strip that is looked at beyond an edge, or less than its chords stand
    off their circle, the radii alone tell. What it finishes is roughing, and tells no side.
    """
    return [_without_finished(one, stack) for one in stack]


def _without_finished(one: Judged, stack: Sequence[Judged]) -> Judged:
    edges, (low, high) = one.edges, one.band
    if edges is None or not (edges.outer or edges.inner):
        return one
    outer, inner = edges.outer, edges.inner
    for other in stack:
        if other.edges is None or not other.ring.flat or other.ring.z[1] > one.ring.z[1] + SAME_DEPTH:
            continue
        apart = 2 * max(one.ring.tolerance, other.ring.tolerance)
        if other.band[0] < high < other.band[1] - apart:
            outer = 0.0
        if inner and other.band[0] + apart < low < other.band[1]:
            inner = 0.0
    if (outer, inner) == (edges.outer, edges.inner):
        return one
    return replace(one, edges=replace(edges, outer=outer, inner=inner), witness=None)


def surfaces(group: Sequence[Judged]) -> list[Judged]:
    """The walls of a group, one of each surface: one that is written anew with compensation is the last."""
    walls = [one for one in group if one.wall]
    return [one for one in walls if not any(_written_anew(one, other) for other in walls)]


def _written_anew(one: Judged, other: Judged) -> bool:
    """Whether a wall leaves the surface again that another has left, as a contour or as the centre's path."""
    a, b = one.ring, other.ring
    if one.contour == other.contour or a.section != b.section or a.rows[-1] > b.rows[-1]:
        return False
    apart = 2 * max(a.tolerance, b.tolerance)
    return b.z[1] <= a.z[1] + SAME_DEPTH and abs(one.path.radius - other.path.radius) <= apart


def clearing_for(ring: Judged, walls: Sequence[Judged]) -> int | None:
    """Which wall a ring without a wall of its own clears for: one in whose cut it vanishes.

    Outwards for a hole, inwards for a boss, through bands that overlap; of several the one that goes least
    deeper (a seat, not the bore through it), then the nearest. None where there is none.
    """
    best: tuple[float, float, int] | None = None
    for k, wall in enumerate(walls):
        outwards = wall.band[1] - ring.band[1]
        if wall.witness is not None and wall.witness.side == "boss":
            outwards = ring.band[0] - wall.band[0]
        if _written_anew(ring, wall):
            return k
        deeper = ring.ring.z[1] - wall.ring.z[1]
        if outwards > 0 and deeper >= -SAME_DEPTH:
            found = max(deeper, SAME_DEPTH), outwards, k
            best = found if best is None else min(best, found)
    return None if best is None else best[2]


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
