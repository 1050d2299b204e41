"""How the path between two rings follows them: which moves travel along, and which take up the difference."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache

import numpy as np
from msgspec import Struct

from roundwright.find.lead import LONGEST_LEAD
from roundwright.plan.kind import Kind, Step, Steps
from roundwright.plan.plan import Reason

Vector = tuple[float, float, float]
STILL: Vector = (0.0, 0.0, 0.0)
#: displacements (mm) nearer than this in each axis are one.
SAME = 1e-6

_CUTS = ("straight", "arc")
_PLAIN = frozenset(("upright", "straight", "rapid"))
#: what can take up a difference behind a ring, and before one.
_LEAVE: tuple[Kind, ...] = ("rapid", "straight", "away")
_ENTER: tuple[Kind, ...] = ("rapid", "straight")
#: an arc that goes round farther than this runs on its own way, as the turns of a spiral do.
_SPIRAL = np.radians(150.0)


class Blocked(Exception):
    """The path between two rings cannot follow; carries the reason, the sentence, and whose path it is.

    `feature` is empty where it is the path of both.
    """

    def __init__(self, reason: Reason, why: str, feature: str = "") -> None:
        super().__init__(why)
        self.reason: Reason = reason
        self.why = why
        self.feature = feature


class Anchor(Struct, frozen=True):
    """A point of the path (the end of row `row`) that a ring holds, and its displacement.

    `feature` is empty where the ring stays. A chain beside it is a lead while it has few moves or is
    not longer than `short` mm.
    """

    row: int
    vector: Vector
    feature: str
    normal: int
    frame: int
    short: float = 0.0

    @property
    def moves(self) -> bool:
        """Whether the point is displaced."""
        return self.vector != STILL


def same(a: Vector, b: Vector) -> bool:
    """Whether two displacements are one."""
    return abs(a[0] - b[0]) < SAME and abs(a[1] - b[1]) < SAME and abs(a[2] - b[2]) < SAME


def follow(
    steps: Steps, rows: range, left: Anchor | None, right: Anchor | None
) -> tuple[dict[int, Vector], list[int]]:
    """Displacements of the ends between two held points, and the rows that take up the difference.

    `left` and `right` are None at the program's ends. Raises Blocked where a move in the way cannot be
    edited or read.
    """
    if not rows:
        return {}, []
    ends = _plain_ends(steps, rows, left, right)
    if ends is None and left and right and _is_link(steps, rows, left, right):
        return _link(steps, rows, left, right)
    leave, enter = ends or _ends(steps, rows, left, right)
    vectors: dict[int, Vector] = {}
    if left and left.moves:
        vectors.update(dict.fromkeys(rows[:leave], left.vector))
    if right and right.moves:
        vectors.update(dict.fromkeys(rows[max(enter, 0) : -1], right.vector))
    if right:
        vectors.pop(rows[-1], None)  # the next ring holds it
    meet = leave > enter or (leave == len(rows) and right) or (enter == -1 and left)
    if meet and not same(left.vector if left else STILL, right.vector if right else STILL):
        raise Blocked("would-collide", "no move between two circles can take up their difference")
    return vectors, [rows[k] for k in (leave, enter) if 0 <= k < len(rows)]


def _plain_ends(
    steps: Steps, rows: range, left: Anchor | None, right: Anchor | None
) -> tuple[int, int] | None:
    """As `_ends`, where the kinds of moves alone tell, as from bore to bore by the thousand; else None."""
    anchor = left or right
    if anchor is None or (left and right and (left.normal, left.frame) != (right.normal, right.frame)):
        return None
    kinds = steps.kinds(rows, anchor.normal, anchor.frame)
    return _ends_of_kinds(kinds, bool(left and left.moves), bool(right and right.moves))


@lru_cache(maxsize=1024)
def _ends_of_kinds(kinds: tuple[Kind, ...], leaves: bool, enters: bool) -> tuple[int, int] | None:
    """As `_ends`; None where lengths or turns may count, or something may stand in the way."""
    cuts = kinds.count("straight")
    if cuts > LONGEST_LEAD or cuts == len(kinds) or not _PLAIN.issuperset(kinds):
        return None
    chain = [Step(kind, 0.0, 0.0, False) for kind in kinds]
    leave = _taken_up(chain, 0.0, "", _LEAVE) if leaves else -1
    return leave, len(kinds) - 1 - _taken_up(chain[::-1], 0.0, "", _ENTER) if enters else len(kinds)


def _ends(steps: Steps, rows: range, left: Anchor | None, right: Anchor | None) -> tuple[int, int]:
    """Which moves between two held points take up the difference, by index: behind the one, before the other.

    -1 and the number of moves where a point stays, and so takes nothing along.
    """
    leave, enter = -1, len(rows)
    if left and left.moves:
        chain = (steps(row, left.normal, left.frame) for row in rows)
        leave = _taken_up(chain, left.short, left.feature, _LEAVE)
    if right and right.moves:
        chain = (steps(row, right.normal, right.frame) for row in rows[::-1])
        enter = len(rows) - 1 - _taken_up(chain, right.short, right.feature, _ENTER)
    return leave, enter


def _taken_up(steps: Iterable[Step], short: float, feature: str, able: Sequence[Kind]) -> int:
    """Index of the move, from the ring outwards, that takes up the difference; their number where none does.

    In a lead that is the outermost straight. Where there is none, plunge and rapid travel too and the
    first move beyond that goes anywhere in the plane takes it up. In a spiral, and where no plunge can
    travel, the arc that meets the ring does. Moves up and down on the ring come first: a holding tab may
    end where the lead begins.
    """
    chain = Chain()
    k = -1
    for k, step in enumerate(steps):
        kind = step.kind
        if kind in _CUTS and not chain.ended:
            chain.add(k, step.sweep, step.length, short)
            if chain.long:
                return chain.nearest
            continue
        chain.ended = chain.first is not None
        settled = chain.settled
        if settled is not None:
            return settled
        if kind in able:
            return k
        if kind == "arc" and chain.first is not None:
            return chain.first
        if kind != "upright":
            raise _obstacle(kind, feature)
    settled = chain.settled
    return k + 1 if settled is None else settled


def _obstacle(kind: Kind, feature: str) -> Blocked:
    if kind == "datum":
        return Blocked("unsupported-mode", "a datum is set before the path has left the circle", feature)
    if kind == "arc":
        return Blocked("would-collide", "an arc follows the plunge or retract on the circle", feature)
    return Blocked("position-unknown", "a move that meets the circle cannot be read or changed", feature)


class Chain(Struct):
    """The cuts between a ring and the plunge or retract beyond, seen from the ring outwards."""

    first: int | None = None
    straights: tuple[int, ...] = ()
    count: int = 0
    length: float = 0.0
    turns: int = 0
    ended: bool = False
    long: bool = False

    def add(self, k: int, sweep: float, length: float, short: float) -> None:
        """Take in the next move; `sweep` is 0 for a straight."""
        self.first = k if self.first is None else self.first
        self.count += 1
        self.length += length
        self.long = self.count > LONGEST_LEAD and self.length > short
        if sweep == 0.0 and not self.long:
            self.straights = (*self.straights, k)
        self.turns += sweep > _SPIRAL

    @property
    def nearest(self) -> int:
        """Where other work follows: the straight next to the ring, else the move that meets it."""
        return self.straights[0] if self.straights else self.first or 0

    @property
    def settled(self) -> int | None:
        """The move of a lead that takes up the difference; None where the whole lead travels."""
        if self.straights:
            return self.straights[-1]
        return self.first if self.turns > 1 else None


def _is_link(steps: Steps, rows: Sequence[int], left: Anchor, right: Anchor) -> bool:
    """Whether the path goes from one ring to the next in cuts alone."""
    if left.frame != right.frame or left.normal != right.normal:
        return False
    return all(steps(row, left.normal, left.frame).kind in _CUTS for row in rows)


def _link(
    steps: Steps, rows: Sequence[int], left: Anchor, right: Anchor
) -> tuple[dict[int, Vector], list[int]]:
    """A link between two rings: its longest straight takes up the difference, else the arcs that touch."""
    chain = [steps(row, left.normal, left.frame) for row in rows]
    lengths = [step.length for step in chain]
    straights = [k for k, step in enumerate(chain) if step.kind == "straight"]
    if straights and (len(rows) <= LONGEST_LEAD or sum(lengths) <= max(left.short, right.short)):
        leave = enter = max(straights, key=lambda k: lengths[k])
    elif straights and straights[0] < LONGEST_LEAD and straights[-1] >= len(rows) - LONGEST_LEAD:
        leave, enter = straights[0], straights[-1]
    else:
        leave, enter = 0, len(rows) - 1
    vectors = dict.fromkeys(rows[:leave], left.vector) if left.moves else {}
    if right.moves:
        vectors.update(dict.fromkeys(rows[enter:-1], right.vector))
    return vectors, [rows[leave], rows[enter]]
