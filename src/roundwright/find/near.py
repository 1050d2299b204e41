"""What lies near a point: a grid of cells, so that thousands of circles need not be compared in pairs."""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections import defaultdict
from collections.abc import Hashable, Iterator
from itertools import product
from math import floor, inf

import numpy as np
from numpy.typing import NDArray

#: mm: what is farther apart is never one centre; and how wide a cell is, so that few are looked into.
_REACH, _CELL = 0.5, 2.0
#: mm: what differs by more in its last coordinate is never one circle, nor round one centre.
_CLOSE = 0.1


def crowded(kind: NDArray[np.int64], point: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which points (n, 2) may have another of their kind (n, k) within half a millimetre."""
    # in every cell that is as near, points are noted by their numbers: of those alone there, no other is near
    sides = [np.floor((point + off) / _CELL) for off in (-_REACH, _REACH)]
    cells = np.concatenate([np.stack((x[:, 0], y[:, 1]), axis=1) for x in sides for y in sides])
    number = np.tile(np.arange(len(point)), 4)
    columns = [*cells.T, *np.tile(kind, (4, 1)).T]
    order = np.lexsort((number, *columns))
    same = np.logical_and.reduce([column[order][1:] == column[order][:-1] for column in columns])
    number = number[order]
    met = same & (number[1:] != number[:-1])
    found = np.zeros(len(point), np.bool_)
    found[number[1:][met]] = found[number[:-1][met]] = True
    return found


class Near:
    """Numbered points of several kinds, found again by kind and place.

    Points may have any number of coordinates (mm), all of one kind the same: a centre, or a centre and a
    radius, so that thousands of circles round one centre are told apart.
    """

    def __init__(self) -> None:
        # in each cell the points' last coordinates and their numbers, in order
        self._cells: dict[tuple[Hashable, ...], list[tuple[float, int]]] = defaultdict(list)

    def add(self, kind: Hashable, point: tuple[float, ...], number: int) -> None:
        """Note a point under its number."""
        insort(self._cells[kind, *(floor(x / _CELL) for x in point)], (point[-1], number))

    def __call__(self, kind: Hashable, point: tuple[float, ...]) -> Iterator[int]:
        """The numbers of the points of this kind that may lie within half a millimetre.

        In their last coordinate they lie within a tenth.
        """
        sides = (range(floor((x - _REACH) / _CELL), floor((x + _REACH) / _CELL) + 1) for x in point)
        last = point[-1]
        for place in product(*sides):
            cell = self._cells.get((kind, *place))
            if cell:
                low, high = bisect_left(cell, (last - _CLOSE, -1)), bisect_right(cell, (last + _CLOSE, inf))
                yield from sorted(number for _, number in cell[low:high])
