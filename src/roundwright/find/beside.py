"""Cutter compensation: where the tool's centre runs beside a contour that is programmed instead of it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from roundwright.find.states import by_state
from roundwright.settings import Cutter
from roundwright.trace.moves import Moves, State

Floats = NDArray[np.float64]


def aside(
    moves: Moves, cutters: Mapping[int, Cutter | None], row: NDArray[np.intp], *, contour: bool
) -> tuple[Floats, NDArray[np.bool_]]:
    """How far left of its contour (k,) the tool's centre runs, mm, and which moves change that.

    G41 keeps the tool left of the contour, G42 right of it (NIST IR 6556, appendix B). The move that takes
    compensation up or cancels it runs from beside the contour onto it or back; just where, the control
    decides. Nothing is aside where the compensated path is a wear offset on the centre's path.
    """
    if not contour or not len(row):
        return np.zeros(len(row)), np.zeros(len(row), dtype=bool)
    side, before = (by_state(moves, at, _side) for at in (row, np.maximum(row - 1, 0)))

    def radius(state: State) -> float:
        cutter = cutters.get(state.section)
        return cutter.diameter / 2 if cutter else 0.0

    return side * by_state(moves, row, radius), side != np.where(row > 0, before, 0.0)


def _side(state: State) -> float:
    return {41: 1.0, 42: -1.0}.get(state.compensation, 0.0)


def offset_lines(start: Floats, end: Floats, left: Floats) -> tuple[Floats, Floats]:
    """Straight moves (k, 2) moved to their left."""
    along = end - start
    length = np.hypot(along[:, 0], along[:, 1])
    unit = along / np.where(length > 0, length, 1.0)[:, None]
    shift = left[:, None] * np.column_stack([-unit[:, 1], unit[:, 0]])
    return start + shift, end + shift


def offset_arcs(
    start: Floats, end: Floats, centre: Floats, radius: Floats, sweep: Floats, left: Floats
) -> tuple[Floats, Floats, Floats]:
    """Arcs moved to their left about the same centre: their ends and radii (k,), 0 where nothing is left."""
    new = np.clip(radius - left * np.sign(sweep), 0.0, None)
    scale = (new / np.where(radius > 0, radius, 1.0))[:, None]
    return centre + (start - centre) * scale, centre + (end - centre) * scale, new


def upright_beside(
    row: NDArray[np.intp],
    ends: tuple[Floats, Floats],
    left: Floats,
    upright: NDArray[np.bool_],
    sure: NDArray[np.bool_],
) -> tuple[tuple[Floats, Floats], NDArray[np.bool_]]:
    """Starts and ends (k, 2) of the tool's centre, with those of the `upright` moves beside their contour.

    Such a move goes only up or down: the tool stands where the move before has left it, else where the next
    one begins. `sure` tells the moves whose own ends are known. Also tells the upright moves (k,) for which
    neither is.
    """
    index = np.arange(len(row))
    before = np.maximum.accumulate(np.where(upright, 0, index))
    behind = np.minimum.accumulate(np.where(upright, len(row) - 1, index)[::-1])[::-1]
    at, lost = ends[0].copy(), upright.copy()
    for neighbour, point in ((behind, ends[0]), (before, ends[1])):
        joined = upright & ~upright[neighbour] & sure[neighbour] & (left == left[neighbour])
        joined &= row - row[neighbour] == index - neighbour
        at[joined] = point[neighbour[joined]]
        lost &= ~joined
    keep = ~upright[:, None]
    return (np.where(keep, ends[0], at), np.where(keep, ends[1], at)), lost
