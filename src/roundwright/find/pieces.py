"""The pieces that circles of chords are made of: cutting moves of one plane, with how they turn."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find.ring import COARSEST, FULL_TURN, r_form_wander
from roundwright.find.states import by_state
from roundwright.trace.moves import PLANE_AXES, ArcFault, Motion, Moves
from roundwright.units import GRAIN, GRAIN_DIGITS, INCH, MICROMETRE

#: pieces looked at together, about.
_STRETCH = 1 << 14
#: straight moves of so many units turn by what rounding makes of them, at most a tenth of a radian.
_LONG = 40
#: a circle turns by so many right angles at least between its first chord and its last.
_QUARTERS = 3
#: the unit of the last of so many decimals.
_UNITS = 10.0 ** -np.arange(GRAIN_DIGITS + 1.0)


class Pieces(Struct, frozen=True, eq=False):
    """The cutting moves of one plane that go anywhere in it, in order (shape k): mm, radians.

    `joined` tells of each piece whether it goes on where the one before it ended, in the same state.
    """

    row: NDArray[np.int64]
    start: NDArray[np.float64]  # (k, 2)
    end: NDArray[np.float64]  # (k, 2)
    z: NDArray[np.float64]  # (k, 2)
    sweep: NDArray[np.float64]  # 0 for straight moves
    middle: NDArray[np.float64]  # (k, 2) half way along
    blur: NDArray[np.float64]  # how far the written numbers of R form leave the middle open, else 0
    joined: NDArray[np.bool_]
    turn: NDArray[np.float64]  # change of direction at the piece's beginning, its own sweep included
    noise: NDArray[np.float64]  # how much of that change rounding alone can make
    tolerance: NDArray[np.float64]  # how far apart its block's decimals leave two positions


def gather_pieces(moves: Moves, normal: int) -> Iterator[Pieces]:
    """The pieces of the plane square to `normal`, in stretches that no circle reaches across.

    A stretch at a time: so its columns stay in the processor's cache. Stretches that nowhere turn far enough
    for a circle are left out.
    """
    low = 0
    while low < len(moves):
        high = _stretch_end(moves, normal, low + _STRETCH)
        cuts, breaks = _cuts_and_breaks(moves, normal, slice(low, high))
        at = np.flatnonzero(cuts)
        row = at + low
        joined = np.zeros(len(row), dtype=bool)
        joined[1:] = np.diff(np.cumsum(breaks, dtype=np.int32)[at]) == 0
        joined[1:] &= moves.state[row[1:]] == moves.state[row[:-1]]
        if _may_go_round(moves, row, joined, PLANE_AXES[normal]):
            yield _pieces(moves, normal, row, joined)
        low = high


def _cuts_and_breaks(moves: Moves, normal: int, part: slice) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which of a part of the moves (k,) are pieces of the plane, and which break a run of them."""
    axes = PLANE_AXES[normal]
    mask = (1 << axes[0]) | (1 << axes[1])
    motion, arcs = moves.motion[part], moves.arcs
    in_plane = by_state(moves, part, lambda state: state.normal == normal)
    moving = np.zeros(len(motion), dtype=bool)
    for axis in axes:
        moving |= moves.start[part, axis] != moves.end[part, axis]
    known = (moves.start_known[part] & moves.end_known[part] & mask) == mask
    curved = np.zeros(len(motion), dtype=bool)
    some = slice(*np.searchsorted(arcs.row, (part.start, part.stop)))
    curved[arcs.row[some][arcs.fault[some] == ArcFault.NONE] - part.start] = True
    cuts = known & in_plane & (curved | ((motion == Motion.LINE) & moving))
    # what breaks a run: any other move that goes somewhere, and any that is not read
    return cuts, ~cuts & (moving | ~known | (motion > Motion.CCW))


def _stretch_end(moves: Moves, normal: int, at: int) -> int:
    """The first move from `at` on where a run surely begins: behind one that breaks it, or a square corner.

    The corner is one of straight moves so long that rounding has no part in it.
    """
    axes, size = PLANE_AXES[normal], 64
    while at < len(moves):
        part = slice(at - 1, min(at + size, len(moves)))
        cuts, breaks = _cuts_and_breaks(moves, normal, part)
        row = np.arange(part.start, part.stop)
        along = np.stack([moves.end[part, axis] - moves.start[part, axis] for axis in axes])
        long = cuts & (moves.motion[part] == Motion.LINE) & _is_long(moves, row, along)
        steps = along * GRAIN
        square = (steps[:, 1:] * steps[:, :-1]).sum(axis=0) <= 0
        begins = breaks[:-1] | (square & long[1:] & long[:-1])
        if begins.any():
            return at + int(np.argmax(begins))
        at, size = at + size, min(8 * size, _STRETCH)
    return len(moves)


def _may_go_round(
    moves: Moves, row: NDArray[np.int64], joined: NDArray[np.bool_], axes: tuple[int, int]
) -> bool:
    """Whether a circle may be among these pieces: a cheap look at where they head, by quarters.

    A piece of a circle heads into the quarter of the one before it or a neighbouring one, and between the
    first and the last at least `_QUARTERS` lie. True wherever arcs or rounding leave it open.
    """
    if not len(row):
        return False
    along = np.stack([moves.end[row, axis] - moves.start[row, axis] for axis in axes])
    if (moves.motion[row] != Motion.LINE).any() or not _is_long(moves, row, along).all():
        return True
    above, below = along[0] + along[1] > 0, along[0] - along[1] > 0
    quarter = (~above).view(np.int8) * np.int8(2) + (above ^ below).view(np.int8)  # +X, +Y, -X, -Y
    turns = np.diff(quarter) & 3
    at = np.flatnonzero((turns != 0) | ~joined[1:])
    turns = turns[at]
    heading = np.concatenate(([0], np.cumsum((turns == 1).astype(np.int64) - (turns == 3))))
    begins = np.concatenate(([0], np.flatnonzero((turns == 2) | ~joined[1:][at]) + 1))
    swing = np.maximum.reduceat(heading, begins) - np.minimum.reduceat(heading, begins)
    return bool((swing >= _QUARTERS).any())


def _is_long(moves: Moves, row: NDArray[np.int64], along: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which straight moves (k,) that go `along` (2, k), in counts, have a direction in spite of rounding."""
    length = np.maximum(*np.abs(along)) * GRAIN
    long: NDArray[np.bool_] = length >= _LONG * COARSEST
    doubtful = np.flatnonzero(~long)
    if len(doubtful):
        long[doubtful] = length[doubtful] >= _LONG * _unit(moves, row[doubtful])
    return long


def _unit(moves: Moves, row: NDArray[np.int64]) -> NDArray[np.float64]:
    """The unit of each move's last decimal, mm."""
    decimals = moves.decimals[row]
    units = _UNITS[decimals.astype(np.intp)] if np.ptp(decimals) else _UNITS[decimals[:1]]
    inches = by_state(moves, row, lambda state: INCH if state.inch else 1.0)
    return np.asarray(np.minimum(units * inches, COARSEST))


def _pieces(moves: Moves, normal: int, row: NDArray[np.int64], joined: NDArray[np.bool_]) -> Pieces:
    """These moves as pieces; the first is joined to none."""
    axes = list(PLANE_AXES[normal])
    joined = joined.copy()
    joined[:1] = False
    arcs = moves.arcs
    start, end = (place[row][:, axes] * GRAIN for place in (moves.start, moves.end))
    unit = _unit(moves, row)
    tolerance = np.clip(2 * unit, MICROMETRE, COARSEST)
    sweep, centre, blur = np.zeros(len(row)), np.zeros((len(row), 2)), np.zeros(len(row))
    if len(arcs.row):
        arc = np.minimum(np.searchsorted(arcs.row, row), len(arcs.row) - 1)
        curved = arcs.row[arc] == row
        sweep[curved], centre[curved] = arcs.sweep[arc[curved]], arcs.centre[arc[curved]]
        loose = np.flatnonzero(curved)[arcs.r_form[arc[curved]]]
        blur[loose] = r_form_wander(start[loose], end[loose], arcs.radius[arc[loose]], tolerance[loose])
    turn, noise = _turns(unit, start, end, sweep, centre)
    return Pieces(
        row=row,
        start=start,
        end=end,
        z=np.column_stack([moves.start[row, normal], moves.end[row, normal]]) * GRAIN,
        sweep=sweep,
        middle=_middles(start, end, sweep, centre),
        blur=blur,
        joined=joined,
        turn=turn,
        noise=noise,
        tolerance=tolerance,
    )


def _turns(
    unit: NDArray[np.float64],
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    sweep: NDArray[np.float64],
    centre: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Change of direction at each piece's beginning plus its own sweep, and what rounding makes of it."""
    along = end - start
    leave, length = np.arctan2(along[:, 1], along[:, 0]), np.hypot(along[:, 0], along[:, 1])
    arrive = leave.copy()
    curved = np.flatnonzero(sweep)
    out, back = (place[curved] - centre[curved] for place in (start, end))
    square = np.sign(sweep[curved]) * np.pi / 2
    leave[curved] = np.arctan2(out[:, 1], out[:, 0]) + square
    arrive[curved] = np.arctan2(back[:, 1], back[:, 0]) + square
    length[curved] = np.hypot(out[:, 0], out[:, 1])
    turn = np.zeros(len(start))
    turn[1:] = (leave[1:] - arrive[:-1] + np.pi) % FULL_TURN - np.pi
    blur = 2 * unit / np.maximum(length, unit / 2)
    noise = blur.copy()
    noise[1:] += blur[:-1]
    return turn + sweep, noise


def _middles(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    sweep: NDArray[np.float64],
    centre: NDArray[np.float64],
) -> NDArray[np.float64]:
    middle: NDArray[np.float64] = (start + end) / 2
    curved = np.flatnonzero(sweep)
    offset = start[curved] - centre[curved]
    angle = np.arctan2(offset[:, 1], offset[:, 0]) + sweep[curved] / 2
    radius = np.hypot(offset[:, 0], offset[:, 1])
    middle[curved] = centre[curved] + radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    return middle
