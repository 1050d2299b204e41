"""What lies near a point: a grid of cells, so that thousands of circles need not be compared in pairs."""

from __future__ import annotations

from array import array
from bisect import bisect_left, bisect_right
from collections.abc import Hashable, Iterator, MutableSequence, Sequence
from itertools import product
from math import floor

import numpy as np
from numpy.typing import NDArray

#: mm: what is farther apart is never one centre; and how wide a cell is, so that few are looked into.
_REACH, _CELL = 0.5, 2.0
#: mm: what differs by more in its last coordinate is never one circle, nor round one centre.
_CLOSE = 0.1
#: so few points are looked at one by one.
_FEW = 32

#: one coordinate of points, in order, and their numbers.
_Column = tuple[MutableSequence[float], MutableSequence[int]]


def crowded(kind: NDArray[np.int64], point: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which points (n, 2) may have another of their kind (n, k) within half a millimetre."""
    # in every cell that is as near, points are noted by their numbers: of those alone there, no other is near
    # (what single precision does not tell apart is taken to be near)
    sides = [np.floor((point + off) / _CELL).astype(np.float32) for off in (-_REACH, _REACH)]
    corners = list(product(sides, sides))
    cells = [np.concatenate([corner[k][:, k] for corner in corners]) for k in (0, 1)]
    number = np.tile(np.arange(len(point), dtype=np.int32), 4)
    columns = [*cells, *(np.tile(column, 4) for column in kind.T)]
    order = np.lexsort((number, *columns))
    number = number[order]
    met = number[1:] != number[:-1]
    for column in columns:
        column = column[order]
        met &= column[1:] == column[:-1]
    found = np.zeros(len(point), np.bool_)
    found[number[1:][met]] = found[number[:-1][met]] = True
    return found


class Near:
    """Numbered points of several kinds, found again by kind and place.

    Points may have any number of coordinates (mm), all of one kind the same: a centre, or a centre and a
    radius, so that thousands of circles round one centre are told apart.
    """

    def __init__(self) -> None:
        # in each cell, by each coordinate: the points' coordinates in order, and their numbers
        self._cells: dict[tuple[Hashable, ...], list[_Column]] = {}

    def add(self, kind: Hashable, point: tuple[float, ...], number: int) -> None:
        """Note a point under its number."""
        place = (kind, *(floor(x / _CELL) for x in point))
        if place not in self._cells:
            self._cells[place] = [(array("d"), array("q")) for _ in point]
        for x, (places, numbers) in zip(point, self._cells[place], strict=True):
            at = bisect_right(places, x)
            places.insert(at, x)
            numbers.insert(at, number)

    def __call__(self, kind: Hashable, point: tuple[float, ...], within: float = _REACH) -> Iterator[int]:
        """The numbers of the points of this kind that may lie so near (mm), at most within half a millimetre.

        In their last coordinate they lie within a tenth, unless few do in another one.
        """
        sides = (range(floor((x - _REACH) / _CELL), floor((x + _REACH) / _CELL) + 1) for x in point)
        bounds = [(x - within, x + within) for x in point]
        bounds[-1] = point[-1] - _CLOSE, point[-1] + _CLOSE
        for place in product(*sides):
            cell = self._cells.get((kind, *place))
            if cell:
                yield from sorted(_fewest(cell, bounds))


def _fewest(cell: Sequence[_Column], bounds: Sequence[tuple[float, float]]) -> Sequence[int]:
    """The numbers of those within the bounds in one coordinate: the last that leaves few, or the fewest."""
    fewest: Sequence[int] | None = None
    for (places, numbers), (low, high) in zip(reversed(cell), reversed(bounds), strict=True):
        first, past = bisect_left(places, low), bisect_right(places, high)
        if past - first <= _FEW:
            return numbers[first:past]
        if fewest is None or past - first < len(fewest):
            fewest = numbers[first:past]
    return fewest or ()
