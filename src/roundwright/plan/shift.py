"""Where the path goes for the planned circles: rings move along their radii, leads and links follow."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct, field

from roundwright.find import Ring
from roundwright.plan.follow import STILL, Anchor, Blocked, Vector, follow
from roundwright.plan.held import Floats, Held, RingShift, Rows, held_points
from roundwright.plan.kind import Steps
from roundwright.plan.plan import ArcTarget, ArcTargets, Ends, Reason, Targets, Touched
from roundwright.read.distinct import distinct
from roundwright.trace.moves import PLANE_AXES, Motion, Moves
from roundwright.units import GRAIN

#: plain numbers: an enumeration's members are slow to look up, and here it is done move by move.
_CURVED = (int(Motion.CW), int(Motion.CCW))


class Obstacle(Struct, frozen=True):
    """Why the path cannot follow a feature's correction."""

    feature: str
    reason: Reason
    why: str


class Shift(Struct, frozen=True, eq=False):
    """The displaced path: which rows (k,) end elsewhere, in order, and by how much (k, 3), mm.

    `arcs` are the new circles, `touched` the rows that change for each feature, and `obstacles` what stands
    in the way: then all else counts for nothing.
    """

    row: Rows
    vector: Floats
    arcs: ArcTargets
    obstacles: Sequence[Obstacle]
    touched: Mapping[str, Rows]

    def ends(self, moves: Moves) -> Ends:
        """New end positions (mm) by row."""
        return Ends(self.row, moves.end[self.row] * GRAIN + self.vector)


class _Followed(Struct):
    """What follows the rings: which rows end elsewhere and by how much, new circles by row, obstacles.

    `touched` are the rows that change, `features` whose correction changes them.
    """

    row: list[int] = field(default_factory=list)
    vector: list[Vector] = field(default_factory=list)
    arcs: dict[int, ArcTarget] = field(default_factory=dict)
    obstacles: list[Obstacle] = field(default_factory=list)
    touched: list[int] = field(default_factory=list)
    features: list[str] = field(default_factory=list)


def shift_path(moves: Moves, shifts: Sequence[RingShift], fixed: Sequence[Ring]) -> Shift:
    """Displace the rings and let the path between them follow.

    `fixed` are the rings that stay; their points hold. What cannot follow is named in `obstacles`.
    """
    held = held_points(moves, shifts, fixed)
    followed = _Followed(obstacles=[_shared(feature) for feature in held.shared])
    steps = Steps(moves)
    for k in held.gaps().tolist():
        _follow(steps, held.anchor(k), held.anchor(k + 1), followed)
    corner = np.flatnonzero(held.moving & (held.row >= 0))
    row = np.concatenate((held.row[corner], np.array(followed.row, np.int64)))
    order = np.argsort(row, kind="stable")
    vector = np.concatenate((held.vector[corner], np.array(followed.vector).reshape(-1, 3)))[order]
    row = row[order]
    if not followed.obstacles:
        _translate_arcs(moves, held, row, vector, followed.arcs)
    arcs = _circles(moves, held, followed.arcs)
    return Shift(row, vector, arcs, followed.obstacles, _touched(held, followed, len(moves)))


def _circles(moves: Moves, held: Held, others: Mapping[int, ArcTarget]) -> ArcTargets:
    """The new circles: those of the rings' arcs, and the others."""
    more = Targets.of(list(others.values()))
    targets = Targets(
        np.concatenate((held.centre, more.centre)),
        np.concatenate((held.radius, more.radius)),
        np.concatenate((held.wall, more.wall)),
    )
    moving = len(held.fixed) + 1
    own = np.flatnonzero((held.own >= moving) & (moves.motion != Motion.LINE))
    row = np.concatenate((own, np.fromiter(others, np.int64, len(others))))
    which = np.append(held.own[own].astype(np.int64) - moving, len(held.radius) + np.arange(len(others)))
    order = np.argsort(row)
    return ArcTargets(row[order], targets, which[order])


def _touched(held: Held, followed: _Followed, count: int) -> Touched:
    """The rows, of so many, that change for each shifted feature, in order."""
    number: dict[str, int] = {}
    feature = np.array([number.setdefault(name, len(number)) for name in held.feature.tolist()], np.int64)
    more = np.array([number[name] for name in followed.features], np.int64)
    keys = feature[held.mover] * count + held.corner, more * count + np.array(followed.touched, np.int64)
    pairs = distinct(np.concatenate(keys))
    edges = np.searchsorted(pairs, np.arange(len(number) + 1) * count)
    return Touched(tuple(number), pairs % max(1, count), edges)


def _shared(feature: str) -> Obstacle:
    return Obstacle(
        feature, "would-collide", "one point of the path is the contact of two circles that differ"
    )


def _follow(steps: Steps, left: Anchor | None, right: Anchor | None, followed: _Followed) -> None:
    """Let the moves between two held points follow them."""
    rows = range(left.row + 1 if left else 0, (right.row if right else len(steps.moves) - 1) + 1)
    held = [anchor for anchor in (left, right) if anchor and anchor.feature]
    try:
        vectors, stretched = follow(steps, rows, left, right)
        for row in stretched:
            if int(steps.moves.motion[row]) in _CURVED:
                a = left.vector if left and row - 1 == left.row else vectors.get(row - 1, STILL)
                b = right.vector if right and row == right.row else vectors.get(row, STILL)
                followed.arcs[row] = _stretched_arc(steps.moves, row, a, b)
    except Blocked as blocked:
        for anchor in held:
            if blocked.feature in ("", anchor.feature):
                followed.obstacles.append(Obstacle(anchor.feature, blocked.reason, blocked.why))
        return
    followed.row += vectors
    followed.vector += vectors.values()
    for anchor in held:
        followed.touched += (*vectors, *stretched)
        followed.features += [anchor.feature] * (len(vectors) + len(stretched))


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


def _translate_arcs(moves: Moves, held: Held, row: Rows, vector: Floats, arcs: dict[int, ArcTarget]) -> None:
    """Lead arcs travel with the contact point: the same vector for both ends and the centre."""
    near = distinct(np.concatenate((row, row + 1)))
    near = near[near < len(moves)]
    near = near[(held.own[near] == 0) & np.isin(moves.motion[near], _CURVED)]
    if not len(near):
        return
    at = row.searchsorted(near, "right") - 1  # the row itself, else the one before
    number, _ = moves.arcs.at(near)
    for arc, k, by in zip(near.tolist(), number.tolist(), vector[at].tolist(), strict=True):
        if arc not in arcs:
            first, second = PLANE_AXES[moves.states[int(moves.state[arc])].normal]
            moved = complex(by[first], by[second])
            ends = (complex(p[arc, first], p[arc, second]) * GRAIN + moved for p in (moves.start, moves.end))
            arcs[arc] = _evened(complex(*moves.arcs.centre[k]) + moved, *ends)
