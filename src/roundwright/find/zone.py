"""Zones: where circles are, on a grid, so that of a million moves only those near one are looked at."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from roundwright.find.states import by_state
from roundwright.trace.moves import PLANE_AXES, ArcFault, Arcs, Motion, Moves
from roundwright.units import GRAIN

#: cells of the grid along each axis, at most, where there are few squares, and the least width of one, mm.
_CELLS, _FEW, _LEAST = 256, 48, 1.0
#: moves in a row that are looked at together: what follows lies near.
_BLOCK = 64
#: arcs whose circles are looked at together.
_PORTION = 1 << 14

Floats = NDArray[np.float64]


class Zones(Struct, frozen=True, eq=False):
    """Squares in a plane, rounded up to cells of a grid.

    `filled` (x + 1, y + 1) counts the cells in any square left of and below each line of the grid.
    """

    origin: Floats  # (2,) mm
    width: float  # of a cell, mm
    filled: NDArray[np.int64]

    @classmethod
    def of(cls, centre: Floats, half: Floats) -> Zones:
        """The squares about some centres (m, 2) with half their sides (m,), mm; m > 0."""
        low, high = centre - half[:, None], centre + half[:, None]
        origin = low.min(axis=0)
        extent = high.max(axis=0) - origin
        most = min(_CELLS, _FEW + len(centre) // 2)
        width = max(float(extent.max()) / most, _LEAST)
        cells = np.floor(extent / width).astype(np.intp) + 1
        first, last = (np.floor((corner - origin) / width).astype(np.intp) for corner in (low, high))
        edges = np.zeros(cells + 1, np.int64)
        for x, sign in ((first[:, 0], 1), (last[:, 0] + 1, -1)):
            np.add.at(edges, (x, first[:, 1]), sign)
            np.add.at(edges, (x, last[:, 1] + 1), -sign)
        covered = edges.cumsum(axis=0).cumsum(axis=1)[:-1, :-1] > 0
        filled = np.zeros(cells + 1, np.int64)
        filled[1:, 1:] = covered.cumsum(axis=0, dtype=np.int64).cumsum(axis=1)
        return cls(origin, width, filled)

    @classmethod
    def along(cls, moves: Moves, row: NDArray[np.intp], normal: int, beyond: float) -> Zones:
        """The squares about some moves (m,), with so much (mm) beyond them."""
        axes = list(PLANE_AXES[normal])
        start, end = (place[row][:, axes] * GRAIN for place in (moves.start, moves.end))
        centre, half = (start + end) / 2, np.abs(end - start).max(axis=1) / 2
        arc = np.flatnonzero(np.isin(moves.arcs.row, row) & (moves.arcs.fault == ArcFault.NONE))
        at = np.searchsorted(row, moves.arcs.row[arc])
        centre[at] = moves.arcs.centre[arc]
        half[at] = np.abs(np.concatenate((start[at], end[at]), axis=1) - np.tile(centre[at], 2)).max(axis=1)
        half[at] = np.maximum(half[at], moves.arcs.radius[arc])
        return cls.of(centre, half + beyond)

    def meet(self, low: Floats, high: Floats) -> NDArray[np.bool_]:
        """Which of the boxes (k, 2) may meet a square."""
        most = np.array(self.filled.shape) - 1
        first = np.clip(np.floor((low - self.origin) / self.width), 0, most).astype(np.intp)
        past = np.clip(np.floor((high - self.origin) / self.width) + 1, 0, most).astype(np.intp)
        past = np.maximum(past, first)
        (a, b), (c, d) = first.T, past.T
        inside = self.filled[c, d] - self.filled[a, d] - self.filled[c, b] + self.filled[a, b]
        return np.asarray(inside > 0)


def moves_near(moves: Moves, normal: int, zones: Zones) -> NDArray[np.bool_]:
    """Which moves (n,) may come into a zone of the plane square to `normal`, by blocks.

    Arcs of another plane may, and all that is neither line nor arc.
    """
    near = moves.motion > Motion.CCW
    edges = np.arange(0, len(moves), _BLOCK)
    if not len(edges):
        return near
    low, high = np.empty((len(edges), 2)), np.empty((len(edges), 2))
    for k, axis in enumerate(PLANE_AXES[normal]):
        ends = moves.start[:, axis], moves.end[:, axis]
        low[:, k] = np.minimum(*(np.minimum.reduceat(end, edges) for end in ends)) * GRAIN
        high[:, k] = np.maximum(*(np.maximum.reduceat(end, edges) for end in ends)) * GRAIN
    for first in range(0, len(moves.arcs.row), _PORTION):
        arc = first + np.flatnonzero(moves.arcs.fault[first : first + _PORTION] == ArcFault.NONE)
        row = moves.arcs.row[arc]
        flat = by_state(moves, row, lambda state: state.normal) == normal
        near[row[~flat]] = True
        _widen(low, high, moves.arcs, arc[flat])
    for block in np.flatnonzero(zones.meet(low, high)).tolist():
        near[block * _BLOCK : (block + 1) * _BLOCK] = True
    return np.asarray(near)


def _widen(low: Floats, high: Floats, arcs: Arcs, arc: NDArray[np.intp]) -> None:
    """Widen the boxes (k, 2) of blocks by the circles of some arcs, in order."""
    if not len(arc):
        return
    block = arcs.row[arc] // _BLOCK
    first = np.flatnonzero(np.append(True, block[1:] != block[:-1]))
    block, centre, radius = block[first], arcs.centre[arc], arcs.radius[arc, None]
    low[block] = np.minimum(low[block], np.minimum.reduceat(centre - radius, first))
    high[block] = np.maximum(high[block], np.maximum.reduceat(centre + radius, first))
