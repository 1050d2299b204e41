"""The pieces that circles of chords are made of: cutting moves of one plane, with how they turn."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find.arcs import COARSEST, r_form_wander, unit_of
from roundwright.find.calm import Calm, joined_pieces
from roundwright.find.ring import FULL_TURN
from roundwright.trace.moves import PLANE_AXES, Moves
from roundwright.units import GRAIN, MICROMETRE


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
    blur: NDArray[np.float64]  # how far rounding of R form leaves the middle open, else 0
    joined: NDArray[np.bool_]
    turn: NDArray[np.float64]  # change of direction at the piece's beginning, its own sweep included
    noise: NDArray[np.float64]  # how much of that change rounding alone can make
    unit: NDArray[np.float64]  # of its block's last decimal
    tolerance: NDArray[np.float64]  # how far apart its block's decimals leave two positions


def gather_pieces(moves: Moves, normal: int, calm: Calm) -> Iterator[Pieces]:
    """The pieces of the plane square to `normal`, in stretches that no circle reaches across.

    Those in which no circle can be are left out.
    """
    for part in calm.lively(moves, normal):
        row, joined = joined_pieces(moves, normal, part)
        if len(row):
            yield _pieces(moves, normal, row, joined)


def _pieces(moves: Moves, normal: int, row: NDArray[np.int64], joined: NDArray[np.bool_]) -> Pieces:
    """These moves as pieces; the first is joined to none."""
    axes = list(PLANE_AXES[normal])
    joined = joined.copy()
    joined[:1] = False
    arcs = moves.arcs
    start, end = (place[row][:, axes] * GRAIN for place in (moves.start, moves.end))
    unit = unit_of(moves, row)
    tolerance = np.clip(2 * unit, MICROMETRE, COARSEST)
    sweep, centre, blur = np.zeros(len(row)), np.zeros((len(row), 2)), np.zeros(len(row))
    if len(arcs.row):
        arc, curved = arcs.at(row)
        sweep[curved], centre[curved] = arcs.sweep[arc[curved]], arcs.centre[arc[curved]]
        loose = np.flatnonzero(curved)[arcs.r_form[arc[curved]]]
        blur[loose] = r_form_wander(start[loose], end[loose], arcs.radius[arc[loose]], unit[loose])
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
        unit=unit,
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
