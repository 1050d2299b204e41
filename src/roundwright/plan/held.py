"""The points of the path that rings hold, and how far each is displaced; held as columns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find import Feature, Ring
from roundwright.plan.follow import SAME, Anchor, Vector
from roundwright.trace.moves import PLANE_AXES, Moves
from roundwright.units import GRAIN

Rows = NDArray[np.int64]
Numbers = NDArray[np.int32]
Floats = NDArray[np.float64]


class RingShift(Struct, frozen=True, gc=False, array_like=True):
    """A ring of a feature that moves outwards by `delta` mm (inwards where negative)."""

    ring: Ring
    delta: float
    feature: str
    wall: bool
    short: float  # mm: a chain of moves beside the ring that is not longer is a lead


def ring_shifts(feature: Feature, delta: float, *, spread: bool) -> list[RingShift]:
    """The rings of one feature and how far each moves: clearing rings in proportion, or not at all."""
    wall = feature.wall
    short = 2 * feature.cutter.diameter if feature.cutter else 0.0
    shifts = [RingShift(wall, delta, feature.id, True, short)]
    if spread:
        shifts += [
            RingShift(ring, delta * ring.path / wall.path, feature.id, False, short)
            for ring in feature.clearing
        ]
    return shifts


class Held(Struct, frozen=True, eq=False):
    """The points (a,) that rings hold, each the end of a row, in order; -1 is where the program begins.

    `vector` (a, 3) is each one's displacement, mm, and `ring` (a,) the number of its ring among the fixed
    ones and then the shifted ones. `own` (n,) tells whose ring's each row is: 0 for none, else one more than
    the ring's number. `corner` (c,) and `mover` (c,) are the rows that end elsewhere and the numbers of the
    shifts for which they do. `shared` are the features with a point that two circles want elsewhere. `centre`
    (s, 2) and `radius` (s,) are the new circles of the shifted rings, mm; `feature` (s,) tells whose they
    are, `wall` (s,) that again where they are walls.
    """

    row: Rows
    vector: Floats
    ring: Numbers
    own: Numbers
    corner: Numbers
    mover: Numbers
    shared: tuple[str, ...]
    fixed: Sequence[Ring]
    shifts: Sequence[RingShift]
    centre: Floats
    radius: Floats
    wall: NDArray[np.str_]
    feature: NDArray[np.str_]

    @property
    def moving(self) -> NDArray[np.bool_]:
        """Which points (a,) belong to a ring that is shifted."""
        return np.asarray(self.ring >= len(self.fixed))

    def anchor(self, k: int) -> Anchor | None:
        """One of the points; None beyond the first and the last one."""
        if not 0 <= k < len(self.row):
            return None
        row, vector, number = int(self.row[k]), _vector(self.vector[k]), int(self.ring[k])
        if number < len(self.fixed):
            ring = self.fixed[number]
            return Anchor(row, vector, "", ring.normal, ring.frame)
        shift = self.shifts[number - len(self.fixed)]
        return Anchor(row, vector, shift.feature, shift.ring.normal, shift.ring.frame, shift.short)

    def gaps(self) -> NDArray[np.intp]:
        """The points, by number, behind which the path must follow up to the next one.

        -1 is where the program begins. A ring's own move between two of its corners is no gap.
        """
        moving, row = self.moving, self.row
        asked = np.zeros(len(row) + 1, np.bool_)
        asked[1:] = moving
        asked[:-1] |= moving
        own = (row[1:] == row[:-1] + 1) & (self.own[row[1:]] != 0)
        asked[1:-1] &= ~own
        return np.flatnonzero(asked) - 1


def held_points(moves: Moves, shifts: Sequence[RingShift], fixed: Sequence[Ring]) -> Held:
    """The corners of rings that stay, and those of shifted ones, each displaced along its own radius.

    A point of several rings is held by the last one.
    """
    row, of = _rows(chain(fixed, (shift.ring for shift in shifts)))
    each = ((s.ring.normal, *s.ring.centre, s.ring.radius + s.delta) for s in shifts)
    circles = np.fromiter(chain.from_iterable(each), np.float64).reshape(-1, 4)
    named = [(s.feature, s.feature if s.wall else "") for s in shifts]
    feature, wall = np.array(named, np.str_).reshape(-1, 2).T
    own = np.zeros(len(moves), np.int32)
    own[row] = of + 1
    stay = int(of.searchsorted(len(fixed)))
    vector: Floats = np.zeros((len(row), 2, 3))
    if shifts:
        _along_radii(moves, row[stay:], circles[of[stay:] - len(fixed)], vector[stay:])
    at, of, vector = np.column_stack((row - 1, row)).ravel(), np.repeat(of, 2), vector.reshape(-1, 3)
    order = np.argsort(at, kind="stable")
    at, of = at[order], of[order]
    again = np.flatnonzero(at[1:] == at[:-1])
    differ = again[(np.abs(vector[order[again + 1]] - vector[order[again]]) >= SAME).any(axis=1)]
    moved = np.flatnonzero((of >= len(fixed)) & (at >= 0))
    last = np.flatnonzero(np.diff(at, append=len(moves)))
    return Held(
        row=at[last].astype(np.int64),
        vector=vector[order[last]],
        ring=of[last],
        own=own,
        corner=at[moved],
        mover=of[moved] - len(fixed),
        shared=_features(feature, of[np.concatenate((differ + 1, differ))] - len(fixed)),
        fixed=fixed,
        shifts=shifts,
        centre=circles[:, 1:3],
        radius=circles[:, 3],
        wall=wall,
        feature=feature,
    )


def _rows(rings: Iterable[Ring]) -> tuple[Numbers, Numbers]:
    """The rows of all the rings, one ring after the other, and which of them each is of."""
    size: list[int] = []

    def each() -> Iterator[int]:
        for ring in rings:
            size.append(len(ring.rows))
            yield from ring.rows

    row = np.fromiter(each(), np.int32)
    return row, np.repeat(np.arange(len(size), dtype=np.int32), size)


def _features(feature: NDArray[np.str_], numbers: Numbers) -> tuple[str, ...]:
    """The features of these shifts, each once; numbers below 0 are of rings that stay."""
    return tuple(dict.fromkeys(feature[numbers[numbers >= 0]].tolist()))


def _along_radii(moves: Moves, row: Numbers, circles: Floats, moved: Floats) -> None:
    """Displace the start and end of each of a ring's rows (k, 2, 3) so that both stand on the new circle.

    `circles` (k, 4) are its normal, centre and radius, mm.
    """
    axes = np.array(PLANE_AXES)[circles[:, 0].astype(np.intp)]
    centre, radius = circles[:, 1:3], circles[:, 3]
    for which, points in enumerate((moves.start, moves.end)):
        old = np.take_along_axis(points[row], axes, 1) * GRAIN
        offset = old - centre
        new = centre + offset * (radius / np.hypot(*offset.T))[:, None]
        np.put_along_axis(moved[:, which], axes, new - old, 1)


def _vector(displaced: Floats) -> Vector:
    x, y, z = displaced.tolist()
    return x, y, z
