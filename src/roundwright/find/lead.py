"""Leads: the moves between a ring and the plunge, retract or rapid beyond."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import pairwise
from math import hypot, inf

from msgspec import Struct

from roundwright.trace.moves import PLANE_AXES, Motion, Moves
from roundwright.units import GRAIN

#: a chain of more moves than this is no lead but other work.
LONGEST_LEAD = 4

#: plain numbers: an enumeration's members are slow to look up, and here it is done move by move.
_CURVED = (int(Motion.CW), int(Motion.CCW))
CUTTING = (int(Motion.LINE), *_CURVED)


def moves_in_plane(moves: Moves, row: int, normal: int) -> bool:
    """Whether the move goes anywhere in the plane: arcs do, and moves to a place from nobody knows where."""
    if int(moves.motion[row]) in _CURVED:  # a scalar of numpy's is slow to compare
        return True
    first, second = PLANE_AXES[normal]
    if int(moves.end_known[row]) & ~int(moves.start_known[row]) & ((1 << first) | (1 << second)):
        return True
    start, end = moves.start, moves.end
    return bool(start[row, first] != end[row, first] or start[row, second] != end[row, second])


def is_lead(moves: Moves, row: int, normal: int) -> bool:
    """Whether the move can be part of a lead: it cuts, and not only up or down."""
    return int(moves.motion[row]) in CUTTING and moves_in_plane(moves, row, normal)


class Lead(Struct, frozen=True):
    """The chain beside a ring, from the ring outwards; `far` is its far end in the plane, mm.

    `far` is None where the far end is a place that the program does not say. `open_end` tells that the
    chain ends in a plunge, retract, rapid or the program's end, and not on another ring or in other work.
    """

    rows: tuple[int, ...]
    far: tuple[float, float] | None
    open_end: bool


def lead(
    moves: Moves,
    row: int,
    step: int,
    normal: int,
    ring_rows: Collection[int],
    short: float = 0.0,
    top: float = inf,
) -> Lead | None:
    """The chain before (`step` -1) or behind (`step` 1) a ring's outermost move; None where there is none.

    A chain of more than `LONGEST_LEAD` moves counts where its moves together are no longer than `short`
    (mm), as where a lead comes down in many small pieces; else it is other work. What never goes below
    `top` (mm) runs in the air, and is none of it.
    """
    rows: list[int] = []
    length, count, (first, second) = 0.0, len(moves), PLANE_AXES[normal]
    at = row + step
    while 0 <= at < count and at not in ring_rows and int(moves.motion[at]) in CUTTING:
        begin, end = moves.start[at].tolist(), moves.end[at].tolist()
        stands = begin[first] == end[first] and begin[second] == end[second]
        if (stands and not moves_in_plane(moves, at, normal)) or min(
            begin[normal], end[normal]
        ) * GRAIN > top:
            break
        rows.append(at)
        length += hypot((end[first] - begin[first]) * GRAIN, (end[second] - begin[second]) * GRAIN)
        at += step
        if len(rows) > LONGEST_LEAD and length > short:
            return None
    if not rows:
        return None
    open_end = not (0 <= at < count and at in ring_rows)
    return Lead(tuple(rows), _far(moves, rows, step, normal), open_end)


def _far(moves: Moves, rows: Sequence[int], step: int, normal: int) -> tuple[float, float] | None:
    """The far end of a chain; None where a move of it comes from nobody knows where."""
    first, second = PLANE_AXES[normal]
    mask = (1 << first) | (1 << second)
    for row in rows:
        if (int(moves.start_known[row]) ^ int(moves.end_known[row])) & mask:
            return None
    position = (moves.start if step < 0 else moves.end)[rows[-1]].tolist()
    return position[first] * GRAIN, position[second] * GRAIN


def laps(rows: tuple[int, ...]) -> list[tuple[int, int]]:
    """First and last row of each unbroken run of a ring's moves."""
    apart = [(a, b) for a, b in pairwise(rows) if b - a > 1]
    return list(zip((rows[0], *(b for _, b in apart)), (*(a for a, _ in apart), rows[-1]), strict=True))
