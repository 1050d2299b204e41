"""The pieces that circles of chords are made of: cutting moves of one plane, with how they turn."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find.ring import COARSEST, FULL_TURN
from roundwright.trace.moves import PLANE_AXES, ArcFault, Motion, Moves
from roundwright.units import GRAIN, GRAIN_DIGITS, INCH, MICROMETRE

#: pieces looked at together, about; straight moves so long (mm) turn by what rounding makes of them, at most
#: a tenth of a radian.
_STRETCH, _LONG = 1 << 16, 1.0
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
    joined: NDArray[np.bool_]
    turn: NDArray[np.float64]  # change of direction at the piece's beginning, its own sweep included
    noise: NDArray[np.float64]  # how much of that change rounding alone can make
    tolerance: NDArray[np.float64]  # how far apart its block's decimals leave two positions


def gather_pieces(moves: Moves, normal: int) -> Iterator[Pieces]:
    """The pieces of the plane square to `normal`, in stretches that no circle reaches across.

    A stretch at a time, for the pieces of a carving take more room than all else of it.
    """
    axes = PLANE_AXES[normal]
    mask = (1 << axes[0]) | (1 << axes[1])
    motion = moves.motion
    in_plane = np.array([state.normal == normal for state in moves.states])[moves.state]
    moving = moves.start[:, axes[0]] != moves.end[:, axes[0]]
    moving |= moves.start[:, axes[1]] != moves.end[:, axes[1]]
    known = (moves.start_known & moves.end_known & mask) == mask
    curved = np.zeros(len(moves), dtype=bool)
    curved[moves.arcs.row[moves.arcs.fault == ArcFault.NONE]] = True
    cuts = known & in_plane & (curved | ((motion == Motion.LINE) & moving))
    # what breaks a run: any other move that goes somewhere, and any that is not read
    breaks = ~cuts & (moving | ~known | (motion > Motion.CCW))
    row = np.flatnonzero(cuts)
    joined = np.zeros(len(row), dtype=bool)
    joined[1:] = np.diff(np.cumsum(breaks, dtype=np.int32)[row]) == 0
    joined[1:] &= moves.state[row[1:]] == moves.state[row[:-1]]
    low = 0
    while low < len(row):
        high = _stretch_end(moves, row, joined, low + _STRETCH, axes)
        yield _pieces(moves, normal, row[low:high], joined[low:high])
        low = high


def _stretch_end(
    moves: Moves, row: NDArray[np.int64], joined: NDArray[np.bool_], at: int, axes: tuple[int, int]
) -> int:
    """The first piece from `at` on that surely begins a run: not joined, or behind a square corner or more.

    The corner is one of straight moves so long that rounding has no part in it.
    """
    for low in range(at, len(row), _STRETCH):
        part = slice(low - 1, low + _STRETCH)
        along = np.stack(
            [(moves.end[row[part], axis] - moves.start[row[part], axis]) * GRAIN for axis in axes]
        )
        straight = (moves.motion[row[part]] == Motion.LINE) & (np.hypot(*along) >= _LONG)
        square = (along[:, 1:] * along[:, :-1]).sum(axis=0) <= 0
        begins = ~joined[part][1:] | (square & straight[1:] & straight[:-1])
        if begins.any():
            return low + int(np.argmax(begins))
    return len(row)


def _pieces(moves: Moves, normal: int, row: NDArray[np.int64], joined: NDArray[np.bool_]) -> Pieces:
    """These moves as pieces; the first is joined to none."""
    axes = list(PLANE_AXES[normal])
    joined = joined.copy()
    joined[:1] = False
    arcs, state = moves.arcs, moves.state[row]
    start, end = (place[row][:, axes] * GRAIN for place in (moves.start, moves.end))
    sweep, centre = np.zeros(len(row)), np.zeros((len(row), 2))
    if len(arcs.row):
        arc = np.minimum(np.searchsorted(arcs.row, row), len(arcs.row) - 1)
        curved = arcs.row[arc] == row
        sweep[curved], centre[curved] = arcs.sweep[arc[curved]], arcs.centre[arc[curved]]
    unit = _UNITS.take(moves.decimals[row]) * np.where(_inch(moves)[state], INCH, 1.0)
    turn, noise = _turns(np.minimum(unit, COARSEST), start, end, sweep, centre)
    return Pieces(
        row=row,
        start=start,
        end=end,
        z=np.column_stack([moves.start[row, normal], moves.end[row, normal]]) * GRAIN,
        sweep=sweep,
        middle=_middles(start, end, sweep, centre),
        joined=joined,
        turn=turn,
        noise=noise,
        tolerance=np.clip(2 * unit, MICROMETRE, COARSEST),
    )


def _inch(moves: Moves) -> NDArray[np.bool_]:
    return np.array([state.inch for state in moves.states])


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
