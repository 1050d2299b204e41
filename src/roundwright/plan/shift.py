"""Where the path goes for the planned circles: rings move along their radii, leads and links follow."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from roundwright.find import Feature, Ring
from roundwright.find.lead import LONGEST_LEAD, moves_in_plane
from roundwright.plan.plan import ArcTarget, Reason
from roundwright.trace.moves import PLANE_AXES, ArcFault, Motion, Moves
from roundwright.units import GRAIN, PER_UNIT

Vector = tuple[float, float, float]
_STILL: Vector = (0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class RingShift:
    """A ring of a feature that moves outwards by `delta` mm (inwards where negative)."""

    ring: Ring
    delta: float
    feature: str
    wall: bool


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Why the path cannot follow a feature's correction."""

    feature: str
    reason: Reason
    why: str


@dataclass(slots=True)
class Shift:
    """The displaced path: new ends by row, new circles by row, and what stands in the way.

    `vectors` are the displacements of the ends by row; `touched` the rows that a feature changes.
    """

    vectors: dict[int, Vector] = field(default_factory=dict)
    arcs: dict[int, ArcTarget] = field(default_factory=dict)
    obstacles: list[Obstacle] = field(default_factory=list)
    touched: dict[str, set[int]] = field(default_factory=dict)


def ring_shifts(feature: Feature, delta: float, *, spread: bool) -> list[RingShift]:
    """The rings of one feature and how far each moves: clearing rings in proportion, or not at all."""
    wall = feature.wall
    shifts = [RingShift(wall, delta, feature.id, True)]
    if spread:
        shifts += [
            RingShift(ring, delta * ring.radius / wall.radius, feature.id, False) for ring in feature.clearing
        ]
    return shifts


@dataclass(frozen=True, slots=True)
class Anchor:
    """A point of the path (the end of row `row`) that a ring holds, and its displacement."""

    row: int
    vector: Vector
    feature: str  # "" where the ring stays
    normal: int
    frame: int


def shift_path(moves: Moves, shifts: Sequence[RingShift], fixed: Sequence[Ring]) -> Shift:
    """Displace the rings and let the path between them follow.

    `fixed` are the rings that stay; their points hold. What cannot follow is named in `obstacles`.
    """
    result = Shift()
    anchors = _anchors(moves, shifts, fixed, result)
    ring_rows = {row for ring in (*fixed, *(s.ring for s in shifts)) for row in ring.rows}
    points: list[Anchor | None] = [None, *(anchors[k] for k in sorted(anchors)), None]
    for left, right in pairwise(points):
        if (left and left.feature) or (right and right.feature):
            first = left.row + 1 if left else 0
            last = right.row if right else len(moves) - 1
            if first in ring_rows and last == first and left and right:
                continue  # a ring's own arc
            _follow(moves, left, right, range(first, last + 1), result)
    _translate_arcs(moves, ring_rows, result)
    return result


def _anchors(
    moves: Moves, shifts: Sequence[RingShift], fixed: Sequence[Ring], result: Shift
) -> dict[int, Anchor]:
    anchors: dict[int, Anchor] = {}
    for ring in fixed:
        for row in ring.rows:
            for at in (row - 1, row):
                anchors[at] = Anchor(at, _STILL, "", ring.normal, ring.frame)
    for shift in shifts:
        _hold(moves, shift, anchors, result)
    return anchors


def _hold(moves: Moves, shift: RingShift, anchors: dict[int, Anchor], result: Shift) -> None:
    """Displace every corner of a ring along its own radius."""
    ring = shift.ring
    axes = list(PLANE_AXES[ring.normal])
    target = ArcTarget(ring.centre, ring.radius + shift.delta, shift.feature if shift.wall else "")
    touched = result.touched.setdefault(shift.feature, set())
    for row in ring.rows:
        if moves.motion[row] != Motion.LINE:
            result.arcs[row] = target
        touched.add(row)
        for at, point in ((row - 1, moves.start[row]), (row, moves.end[row])):
            old = point[axes] * GRAIN
            offset = old - ring.centre
            new = ring.centre + offset * ((ring.radius + shift.delta) / np.hypot(*offset))
            vector = [0.0, 0.0, 0.0]
            for axis, value in zip(axes, new - old, strict=True):
                vector[axis] = float(value)
            anchor = Anchor(at, (vector[0], vector[1], vector[2]), shift.feature, ring.normal, ring.frame)
            before = anchors.get(at)
            if before is not None and not _same(before.vector, anchor.vector):
                result.obstacles.append(_shared(shift.feature))
                if before.feature:
                    result.obstacles.append(_shared(before.feature))
            anchors[at] = anchor
            if at >= 0:
                result.vectors[at] = anchor.vector


def _shared(feature: str) -> Obstacle:
    return Obstacle(
        feature, "would-collide", "one point of the path is the contact of two circles that differ"
    )


def _same(a: Vector, b: Vector) -> bool:
    return max(abs(p - q) for p, q in zip(a, b, strict=True)) < 1e-6


class Blocked(Exception):
    """The path between two rings cannot follow; carries the reason and the sentence."""

    def __init__(self, reason: Reason, why: str) -> None:
        super().__init__(why)
        self.reason: Reason = reason
        self.why = why


def _follow(moves: Moves, left: Anchor | None, right: Anchor | None, rows: range, result: Shift) -> None:
    """Let the moves between two held points follow them."""
    try:
        vectors, stretched = resolve(moves, list(rows), left, right)
        for row in stretched:
            if moves.motion[row] in (Motion.CW, Motion.CCW):
                a = left.vector if left and row - 1 == left.row else vectors.get(row - 1, _STILL)
                b = right.vector if right and row == right.row else vectors.get(row, _STILL)
                result.arcs[row] = _stretched_arc(moves, row, a, b)
    except Blocked as blocked:
        for anchor in (left, right):
            if anchor and anchor.feature:
                result.obstacles.append(Obstacle(anchor.feature, blocked.reason, blocked.why))
        return
    result.vectors.update(vectors)
    for anchor in (left, right):
        if anchor and anchor.feature:
            result.touched[anchor.feature].update((*vectors, *stretched))


def _kinds(moves: Moves, rows: Sequence[int], anchor: Anchor) -> list[str]:
    """How each move between two rings can follow, seen from one of them.

    upright, straight, arc and rapid can be edited; away goes to a place of its own from wherever it
    starts (home, a drilled hole, another work offset), but its end cannot be edited; blocked can
    neither; datum counts in a frame that was set from a position.
    """
    return [_kind(moves, row, anchor) for row in rows]


def _kind(moves: Moves, row: int, anchor: Anchor) -> str:
    first, second = PLANE_AXES[anchor.normal]
    mask = (1 << first) | (1 << second)
    motion = int(moves.motion[row])
    frame = moves.states[int(moves.state[row])].frame
    if frame != anchor.frame:
        return "datum" if "+" in moves.frames[frame] else "away"
    if motion == Motion.OTHER and not _goes_home(moves, row):
        return "blocked"
    if (int(moves.end_known[row]) & mask) != mask or motion == Motion.CYCLE:
        return "away"
    if not moves_in_plane(moves, row, anchor.normal):
        return "upright"
    if motion == Motion.OTHER:
        return "blocked"
    if motion == Motion.RAPID:
        return "rapid"
    if motion == Motion.LINE:
        return "straight"
    sound = moves.arcs.fault[int(np.searchsorted(moves.arcs.row, row))] == ArcFault.NONE
    return "arc" if sound else "blocked"


def _goes_home(moves: Moves, row: int) -> bool:
    """Whether the block goes home or to machine coordinates (G28, G30, G53): from anywhere to one place."""
    program = moves.program
    words = program.words_of(int(moves.line[row]))
    return any(program.letter[w] == ord("G") and program.value[w] // PER_UNIT in (28, 30, 53) for w in words)


def resolve(
    moves: Moves, rows: list[int], left: Anchor | None, right: Anchor | None
) -> tuple[dict[int, Vector], list[int]]:
    """Displacements of the ends between two held points, and the rows that take up the difference.

    `left` and `right` are None at the program's ends. Raises Blocked where a move in the way cannot be
    edited or read.
    """
    if left and right and left.frame == right.frame and left.normal == right.normal:
        kinds = _kinds(moves, rows, left)
        if not set(kinds) - {"straight", "arc"}:
            return _link(moves, rows, kinds, left.vector, right.vector)
    leave, enter = -1, len(rows)
    vectors: dict[int, Vector] = {}
    if left and left.vector != _STILL:
        leave = _absorber(_kinds(moves, rows, left), LEAVING)
        vectors.update(dict.fromkeys(rows[:leave], left.vector))
    if right and right.vector != _STILL:
        enter = len(rows) - 1 - _absorber(_kinds(moves, rows, right)[::-1], ENTERING)
        vectors.update(dict.fromkeys(rows[max(enter, 0) : -1], right.vector))
    if right:
        vectors.pop(rows[-1], None)  # the next ring holds it
    meet = leave > enter or (leave == len(rows) and right) or (enter == -1 and left)
    if meet and not _same(left.vector if left else _STILL, right.vector if right else _STILL):
        raise Blocked("would-collide", "no move between two circles can take up their difference")
    return vectors, [rows[k] for k in (leave, enter) if 0 <= k < len(rows)]


#: kinds of moves that take up a difference behind a plunge or retract, when leaving and when entering.
LEAVING = ("rapid", "straight", "away")
ENTERING = ("rapid", "straight")


def _absorber(kinds: Sequence[str], able: Sequence[str]) -> int:
    """Index of the move, seen from the ring, that takes up the difference; len(kinds) where none does.

    In a lead that is the outermost straight; where there is none, plunge and rapid travel too and the
    first move beyond that goes anywhere in the plane takes it up. In a spiral, too long for a lead, the arc
    that meets the ring does. A holding tab may end where the lead begins, so moves up and down on the ring
    come first.
    """
    first = next((k for k, kind in enumerate(kinds) if kind != "upright"), len(kinds))
    lead = next(
        (k for k, kind in enumerate(kinds) if k >= first and kind not in ("straight", "arc")), len(kinds)
    )
    straights = [k for k, kind in enumerate(kinds[:lead]) if kind == "straight"]
    if straights:
        chosen = straights[-1] if lead - first <= LONGEST_LEAD else straights[0]
        if chosen - first < LONGEST_LEAD:
            return chosen
    if lead - first > LONGEST_LEAD:
        return first  # a spiral that runs into the ring: its last arc links, and keeps its sweep
    for k in range(lead, len(kinds)):
        if kinds[k] in able:
            return k
        if kinds[k] == "datum":
            raise Blocked("unsupported-mode", "a datum is set before the path has left the circle")
        if kinds[k] == "arc":
            raise Blocked("would-collide", "an arc follows the plunge or retract beside the circle")
        if kinds[k] != "upright":
            raise Blocked("position-unknown", "a move that meets the circle cannot be read or changed")
    return len(kinds)


def _link(
    moves: Moves, rows: list[int], kinds: Sequence[str], start: Vector, end: Vector
) -> tuple[dict[int, Vector], list[int]]:
    """A link between two rings: its longest straight takes up the difference, else the arcs that touch."""
    if not rows:
        return {}, []
    lengths = [float(np.abs(moves.end[row] - moves.start[row]).sum()) for row in rows]
    straights = [k for k, kind in enumerate(kinds) if kind == "straight"]
    if straights and len(rows) <= LONGEST_LEAD:
        k = max(straights, key=lambda k: lengths[k])
        leave, enter = k, k
    elif straights and straights[0] < LONGEST_LEAD and straights[-1] >= len(rows) - LONGEST_LEAD:
        leave, enter = straights[0], straights[-1]
    elif not straights:
        leave, enter = 0, len(rows) - 1
    else:
        raise Blocked("would-collide", "the path runs on from the circle into other work without a straight")
    vectors = {row: start for row in rows[:leave] if start != _STILL}
    vectors.update({row: end for row in rows[enter:-1] if end != _STILL})
    return vectors, [rows[leave], rows[enter]]


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
    new = new_a + ratio * (centre - a)
    return ArcTarget((new.real, new.imag), abs(ratio) * float(moves.arcs.radius[k]))


def _translate_arcs(moves: Moves, ring_rows: set[int], result: Shift) -> None:
    """Lead arcs travel with the contact point: the same vector for both ends and the centre."""
    for row, vector in list(result.vectors.items()):
        for arc in (row, row + 1):
            if arc in result.arcs or arc in ring_rows or arc >= len(moves):
                continue
            if moves.motion[arc] not in (Motion.CW, Motion.CCW):
                continue
            k = int(np.searchsorted(moves.arcs.row, arc))
            axes = PLANE_AXES[moves.states[int(moves.state[arc])].normal]
            old = moves.arcs.centre[k]
            new = (float(old[0]) + vector[axes[0]], float(old[1]) + vector[axes[1]])
            result.arcs[arc] = ArcTarget(new, float(moves.arcs.radius[k]))


def ends_of(moves: Moves, vectors: Mapping[int, Vector]) -> dict[int, Vector]:
    """New end positions (mm) by row."""
    ends = {}
    for row, vector in vectors.items():
        old = moves.end[row] * GRAIN
        ends[row] = (float(old[0] + vector[0]), float(old[1] + vector[1]), float(old[2] + vector[2]))
    return ends
