"""Where the path goes for the planned circles: rings move along their radii, leads and links follow."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from msgspec import Struct, field

from roundwright.find import Feature, Ring
from roundwright.plan.follow import STILL, Anchor, Blocked, Vector, follow, same
from roundwright.plan.kind import Steps
from roundwright.plan.plan import ArcTarget, Ends, Reason
from roundwright.trace.moves import PLANE_AXES, Motion, Moves
from roundwright.units import GRAIN

#: plain numbers: an enumeration's members are slow to look up, and here it is done move by move.
_CURVED = (int(Motion.CW), int(Motion.CCW))


class RingShift(Struct, frozen=True):
    """A ring of a feature that moves outwards by `delta` mm (inwards where negative)."""

    ring: Ring
    delta: float
    feature: str
    wall: bool
    short: float  # mm: a chain of moves beside the ring that is not longer is a lead


class Obstacle(Struct, frozen=True):
    """Why the path cannot follow a feature's correction."""

    feature: str
    reason: Reason
    why: str


class Shift(Struct):
    """The displaced path: new ends by row, new circles by row, and what stands in the way.

    `vectors` are the displacements of the ends by row; `touched` the rows that a feature changes.
    """

    vectors: dict[int, Vector] = field(default_factory=dict)
    arcs: dict[int, ArcTarget] = field(default_factory=dict)
    obstacles: list[Obstacle] = field(default_factory=list)
    touched: dict[str, set[int]] = field(default_factory=dict)


class _Corners(NamedTuple):
    """Of each of a ring's moves: whether it is an arc, and the displacements (mm) of its two ends."""

    curved: list[bool]
    start: list[Vector]
    end: list[Vector]


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


def shift_path(moves: Moves, shifts: Sequence[RingShift], fixed: Sequence[Ring]) -> Shift:
    """Displace the rings and let the path between them follow.

    `fixed` are the rings that stay; their points hold. What cannot follow is named in `obstacles`.
    """
    result = Shift()
    anchors = _anchors(moves, shifts, fixed, result)
    ring_rows = {row for ring in (*fixed, *(s.ring for s in shifts)) for row in ring.rows}
    steps = Steps(moves)
    points: list[Anchor | None] = [None, *(anchors[k] for k in sorted(anchors)), None]
    for left, right in pairwise(points):
        if (left and left.feature) or (right and right.feature):
            first = left.row + 1 if left else 0
            last = right.row if right else len(moves) - 1
            if first in ring_rows and last == first and left and right:
                continue  # a ring's own arc
            _follow(steps, left, right, range(first, last + 1), result)
    _translate_arcs(moves, ring_rows, result)
    return result


def _anchors(
    moves: Moves, shifts: Sequence[RingShift], fixed: Sequence[Ring], result: Shift
) -> dict[int, Anchor]:
    anchors: dict[int, Anchor] = {}
    for ring in fixed:
        for row in ring.rows:
            for at in (row - 1, row):
                anchors[at] = Anchor(at, STILL, "", ring.normal, ring.frame)
    for shift, corners in zip(shifts, _along_radii(moves, shifts), strict=True):
        _hold(shift, corners, anchors, result)
    return anchors


def _hold(shift: RingShift, corners: _Corners, anchors: dict[int, Anchor], result: Shift) -> None:
    """Displace every corner of a ring along its own radius."""
    ring = shift.ring
    target = ArcTarget(ring.centre, ring.radius + shift.delta, shift.feature if shift.wall else "")
    touched = result.touched.setdefault(shift.feature, set())
    held: tuple[int, Vector] | None = None
    for row, curved, before_row, behind_row in zip(ring.rows, *corners, strict=True):
        if curved:
            result.arcs[row] = target
        for at, to in ((row - 1, before_row), (row, behind_row)):
            if (at, to) == held:
                continue  # where the move before has ended
            held = at, to
            anchor = Anchor(at, to, shift.feature, ring.normal, ring.frame, shift.short)
            before = anchors.get(at)
            if before is not None and not same(before.vector, anchor.vector):
                result.obstacles.append(_shared(shift.feature))
                if before.feature:
                    result.obstacles.append(_shared(before.feature))
            anchors[at] = anchor
            if at >= 0:
                result.vectors[at] = anchor.vector
                touched.add(at)


def _along_radii(moves: Moves, shifts: Sequence[RingShift]) -> Iterator[_Corners]:
    """The corners of the rings, displaced so that each stands on the new circle."""
    if not shifts:
        return
    row = np.array([row for shift in shifts for row in shift.ring.rows], np.int64)
    size = [len(shift.ring.rows) for shift in shifts]
    of = np.repeat(np.arange(len(shifts)), size)
    axes = np.array(PLANE_AXES)[[shift.ring.normal for shift in shifts]][of]
    centre = np.array([shift.ring.centre for shift in shifts])[of]
    radius = np.array([shift.ring.radius + shift.delta for shift in shifts])[of]
    vectors = []
    for points in (moves.start[row], moves.end[row]):
        old = np.take_along_axis(points, axes, 1) * GRAIN
        offset = old - centre
        new = centre + offset * (radius / np.hypot(*offset.T))[:, None]
        moved = np.zeros((len(row), 3))
        np.put_along_axis(moved, axes, new - old, 1)
        vectors.append([(x, y, z) for x, y, z in moved.tolist()])
    curved = (moves.motion[row] != Motion.LINE).tolist()
    for first, stop in pairwise([0, *np.cumsum(size).tolist()]):
        part = slice(first, stop)
        yield _Corners(curved[part], vectors[0][part], vectors[1][part])


def _shared(feature: str) -> Obstacle:
    return Obstacle(
        feature, "would-collide", "one point of the path is the contact of two circles that differ"
    )


def _follow(steps: Steps, left: Anchor | None, right: Anchor | None, rows: range, result: Shift) -> None:
    """Let the moves between two held points follow them."""
    try:
        vectors, stretched = follow(steps, rows, left, right)
        for row in stretched:
            if int(steps.moves.motion[row]) in _CURVED:
                a = left.vector if left and row - 1 == left.row else vectors.get(row - 1, STILL)
                b = right.vector if right and row == right.row else vectors.get(row, STILL)
                result.arcs[row] = _stretched_arc(steps.moves, row, a, b)
    except Blocked as blocked:
        for anchor in (left, right):
            if anchor and anchor.feature and blocked.feature in ("", anchor.feature):
                result.obstacles.append(Obstacle(anchor.feature, blocked.reason, blocked.why))
        return
    result.vectors.update(vectors)
    for anchor in (left, right):
        if anchor and anchor.feature:
            result.touched[anchor.feature].update((*vectors, *stretched))


def _stretched_arc(moves: Moves, row: int, start: Vector, end: Vector) -> ArcTarget:
    """An arc that links keeps its sweep: the similarity that takes its chord to the new one."""
    state = moves.states[int(moves.state[row])]
    first, second = PLANE_AXES[state.normal]
    k = int(np.searchsorted(moves.arcs.row, row))
    centre = complex(*moves.arcs.centre[k])
    a = complex(moves.start[row, first], moves.start[row, second]) * GRAIN
    b = complex(moves.end[row, first], moves.end[row, second]) * GRAIN
    if a == b:
        raise Blocked("would-collide", "a full circle that is no part of the feature touches it")
    if start[state.normal] or end[state.normal]:
        raise Blocked("would-collide", "an arc in another plane links two circles")
    new_a, new_b = a + complex(start[first], start[second]), b + complex(end[first], end[second])
    ratio = (new_b - new_a) / (b - a)
    return _evened(new_a + ratio * (centre - a), new_a, new_b)


def _evened(centre: complex, start: complex, end: complex) -> ArcTarget:
    """The circle through both ends nearest the centre: rounding as read need not be written again.

    Where the ends are so close that evening out would carry the centre away, it stays.
    """
    chord = end - start
    apart = abs(abs(start - centre) - abs(end - centre))
    along = ((centre - (start + end) / 2) * chord.conjugate()).real / abs(chord) if chord else 0.0
    if abs(along) <= 2 * apart:
        centre -= along * chord / abs(chord) if chord else 0.0
    return ArcTarget((centre.real, centre.imag), abs(start - centre))


def _translate_arcs(moves: Moves, ring_rows: set[int], result: Shift) -> None:
    """Lead arcs travel with the contact point: the same vector for both ends and the centre."""
    for row, vector in list(result.vectors.items()):
        for arc in (row, row + 1):
            if arc in result.arcs or arc in ring_rows or arc >= len(moves):
                continue
            if int(moves.motion[arc]) not in _CURVED:
                continue
            k = int(np.searchsorted(moves.arcs.row, arc))
            first, second = PLANE_AXES[moves.states[int(moves.state[arc])].normal]
            by = complex(vector[first], vector[second])
            ends = (complex(p[arc, first], p[arc, second]) * GRAIN + by for p in (moves.start, moves.end))
            result.arcs[arc] = _evened(complex(*moves.arcs.centre[k]) + by, *ends)


def ends_of(moves: Moves, vectors: Mapping[int, Vector]) -> Ends:
    """New end positions (mm) by row."""
    row = np.fromiter(vectors, np.int64, len(vectors))
    by = np.fromiter(vectors.values(), np.dtype((np.float64, 3)), len(vectors))
    order = np.argsort(row)
    row = row[order]
    return Ends(row, moves.end[row] * GRAIN + by[order])
